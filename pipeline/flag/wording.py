"""Parts of sentences, as polars expressions."""

from __future__ import annotations

import polars as pl

from pipeline.phrases import interval, number

__all__ = ["capitalised", "interval", "left_open", "number", "percent", "write"]


def write(rows: pl.DataFrame, /, **columns: pl.Expr) -> pl.DataFrame:
    """Add columns of sentences to rows.

    A part that several sentences share is written once, which only a lazy frame does.
    """
    return rows.lazy().with_columns(**columns).collect()


def capitalised(text: pl.Expr) -> pl.Expr:
    """Raise the first letter only, so that "o-cresol" in the middle stays as it is."""
    return text.str.slice(0, 1).str.to_uppercase() + text.str.slice(1)


def chance(probability: pl.Expr, decision: pl.Expr) -> pl.Expr:
    """Say how probable it is to be above, as a claim or as the winemaker's risk; "" where unknown.

    The two risks of a decision at a limit are not one: JCGM 106:2012.
    """
    text = (
        pl.when(decision == "above")
        .then(pl.format("; probability of being above: {}", percent(probability)))
        .when(decision == "below")
        .then(pl.format("; risk of being above all the same: {}", percent(probability)))
        .otherwise(
            pl.format(
                "; the winemaker's risk that it is above: {}, {}",
                percent(probability),
                pl.when(probability < 0.5)
                .then(pl.lit("too much to rule it out"))
                .otherwise(pl.lit("too little for a laboratory to claim it")),
            )
        )
    )
    return pl.when(probability.is_not_null()).then(text).otherwise(pl.lit(""))


def left_open(found: pl.Expr, limit: pl.Expr) -> dict[str, pl.Expr]:
    """Say by reason why a number leaves open whether it is above a limit, and what would tell."""
    return {
        "above_range": pl.format(
            "{}: the number lies above the measured range and does not tell whether it is above {};"
            " ask the laboratory to dilute the sample and measure it again",
            found, limit,
        ),
        "conflicting_reports": pl.format(
            "{}: two reports of the laboratory disagree about {}; ask which one holds",
            found, limit,
        ),
    }  # fmt: skip


def percent(probability: pl.Expr) -> pl.Expr:
    """Write a probability as a whole percentage, never as 0 % or 100 %.

    Near the ends it is rounded towards the middle: 94.96 % is not yet the 95 % that were asked for.
    """
    exact = (probability * 100).round(6)
    rounded = pl.when(exact > 90).then(exact.floor()).when(exact < 10).then(exact.ceil())
    whole = rounded.otherwise(exact.round(0)).clip(1, 99).cast(pl.Int64)
    return (
        pl.when(probability >= 0.995)
        .then(pl.lit("over 99 %"))
        .when(probability < 0.005)
        .then(pl.lit("under 1 %"))
        .otherwise(pl.format("{} %", whole))
    )
