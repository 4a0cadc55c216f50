"""Doubt the form of "total cresols" where the isomers beside it add up to something else."""

from __future__ import annotations

import polars as pl

_SAMPLE = ["report_id", "sheet", "sample_id", "form", "unit", "replicate", "treatment"]
# How the cresols may be printed one by one.
_WAYS = (("o-cresol", "m-cresol", "p-cresol"), ("o-cresol", "m+p-cresol"))
# Rounding of each printed number; a share of the sum, and twice the last digit of a small one.
_SHARE, _LEAST = 0.1, 0.2


def doubt_sums(censored: pl.DataFrame) -> pl.DataFrame:
    """Take the form from a sum that its isomers contradict: it is the total form then, or another's.

    Only where all isomers of the sample stand beside it. Drops sum_or_form.
    """
    either = (pl.col("sum_or_form") & pl.col("upper").is_not_null()).fill_null(False)
    if not censored.select(either.any()).item():
        return censored.drop("sum_or_form")
    sums = [_added(censored, names) for names in _WAYS]
    beside = pl.concat(sums).group_by(_SAMPLE).agg(pl.col("low").min(), pl.col("high").max())
    above = pl.col("lower") > pl.col("high") + _room("high")
    below = pl.col("upper") < pl.col("low") - _room("low")
    apart = (either & (above | below)).fill_null(False)
    # One sample that contradicts tells what the whole column is.
    doubted = apart.any().over("report_id", "sheet", "raw_analyte", "form")
    return (
        censored.join(beside, on=_SAMPLE, how="left", maintain_order="left", nulls_equal=True)
        .with_columns(form=pl.when(~(either & doubted)).then("form"))
        .drop("sum_or_form", "low", "high")
    )


def _room(end: str) -> pl.Expr:
    return pl.max_horizontal(_SHARE * pl.col(end), pl.lit(_LEAST))


def _added(censored: pl.DataFrame, names: tuple[str, ...]) -> pl.DataFrame:
    """Add the ends of the isomers of each sample that has them all, each once."""
    return (
        censored.filter(pl.col("analyte").is_in(names), pl.col("upper").is_not_null())
        .group_by(_SAMPLE)
        .agg(
            low=pl.col("lower").sum(),
            high=pl.col("upper").sum(),
            kinds=pl.col("analyte").n_unique(),
            count=pl.len(),
        )
        .filter(kinds=len(names), count=len(names))
        .select(*_SAMPLE, "low", "high")
    )
