"""Draw rows of intervals as a chart that stands beside its table, each mark tied to its row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import vl_convert
from markupsafe import Markup

Spec = dict[str, Any]

# Stand-ins that no reader sees: the page's own colours take their place.
_INK, _FAINT = "#010203", "#070809"
_PAINT = {_INK: "currentColor", _FAINT: "var(--rule)"}
_FONT = "system-ui, sans-serif"
WIDTH, STEP, LABEL = 190, 22, 118
_LONGEST = 18
_NAMES: Spec = {
    "labelExpr": "slice(datum.label, indexof(datum.label, '|') + 1)", "labelLimit": LABEL,
    "minExtent": LABEL, "ticks": False, "domain": False, "labelFontSize": 11.5, "labelPadding": 7,
}  # fmt: skip
_LOOK: Spec = {
    "background": "transparent",
    "font": _FONT,
    "padding": 2,
    "view": {"stroke": None},
    "axis": {
        "labelColor": _INK, "titleColor": _INK, "gridColor": _FAINT, "domainColor": _FAINT,
        "tickColor": _FAINT, "labelFontSize": 11, "titleFontSize": 11, "titleFontWeight": "normal",
    },
}  # fmt: skip


@dataclass(frozen=True)
class Bar:
    """One row of a chart: its name, where the middle lies, and the span around it.

    `lower` and `upper` are the middle (equal when it is known, a null upper end has no bound);
    `low` and `high` are the ends of the thin line, null where there is none.
    """

    row: str
    name: str
    lower: float
    upper: float | None
    low: float | None = None
    high: float | None = None


def ceiling(bars: Sequence[Bar]) -> float:
    """Give the end of the value axis; an open end reaches it."""
    ends = [end for b in bars for end in (b.lower, b.upper, b.low, b.high) if end is not None]
    open_ends = [2 * b.lower for b in bars if b.upper is None]
    return 1.04 * max([*ends, *open_ends, 1e-9])


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"


def _rows(bars: Sequence[Bar], top: float) -> list[Spec]:
    return [
        {
            "row": b.row,
            "label": f"{b.row}|{_short(b.name)}",
            "lower": b.lower,
            "upper": top if b.upper is None else b.upper,
            "low": b.lower if b.low is None else b.low,
            "high": top if b.high is None else b.high,
            "is_point": b.upper is not None and b.lower == b.upper,
            "has_line": b.low is not None,
        }
        for b in bars
    ]


def _layer(rows: list[Spec], mark: Spec, **channels: Spec) -> Spec:
    y = {"field": "label", "type": "ordinal", "sort": None, "title": None, "axis": _NAMES}
    return {
        "data": {"values": rows},
        "mark": mark,
        "encoding": {"y": y, "description": {"field": "row"}, **channels},
    }


def draw_bars(bars: Sequence[Bar], unit: str) -> Spec:
    """Draw bars as a Vega-Lite chart: a known middle is a dot, a censored one an open box.

    The thin line runs from the lowest to the highest end. The axis starts at zero.
    """
    top = ceiling(bars)
    low = min((b.low if b.low is not None else b.lower for b in bars), default=0.0)
    rows = _rows(bars, top)
    scale = {"domain": [min(low, 0.0), top], "nice": False}
    x = {
        "type": "quantitative", "scale": scale, "title": unit or None,
        "axis": {"tickCount": 4, "grid": True, "orient": "top"},
    }  # fmt: skip
    box = {"type": "bar", "height": 11, "fill": _INK, "fillOpacity": 0.13, "stroke": _INK}
    spans = [row for row in rows if not row["is_point"]]
    points = [row for row in rows if row["is_point"]]
    lines = [row for row in rows if row["has_line"]]
    every = [row | {"start": min(low, 0.0), "end": top} for row in rows]
    area = {"type": "bar", "height": STEP - 2, "fill": _FAINT, "fillOpacity": 0}
    layers = [
        _layer(every, area, x=x | {"field": "start"}, x2={"field": "end"}),
        _layer(lines, {"type": "rule", "color": _INK, "strokeWidth": 1.2},
               x=x | {"field": "low"}, x2={"field": "high"}),
        _layer(spans, box, x=x | {"field": "lower"}, x2={"field": "upper"}),
        _layer(points, {"type": "point", "filled": True, "color": _INK, "size": 50, "opacity": 1},
               x=x | {"field": "lower"}),
    ]  # fmt: skip
    return {"width": WIDTH, "height": {"step": STEP}, "layer": layers, "config": _LOOK}


def as_svg(chart: Spec) -> Markup:
    """Turn a chart into an inline SVG without script, style or outside reference.

    Each mark carries its row as `data-row`, so that the table beside it can point at it.
    """
    svg = vl_convert.vegalite_to_svg(chart)
    svg = re.sub(r' aria-label="(r\d+(?:-\d+)*)"', r' data-row="\1"', svg)
    svg = re.sub(
        r' xmlns(?::xlink)?="[^"]*"| aria-[a-z]+="[^"]*"| role="[^"]*"| style="[^"]*"', "", svg
    )
    for stand_in, paint in _PAINT.items():
        svg = svg.replace(f'"{stand_in}"', f'"{paint}"')
    return Markup(re.sub(r"^<svg ", '<svg aria-hidden="true" focusable="false" ', svg))


def draw(bars: Sequence[Bar], unit: str) -> Markup:
    """Draw bars as an inline SVG; empty where there is nothing to draw."""
    return as_svg(draw_bars(bars, unit)) if bars else Markup("")


def warm_up() -> None:
    """Draw a chart that nobody sees: the first one takes half a second longer."""
    draw([Bar("r0", "", 0.0, 1.0)], "")
