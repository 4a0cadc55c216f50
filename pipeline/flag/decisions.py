"""How sure a comparison with a limit is."""

from __future__ import annotations

import polars as pl

from pipeline.uncertainty import probability_above


def decide(rows: pl.DataFrame, confidence: float, *, limit: str = "threshold") -> pl.DataFrame:
    """Add `probability`, `decision` and `reason` to rows with lower, upper, u_lower, u_upper.

    Above when P(true value > limit) reaches the confidence at the lower end, below when it does not
    exceed 1 - confidence at the upper end, else undecided. So "above" is what a laboratory may
    claim (acceptance beyond a guard band above the limit), and "below" is where the winemaker's
    risk that the wine is above all the same is small (a guard band below it); between the two
    neither holds. Where an end has no uncertainty the end itself decides: above its limit or not,
    equality being below. Where the limit lies inside the interval the reason is
    `limit_above_threshold`: the laboratory's limit is too high to tell; where it has no upper end,
    `above_range`. `probability` is that of the end which decided, for a single value P itself; null
    where only the interval decided. A null limit is undecided, reason `no_threshold`. Source: JCGM 106:2012.
    """
    at_lower = probability_above(pl.col("lower"), pl.col(limit), pl.col("u_lower"))
    at_upper = probability_above(pl.col("upper"), pl.col(limit), pl.col("u_upper"))
    above = (pl.col("p_lower") >= confidence) & (pl.col("p_lower") > 1 - confidence)
    below = pl.col("p_upper") <= 1 - confidence
    uncertain = pl.max_horizontal("u_lower", "u_upper").fill_null(0.0) > 0
    inside = (pl.col("lower") <= pl.col(limit)) & (pl.col("upper") > pl.col(limit)).fill_null(True)
    too_wide = inside & pl.col("lower").ne_missing(pl.col("upper"))
    return (
        rows.with_columns(p_lower=at_lower, p_upper=at_upper)
        .with_columns(
            decision=pl.when(above)
            .then(pl.lit("above"))
            .when(below)
            .then(pl.lit("below"))
            .otherwise(pl.lit("undecided"))
        )
        .with_columns(
            probability=pl.when(~uncertain)
            .then(None)
            .when(pl.col("decision") == "above")
            .then("p_lower")
            .when(pl.col("decision") == "below")
            .then("p_upper")
            .when(pl.col("p_lower") == pl.col("p_upper"))
            .then("p_lower"),
            reason=pl.when(pl.col("decision") != "undecided")
            .then(None)
            .when(pl.col(limit).is_null())
            .then(pl.lit("no_threshold"))
            .when(pl.col("upper").is_null() & pl.col("lower").is_not_null())
            .then(pl.lit("above_range"))
            .when(uncertain & ~too_wide)
            .then(pl.lit("within_uncertainty"))
            .otherwise(pl.lit("limit_above_threshold")),
        )
        .drop("p_lower", "p_upper")
    )


def severity(decision: pl.Expr, reason: pl.Expr) -> pl.Expr:
    """Rank a row: act when above, warn when it could be, note when nothing is compared."""
    nothing_compared = reason.is_in(["no_threshold", "isomer_sum", "member_missing"])
    return (
        pl.when(decision == "above")
        .then(pl.lit("act"))
        .when((decision == "undecided") & ~nothing_compared.fill_null(False))
        .then(pl.lit("warn"))
        .otherwise(pl.lit("note"))
    )
