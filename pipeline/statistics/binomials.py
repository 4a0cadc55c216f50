"""What the binomial distribution says of order statistics and of false alarms."""

from __future__ import annotations

import math
from statistics import NormalDist

# From here on the normal approximation is exact to the rank.
_NORMAL_FROM = 100


def _log_term(k: int, n: int, p: float) -> float:
    ways = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    return ways + k * math.log(p) + (n - k) * math.log1p(-p)


def at_least(k: int, n: int, p: float) -> float:
    """Give the probability of k or more successes in n independent trials of probability p.

    Source: the terms of the binomial distribution, added up.
    """
    if k <= 0:
        return 1.0
    if not 0 < p < 1:
        return float(p >= 1 and k <= n)
    return min(1.0, math.fsum(math.exp(_log_term(i, n, p)) for i in range(k, n + 1)))


def quantile_ranks(n: int, p: float = 0.5, confidence: float = 0.95) -> tuple[int, int] | None:
    """Give the ranks (1 is the smallest) whose values enclose the p-quantile with this confidence.

    Free of any distribution; equal tails. Null where n is too small: below 6 for a median at 95 %.
    Source: Conover, Practical Nonparametric Statistics (1999), section 3.2.
    """
    tail = (1 - confidence) / 2
    if n > _NORMAL_FROM:
        reach = -NormalDist().inv_cdf(tail) * math.sqrt(n * p * (1 - p))
        return max(1, math.floor(n * p - reach)), min(n, math.ceil(n * p + reach) + 1)
    low = next((r for r in range(n, 0, -1) if 1 - at_least(r, n, p) <= tail), None)
    high = next((r for r in range(1, n + 1) if at_least(r, n, p) <= tail), None)
    return None if low is None or high is None else (low, high)


def bound_rank(n: int, share: float = 0.99, confidence: float = 0.95) -> int | None:
    """Give the rank whose value at least `share` of the population lies below, so confidently.

    The distribution-free upper tolerance bound. Null where even the highest value is too low: for
    99 % of the population at 95 % confidence below n = 299. Source: Wilks, Ann. Math. Stat. 12
    (1941) 91.
    """
    enough = (
        r for r in range(max(1, int(n * share)), n + 1) if 1 - at_least(r, n, share) >= confidence
    )
    return next(enough, None)


def covered_share(n: int, confidence: float = 0.95) -> float:
    """Give the share of a population that lies below the highest of n values, so confidently.

    share^n = 1 - confidence. Source: Wilks, Ann. Math. Stat. 12 (1941) 91.
    """
    return float((1 - confidence) ** (1 / n))
