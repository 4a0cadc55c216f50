"""Median, mean and percentiles of samples with values below a limit."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from pipeline.statistics.binomials import quantile_ranks

ALL_QUANTIFIED = "all quantified"
KAPLAN_MEIER = "Kaplan-Meier"
ROBUST_ROS = "robust ROS"
COUNTS_ONLY = "counts only"
# Shares of values below a limit. As in the tables of criteria of US EPA's R package EPATADA: Kaplan-Meier
# below 50 %, robust ROS of small samples from 50 to 80 %, none above; ROS of the package NADA warns above
# 80 %. At one half the median by Kaplan-Meier is "below" already.
KAPLAN_MEIER_UP_TO = 0.5
ROS_UP_TO = 0.8
# A line through fewer different values says nothing of those below the limits.
FEWEST_FOR_ROS = 3
_NORMAL = statistics.NormalDist()
Values = Sequence[float]


@dataclass(frozen=True)
class Step:
    """A quantified value with the estimated shares of the population below it and up to it."""

    value: float
    below: float
    up_to: float


@dataclass(frozen=True)
class Summary:
    """What can be said of a sample, and by which method, in the unit of its values.

    `median` is null where only "below `median_below`" is true, and the other way round.
    `confidence` encloses the median with 95 % (null below six values; its second end is null where
    nothing bounds it). `over_limit` counts the values that surely reach the highest limit; both are
    null where no value is below a limit.
    """

    method: str
    median: float | None
    median_below: float | None
    mean: float | None
    confidence: tuple[float, float | None] | None
    highest_limit: float | None
    over_limit: int | None


def kaplan_meier(quantified: Values, limits: Values) -> list[Step]:
    """Estimate the distribution of values of which some lie below their limits, by rising value.

    The product-limit estimate of the flipped sample: P(X < y) is the product of 1 - d/r over all
    quantified values from the highest down to y, d being how many equal the value and r how many
    lie at or below it. A limit equal to a quantified value counts as below it. Source: Helsel,
    Environ. Sci. Technol. 39 (2005) 419A; Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457.
    """
    steps, up_to = [], 1.0
    at_risk = sorted([*quantified, *limits])
    for value, equal in groupby(sorted(quantified, reverse=True)):
        while at_risk and at_risk[-1] > value:
            at_risk.pop()
        below = up_to * (1 - len(list(equal)) / len(at_risk))
        steps.append(Step(value, below, up_to))
        up_to = below
    return steps[::-1]


def kaplan_meier_mean(steps: Sequence[Step], limits: Values) -> float:
    """Give the mean of a Kaplan-Meier estimate.

    The share below the lowest quantified value, which no value tells of, is placed at the lowest
    limit, or at that value where no limit is lower; so the mean is at most too high. Source: EPA
    Unified Guidance (2009), section 15.3 and example 15-1.
    """
    rest = steps[0].below * min(steps[0].value, *limits)
    return math.fsum([rest, *(s.value * (s.up_to - s.below) for s in steps)])


def kaplan_meier_quantile(steps: Sequence[Step], p: float) -> float | None:
    """Give the lowest value up to which a share p lies; null where that is below all of them.

    Source: the quantile of the product-limit estimate, Kaplan and Meier, J. Am. Stat. Assoc. 53
    (1958) 457.
    """
    if steps[0].below >= p:
        return None
    return next(s.value for s in steps if s.up_to >= p - 1e-12)


@dataclass(frozen=True)
class _Band:
    """What lies from one limit up to the next; `exceeded` is the share at or above its limit."""

    quantified: list[float]
    limit: float
    n_limits: int
    exceeded: float
    next_exceeded: float


def _bands(quantified: Values, limits: Values) -> list[_Band]:
    """Part the values at the limits, from the highest down, with the exceedance of each limit."""
    bands, next_limit, next_exceeded = [], math.inf, 0.0
    for limit in sorted({*limits, -math.inf}, reverse=True):
        here = sorted(v for v in quantified if limit <= v < next_limit)
        lower = sum(v < limit for v in quantified) + sum(v <= limit for v in limits)
        exceeded = 1.0
        if lower:
            exceeded = next_exceeded + len(here) / (len(here) + lower) * (1 - next_exceeded)
        bands.append(_Band(here, limit, list(limits).count(limit), exceeded, next_exceeded))
        next_limit, next_exceeded = limit, exceeded
    return bands


def robust_ros(quantified: Values, limits: Values) -> list[float]:
    """Model the values below their limits and give them pooled with the quantified ones, sorted.

    Plotting positions after Hirsch and Stedinger with constant 0; ln(value) of the quantified is
    regressed on the normal quantiles, and only the values below a limit are taken from the line.
    Limits above the highest quantified value say nothing of the distribution and are left out.
    Quantified values must be above 0. Source: Helsel and Cohn, Water Resour. Res. 24 (1988) 1997.
    """
    told = [limit for limit in limits if limit <= max(quantified)]
    points: list[tuple[float, float]] = []
    scores: list[float] = []
    for band in _bands(quantified, told):
        width, n = band.exceeded - band.next_exceeded, len(band.quantified)
        for rank, value in enumerate(band.quantified, start=1):
            place = 1 - band.exceeded + width * rank / (n + 1)
            points.append((_NORMAL.inv_cdf(place), math.log(value)))
        for rank in range(1, band.n_limits + 1):
            place = (1 - band.exceeded) * rank / (band.n_limits + 1)
            scores.append(_NORMAL.inv_cdf(place))
    slope, intercept = statistics.linear_regression(*zip(*points, strict=True))
    return sorted([*quantified, *(math.exp(intercept + slope * z) for z in scores)])


def median_confidence(
    lower: Values, upper: Values, confidence: float = 0.95
) -> tuple[float, float | None] | None:
    """Enclose the median: a rank of the lower ends, and the mirrored rank of the upper ends.

    Free of any distribution, and true wherever inside their intervals the values lie. Null below
    six values; the second end is null where nothing bounds it. Source: ranks as in `quantile_ranks`.
    """
    ranks = quantile_ranks(len(lower), 0.5, confidence)
    if ranks is None:
        return None
    high = sorted(upper)[ranks[1] - 1]
    return sorted(lower)[ranks[0] - 1], high if math.isfinite(high) else None


def choose_method(quantified: Values, limits: Values) -> str:
    """Choose by the share of values below a limit: Kaplan-Meier to 50 %, robust ROS to 80 %.

    Beyond that, and where too few values above 0 are quantified, only counts are left. Source:
    the shares above.
    """
    share = len(limits) / (len(quantified) + len(limits))
    if not limits:
        return ALL_QUANTIFIED
    if share <= KAPLAN_MEIER_UP_TO:
        return KAPLAN_MEIER
    enough = len(set(quantified)) >= FEWEST_FOR_ROS and min(quantified) > 0
    return ROBUST_ROS if share <= ROS_UP_TO and enough else COUNTS_ONLY


def summarise(lower: Values, upper: Sequence[float | None]) -> Summary:
    """Summarise a sample of intervals by the method its share of censored values allows.

    Where the values in the middle are quantified the median is theirs, whatever the method; and an
    estimate that no values within their intervals could give is left out. For Kaplan-Meier and ROS
    a value between two limits counts as below the upper one. A value without an upper end leaves
    counts only. Null estimates as in `Summary`. Sources: those of the methods.
    """
    ends = [math.inf if end is None else end for end in upper]
    pairs = list(zip(lower, ends, strict=True))
    quantified = [low for low, high in pairs if low == high]
    limits = [high for low, high in pairs if low != high]
    open_above = math.inf in limits
    method = COUNTS_ONLY if open_above else choose_method(quantified, limits)
    median, mean = _estimated(method, quantified, limits)
    median = _possible(median, statistics.median_low(lower), statistics.median_high(ends))
    mean = _possible(mean, statistics.fmean(lower), statistics.fmean(ends))
    at_most = statistics.median(ends)
    if statistics.median(lower) == at_most:
        median = at_most
    if method == KAPLAN_MEIER and median is None:
        at_most = min(at_most, min(quantified))
    top = max((limit for limit in limits if math.isfinite(limit)), default=None)
    return Summary(
        method=method,
        median=median,
        median_below=at_most if median is None and math.isfinite(at_most) else None,
        mean=mean,
        confidence=median_confidence(lower, ends),
        highest_limit=top,
        over_limit=None if top is None else sum(low >= top for low in lower),
    )


def _possible(estimate: float | None, at_least: float, at_most: float) -> float | None:
    """Keep an estimate that lies between what the lower and what the upper ends give."""
    slack = 1e-9 * max(1.0, abs(at_most))
    if estimate is None or estimate < at_least - slack or estimate > at_most + slack:
        return None
    return estimate


def _estimated(
    method: str, quantified: Values, limits: Values
) -> tuple[float | None, float | None]:
    if method == ALL_QUANTIFIED:
        return statistics.median(quantified), statistics.fmean(quantified)
    if method == KAPLAN_MEIER:
        steps = kaplan_meier(quantified, limits)
        return kaplan_meier_quantile(steps, 0.5), kaplan_meier_mean(steps, limits)
    if method == ROBUST_ROS:
        modelled = robust_ros(quantified, limits)
        return statistics.median(modelled), statistics.fmean(modelled)
    return None, None
