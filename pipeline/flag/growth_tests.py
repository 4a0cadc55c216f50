"""The numbers of a growth comparison: changes of free, bound and their share, and the test.

The test runs on ln(bound / free), where relative uncertainties add up and nothing has a ceiling,
at the corner of the intervals least favourable to growth. Both samples are of one laboratory and
method: a bias they share in proportion cancels where free or bound was measured by itself, and
counts only by the difference of the shares where bound is total - free. What of an uncertainty is
shared is known from the method record or control charts (Nordtest TR 537, u_bias beside u_Rw);
where it is not, the whole uncertainty is used for each sample.
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


def own_variance(part: str, end: str) -> pl.Expr:
    """Give the variance of an amount without what both samples share; `part` such as base_free."""
    return pl.col(f"{part}_var_{end}") - pl.col(f"{part}_var_shared")


def _shared_ratio(part: str) -> pl.Expr:
    """Give the squared relative uncertainty that both samples share of a part; 0 where unknown."""
    return pl.max_horizontal(
        (pl.col(f"{p}_var_shared") / pl.col(f"{p}_lower") ** 2).fill_nan(0.0).fill_null(0.0)
        for p in (part, f"base_{part}")
    )


def _shared_by_change(part: str) -> pl.Expr:
    """Give the variance that a shared bias in proportion leaves in a change of a part."""
    change = pl.col(f"{part}_lower") - pl.col(f"base_{part}_lower")
    return change**2 * _shared_ratio(part)


def with_changes(rows: pl.DataFrame) -> pl.DataFrame:
    """Add the fractions, their growth (lower, upper) and how surely free and bound moved.

    p_free_rose, p_free_fell, p_bound_rose, p_bound_fell and p_sum_rose (the total, or free and
    bound as measured, together) are probabilities at the corner of the intervals least favourable
    to the claim; null where that corner has no end. Source: JCGM 106:2012 with the difference as the
    quantity and zero as its limit; u by JCGM 100:2008, 5.1.
    """

    by_difference = pl.col("bound_basis") == TOTAL_MINUS_FREE
    shared = pl.when(by_difference).then(_shared_by_change("other") + _shared_by_change("free"))

    def bound_variance(prefix: str, other: str, free: str) -> pl.Expr:
        of_free = pl.when(by_difference).then(own_variance(f"{prefix}free", free)).otherwise(0.0)
        return own_variance(f"{prefix}other", other) + of_free

    def bound_apart(now: tuple[str, str], then: tuple[str, str]) -> pl.Expr:
        both = bound_variance("", *now) + bound_variance("base_", *then)
        return (both + shared.otherwise(0.0)).sqrt()

    def free_apart(now: str, then: str) -> pl.Expr:
        return (own_variance("free", now) + own_variance("base_free", then)).sqrt()

    low, high = ("lower", "upper"), ("upper", "lower")
    claims = {
        "p_bound_rose": (
            pl.col("bound_lower"), pl.col("base_bound_upper"), bound_apart(low, high)
        ),
        "p_bound_fell": (
            pl.col("base_bound_lower"), pl.col("bound_upper"), bound_apart(high, low)
        ),
        "p_sum_rose": _sum_rose(by_difference),
        "p_free_rose": (pl.col("free_lower"), pl.col("base_free_upper"), free_apart(*low)),
        "p_free_fell": (pl.col("base_free_lower"), pl.col("free_upper"), free_apart(*high)),
    }  # fmt: skip
    return (
        rows.with_columns(*_fraction(""), *_fraction("base_"))
        .with_columns(
            lower=pl.col("fraction_lower") - pl.col("base_fraction_upper"),
            upper=pl.col("fraction_upper") - pl.col("base_fraction_lower"),
            is_split=pl.any_horizontal(
                pl.col(f"{part}_var_shared") > 0
                for part in ("free", "other", "base_free", "base_other")
            ).fill_null(False),
        )
        .pipe(_with_probabilities, claims)
    )


def _with_probabilities(
    rows: pl.DataFrame, claims: dict[str, tuple[pl.Expr, pl.Expr, pl.Expr]]
) -> pl.DataFrame:
    """Add how surely the first quantity of a claim exceeds the second, by their uncertainty.

    All three are made columns first: the distribution function names each some twenty times, and
    an expression is planned as often as it is named.
    """
    made = {
        f"{name} {number}": part
        for name, parts in claims.items()
        for number, part in enumerate(parts)
    }
    surely = {
        name: probability_above(*(pl.col(f"{name} {number}") for number in range(3)))
        for name in claims
    }
    return rows.with_columns(**made).with_columns(**surely).drop(made)


def _sum_rose(by_difference: pl.Expr) -> tuple[pl.Expr, pl.Expr, pl.Expr]:
    def whole(prefix: str, end: str) -> tuple[pl.Expr, pl.Expr]:
        other, free = f"{prefix}other", f"{prefix}free"
        beside = pl.when(by_difference).then(0.0)
        return (
            pl.col(f"{other}_{end}") + beside.otherwise(f"{free}_{end}"),
            own_variance(other, end) + beside.otherwise(own_variance(free, end)),
        )

    now, var_now = whole("", "lower")
    then, var_then = whole("base_", "upper")
    shared = pl.when(by_difference).then(0.0)
    left = shared.otherwise(_shared_by_change("other") + _shared_by_change("free"))
    return now, then, (var_now + var_then + left).sqrt()


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
    share the error of F. Source: first-order propagation, JCGM 100:2008, 5.1.
    """  # fmt: skip
    total = bound + free
    by_parts = other_variance / bound**2 + free_variance / free**2
    by_total = other_variance / bound**2 + free_variance * (total / (free * bound)) ** 2
    return pl.when(by_difference).then(by_total).otherwise(by_parts)


def _shared_in_logit() -> pl.Expr:
    """Give what a shared bias leaves in the growth of ln(bound / free), bound = total - free.

    Totals off by a share b_T and free by b_F move ln((T - F) / F) by (T / B) (b_T - b_F), and T / B
    is one over the bound fraction: (1 / f_2 - 1 / f_1)^2 (u_T^2 + u_F^2), all relative, at the
    corner of the test. First-order propagation, JCGM 100:2008, 5.1.
    """
    now = 1 + pl.col("free_upper") / pl.col("bound_lower")
    then = 1 + pl.col("base_free_lower") / pl.col("base_bound_upper")
    return (now - then) ** 2 * (_shared_ratio("other") + _shared_ratio("free"))


def with_growth_test(rows: pl.DataFrame, minimum: float) -> pl.DataFrame:
    """Add the one-sided p value of growth at the least favourable corner, and its ingredients.

    `undetermined`: the intervals alone allow both no growth and at least the minimum; such a row,
    or one whose corner has no logarithm, is no test and has a null p. p = Phi(-growth / u) on
    ln(bound / free). Source: u by JCGM 100:2008, 5.1; a normal test of a difference.
    """
    by_difference = pl.col("bound_basis") == TOTAL_MINUS_FREE
    now = logit_variance(
        pl.col("bound_lower"), pl.col("free_upper"), own_variance("other", "lower"),
        own_variance("free", "upper"), by_difference,
    )  # fmt: skip
    then = logit_variance(
        pl.col("base_bound_upper"), pl.col("base_free_lower"),
        own_variance("base_other", "upper"), own_variance("base_free", "lower"), by_difference,
    )  # fmt: skip
    corners = ("bound_lower", "free_upper", "base_bound_upper", "base_free_lower")
    finite = pl.all_horizontal(pl.col(c) > 0 for c in corners)
    left = pl.when(by_difference).then(_shared_in_logit()).otherwise(0.0)
    base_logit = (pl.col("base_bound_upper") / pl.col("base_free_lower")).log()
    undetermined = (
        (pl.col("lower") <= 0)
        & (pl.col("upper").round(9) >= minimum)
        & (pl.col("lower") < pl.col("upper"))
    ).fill_null(False)
    return rows.with_columns(
        undetermined=undetermined,
        logit_growth=pl.when(finite).then(
            (pl.col("bound_lower") / pl.col("free_upper")).log() - base_logit
        ),
        base_logit=pl.when(finite).then(base_logit),
        u_logit=pl.when(finite).then((now + then + left).sqrt()),
    ).with_columns(
        p=pl.when((pl.col("u_logit") > 0) & ~pl.col("undetermined")).then(
            normal_cdf(-pl.col("logit_growth") / pl.col("u_logit"))
        )
    )
