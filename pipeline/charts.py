"""Control charts: a laboratory's control samples over time, as a table or a picture."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl

from pipeline.control_charts import SERIES, chart_points, struck_rule
from pipeline.errors import WrongUse
from pipeline.whole_files import replace_whole
from schemas.quality import load_quality_rules

if TYPE_CHECKING:
    from pipeline.store import Store

_SHOWN = ("lab", "method", "analyte", "form", "material", "unit", "day", "report_no", "sample_id",
          "value", "expected", "before", "mean", "deviation", "z", "rule", "file", "sheet",
          "cell")  # fmt: skip
_STRUCK = "#97481a"
_KEY = (
    "grey line: what the material should give; solid: mean of the points before;",
    "dashes: 2 and 3 standard deviations, once enough points came before;",
    "triangle: a rule strikes, and which",
)
_LOOK = {
    "font": "system-ui, sans-serif",
    "padding": 6,
    "view": {"stroke": None},
    "axis": {"labelFontSize": 10.5, "titleFontSize": 10.5, "titleFontWeight": "normal",
             "gridColor": "#ddd8cf", "domainColor": "#ddd8cf", "tickColor": "#ddd8cf"},
    "title": {"fontSize": 13, "fontWeight": 600, "anchor": "start", "frame": "group", "offset": 8,
              "subtitleFontSize": 11, "subtitleColor": "#67615a"},
}  # fmt: skip
_UNITS = {"ug/L": "µg/L", "ug/kg": "µg/kg"}


def control_points(
    store: Store, lab: str | None = None, analyte: str | None = None
) -> pl.DataFrame:
    """List the points of every control chart, or of one laboratory or analyte.

    Columns: lab, method, analyte, form, material, unit, day (analysed, else reported), report_no,
    sample_id, value, expected, before (earlier points), mean and deviation of those, z, rule (the
    one that strikes, null where none does or too few points came before), file, sheet, cell.
    """
    rules = load_quality_rules()
    points = chart_points(store.qc_results(), store.reports(), rules).with_columns(
        rule=struck_rule(rules)
    )
    return points.filter(
        pl.lit(True) if lab is None else pl.col("lab").str.to_lowercase() == lab.strip().lower(),
        pl.lit(True) if analyte is None else pl.col("analyte") == analyte,
    ).select(_SHOWN)


def _layer(mark: dict[str, Any], **channels: dict[str, Any]) -> dict[str, Any]:
    return {"mark": mark, "encoding": channels}


def _title(first: dict[str, Any]) -> dict[str, Any]:
    what = " ".join(part for part in (first["form"], first["analyte"]) if part)
    above, below = (what, first["material"]), (first["lab"], first["method"])
    return {
        "text": ", ".join(p for p in above if p),
        "subtitle": ", ".join(p for p in below if p),
    }


def _ends(rows: list[dict[str, Any]]) -> list[float]:
    """Give the ends of the value axis, so that no point or limit lies on its edge."""
    fields = ("value", "expected", "center", "low2", "high2", "low3", "high3")
    drawn = [row[field] for row in rows for field in fields if row[field] is not None]
    low, high = min(drawn), max(drawn)
    room = 0.15 * (high - low) or 0.05 * abs(high) or 1.0
    return [low - room, high + room]


def _rows(points: pl.DataFrame, needed: int) -> list[dict[str, Any]]:
    ready = pl.col("before") >= needed
    bands = {
        f"{side}{n}": pl.when(ready).then(pl.col("mean") + sign * n * pl.col("deviation"))
        for side, sign in (("low", -1), ("high", 1))
        for n in (2, 3)
    }
    return (
        points.with_columns(**bands, center=pl.when(ready).then("mean"))
        .with_row_index("place", offset=1)
        .with_columns(
            day=pl.col("day").cast(pl.String).fill_null("no date"),
            struck=pl.col("rule").is_not_null(),
        )
        .select("place", "day", "value", "expected", "center", "struck", "rule", *bands)
        .to_dicts()
    )  # fmt: skip


def _panel(points: pl.DataFrame, needed: int) -> dict[str, Any]:
    """Draw one series: values by analysis, limits of 2 and 3 deviations where points suffice."""
    first = points.row(0, named=True)
    unit = _UNITS.get(first["unit"], first["unit"] or "")
    rows = _rows(points, needed)
    days = json.dumps({str(row["place"]): row["day"] for row in rows})
    x = {"field": "place", "type": "ordinal", "title": None,
         "axis": {"labelExpr": f"{days}[datum.label]", "labelOverlap": "greedy",
                  "labelAngle": 0, "ticks": False, "labelPadding": 6}}  # fmt: skip
    y = {"type": "quantitative", "title": unit, "axis": {"tickCount": 5},
         "scale": {"domain": _ends(rows), "nice": False}}  # fmt: skip
    line = {"type": "line", "interpolate": "step", "color": "#333", "strokeWidth": 1}
    layers = [
        _layer(line | {"strokeDash": dash}, x=x, y=y | {"field": field})
        for field, dash in (("center", [1, 0]), ("low2", [2, 3]), ("high2", [2, 3]),
                            ("low3", [6, 3]), ("high3", [6, 3]))
    ]  # fmt: skip
    expected = _layer({"type": "line", "color": "#999", "strokeWidth": 1}, x=x,
                      y=y | {"field": "expected"})  # fmt: skip
    dots = [
        {"mark": {"type": "point", "filled": True, "size": 46, "opacity": 1, "shape": shape,
                  "color": colour},
         "transform": [{"filter": f"datum.struck == {flag}"}],
         "encoding": {"x": x, "y": y | {"field": "value"}}}
        for flag, shape, colour in (("false", "circle", "#333"), ("true", "triangle-up", _STRUCK))
    ]  # fmt: skip
    words = {
        "mark": {"type": "text", "dy": -10, "color": _STRUCK},
        "transform": [{"filter": "datum.struck"}],
        "encoding": {"x": x, "y": y | {"field": "value"}, "text": {"field": "rule"}},
    }
    return {
        "title": _title(first),
        "width": max(320, min(900, 22 * points.height)),
        "height": 150,
        "data": {"values": rows},
        "layer": [expected, *layers, *dots, words],
    }


def draw_controls(points: pl.DataFrame) -> dict[str, Any]:
    """Draw control charts as one Vega-Lite chart, a panel for each series.

    A grey line is the value the material should give; a solid line the mean of the points before,
    dashes 2 and 3 of their standard deviations, once enough points came before. A triangle
    carries the name of the rule that strikes.
    """
    needed = load_quality_rules().points
    series = [name for name in SERIES if name in points.columns]
    groups = points.partition_by(series, maintain_order=True)
    key = {"text": _KEY, "fontSize": 10.5, "fontWeight": "normal", "offset": 14}
    drawn = [_panel(group, needed) for group in groups]
    return {
        "title": key, "vconcat": drawn, "spacing": 24, "background": "white", "config": _LOOK,
    }  # fmt: skip


def _write_chart(points: pl.DataFrame, path: Path) -> None:
    import vl_convert

    if points.is_empty():
        raise WrongUse("there is nothing to draw: no control sample fits; leave out --out to see")
    if path.suffix.lower() == ".png":
        path.write_bytes(vl_convert.vegalite_to_png(draw_controls(points), scale=2))
    else:
        path.write_text(vl_convert.vegalite_to_svg(draw_controls(points)), encoding="utf-8")


def _write_workbook(points: pl.DataFrame, path: Path) -> None:
    from pipeline.digest.workbook import write_table

    write_table(points, "controls", path)


WRITERS: dict[str, Callable[[pl.DataFrame, Path], object]] = {
    ".csv": lambda points, path: points.write_csv(path),
    ".parquet": lambda points, path: points.write_parquet(path),
    ".xlsx": _write_workbook,
    ".svg": _write_chart,
    ".png": _write_chart,
}


def write_controls(points: pl.DataFrame, path: Path) -> None:
    """Write control points as a table (.csv, .parquet, .xlsx) or charts (.svg, .png), by the ending.

    The file is written whole or not at all. Raises WrongUse for another ending, and for a chart of
    nothing.
    """
    writer = WRITERS.get(path.suffix.lower())
    if writer is None:
        known = ", ".join(WRITERS)
        raise WrongUse(
            f"{path.name}: control samples are written as {known}; give the file one of these"
            " endings"
        )
    replace_whole(path, lambda half: writer(points, half))
