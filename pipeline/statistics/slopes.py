"""Trend over time: the Mann-Kendall test and the Akritas-Theil-Sen slope."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

# With four values the smallest two-sided probability is 2 of 24 orders, so nothing can be shown.
FEWEST = 5
# Up to here all orders of the values are gone through; 7! is 5040.
ALL_ORDERS_UP_TO = 7
# Up to here the orders are counted where nothing ties; the published example with ten values takes the
# normal approximation.
COUNTED_UP_TO = 9
_NORMAL = statistics.NormalDist()
Matrix = list[list[int]]


@dataclass(frozen=True)
class Slope:
    """A trend: change per unit of time with its confidence, and the test for any trend.

    `score` is Kendall's S, `variance` its variance under no trend, `p` the two-sided probability
    of a score as far from 0. A null slope or end lies among values that are only known as limits.
    """

    slope: float | None
    lower: float | None
    upper: float | None
    score: int
    variance: float
    p: float
    n: int


def rises(first: tuple[float, float], second: tuple[float, float]) -> int:
    """Tell whether the second of two intervals is surely higher (1), lower (-1), or neither (0).

    "Below a" and a number b: b is higher when b >= a, else they tie; two values below limits tie, for
    neither surely is the higher. Source: reference manual of the R package NADA (Helsel and Lee),
    cenken: from <1 to 10 is an increase, from <1 to 0.5 a tie, as is from <1 to <5.
    """
    if first == second:
        return 0
    return int(second[0] >= first[1]) - int(first[0] >= second[1])


def _scores(times: Sequence[float], ends: Sequence[tuple[float, float]]) -> tuple[Matrix, Matrix]:
    later = [[(b > a) - (b < a) for b in times] for a in times]
    higher = [[rises(first, second) for second in ends] for first in ends]
    return later, higher


def kendall_score(later: Matrix, higher: Matrix) -> int:
    """Count pairs that rise with time less pairs that fall. Source: Mann, Econometrica 13 (1945) 245."""
    return sum(later[i][j] * higher[i][j] for i, j in combinations(range(len(later)), 2))


def kendall_variance(later: Matrix, higher: Matrix) -> float:
    """Give the variance of the score over all orders of the values, ties of any kind included.

    Without ties n (n - 1) (2n + 5) / 18, with plain ties the usual tie correction. Source: Isobe,
    Feigelson and Nelson, Astrophys. J. 306 (1986) 490, equation 28, as read in an open implementation.
    """
    n = len(later)
    (rows_a, squares_a), (rows_b, squares_b) = (
        (sum(sum(row) ** 2 for row in m), sum(c * c for row in m for c in row))
        for m in (later, higher)
    )
    rows = 4 * (rows_a - squares_a) * (rows_b - squares_b) / (n * (n - 1) * (n - 2))
    return (rows + 2 * squares_a * squares_b / (n * (n - 1))) / 4


def _above(later: Matrix, higher: Matrix) -> list[tuple[int, int]]:
    return [(later[i][j], higher[i][j]) for i, j in combinations(range(len(later)), 2)]


def _orders_by_inversions(n: int) -> list[int]:
    """Count the orders of n values by how many pairs stand the wrong way round: 0, 1, 2 ..."""
    counts = [1]
    for k in range(2, n + 1):
        places = range(len(counts) + k - 1)
        counts = [sum(counts[max(0, place - k + 1) : place + 1]) for place in places]
    return counts


def _p(score: int, variance: float, later: Matrix, higher: Matrix) -> float:
    n = len(later)
    if n <= ALL_ORDERS_UP_TO:
        orders = list(permutations(range(n)))
        pairs = [(i, j, later[i][j]) for i, j in combinations(range(n), 2) if later[i][j]]
        reached = sum(
            abs(sum(sign * higher[order[i]][order[j]] for i, j, sign in pairs)) >= abs(score)
            for order in orders
        )
        return reached / len(orders)
    if n <= COUNTED_UP_TO and all(0 not in (a, b) for a, b in _above(later, higher)):
        pairs_of_all = n * (n - 1) // 2
        orders_of = enumerate(_orders_by_inversions(n))
        reached = sum(m for k, m in orders_of if abs(pairs_of_all - 2 * k) >= abs(score))
        return reached / math.factorial(n)
    if variance <= 0:
        return 1.0
    z = max(abs(score) - 1, 0) / math.sqrt(variance)
    return 2 * _NORMAL.cdf(-z)


def _slope_ends(times: Sequence[float], ends: Sequence[tuple[float, float]]) -> list[float]:
    """Give, sorted, both ends of the slope of every pair of values at different times.

    A value below a limit has no lower end here: zero is no slope's business.
    """
    bounds = [(low if low == high or low > 0 else -math.inf, high) for low, high in ends]
    found: list[float] = []
    for (a, first), (b, second) in combinations(sorted(zip(times, bounds, strict=True)), 2):
        if b > a:
            found += [(second[0] - first[1]) / (b - a), (second[1] - first[0]) / (b - a)]
    return sorted(found)


def trend_slope(
    times: Sequence[float],
    lower: Sequence[float],
    upper: Sequence[float | None],
    confidence: float = 0.95,
) -> Slope | None:
    """Test for a trend and estimate its slope; null below five values or at one time only.

    The slope is the one for which the residuals show no trend: the median of both ends of all pairs'
    slopes, which without limits is Sen's. Its confidence takes the ranks that the test would still
    accept. The test goes through all orders up to seven values, counts them up to nine where nothing
    ties, and uses the normal approximation with a correction for continuity beyond. Sources: Akritas,
    Murphy and LaValley, J. Am. Stat. Assoc. 90 (1995) 170; Sen, J. Am. Stat. Assoc. 63 (1968) 1379;
    Mann, Econometrica 13 (1945) 245.
    """
    n = len(times)
    if n < FEWEST or len(set(times)) < 2:
        return None
    ends = [
        (low, math.inf if high is None else high) for low, high in zip(lower, upper, strict=True)
    ]
    later, higher = _scores(times, ends)
    score, variance = kendall_score(later, higher), kendall_variance(later, higher)
    found = _slope_ends(times, ends)
    middle = len(found) // 2
    reach = _NORMAL.inv_cdf((1 + confidence) / 2) * math.sqrt(max(variance, 0.0))
    first = math.floor(middle - reach) - 1
    return Slope(
        slope=_finite((found[middle - 1] + found[middle]) / 2),
        lower=_finite(found[first]) if first >= 0 else None,
        upper=_finite(found[-1 - first]) if first >= 0 else None,
        score=score,
        variance=variance,
        p=_p(score, variance, later, higher),
        n=n,
    )


def _finite(end: float) -> float | None:
    return end if math.isfinite(end) else None
