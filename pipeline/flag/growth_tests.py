"""The numbers of a growth comparison: changes of free, bound and their share, and the test.

The test runs on ln(bound / free), where relative uncertainties add up and nothing has a ceiling,
at the corner of the intervals least favourable to growth.
"""

from __future__ import annotations

import polars as pl

from pipeline import intervals
from pipeline.amounts import TOTAL_MINUS_FREE
from pipeline.uncertainty import normal_cdf, probability_above


def _fraction(prefix: str) -> list[pl.Expr]:
    ends = ("bound_lower", "bound_upper", "free_lower", "free_upper")
    corners = [pl.col(prefix + end) for end in ends]
    return [
        intervals.fraction_lower(*corners).alias(f"{prefix}fraction_lower"),
        intervals.fraction_upper(*corners).alias(f"{prefix}fraction_upper"),
    ]


def with_changes(rows: pl.DataFrame) -> pl.DataFrame:
    """Add the fractions, their growth (lower, upper) and how surely free and bound moved.

    p_free_rose, p_free_fell, p_bound_rose, p_bound_fell and p_sum_rose (the total, or free and
    bound as measured, together) are probabilities at the corner of the intervals least favourable
    to the claim; null where that corner has no end.
    """

    by_difference = pl.col("bound_basis") == TOTAL_MINUS_FREE

    def bound_variance(prefix: str, other: str, free: str) -> pl.Expr:
        of_free = pl.when(by_difference).then(f"{prefix}free_var_{free}").otherwise(0.0)
        return pl.col(f"{prefix}other_var_{other}") + of_free

    return rows.with_columns(*_fraction(""), *_fraction("base_")).with_columns(
        lower=pl.col("fraction_lower") - pl.col("base_fraction_upper"),
        upper=pl.col("fraction_upper") - pl.col("base_fraction_lower"),
        p_bound_rose=probability_above(
            pl.col("bound_lower"),
            pl.col("base_bound_upper"),
            (bound_variance("", "lower", "upper") + bound_variance("base_", "upper", "lower"))
            .sqrt(),
        ),
        p_bound_fell=probability_above(
            pl.col("base_bound_lower"),
            pl.col("bound_upper"),
            (bound_variance("", "upper", "lower") + bound_variance("base_", "lower", "upper"))
            .sqrt(),
        ),
        p_sum_rose=_sum_rose(by_difference),
        p_free_rose=probability_above(
            pl.col("free_lower"),
            pl.col("base_free_upper"),
            (pl.col("free_var_lower") + pl.col("base_free_var_upper")).sqrt(),
        ),
        p_free_fell=probability_above(
            pl.col("base_free_lower"),
            pl.col("free_upper"),
            (pl.col("base_free_var_lower") + pl.col("free_var_upper")).sqrt(),
        ),
    )  # fmt: skip


def _sum_rose(by_difference: pl.Expr) -> pl.Expr:
    def whole(prefix: str, end: str) -> tuple[pl.Expr, pl.Expr]:
        other, free = f"{prefix}other", f"{prefix}free"
        beside = pl.when(by_difference).then(0.0)
        return (
            pl.col(f"{other}_{end}") + beside.otherwise(f"{free}_{end}"),
            pl.col(f"{other}_var_{end}") + beside.otherwise(f"{free}_var_{end}"),
        )

    now, var_now = whole("", "lower")
    then, var_then = whole("base_", "upper")
    return probability_above(now, then, (var_now + var_then).sqrt())


def _moved(part: str, confidence: float) -> pl.Expr:
    return (
        pl.when(pl.col(f"p_{part}_rose") >= confidence)
        .then(pl.lit("rose"))
        .when(pl.col(f"p_{part}_fell") >= confidence)
        .then(pl.lit("fell"))
        .otherwise(pl.lit("within uncertainty"))
    )


def movement(confidence: float) -> dict[str, pl.Expr]:
    """Give how far free and bound moved since the baseline, each as an interval and in a word.

    free_change_lower, free_change_upper, free_change (rose, fell or within uncertainty), the same
    of bound, and change_unit (nmol/L); null where nothing was compared, an end also where there is
    none.
    """
    compared = pl.col("common").is_not_null()
    found: dict[str, pl.Expr] = {"change_unit": pl.when(compared).then("amount_unit")}
    for part in ("free", "bound"):
        found |= {
            f"{part}_change_lower": pl.col(f"{part}_lower") - pl.col(f"base_{part}_upper"),
            f"{part}_change_upper": pl.col(f"{part}_upper") - pl.col(f"base_{part}_lower"),
            f"{part}_change": pl.when(compared).then(_moved(part, confidence)),
        }
    return found


def logit_variance(
    bound: pl.Expr,
    free: pl.Expr,
    other_variance: pl.Expr,
    free_variance: pl.Expr,
    by_difference: pl.Expr,
) -> pl.Expr:
    """Give the variance of ln(bound / free) from the variances of what was measured.

    Bound measured by itself: r_B^2 + r_F^2 with r the relative uncertainties. Bound = total - free:
    d ln((T - F)/F) = dT / (T - F) - T dF / (F (T - F)), since T and F were measured and B and F
    share the error of F. First-order propagation, JCGM 100:2008, 5.1.
    """  # fmt: skip
    total = bound + free
    by_parts = other_variance / bound**2 + free_variance / free**2
    by_total = other_variance / bound**2 + free_variance * (total / (free * bound)) ** 2
    return pl.when(by_difference).then(by_total).otherwise(by_parts)


def with_growth_test(rows: pl.DataFrame, minimum: float) -> pl.DataFrame:
    """Add the one-sided p value of growth at the least favourable corner, and its ingredients.

    `undetermined`: the intervals alone allow both no growth and at least the minimum; such a row,
    or one whose corner has no logarithm, is no test and has a null p.
    """
    by_difference = pl.col("bound_basis") == TOTAL_MINUS_FREE
    now = logit_variance(
        pl.col("bound_lower"), pl.col("free_upper"), pl.col("other_var_lower"),
        pl.col("free_var_upper"), by_difference,
    )  # fmt: skip
    then = logit_variance(
        pl.col("base_bound_upper"), pl.col("base_free_lower"), pl.col("base_other_var_upper"),
        pl.col("base_free_var_lower"), by_difference,
    )  # fmt: skip
    corners = ("bound_lower", "free_upper", "base_bound_upper", "base_free_lower")
    finite = pl.all_horizontal(pl.col(c) > 0 for c in corners)
    base_logit = (pl.col("base_bound_upper") / pl.col("base_free_lower")).log()
    undetermined = (
        (pl.col("lower") <= 0) & (pl.col("upper") >= minimum) & (pl.col("lower") < pl.col("upper"))
    ).fill_null(False)
    return rows.with_columns(
        undetermined=undetermined,
        logit_growth=pl.when(finite).then(
            (pl.col("bound_lower") / pl.col("free_upper")).log() - base_logit
        ),
        base_logit=pl.when(finite).then(base_logit),
        u_logit=pl.when(finite).then((now + then).sqrt()),
    ).with_columns(
        p=pl.when((pl.col("u_logit") > 0) & ~pl.col("undetermined")).then(
            normal_cdf(-pl.col("logit_growth") / pl.col("u_logit"))
        )
    )
