"""Join each value of a table to the headings in whose direction it lies."""

from __future__ import annotations

import polars as pl

from pipeline.merges import name_merged
from pipeline.tidy.comments import add_comments
from pipeline.tidy.statements import (
    address,
    doubt,
    exact,
    field,
    has_rival,
    meant,
    other_unit,
    said,
    told,
    with_namesakes,
)
from schemas.frames import RESULT_FIELDS, SAMPLE_FIELDS
from schemas.layout import COVERAGE_FACTOR, PLAIN_NUMBER, Block

_VALUE = ["number", "date", "kind", "shown_wins", "hidden", "struck", "note", "raised"]
_ATTACHED = ("unit", "lod", "loq", "limit", "uncertainty", "deviation", "qualifier")


def block_readings(cells: pl.DataFrame, block: Block) -> pl.DataFrame:
    """Lay one table out, a row per cell where a line and a column cross.

    Columns as of `tidy`, less what belongs to the whole report; blank cells have empty texts.
    """
    placed = cells.rename({"row": "col", "col": "row"}) if block.swapped else cells
    placed = placed.rename({"row": "line", "col": "column"}).with_columns(exact=exact())
    joined = block.lines.join(block.columns, how="cross", suffix="_column").join(
        placed.select("line", "column", pl.col("text").alias("raw_value"), *_VALUE),
        on=["line", "column"],
        how="left",
        maintain_order="left",
    )
    for name in _ATTACHED:
        joined = _attach(joined, placed, name)
        joined = _attach_line(joined, placed, name)
    joined = name_merged(_mark(joined, block), cells, swapped=block.swapped)
    fields = SAMPLE_FIELDS + RESULT_FIELDS
    return (
        add_comments(joined, cells, block)
        .select(
            pl.lit(block.sheet).alias("sheet"),
            address(block).alias("cell"),
            pl.col("column" if block.swapped else "line").alias("row"),
            pl.col("line" if block.swapped else "column").alias("col"),
            pl.col("raw_value").fill_null(""),
            *(pl.col(n) for n in _VALUE if n != "struck"),
            _struck(),
            pl.lit(block.dash_means, pl.String).alias("dash_means"),
            *(field(joined, block, name) for name in fields if name != "qualifier"),
            pl.coalesce(field(joined, block, "qualifier"), "mark").alias("raw_qualifier"),
            doubt(joined, block).alias("doubt"),
            "merged_at",
            pl.coalesce("spread", pl.lit(block.fixed.get("spread"), pl.String)),
            other_unit(joined),
            said(joined, "version"),
            pl.lit("raw_form" in block.lines.columns).alias("form_in_line"),
            "spilled",
            (pl.lit(has_rival(block)) | said(joined, "state").is_not_null()).alias("rival_sample"),
            told(joined, block),
            said(joined, "read_as"),
            meant(joined, block).alias("meant"),
        )
        .pipe(with_namesakes, block)
    )


def _struck() -> pl.Expr:
    cell = pl.col("struck").fill_null(False)
    return (cell | pl.col("line_struck") | pl.col("column_struck")).alias("struck")


def _attach(joined: pl.DataFrame, placed: pl.DataFrame, name: str) -> pl.DataFrame:
    """Bring in the limit, unit or uncertainty that stands in a column beside the value."""
    at = f"{name}_at"
    if at not in joined.columns or joined[at].null_count() == joined.height:
        return joined
    beside = placed.select(
        "line", pl.col("column").alias(at), pl.col("exact").alias(f"beside_{name}")
    )
    return joined.join(beside, on=["line", at], how="left", maintain_order="left").with_columns(
        _with_suffix(f"beside_{name}", f"{name}_suffix")
    )


def _with_suffix(text: str, suffix: str) -> pl.Expr:
    """Add to a bare number the unit of its heading, to another its coverage factor alone.

    To a remark, add what its heading asks.
    """
    asked = pl.lit(text == "beside_qualifier")
    bare = pl.col(text).str.contains(PLAIN_NUMBER) | asked
    factor = pl.col(suffix).str.extract(f"({COVERAGE_FACTOR})", 1)
    behind = pl.when(bare).then(suffix).when(pl.col(text) != "").then(factor)
    return pl.coalesce(pl.concat_str(text, behind, separator=" "), text).alias(text)


def _attach_line(joined: pl.DataFrame, placed: pl.DataFrame, name: str) -> pl.DataFrame:
    """Bring in the limit or uncertainty of a line that belongs to this sample's line alone."""
    at, text = f"{name}_line", f"beside_{name}"
    if at not in joined.columns or joined[at].null_count() == joined.height:
        return joined
    beside = placed.select(pl.col("line").alias(at), "column", pl.col("exact").alias(text))
    return joined.join(beside, on=[at, "column"], how="left", maintain_order="left").with_columns(
        _with_suffix(text, f"{name}_line_suffix")
    )


def _mark(joined: pl.DataFrame, block: Block) -> pl.DataFrame:
    """Bring in the sign or letter that stands beside a value under no heading of its own."""
    rows = [(m.line, m.column, m.text, m.doubtful) for m in block.marks]
    schema = {
        "line": pl.Int32(),
        "column": pl.Int32(),
        "mark": pl.String(),
        "doubtful": pl.Boolean(),
    }
    marks = (
        pl.DataFrame(rows, schema=schema, orient="row")
        .group_by("line", "column")
        .agg(pl.col("mark").first(), pl.col("doubtful").any() | (pl.len() > 1))
    )
    return joined.join(
        marks, on=["line", "column"], how="left", maintain_order="left"
    ).with_columns(pl.col("doubtful").fill_null(False))
