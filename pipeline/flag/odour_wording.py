"""The sentence of a summed odour activity."""

from __future__ import annotations

import polars as pl

from pipeline.flag.wording import chance, interval, number
from schemas.vocabulary import OdourSet


def _why_undecided() -> pl.Expr:
    return (
        pl.when(pl.col("reason") == "limit_above_threshold")
        .then(pl.lit("the laboratory's limits are too high to tell whether it is above 1"))
        .when(pl.col("reason") == "above_range")
        .then(
            pl.lit(
                "a number above the measured range leaves open whether it is above 1; ask the"
                " laboratory to dilute the sample and measure it again"
            )
        )
        .when(pl.col("reason") == "isomers_unresolved")
        .then(
            pl.lit(
                "whether it is above 1 hangs on how the reported sum of isomers is split; ask the"
                " laboratory for the single isomers"
            )
        )
        .otherwise(pl.lit("too near 1 to tell"))
    )


def odour_sentence(odour_set: OdourSet) -> pl.Expr:
    """Write the message of a summed odour activity from the columns of its row."""
    what = f"Summed odour activity of {', '.join(odour_set.members)}"
    value = interval(pl.col("lower"), pl.col("upper"))
    most = pl.format("mostly {} ({})", "largest", number(pl.col("largest_share"), 2))
    found = pl.format("{} is {} in {}, {}", pl.lit(what), value, pl.lit(odour_set.matrix), most)
    sure = chance(pl.col("probability"), pl.col("decision"))
    caution = pl.lit("; adding them up is a screening assumption")
    return (
        pl.when(pl.col("reason") == "colour_unknown")
        .then(
            pl.lit(
                f"{what}: the colour of the wine is not known, so nothing is decided; enter the"
                " lot's colour in the register."
            )
        )
        .when(pl.col("reason") == "member_missing")
        .then(
            pl.format(
                "{}; nothing is decided without {} (not measured, or without a threshold){}.",
                found, "missing", caution,
            )
        )
        .when(pl.col("decision") == "above")
        .then(pl.format("{}: above 1{}{}.", found, sure, caution))
        .when(pl.col("decision") == "below")
        .then(pl.format("{}: not above 1{}{}.", found, sure, caution))
        .otherwise(pl.format("{}: {}{}{}.", found, _why_undecided(), sure, caution))
    )  # fmt: skip
