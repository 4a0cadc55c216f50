"""Draw a trend: a panel for each laboratory, method, matrix, form and unit, intervals as intervals."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import polars as pl

from pipeline.phrases import interval, shown_unit
from pipeline.trends.groups import APART

Spec = dict[str, Any]

# Stand-ins that no reader sees: the colours of paper or of a page take their place.
INK, SOFT, FAINT = "#010203", "#040506", "#070809"
_FONT = "system-ui, sans-serif"
WIDTH, STEP = 350, 34
_BAR, _MARK = 9, 8
LOOK: Spec = {
    "background": "transparent",
    "font": _FONT,
    "padding": 4,
    "view": {"stroke": None},
    "axis": {
        "labelColor": SOFT, "titleColor": SOFT, "gridColor": FAINT, "gridOpacity": 0.6, "domainColor": FAINT,
        "tickColor": FAINT, "labelFontSize": 10.5, "titleFontSize": 10.5, "titleFontWeight": "normal",
        "titleAlign": "right", "titleAnchor": "end",
    },
    "title": {
        "color": INK, "fontSize": 13, "fontWeight": 600, "subtitleColor": SOFT,
        "subtitleFontSize": 11, "anchor": "start", "frame": "group", "offset": 8,
    },
}  # fmt: skip


def panels(table: pl.DataFrame) -> list[pl.DataFrame]:
    """Split a trend into the rows that may stand on one axis."""
    return table.partition_by(APART, maintain_order=True) if table.height else []


def panel_title(first: dict[str, Any]) -> str:
    """Say what a panel shows: form, analyte, basis and matrix of its first row."""
    what = " ".join(part for part in (first["form"], first["analyte"]) if part)
    other = first["expressed_as"] if first["expressed_as"] != first["analyte"] else None
    basis = f"expressed as {other}" if other else None
    return ", ".join(p for p in (what, basis, first["matrix"] or "matrix not given") if p)


def panel_facts(first: dict[str, Any]) -> str:
    """Say where a panel's values come from: laboratory, method, unit, and what is pooled."""
    lab, method = first["lab"], first["method"]
    parts = (
        "POOLED over laboratories" if lab == "pooled" else lab or "laboratory not given",
        "POOLED over methods" if method == "pooled" else method,
        shown_unit(first["unit"]),
    )
    return ", ".join(p for p in parts if p)


def as_said(table: pl.DataFrame) -> pl.DataFrame:
    """Add in words: name, median, lowest, highest, confidence, censored.

    An interval is `< limit`, `> limit` or `lower-upper`; confidence is null where there is none.
    """
    return table.with_columns(
        pl.col("by").fill_null("not given").alias("name"),
        *(
            interval(pl.col(f"{end}_lower"), pl.col(f"{end}_upper")).alias(said)
            for end, said in (("median", "median"), ("minimum", "lowest"), ("maximum", "highest"))
        ),
        pl.when(pl.col("median_confidence_lower").is_not_null())
        .then(interval(pl.col("median_confidence_lower"), pl.col("median_confidence_upper")))
        .alias("confidence"),
        pl.format("{} %", (100 * pl.col("share_censored")).round(0).cast(pl.Int64)).alias("share"),
    )


def ceiling(group: pl.DataFrame) -> float:
    """Give the end of a panel's axis; what has no upper end reaches it."""
    ends = group.select(
        closed=pl.max_horizontal("maximum_lower", "maximum_upper", "median_upper").max(),
        open=(2 * pl.col("maximum_lower")).filter(pl.col("maximum_upper").is_null()).max(),
    ).row(0)
    return float(1.03 * max(0.0, *(end for end in ends if end is not None)) or 1.0)


def _rows(group: pl.DataFrame, number: int, top: float) -> list[Spec]:
    is_known = pl.col("median_lower") == pl.col("median_upper")
    return (
        as_said(group)
        .with_row_index("place")
        .select(
            "name",
            row=pl.format("r{}-{}", pl.lit(number), "place"),
            low="minimum_lower",
            high=pl.col("maximum_upper").fill_null(top),
            open=pl.when(pl.col("maximum_upper").is_null()).then(top),
            middle_low=pl.when(is_known.fill_null(False).not_()).then("median_lower"),
            middle_high=pl.when(is_known.fill_null(False).not_()).then(
                pl.col("median_upper").fill_null(top)
            ),
            point=pl.when(is_known).then("median_lower"),
            sure_low="median_confidence_lower",
            sure_high=pl.when(pl.col("median_confidence_lower").is_not_null()).then(
                pl.col("median_confidence_upper").fill_null(top)
            ),
            said=pl.format("{}, n {}, {} censored", "median", "n", "share"),
        )
        .to_dicts()
    )


def _layer(rows: list[Spec], mark: Spec, **channels: Spec) -> Spec:
    y = {"field": "row", "type": "ordinal", "sort": None, "axis": None}
    described = {"y": y, "description": {"field": "row"}}
    return {"data": {"values": rows}, "mark": mark, "encoding": described | channels}


def _having(rows: list[Spec], field: str) -> list[Spec]:
    return [row for row in rows if row[field] is not None]


def _marks(rows: list[Spec], x: Spec) -> list[Spec]:
    """Draw spans, confidence bands and medians; a median that is not known is never a point."""
    band = {"type": "bar", "height": _BAR + 4, "yOffset": _MARK, "fill": SOFT, "fillOpacity": 0.22}
    box = {"type": "bar", "height": _BAR, "yOffset": _MARK, "fill": FAINT, "stroke": INK}
    arrow = {"type": "point", "shape": "triangle-right", "filled": True, "color": INK, "size": 50}
    dot = {"type": "point", "filled": True, "color": INK, "size": 56}
    return [
        _layer(_having(rows, "sure_low"), band, x=x | {"field": "sure_low"},
               x2={"field": "sure_high"}),
        _layer(_having(rows, "low"), {"type": "rule", "yOffset": _MARK, "color": INK, "strokeWidth": 1.2},
               x=x | {"field": "low"}, x2={"field": "high"}),
        _layer(_having(rows, "middle_low"), box | {"fillOpacity": 1, "strokeWidth": 1.2},
               x=x | {"field": "middle_low"}, x2={"field": "middle_high"}),
        _layer(_having(rows, "open"), arrow | {"yOffset": _MARK, "opacity": 1},
               x=x | {"field": "open"}),
        _layer(_having(rows, "point"), dot | {"yOffset": _MARK, "opacity": 1},
               x=x | {"field": "point"}),
    ]  # fmt: skip


def _words(rows: list[Spec]) -> list[Spec]:
    text = {"type": "text", "font": _FONT, "dy": -6, "baseline": "middle"}
    name = text | {"align": "left", "fontSize": 11.5, "color": INK, "limit": 172}
    said = text | {"align": "right", "fontSize": 10.5, "color": SOFT}
    return [
        _layer(rows, name, x={"value": 0}, text={"field": "name"}),
        _layer(rows, said, x={"value": WIDTH}, text={"field": "said"}),
    ]


def draw_panel(group: pl.DataFrame, number: int = 0, *, titled: bool = True) -> Spec:
    """Draw the rows of one laboratory, method, matrix, form and unit; never beside another's."""
    first, top = group.row(0, named=True), ceiling(group)
    rows = _rows(group, number, top)
    start = min(0.0, *(row["low"] for row in rows))
    x = {
        "type": "quantitative", "title": shown_unit(first["unit"]) or None,
        "scale": {"domain": [start, top], "nice": False}, "axis": {"tickCount": 5},
    }  # fmt: skip
    whole = [row | {"start": start, "end": top} for row in rows]
    area = {"type": "bar", "height": STEP - 2, "fill": FAINT, "fillOpacity": 0}
    layers = [
        _layer(whole, area, x=x | {"field": "start"}, x2={"field": "end"}),
        *_marks(rows, x),
        *_words(rows),
    ]
    title = {
        "text": textwrap.wrap(panel_title(first), 50),
        "subtitle": textwrap.wrap(panel_facts(first), 62),
    }
    drawn: Spec = {"width": WIDTH, "height": {"step": STEP}, "layer": layers}
    return drawn | ({"title": title} if titled else {})


# mark, its line and side of the key, the fields of its two ends, its words
_KEY = (
    (0, 0, ("point", "point"), "median, where known"),
    (0, 1, ("middle_low", "middle_high"), "median lies within"),
    (1, 0, ("low", "high"), "lowest to highest"),
    (1, 1, ("sure_low", "sure_high"), "95 % confidence of median"),
    (2, 0, ("open", "open"), "no upper end known"),
    (2, 1, None, "censored: under (or over) a limit"),
)
_NO_MARK = dict.fromkeys(
    ("low", "high", "middle_low", "middle_high", "point", "open", "sure_low", "sure_high")
)


def draw_key() -> Spec:
    """Draw what the marks of a panel mean."""
    rows = []
    for line, side, fields, words in _KEY:
        left = 172 * side + 3
        low, high = fields or ("", "")
        ends = (left, left + 24) if low != high else (left + 12, left + 12)
        drawn = dict(zip((low, high), ends, strict=True)) if fields else {}
        at = left + 32 if fields else left
        rows.append({"row": f"k{line}", **_NO_MARK, **drawn, "at": at, "words": words})
    x = {"type": "quantitative", "axis": None, "scale": {"domain": [0, WIDTH], "nice": False}}
    text = {"type": "text", "font": _FONT, "fontSize": 10.5, "color": SOFT, "align": "left"}
    said = _layer(rows, text | {"yOffset": _MARK}, x=x | {"field": "at"}, text={"field": "words"})
    return {"width": WIDTH, "height": {"step": 17}, "layer": [said, *_marks(rows, x)]}


def draw_trend(table: pl.DataFrame, notes: Sequence[str] = ()) -> Spec:
    """Draw a trend as a Vega-Lite chart: notes, a panel for each group kept apart, and a key.

    A thin line spans lowest to highest; a median that is known is a dot, a censored one an open
    box over its whole interval, an open end an arrow; a band is the median's confidence.
    """
    drawn = [draw_panel(group, place) for place, group in enumerate(panels(table))]
    said = [line for note in notes for line in textwrap.wrap(note, 62)]
    title = {"title": {"text": said, "fontSize": 10.5, "fontWeight": "normal", "offset": 16}}
    return {
        "vconcat": [*drawn, draw_key()],
        "spacing": 26,
        "config": LOOK,
        **(title if said else {}),
    }
