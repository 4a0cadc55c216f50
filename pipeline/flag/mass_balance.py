"""A total that rises by itself."""

from __future__ import annotations

import polars as pl

from pipeline.amounts import PAIR, TOTAL_MINUS_FREE
from pipeline.flag.between import list_events
from pipeline.flag.comparisons import compare_sums, match_baselines
from pipeline.flag.decisions import decide
from pipeline.flag.evidence import Evidence, as_flags, mark_newest
from pipeline.flag.growth_tests import own_variance
from pipeline.flag.wording import interval, percent, write


def mass_balance(evidence: Evidence, *, confidence: float = 0.95) -> pl.DataFrame:
    """Show lots whose total smoke phenols (free + acid-released) rose after fermentation.

    Nothing but wood, a blend or press fractions adds to the molar total of a finished wine, so a
    rise beyond the uncertainty is a sign of a swapped sample or a unit slip; before the end of
    fermentation extraction explains it, and nothing is compared. A bound share that grew while free
    phenols stood still is such a rise as well, and both are raised. Compared with the lot's baseline over
    the shared smoke phenols, same laboratory and methods, only for totals: a glycoside panel is not
    a whole (`bound_growth` then says "outside the measured glycosides"). Rows only where the rise
    is sure and none of these is registered in between. lower and upper are the rise in nmol/L.
    """
    pairs = evidence.pairs.filter(pl.col("bound_basis") == TOTAL_MINUS_FREE)
    matched = match_baselines(pairs).filter(pl.col("base").is_not_null())
    return (
        matched.join(compare_sums(matched, pairs, ["other"]), on=PAIR, nulls_equal=True)
        .pipe(list_events, evidence.interventions, evidence.movements)
        .pipe(_with_rise)
        .pipe(decide, confidence)
        .pipe(mark_newest)
        .filter(pl.col("decision") == "above", ~pl.col("added"))
        .pipe(write, severity=pl.lit("warn"), message=_sentence())
        .pipe(as_flags)
    )


def _with_rise(rows: pl.DataFrame) -> pl.DataFrame:
    def apart(now: str, then: str) -> pl.Expr:
        own = own_variance("other", now) + own_variance("base_other", then)
        return own.sqrt()

    return rows.with_columns(
        kind=pl.lit("mass_balance"),
        analyte=pl.lit("panel"),
        form=pl.lit("total"),
        method="bound_method",
        lower=pl.col("other_lower") - pl.col("base_other_upper"),
        upper=pl.col("other_upper") - pl.col("base_other_lower"),
        u_lower=apart("lower", "upper"),
        u_upper=apart("upper", "lower"),
        threshold=pl.lit(0.0),
        threshold_source=pl.lit("the molar total of a finished wine does not rise by itself"),
    )


def _sentence() -> pl.Expr:
    def total(prefix: str) -> pl.Expr:
        return interval(pl.col(f"{prefix}other_lower"), pl.col(f"{prefix}other_upper"))

    sure = pl.coalesce(pl.format(" (probability {})", percent(pl.col("probability"))), pl.lit(""))
    return pl.format(
        "Total smoke phenols (free and bound, over {}) rose from {} {} at {} to {} {} at {}{}, with"
        " no blend, press fraction or wood registered in between: check for a swapped sample or a unit slip.",
        "common", total("base_"), "unit", "base_was", total(""), "unit", "sampled", sure,
    )  # fmt: skip
