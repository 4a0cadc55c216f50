"""Draw a lot's path as a small chart that reads on light and dark paper."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import vl_convert

from pipeline.digest.axis import (
    ACCENT,
    FAINT,
    FONT,
    INK,
    LINE,
    PAPER,
    SIZE,
    TEXT,
    Columns,
    Spec,
    columns_for,
    draw_stages,
    layer,
)  # fmt: skip
from pipeline.digest.labels import GAP
from pipeline.digest.model import Course, Mark
from pipeline.digest.scales import Scale, fit_rows, mark_rows

_PAINT = {
    INK: "currentColor", ACCENT: "var(--accent)", FAINT: "var(--rule)", PAPER: "var(--paper)",
}  # fmt: skip
_PRINTED = {INK: "#23211e", ACCENT: "#97481a", FAINT: "#ddd8cf", PAPER: "#ffffff"}
_TALL, _LOW = 120, 76
_LOOK: Spec = {
    "background": "transparent",
    "font": FONT,
    "padding": 2,
    "view": {"stroke": None},
    "title": {
        "color": INK,
        "fontSize": SIZE,
        "fontWeight": 600,
        "font": FONT,
        "offset": 4,
        "subtitleColor": INK,
        "subtitleFontSize": SIZE,
        "subtitleFont": FONT,
        "subtitlePadding": 2,
    },
}


@dataclass(frozen=True)
class Strip:
    """One row of the chart: its marks, its scale, what it is called and what else to say of it.

    `lifts` has for each mark by how many lines its number is lifted.
    """

    marks: tuple[Mark, ...]
    lifts: tuple[int, ...]
    scale: Scale
    title: str
    name: str
    threshold: float | None
    hollow: bool


def _value_layers(strip: Strip, x: Spec, y: Spec) -> list[Spec]:
    top, height = strip.scale.top, strip.scale.height
    rows = mark_rows(strip.marks, top, strip.lifts)
    points, spans = (
        [row for row in rows if row["is_point"]],
        [row for row in rows if not row["is_point"]],
    )
    whiskers = [row for row in points if row["high"] > row["low"]]
    lifted = [
        row | {"tip": row["high"] + (GAP + row["lift"] * LINE - 2) / height * top}
        for row in rows
        if row["lift"]
    ]
    span = {"x": x, "y": y | {"field": "low"}, "y2": {"field": "high"}}
    box = {"type": "bar", "size": 13, "fill": INK, "fillOpacity": 0.12, "stroke": INK}
    shape = "square" if strip.hollow else "circle"
    dot = {"type": "point", "shape": shape, "filled": not strip.hollow, "size": 46, "opacity": 1}
    leader = {"x": x, "y": y | {"field": "high"}, "y2": {"field": "tip"}}
    return [
        layer(lifted, {"type": "rule", "color": FAINT, "strokeWidth": 1}, **leader),
        layer(spans, box | {"strokeWidth": 1}, **span),
        layer(whiskers, {"type": "rule", "color": INK, "strokeWidth": 1.2}, **span),
        layer(points, dot | {"color": INK}, x=x, y=y | {"field": "lower"}),
        *(
            _numbers([row for row in rows if _lines_above(row) == n], n, x, y)
            for n in sorted({_lines_above(row) for row in rows})
        ),
    ]


def _lines_above(row: Spec) -> int:
    return int(row["label"].count("\n") + row["lift"])


def _numbers(rows: list[Spec], lines: int, x: Spec, y: Spec) -> Spec:
    """Write numbers above their marks; a rim of paper keeps them readable on a line."""
    rim = {"stroke": PAPER, "strokeWidth": 3, "strokeJoin": "round"}
    mark = TEXT | {"dy": -GAP - lines * LINE, "color": INK, "baseline": "bottom"} | rim
    return layer(rows, mark, x=x, y=y | {"field": "high"}, text={"field": "label"})


def _threshold_layers(strip: Strip, _x: Spec, y: Spec) -> list[Spec]:
    if strip.threshold is None:
        return []
    line = {"type": "rule", "color": ACCENT, "strokeDash": [5, 3], "strokeWidth": 1.4}
    return [layer([{"at": strip.threshold}], line, y=y | {"field": "at"})]


def _heading(strip: Strip) -> Spec:
    """Set what a row is called above it, so that no word runs into a number."""
    at: Spec = {"anchor": "start", "frame": "group"}
    if not strip.title:
        return at | {
            "text": strip.name,
            "fontWeight": "normal",
            "fontStyle": "italic",
            "fontSize": SIZE,
        }
    looks = (
        {"subtitleFontStyle": "italic"} if strip.threshold is None else {"subtitleColor": ACCENT}
    )
    named = {"subtitle": strip.name, **looks} if strip.name else {}
    return at | {"text": strip.title, **named}


def _draw_strip(strip: Strip, columns: Columns) -> Spec:
    scale = {"domain": [0, strip.scale.top], "nice": False}
    # Each mark carries its number; of the axis only the line at zero is left.
    zero = {"values": [0], "labels": False, "ticks": False, "domain": False, "gridColor": FAINT}
    y = {"type": "quantitative", "scale": scale, "title": None, "axis": zero}
    parts = (_threshold_layers, _value_layers)
    layers = [drawn for part in parts for drawn in part(strip, columns.across, y)]
    for row in (row for drawn in layers for row in drawn["data"]["values"] if "slot" in row):
        row["place"] = columns.slots.index(row["slot"]) + 0.5
    shape = {"width": columns.width, "height": strip.scale.height, "layer": layers}
    return shape | {"title": _heading(strip)}


def strips(course: Course, columns: Columns) -> list[Strip]:
    """Split a path into rows: the deciding analyte, then free and each bound basis on one scale."""
    rows = []
    if course.marks:
        limit = "" if course.threshold is None else f"{course.threshold:g} {course.unit}"
        name = f"dashed line: threshold {limit}" if limit else ""
        title = f"{course.title}, {course.unit}"
        [(marks, lifted, scale)] = fit_rows([course.marks], course.threshold, _TALL, columns)
        rows.append(Strip(marks, lifted, scale, title, name, course.threshold, False))
    names = sorted({m.series for m in course.panel}, key=lambda series: (series != "free", series))
    parts = [tuple(m for m in course.panel if m.series == name) for name in names]
    scaled = zip(names, fit_rows(parts, None, _LOW, columns), strict=True)
    for place, (name, (marks, lifted, scale)) in enumerate(scaled):
        head = f"{course.panel_title}, {course.panel_unit}" if place == 0 else ""
        rows.append(Strip(marks, lifted, scale, head, name, None, name != "free"))
    return rows


def draw(course: Course) -> Spec:
    """Draw one lot as a Vega-Lite chart: deciding analyte on top, free and bound sums below.

    Values start at zero. A quantified value is a point with its expanded uncertainty as a line; a
    censored value is an open box over its whole interval, never a point. Filled circles are values
    and free sums, hollow squares bound sums.
    """
    labels = (mark.label for mark in (*course.marks, *course.panel))
    columns = columns_for(course.slots, labels)
    drawn = [_draw_strip(row, columns) for row in strips(course, columns)]
    return {"vconcat": [*drawn, draw_stages(columns)], "spacing": 10, "config": _LOOK}


def _painted(chart: Spec, paint: Mapping[str, str]) -> str:
    svg = vl_convert.vegalite_to_svg(chart)
    # The rim of a number lies behind it.
    svg = svg.replace(f'stroke="{PAPER}"', f'stroke="{PAPER}" paint-order="stroke"')
    for stand_in, colour in paint.items():
        svg = svg.replace(f'"{stand_in}"', f'"{colour}"')
    return svg


def as_png(chart: Spec) -> bytes:
    """Turn a chart into a picture on white paper, for mail programs, twice as fine as drawn."""
    return vl_convert.svg_to_png(_painted(chart | {"background": "#ffffff"}, _PRINTED), scale=2)


def as_svg(chart: Spec) -> str:
    """Turn a chart into an inline SVG without outside references, in the page's own colours."""
    svg = _painted(chart, _PAINT)
    svg = re.sub(r' xmlns(?::xlink)?="[^"]*"| aria-[a-z]+="[^"]*"| role="[^"]*"', "", svg)
    head = r'<svg aria-hidden="true" focusable="false" style="--drawn: \1px" width="\1"'
    return re.sub(r'^<svg [^>]*?\bwidth="(\d+(?:\.\d+)?)"', head, svg)
