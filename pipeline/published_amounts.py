"""Amounts of smoke markers beyond all that is published: what a young lot has instead of a history.

A number above the highest published one (or ten times below the lowest) that a whole power of ten
brings back among them looks like a slip of the unit, whatever else is known of the lot.
"""

from __future__ import annotations

import math
from functools import cache

import polars as pl

from pipeline.phrases import number
from schemas.quality import SlipRules

_KEY = ["unit", "form", "analyte"]
_DECADE = 1.0
# A sample's amounts that are printed in the same unit slip together.
_BESIDE = ["report_id", "sheet", "sample_id", "raw_unit"]


@cache
def _ranges(rules: SlipRules) -> pl.DataFrame:
    rows = [
        (p.unit, p.form, p.analyte, p.low, p.high, p.source) for p in rules.published
    ]  # fmt: skip
    schema = {**dict.fromkeys(_KEY, pl.String), "low": pl.Float64, "high": pl.Float64,
              "range_source": pl.String}  # fmt: skip
    frame = pl.DataFrame(rows, schema=schema, orient="row")
    return frame.with_columns(pl.col("low", "high").log10())


def add_beyond(
    results: pl.DataFrame, groups: tuple[list[str], ...], rules: SlipRules
) -> pl.DataFrame:
    """Add `beyond` (the power of ten) and `beyond_why`; both null where nothing is suspected.

    `results` has `amount` (log10, null where nothing is quantified). Most of the amounts of one of
    the `groups` (sheet, sample, column), and at least as many as a vote needs, are brought back by
    the same power; then all of the group are meant that it leaves near the published ones. By
    itself an amount is meant only from ten times the highest published number on. An amount of which
    nothing is published is meant with the others of its sample that are printed in the same unit,
    where all of them are meant. Ranges stand in schemas/quality.toml, with their sources.
    """
    nothing = [pl.lit(None, pl.Int64).alias("beyond"), pl.lit(None, pl.String).alias("beyond_why")]
    ranges = _ranges(rules)
    # Nearly always nothing is that far off, and nothing more has to be looked at.
    lowest = min(math.log10(p.low) for p in rules.published)
    near = pl.col("amount").is_between(lowest - _DECADE, lowest + min(rules.powers), closed="none")
    if results.select((pl.col("amount").is_null() | near).all()).item():
        return results.with_columns(nothing)
    amounts = results.with_row_index("row").filter(pl.col("amount").is_not_null())
    ranged = amounts.join(ranges, on=_KEY, how="inner", nulls_equal=True).with_columns(
        power=_power(rules)
    )
    if ranged["power"].null_count() == ranged.height:
        return results.with_columns(nothing)
    alone = pl.col("amount") > pl.col("high") + _DECADE
    voted = pl.coalesce(_voted(group, rules) for group in groups)
    found = ranged.with_columns(
        beyond=pl.coalesce(voted, pl.when(alone).then("power")),
        beyond_why=pl.format(
            "the highest published amount is {} {} ({})",
            number(10 ** pl.col("high")), "unit", "range_source",
        ),
    )  # fmt: skip
    beside = amounts.join(ranged, on="row", how="anti").pipe(_beside, found, rules)
    both = pl.concat([found.select("row", "beyond", "beyond_why"), beside])
    return (
        results.with_row_index("row")
        .join(both, on="row", how="left", maintain_order="left")
        .drop("row")
    )


def _beside(unknown: pl.DataFrame, found: pl.DataFrame, rules: SlipRules) -> pl.DataFrame:
    """Judge amounts of which nothing is published by the others of their sample, in the same unit.

    The power is that of all published ones of the sample, at least as many as a vote needs, and
    leaves the amount within ten times of what is published of any substance: so a right number
    beside slipped ones is not meant. Own choice, no source.
    """
    together = (
        found.group_by(_BESIDE)
        .agg(beyond=pl.col("beyond").first(), n=pl.len(), kinds=pl.col("beyond").n_unique())
        .filter(pl.col("beyond").is_not_null(), pl.col("kinds") == 1, pl.col("n") >= rules.voters)
    )
    least = math.log10(min(p.low for p in rules.published)) - _DECADE
    most = math.log10(max(p.high for p in rules.published)) + _DECADE
    moved = pl.col("amount") - pl.col("beyond")
    why = pl.format(
        "all {} amounts beside it that something is published of stand that far from it", "n"
    )
    return (
        unknown.join(together, on=_BESIDE, nulls_equal=True)
        .filter(moved.is_between(least, most))
        .select("row", "beyond", beyond_why=why)
    )


def _power(rules: SlipRules) -> pl.Expr:
    """Give the power of ten that brings an amount back among the published ones, the smallest first."""
    amount, low, high = pl.col("amount"), pl.col("low"), pl.col("high")
    up = [pl.when((amount > high) & (amount - k).is_between(low, high)).then(k)
          for k in rules.powers]  # fmt: skip
    down = [pl.when((amount < low - _DECADE) & (amount + k).is_between(low, high)).then(-k)
            for k in rules.powers]  # fmt: skip
    return pl.coalesce(*up, *down).cast(pl.Int64)


def _voted(group: list[str], rules: SlipRules) -> pl.Expr:
    usual = pl.col("power").drop_nulls().mode().sort().first().over(group)
    share = (pl.col("power") == usual).fill_null(False).mean().over(group)
    enough = pl.len().over(group) >= rules.voters
    moved = pl.col("amount") - usual
    fits = moved.is_between(pl.col("low") - _DECADE, pl.col("high"))
    return pl.when(enough & (share > rules.vote) & fits).then(usual)
