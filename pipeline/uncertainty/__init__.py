"""Standard uncertainty of a result, and what it means for a comparison with a limit.

Order of trust: what the report states, the laboratory's own record, the scatter of replicates,
control-chart data, else the Horwitz-Thompson function. The last is a between-laboratory figure and
so on the wide side; a decision that rests on it says so.
"""

from __future__ import annotations

import polars as pl

from pipeline.uncertainty.sources import (
    ASSUMED_FACTOR,
    CHART,
    DEFAULT,
    NO_RECORD,
    RECORD,
    RECORD_LINES,
    REPLICATES,
    REPORT,
    UNEXPLAINED,
    control_charts,
    gather_record,
    is_assumed,
    record_frame,
    with_own_uncertainty,
    within_and_bias,
)

__all__ = [
    "ASSUMED_FACTOR",
    "CHART",
    "DEFAULT",
    "NO_RECORD",
    "RECORD",
    "RECORD_LINES",
    "REPLICATES",
    "REPORT",
    "UNEXPLAINED",
    "adjust_p_values",
    "control_charts",
    "gather_record",
    "horwitz_thompson",
    "is_assumed",
    "normal_cdf",
    "probability_above",
    "record_frame",
    "with_own_uncertainty",
    "within_and_bias",
]

# Coefficients of Hart (1968), as printed by West, "Better approximations to cumulative normal
# functions", Wilmott Magazine 2005.
_OVER = (3.52624965998911e-02, 0.700383064443688, 6.37396220353165, 33.912866078383,
         112.079291497871, 221.213596169931, 220.206867912376)  # fmt: skip
_UNDER = (8.83883476483184e-02, 1.75566716318264, 16.064177579207, 86.7807322029461,
          296.564248779674, 637.333633378831, 793.826512519948, 440.413735824752)  # fmt: skip
_TAIL_FROM = 7.07106781186547
_ROOT_TWO_PI = 2.506628274631


def horwitz_thompson(concentration: pl.Expr) -> pl.Expr:
    """Give the expected reproducibility standard deviation, in the unit of the concentration.

    The concentration is in ug/L or ug/kg. 1 ug/L is taken as a mass fraction of 1e-9, that is, the
    liquid is taken to weigh 1 kg/L; wine weighs 0.99 and must about 1.09, which changes nothing
    below 120 ug/L, where the function is a flat 22 %. Source: Thompson, Analyst 125 (2000) 385.
    """
    mass_fraction = concentration * 1e-9
    return (
        pl.when(mass_fraction < 1.2e-7)
        .then(0.22 * mass_fraction)
        .when(mass_fraction <= 0.138)
        .then(0.02 * mass_fraction**0.8495)
        .otherwise(0.01 * mass_fraction**0.5)
        * 1e9
    )


def _polynomial(x: pl.Expr, coefficients: tuple[float, ...]) -> pl.Expr:
    value: pl.Expr = pl.lit(coefficients[0])
    for coefficient in coefficients[1:]:
        value = value * x + coefficient
    return value


def _far_tail(x: pl.Expr) -> pl.Expr:
    build = x + 0.65
    for step in (4, 3, 2, 1):
        build = x + step / build
    return 1.0 / build / _ROOT_TWO_PI


def normal_cdf(z: pl.Expr) -> pl.Expr:
    """Give the standard normal distribution function, exact to about 1e-15; null stays null.

    Source: Hart (1968) as printed by West, Wilmott Magazine 2005.
    """
    size = z.abs()
    near = _polynomial(size, _OVER) / _polynomial(size, _UNDER)
    tail = (-(size**2) / 2).exp() * (
        pl.when(size < _TAIL_FROM).then(near).otherwise(_far_tail(size))
    )
    return pl.when(z > 0).then(1.0 - tail).otherwise(tail)


def probability_above(value: pl.Expr, limit: pl.Expr, uncertainty: pl.Expr) -> pl.Expr:
    """Give the probability that the true value lies above an upper limit.

    P = Phi((value - limit) / u). Without an uncertainty (null or zero) the value itself decides: 1
    above the limit, 0 at or below it. Null where the value is null. Source: JCGM 106:2012.
    """
    return (
        pl.when(value.is_null() | limit.is_null())
        .then(None)
        .when(uncertainty.fill_null(0.0) > 0)
        .then(normal_cdf((value - limit) / uncertainty))
        .otherwise((value > limit).cast(pl.Float64))
    )


def adjust_p_values(frame: pl.DataFrame, family: list[str]) -> pl.DataFrame:
    """Add `q`: the column `p` adjusted for the number of tests in each family.

    q of the i-th smallest p is the least p n / j over all j >= i; a null p is no test, counts for
    nothing and stays null. Rows come back sorted by falling p. Source: Benjamini & Hochberg,
    J. R. Stat. Soc. B 57 (1995) 289.
    """
    tests = pl.col("p").count().over(family)
    rank = tests - pl.int_range(pl.len()).over(family)
    return (
        frame.sort("p", descending=True, nulls_last=True, maintain_order=True)
        .with_columns(q=pl.col("p") * tests / rank)
        .with_columns(q=pl.col("q").cum_min().over(family))
        .with_columns(q=pl.when(pl.col("p").is_not_null()).then(pl.col("q")))
    )
