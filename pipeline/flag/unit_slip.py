"""A result whose unit may have slipped, kept out of every decision until that is settled."""

from __future__ import annotations

import polars as pl

from pipeline.flag.evidence import Evidence, as_flags, in_series_of, mark_newest
from pipeline.flag.wording import capitalised, interval


def unit_slip(evidence: Evidence) -> pl.DataFrame:
    """Show results that stand a power of ten away from their limits' or their own history.

    Always undecided: no threshold, sum or growth is judged with them, and nothing is corrected. The
    suggested number is the printed one over that power of ten. A number that is right as printed is
    confirmed in the workbook of `cinderlot held`; a report whose units the laboratory confirms is
    named under `confirmed` in the settings.
    """
    repeats = in_series_of(evidence.suspects, evidence.repeats).with_columns(
        power=pl.lit(None, pl.Int64), evidence=pl.lit(None, pl.String)
    )
    both = pl.concat([repeats, evidence.suspects.select(repeats.columns)])
    return (
        both.with_columns(kind=pl.lit("unit_slip"))
        .pipe(mark_newest)
        .filter(pl.col("power").is_not_null())
        .with_columns(
            decision=pl.lit("undecided"),
            reason=pl.lit("unit_slip"),
            severity=pl.lit("warn"),
            message=_sentence(),
        )
        .pipe(as_flags)
    )


def _sentence() -> pl.Expr:
    name = pl.concat_str([pl.col("form"), pl.col("analyte")], separator=" ", ignore_nulls=True)
    scale = 10.0 ** pl.col("power")
    where = pl.when(pl.col("power") > 0).then(pl.lit("above")).otherwise(pl.lit("below"))
    return pl.format(
        "{} {} {} stands a factor of 1e{} {} what is usual ({}), as if the unit had slipped; with"
        " the unit corrected it would be {} {}. Nothing is decided with it: ask the laboratory.",
        capitalised(name), interval(pl.col("lower"), pl.col("upper")), "unit",
        pl.col("power").abs(), where, "evidence",
        interval(pl.col("lower") / scale, pl.col("upper") / scale), "unit",
    )  # fmt: skip
