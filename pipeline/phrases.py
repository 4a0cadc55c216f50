"""Units in words; numbers, intervals and lists of cells in words as polars expressions."""

from __future__ import annotations

import polars as pl

SHOWN_UNITS = {"ug/L": "µg/L", "ug/kg": "µg/kg", "1": "", "AU": "AU"}


def shown_unit(unit: str | None) -> str:
    """Say a stored unit as printed for people; null and the unit one are empty."""
    return "" if unit is None else SHOWN_UNITS.get(unit, unit)


def number(value: pl.Expr, digits: int = 3) -> pl.Expr:
    """Write a number with the given significant digits and no trailing `.0`."""
    text = value.round_sig_figs(digits).cast(pl.String)
    return text.str.strip_suffix(".0")


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


def listed(cells: pl.Expr, *, once: bool = True) -> pl.Expr:
    """Write a list of cells in order, with `; ` between; each of them once where that is asked."""
    count, first, second = (
        cells.list.len(), cells.list.get(0, null_on_oob=True), cells.list.get(1, null_on_oob=True)
    )  # fmt: skip
    # Sorting a list of strings costs ten times as much as all else, and most hold one or two.
    pair = pl.concat_str(
        pl.min_horizontal(first, second), pl.max_horizontal(first, second), separator="; "
    )
    many = pl.when(count > 2).then(cells)
    ordered = (many.list.unique() if once else many).list.sort().list.join("; ")
    return (
        pl.when(count > 2)
        .then(ordered)
        .when((count == 2) & ((first != second) | pl.lit(not once)))
        .then(pair)
        .when(count == 0)
        .then(pl.lit(""))
        .otherwise(first)
    )
