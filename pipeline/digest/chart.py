"""Draw a lot's path as a small chart that reads on light and dark paper."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any

import vl_convert

from pipeline.digest.model import Course, Mark

Spec = dict[str, Any]

# Stand-ins that no reader sees: the page's own colours take their place.
_INK, _ACCENT, _FAINT, _PAPER = "#010203", "#040506", "#070809", "#0a0b0c"
_PAINT = {
    _INK: "currentColor", _ACCENT: "var(--accent)", _FAINT: "var(--rule)", _PAPER: "var(--paper)",
}  # fmt: skip
_PRINTED = {_INK: "#23211e", _ACCENT: "#97481a", _FAINT: "#ddd8cf", _PAPER: "#ffffff"}
_FONT = "system-ui, sans-serif"
_TEXT: Spec = {"type": "text", "font": _FONT, "fontSize": 10}
# A column of the chart: as wide as its words, less where many samples must fit a telephone.
_SLOT_WIDTH, _NARROW_SLOT, _TELEPHONE = 54, 34, 310
# Wide enough for what stands above a row.
_NARROWEST = 220
_STAGE_LINES = (
    "split(replace(slice(datum.label, indexof(datum.label, '|') + 1),"
    " / (?=AF|MLF|unknown)|-/, '|'), '|')"
)
_LOOK: Spec = {
    "background": "transparent",
    "font": _FONT,
    "padding": 2,
    "view": {"stroke": None},
    "axis": {"labelColor": _INK, "gridColor": _FAINT, "tickCount": 3, "labelFontSize": 10},
    "axisX": {"grid": False},
    "axisY": {"domain": False, "ticks": False},
    "title": {
        "color": _INK,
        "fontSize": 11,
        "fontWeight": 600,
        "font": _FONT,
        "offset": 4,
        "subtitleColor": _INK,
        "subtitleFontSize": 10,
        "subtitleFont": _FONT,
        "subtitlePadding": 2,
    },
}


@dataclass(frozen=True)
class Strip:
    """One row of the chart: its marks, its scale, what it is called and what else to say of it."""

    marks: tuple[Mark, ...]
    ceiling: float
    title: str
    name: str
    threshold: float | None
    hollow: bool
    height: int


def mark_rows(marks: tuple[Mark, ...], ceiling: float) -> list[Spec]:
    """Lay marks out as rows: slot, series, lower, upper, low, high, label, is_point.

    `low` and `high` span what is drawn: the interval of a censored value (up to `ceiling` where its
    upper end is open), or value less and plus its expanded uncertainty.
    """
    return [
        {
            "slot": m.slot,
            "series": m.series,
            "lower": m.lower,
            "upper": m.upper,
            "low": max(m.lower - (m.spread or 0.0), 0.0) if m.is_point else m.lower,
            "high": m.lower + (m.spread or 0.0) if m.is_point else (m.upper or ceiling),
            "label": m.label,
            "is_point": m.is_point,
        }
        for m in marks
    ]


def top_of(marks: tuple[Mark, ...], threshold: float | None) -> float:
    """Give the end of the value axis, with room for the labels."""
    ends = [(m.upper or m.lower) + (m.spread or 0.0) for m in marks]
    open_ends = [2 * m.lower for m in marks if m.upper is None]
    return 1.3 * max([*ends, *open_ends, threshold or 0.0, 1e-9])


def _layer(rows: list[Spec], mark: Spec, **channels: Spec) -> Spec:
    return {"data": {"values": rows}, "mark": mark, "encoding": channels}


def _value_layers(strip: Strip, x: Spec, y: Spec) -> list[Spec]:
    rows = mark_rows(strip.marks, strip.ceiling)
    points, spans = (
        [row for row in rows if row["is_point"]],
        [row for row in rows if not row["is_point"]],
    )
    whiskers = [row for row in points if row["high"] > row["low"]]
    span = {"x": x, "y": y | {"field": "low"}, "y2": {"field": "high"}}
    box = {"type": "bar", "size": 13, "fill": _INK, "fillOpacity": 0.12, "stroke": _INK}
    shape = "square" if strip.hollow else "circle"
    dot = {"type": "point", "shape": shape, "filled": not strip.hollow, "size": 46, "opacity": 1}
    words = _TEXT | {"dy": -7, "color": _INK, "baseline": "bottom"}
    # A rim of paper keeps a number readable where a line runs behind it.
    rim = words | {"color": _PAPER, "stroke": _PAPER, "strokeWidth": 3, "strokeJoin": "round"}
    return [
        _layer(spans, box | {"strokeWidth": 1}, **span),
        _layer(whiskers, {"type": "rule", "color": _INK, "strokeWidth": 1.2}, **span),
        _layer(points, dot | {"color": _INK}, x=x, y=y | {"field": "lower"}),
        *(
            _layer(rows, text, x=x, y=y | {"field": "high"}, text={"field": "label"})
            for text in (rim, words)
        ),
    ]


def _threshold_layers(strip: Strip, _x: Spec, y: Spec) -> list[Spec]:
    if strip.threshold is None:
        return []
    line = {"type": "rule", "color": _ACCENT, "strokeDash": [5, 3], "strokeWidth": 1.4}
    return [_layer([{"at": strip.threshold}], line, y=y | {"field": "at"})]


def _slot_width(slots: tuple[str, ...]) -> float:
    return max(_NARROW_SLOT, min(_SLOT_WIDTH, _TELEPHONE / max(len(slots), 1)))


def _heading(strip: Strip) -> Spec:
    """Set what a row is called above it, so that no word runs into a number."""
    at: Spec = {"anchor": "start", "frame": "group"}
    if not strip.title:
        return at | {
            "text": strip.name,
            "fontWeight": "normal",
            "fontStyle": "italic",
            "fontSize": 10,
        }
    looks = (
        {"subtitleFontStyle": "italic"} if strip.threshold is None else {"subtitleColor": _ACCENT}
    )
    named = {"subtitle": strip.name, **looks} if strip.name else {}
    return at | {"text": strip.title, **named}


def _draw_strip(strip: Strip, slots: tuple[str, ...], is_last: bool) -> Spec:
    width = _slot_width(slots)
    stages = {
        "labelExpr": _STAGE_LINES, "labelAngle": 0, "labelOverlap": False, "ticks": False,
        "labelFontSize": 10 if width > 40 else 8.5,
    }  # fmt: skip
    x = {
        "field": "slot",
        "type": "ordinal",
        "scale": {"domain": list(slots)},
        "sort": None,
        "title": None,
        "axis": stages | {"domain": False} if is_last else None,
    }
    scale = {"domain": [0, strip.ceiling], "nice": False}
    y = {"type": "quantitative", "scale": scale, "title": None}
    parts = (_threshold_layers, _value_layers)
    drawn: Spec = {
        "width": max(width * len(slots), _NARROWEST),
        "height": strip.height,
        "layer": [layer for part in parts for layer in part(strip, x, y)],
    }
    return drawn | {"title": _heading(strip)}


def strips(course: Course) -> list[Strip]:
    """Split a path into rows: the deciding analyte, then free and each bound basis on one scale."""
    rows = []
    if course.marks:
        limit = "" if course.threshold is None else f"{course.threshold:g} {course.unit}"
        name = f"dashed line: threshold {limit}" if limit else ""
        top = top_of(course.marks, course.threshold)
        title = f"{course.title}, {course.unit}"
        rows.append(Strip(course.marks, top, title, name, course.threshold, False, 96))
    top = top_of(course.panel, None)
    names = sorted({m.series for m in course.panel}, key=lambda series: (series != "free", series))
    for place, name in enumerate(names):
        mine = tuple(m for m in course.panel if m.series == name)
        head = f"{course.panel_title}, {course.panel_unit}" if place == 0 else ""
        rows.append(Strip(mine, top, head, name, None, name != "free", 60))
    return rows


def draw(course: Course) -> Spec:
    """Draw one lot as a Vega-Lite chart: deciding analyte on top, free and bound sums below.

    Values start at zero. A quantified value is a point with its expanded uncertainty as a line; a
    censored value is an open box over its whole interval, never a point. Filled circles are values
    and free sums, hollow squares bound sums.
    """
    rows = strips(course)
    drawn = [_draw_strip(row, course.slots, row is rows[-1]) for row in rows]
    return {"vconcat": drawn, "spacing": 10, "config": _LOOK}


def as_png(chart: Spec) -> bytes:
    """Turn a chart into a picture on white paper, for mail programs, twice as fine as drawn."""
    text = json.dumps(chart | {"background": "#ffffff"})
    for stand_in, paint in _PRINTED.items():
        text = text.replace(stand_in, paint)
    return vl_convert.vegalite_to_png(json.loads(text), scale=2)


def as_svg(chart: Spec) -> str:
    """Turn a chart into an inline SVG without outside references, in the page's own colours."""
    svg = vl_convert.vegalite_to_svg(chart)
    svg = re.sub(r' xmlns(?::xlink)?="[^"]*"| aria-[a-z]+="[^"]*"| role="[^"]*"', "", svg)
    for stand_in, paint in _PAINT.items():
        svg = svg.replace(f'"{stand_in}"', f'"{paint}"')
    head = r'<svg aria-hidden="true" focusable="false" style="--drawn: \1px" width="\1"'
    return re.sub(r'^<svg [^>]*?\bwidth="(\d+(?:\.\d+)?)"', head, svg)
