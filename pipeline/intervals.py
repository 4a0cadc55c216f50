"""Interval arithmetic on `lower` and `upper`, as polars expressions.

A null upper end means "not bounded on that side"; it stays null through every operation, because
a sum with an unbounded member is itself unbounded. Uncertainty is not part of an interval: it
stands in columns of its own.
"""

from __future__ import annotations

import polars as pl


def ordered_sum(*columns: str) -> pl.Expr:
    """Add up columns in the order of size, so that no order of rows changes the last digit.

    Nulls count as nothing; see `sum_or_null` for ends of intervals.
    """
    return pl.col(columns).sort().sum()


def sum_or_null(column: str) -> pl.Expr:
    """Add up a column, null as soon as one member is null (a missing end is not zero)."""
    return pl.when(pl.col(column).is_null().any()).then(None).otherwise(ordered_sum(column))


def bound_lower(total_lower: pl.Expr, free_upper: pl.Expr) -> pl.Expr:
    """Give the lower end of total minus free, never below zero; 0 where free is unbounded.

    Source: interval arithmetic.
    """
    return pl.max_horizontal(total_lower - free_upper, pl.lit(0.0))


def bound_upper(total_upper: pl.Expr, free_lower: pl.Expr) -> pl.Expr:
    """Give the upper end of total minus free, never below zero; null where total is unbounded.

    Source: interval arithmetic.
    """
    return (total_upper - free_lower).clip(lower_bound=0.0)


def total_below_free(total_upper: pl.Expr, free_lower: pl.Expr) -> pl.Expr:
    """Tell whether the total lies below the free form even where the intervals favour it most.

    Source: interval arithmetic.
    """
    return (total_upper < free_lower).fill_null(False)


def fraction_lower(
    lower: pl.Expr, upper: pl.Expr, other_lower: pl.Expr, other_upper: pl.Expr
) -> pl.Expr:
    """Give the lower end of part / (part + other) for non-negative intervals.

    The quotient rises with the part and falls with the other, so the end lies in a corner: 0 where
    the other has no upper end. Null where both are zero, or the part or the other is not known.
    Source: interval arithmetic of a function that is monotone in each part.
    """
    whole = lower + other_upper
    return (
        pl.when((upper == 0) & (other_upper == 0))
        .then(None)
        .when(other_upper.is_null() & lower.is_not_null() & other_lower.is_not_null())
        .then(0.0)
        .when(whole == 0)
        .then(1.0)
        .otherwise(lower / whole)
    )


def fraction_upper(
    lower: pl.Expr, upper: pl.Expr, other_lower: pl.Expr, other_upper: pl.Expr
) -> pl.Expr:
    """Give the upper end of part / (part + other); null where the part has no upper end.

    Source: interval arithmetic of a function that is monotone in each part.
    """
    whole = upper + other_lower
    return (
        pl.when((upper == 0) & (other_upper == 0))
        .then(None)
        .when(whole == 0)
        .then(0.0)
        .otherwise(upper / whole)
    )
