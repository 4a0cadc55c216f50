"""What a judged quantity says against its limits, and the names rules speak of."""

from __future__ import annotations

import polars as pl

from schemas.quality import QualityRules


def within(lower: pl.Expr, upper: pl.Expr, least: pl.Expr, most: pl.Expr) -> pl.Expr:
    """Judge an interval: pass inside the limits, fail outside, null where it lies across one.

    A null limit does not limit; a null upper end has no bound. Compared to ten digits, so that
    2.6 - 2.0 is not above 0.6.
    """
    lower, upper, least, most = (end.round_sig_figs(10) for end in (lower, upper, least, most))
    inside = (lower >= least).fill_null(True) & (upper <= most).fill_null(most.is_null())
    outside = (upper < least).fill_null(False) | (lower > most).fill_null(False)
    return pl.when(outside).then(pl.lit("fail")).when(inside).then(pl.lit("pass"))


def measurand() -> pl.Expr:
    """Name form and analyte of a row."""
    return pl.concat_str([pl.col("form"), pl.col("analyte")], separator=" ", ignore_nulls=True)


def by_level(level: pl.Expr, rules: QualityRules, pick: str) -> pl.Expr:
    """Give what is expected at a level (ug/L or ug/kg): recovery_low, recovery_high or rsd_r in %.

    Source: AOAC INTERNATIONAL, Official Methods of Analysis (2012), Appendix F, tables A4 and A5.
    """
    values = {
        "recovery_low": [line.recovery[0] for line in rules.precision],
        "recovery_high": [line.recovery[1] for line in rules.precision],
        "rsd_r": [line.rsd_r for line in rules.precision],
    }[pick]
    lines = zip(rules.precision, values, strict=True)
    reached = [pl.when(level >= line.level).then(float(value)) for line, value in lines]
    return pl.coalesce(reached[::-1])


def plain_unit() -> pl.Expr:
    """Write the unit of a row for a sentence."""
    return pl.col("unit").fill_null("")


def _surely_judged(rules: QualityRules) -> tuple[pl.Expr, pl.Expr, pl.Expr]:
    """Say whether a recovery fails at every level, passes at every level; and the range meant."""
    lows = [float(p.recovery[0]) for p in rules.precision]
    highs = [float(p.recovery[1]) for p in rules.precision]
    fails = (pl.col("upper") < min(lows)) | (pl.col("lower") > max(highs))
    passes = (pl.col("lower") >= max(lows)) & (pl.col("upper") <= min(highs))
    low = pl.when(fails).then(min(lows)).when(passes).then(max(lows))
    high = pl.when(fails).then(max(highs)).when(passes).then(min(highs))
    return fails | passes, low, high


def is_judged_at_any_level(rules: QualityRules) -> pl.Expr:
    """Tell a recovery (lower, upper in %) that the ranges of all levels judge alike."""
    return _surely_judged(rules)[0]


def recovery_limits(level: pl.Expr, rules: QualityRules) -> dict[str, pl.Expr]:
    """Give limit_lower and limit_upper of a recovery in %: AOAC's at the level, else the common one.

    Null where the level (ug/L or ug/kg) is not known and the ranges of the levels disagree.
    """
    _, low, high = _surely_judged(rules)
    return {
        "limit_lower": pl.coalesce(by_level(level, rules, "recovery_low"), low),
        "limit_upper": pl.coalesce(by_level(level, rules, "recovery_high"), high),
    }
