"""Read the printed results: number, notation, and what is printed beside it in the same cell."""

from __future__ import annotations

import polars as pl

from pipeline.censoring import Notations, notation_table
from schemas.vocabulary import fold_notation


def read_numbers(readings: pl.DataFrame, notations: Notations) -> pl.DataFrame:
    """Add number (as printed unit), notation and the cell's own limit, unit and uncertainty.

    A typed number counts at full precision unless its format shows something else; then the shown
    text is read. A lone dash means what the report's legend says, else nothing is decided.
    """
    table = notation_table(readings.filter(~_typed()), notations)
    typed = _typed()
    return readings.join(
        table, on=["raw_value", "decimal_mark"], how="left", maintain_order="left", nulls_equal=True
    ).with_columns(
        notation=pl.when(typed)
        .then(pl.lit("number"))
        .when(pl.col("kind").is_in(["error", "formula", "date", "boolean"]))
        .then(pl.col("kind"))
        .when(pl.col("notation") == "blank_mark")
        .then(pl.coalesce("dash_means", "notation"))
        .otherwise("notation"),
        printed_number=pl.when(typed).then(pl.col("number")).otherwise("printed_number"),
        printed_estimate=pl.col("printed_estimate").fill_null(False),
    )


def _typed() -> pl.Expr:
    return (pl.col("kind") == "number").fill_null(False) & ~pl.col("shown_wins").fill_null(False)
