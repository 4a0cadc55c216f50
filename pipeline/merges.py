"""Tell merged cells that lie over several results: nothing says for which of them they speak."""

from __future__ import annotations

import polars as pl


def name_merged(joined: pl.DataFrame, cells: pl.DataFrame, *, swapped: bool) -> pl.DataFrame:
    """Add `merged_at`: the first cell of a merged range over several samples or columns of results.

    `joined` is a table laid out by `line` and `column`, `cells` the sheet. Null elsewhere, also
    where the range spans the replicates of one sample in one column.
    """
    places = joined.select(
        "line",
        "column",
        pl.col("column" if swapped else "line").alias("at_row"),
        pl.col("line" if swapped else "column").alias("at_col"),
        sample=pl.coalesce(*_named(joined), pl.col("line").cast(pl.String)),
    )
    ranges = (
        cells.filter((pl.col("row_span") > 1) | (pl.col("col_span") > 1))
        .select("row", "col", "row_span", "col_span")
        .join(places, left_on=["row", "col"], right_on=["at_row", "at_col"], how="semi")
    )
    if ranges.is_empty():
        return joined.with_columns(merged_at=pl.lit(None, pl.String))
    over = (
        ranges.join_where(
            places,
            pl.col("at_row") >= pl.col("row"),
            pl.col("at_row") < pl.col("row") + pl.col("row_span"),
            pl.col("at_col") >= pl.col("col"),
            pl.col("at_col") < pl.col("col") + pl.col("col_span"),
        )
        .filter(pl.struct("sample", "column").n_unique().over("row", "col") > 1)
        .select("line", "column", merged_at=pl.format("{}:{}", "row", "col"))
    )
    return joined.join(over, on=["line", "column"], how="left", maintain_order="left")


def _named(joined: pl.DataFrame) -> list[pl.Expr]:
    return [pl.col("raw_sample")] if "raw_sample" in joined.columns else []
