"""The sentence of a growth comparison: always free and bound apart, never a forecast."""

from __future__ import annotations

import polars as pl

from pipeline.amounts import EQUIVALENTS, GLYCOSIDES, TOTAL_MINUS_FREE
from pipeline.flag.wording import interval, number


def _range(name: str, digits: int = 3) -> pl.Expr:
    return interval(pl.col(f"{name}_lower"), pl.col(f"{name}_upper"), digits)


def _share(name: str) -> pl.Expr:
    """Write a share of one, known as an interval, in per cent."""
    lower, upper = (100 * pl.col(f"{name}_{end}") for end in ("lower", "upper"))
    return pl.format("{} %", interval(lower, upper, 2))


def _change(part: str, confidence: float) -> pl.Expr:
    clear = pl.format("from {} to {}", _range(f"base_{part}"), _range(part))
    return (
        pl.when(pl.col(f"p_{part}_rose") >= confidence)
        .then(pl.format(f"{part} rose {{}}", clear))
        .when(pl.col(f"p_{part}_fell") >= confidence)
        .then(pl.format(f"{part} fell {{}}", clear))
        .otherwise(pl.format(f"{part} went {{}}, no more than its uncertainty", clear))
    )


def _removed() -> pl.Expr:
    return pl.format(
        ": free fell from {} to {} {}, bound did not rise beyond its uncertainty ({} to {}): this"
        " is a loss of free phenols, and formation of bound is not shown",
        _range("base_free"), _range("free"), "amount_unit", _range("base_bound"), _range("bound"),
    )  # fmt: skip


def _verdict(confidence: float, minimum: float) -> pl.Expr:
    split = pl.format(
        "{}, {} (in {}, over {})",
        _change("free", confidence), _change("bound", confidence), "amount_unit", "common",
    )  # fmt: skip
    return (
        pl.when(pl.col("why").is_not_null())
        .then(pl.format(": it cannot be judged, as {}; {}", "why", split))
        .when(pl.col("decision") == "above")
        .then(pl.format(": it grew; {}", split))
        .when(pl.col("reason") == "free_removed")
        .then(_removed())
        .when(pl.col("decision") == "below")
        .then(pl.format(f": no growth of {minimum:g} or more; {{}}", split))
        .when("share_grew")
        .then(
            pl.format(
                ": the share grew, but too near to tell is whether bound was formed; {}", split
            )
        )
        .otherwise(pl.format(": too near to tell; {}", split))
    )


def _meaning() -> pl.Expr:
    wanted = (pl.col("decision") == "above") | (pl.col("reason") == "free_removed").fill_null(False)
    told = pl.format("; to be known of it: {}", "meaning")
    return pl.when(wanted & pl.col("meaning").is_not_null()).then(told).otherwise(pl.lit(""))


def _sum_rose(confidence: float) -> pl.Expr:
    rose = (pl.col("p_sum_rose") >= confidence).fill_null(False)
    glycosides = pl.col("bound_basis").is_in([GLYCOSIDES, EQUIVALENTS])
    by_itself = (pl.col("bound_basis") == TOTAL_MINUS_FREE) & ~pl.col("added")
    return (
        pl.when(rose & glycosides)
        .then(
            pl.lit(
                "; free phenols and glycosides together rose: the rest comes from outside the"
                " measured glycosides"
            )
        )
        .when(rose & by_itself)
        .then(
            pl.lit(
                "; the total rose as well, which nothing in a finished wine does by itself: check"
                " first for a swapped sample or a unit slip"
            )
        )
        .otherwise(pl.lit(""))
    )


def growth_sentence(confidence: float, minimum: float) -> pl.Expr:
    """Write the message of a bound-growth row from the columns of its comparison."""
    head = pl.format(
        "Bound share of smoke phenols ({}) {} at {} and {} at {}",
        "bound_basis", _share("base_fraction"), "base_was", _share("fraction"), "sampled",
    )  # fmt: skip
    reserve = pl.format(
        "; the bound reserve is now {} {}, which tasting must judge",
        _range("bound"), "amount_unit",
    )  # fmt: skip
    smallest = number(100 * pl.col("visible"), 2)
    visible = pl.format(
        "; the smallest growth that could have been seen is {} percentage points", smallest
    )
    events = pl.format("; recorded in between: {}", "events")
    compared = pl.format(
        "{}{}{}{}{}{}{}.",
        head, _verdict(confidence, minimum), _sum_rose(confidence), reserve,
        pl.coalesce(visible, pl.lit("")),
        pl.coalesce(events, pl.lit("; nothing recorded in between")), _meaning(),
    )  # fmt: skip
    not_compared = pl.format(
        "Growth of the bound share at {} ({}) cannot be judged: {}.", "sampled", "bound_basis",
        "why",
    )  # fmt: skip
    return pl.when(pl.col("common").is_null()).then(not_compared).otherwise(compared)
