"""Numbers and intervals inside sentences, as polars expressions."""

from __future__ import annotations

import polars as pl


def number(value: pl.Expr, digits: int = 3) -> pl.Expr:
    """Write a number with the given significant digits and no trailing `.0`."""
    text = value.round_sig_figs(digits).cast(pl.String)
    return text.str.replace(r"\.0$", "")


def interval(lower: pl.Expr, upper: pl.Expr, digits: int = 3) -> pl.Expr:
    """Write an interval: the value, `< limit`, `> limit`, or `low-high`."""
    low, high = number(lower, digits), number(upper, digits)
    return (
        pl.when(upper.is_null())
        .then(pl.format("> {}", low))
        .when(low == high)
        .then(low)
        .when(lower == 0)
        .then(pl.format("< {}", high))
        .otherwise(pl.format("{}-{}", low, high))
    )
