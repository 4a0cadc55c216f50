"""Statistics of values that stand apart, as polars aggregations over one group of values."""

from __future__ import annotations

import polars as pl

# A median absolute deviation times this is a standard deviation, for a normal distribution.
MAD_TO_DEVIATION = 1.482602


def grubbs(values: pl.Expr) -> pl.Expr:
    """Give G = max |x - mean| / s of a group; null where all agree. Source: Grubbs (1969).

    Technometrics 11 (1969) 1.
    """
    spread = values.std()
    return pl.when(spread > 0).then((values - values.mean()).abs().max() / spread)


def dixon(values: pl.Expr) -> pl.Expr:
    """Give the larger of Dixon's ratios r10 at both ends; null where all agree.

    r10 is the gap between an end and its neighbour over the range. Source: Rorabacher, Anal. Chem. 63
    (1991) 139.
    """
    rising = values.sort()
    last = rising.len().cast(pl.Int64) - 1
    span = rising.last() - rising.first()
    gap = pl.max_horizontal(
        rising.get(pl.lit(1)) - rising.first(), rising.last() - rising.get(last - 1)
    )
    return pl.when(span > 0).then(gap / span)


def robust_spread(values: pl.Expr) -> pl.Expr:
    """Give 1.4826 times the median absolute deviation of a group.

    Source: Iglewicz & Hoaglin, How to Detect and Handle Outliers (1993).
    """
    return (values - values.median()).abs().median() * MAD_TO_DEVIATION


def whole_power(shift: pl.Expr, powers: tuple[int, ...], within: pl.Expr | float) -> pl.Expr:
    """Give the power of ten a shift (log10) is, where it is one of `powers` up or down, else null.

    `within` is how far, in log10, it may lie from the whole number (own choice, no source).
    """
    power = shift.round(0).cast(pl.Int64, strict=False)
    fits = power.abs().is_in(list(powers)) & ((shift - power).abs() <= within)
    return pl.when(fits).then(power)
