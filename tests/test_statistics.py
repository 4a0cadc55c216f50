"""Statistics of censored values against published examples and other people's libraries."""

from __future__ import annotations

import math
import statistics
import tomllib
from itertools import combinations
from pathlib import Path
from typing import Any

import lifelines
import lifelines.datasets
import numpy as np
import polars as pl
import pytest
import scipy.stats
from statsmodels.imputation.ros import impute_ros

# Under the module's name: a class of tests would be run where it is imported.
from statsmodels.imputation.tests import test_ros

from pipeline.statistics import (
    ESTIMATES,
    SLOPES,
    add_estimates,
    add_slopes,
    summarise,
    trend_slope,
)
from pipeline.statistics.binomials import at_least, bound_rank, covered_share, quantile_ranks
from pipeline.statistics.estimates import (
    COUNTS_ONLY,
    KAPLAN_MEIER,
    ROBUST_ROS,
    kaplan_meier,
    kaplan_meier_mean,
    kaplan_meier_quantile,
    robust_ros,
)
from pipeline.statistics.slopes import rises

REFERENCE = Path(__file__).parent / "reference"
CENSORED: dict[str, Any] = tomllib.loads((REFERENCE / "censored.toml").read_text("utf-8"))
TRENDS: dict[str, Any] = tomllib.loads((REFERENCE / "trends.toml").read_text("utf-8"))
SAMPLES = ("arsenic", "appendix", "manganese", "lead", "pyrene")


def parted(name: str) -> tuple[list[float], list[float]]:
    """Part a published sample into quantified values and limits."""
    printed = CENSORED[name]["values"]
    return (
        [float(v) for v in printed if v[0] != "<"],
        [float(v[1:]) for v in printed if v[0] == "<"],
    )


def ends(name: str) -> tuple[list[float], list[float]]:
    quantified, limits = parted(name)
    return [*quantified, *(0.0 for _ in limits)], [*quantified, *limits]


# Published examples


def test_kaplan_meier_of_the_arsenic() -> None:
    steps = kaplan_meier(*parted("arsenic"))
    for step, expected in zip(steps, CENSORED["arsenic"]["up_to"], strict=True):
        assert (step.value, step.up_to) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("name", ["arsenic", "lead"])
def test_published_kaplan_meier_means(name: str) -> None:
    quantified, limits = parted(name)
    mean = kaplan_meier_mean(kaplan_meier(quantified, limits), limits)
    known = CENSORED[name]
    assert mean == pytest.approx(known["kaplan_meier_mean"], abs=known["tolerance"])


def test_published_manganese_on_logarithms() -> None:
    known = CENSORED["manganese"]
    quantified, limits = parted("manganese")
    logs = [math.log(v) for v in quantified], [math.log(v) for v in limits]
    mean = kaplan_meier_mean(kaplan_meier(*logs), logs[1])
    assert mean == pytest.approx(known["kaplan_meier_log_mean"], abs=known["tolerance"])
    modelled = [math.log(v) for v in robust_ros(quantified, limits)]
    assert statistics.fmean(modelled) == pytest.approx(
        known["ros_log_mean"], abs=known["tolerance"]
    )
    assert statistics.stdev(modelled) == pytest.approx(known["ros_log_sd"], abs=known["tolerance"])


@pytest.mark.parametrize("name", ["arsenic", "appendix"])
def test_published_modelled_values(name: str) -> None:
    known = CENSORED[name]
    tolerance = known["modelled_tolerance"]
    assert robust_ros(*parted(name)) == pytest.approx(known["modelled"], abs=tolerance)


def test_arsenic_as_a_whole() -> None:
    # 13 of 24 below a limit is 54 %: robust ROS
    known = CENSORED["arsenic"]
    found = summarise(*ends("arsenic"))
    assert found.method == ROBUST_ROS
    assert found.median == pytest.approx(known["ros_median"])
    assert found.mean == pytest.approx(known["ros_mean"], abs=known["ros_tolerance"])
    assert (found.highest_limit, found.over_limit) == (2.0, 2)
    steps = kaplan_meier(*parted("arsenic"))
    assert kaplan_meier_quantile(steps, 0.5) == known["kaplan_meier_median"]


def test_published_estimates_of_the_pyrene() -> None:
    known = CENSORED["pyrene"]
    quantified, limits = parted("pyrene")
    steps = kaplan_meier(quantified, limits)
    assert kaplan_meier_quantile(steps, 0.5) == known["kaplan_meier_median"]
    modelled = robust_ros(quantified, limits)
    assert statistics.fmean(modelled) == pytest.approx(known["ros_mean"], abs=known["tolerance"])
    assert statistics.median(modelled) == pytest.approx(known["ros_median"])
    assert statistics.stdev(modelled) == pytest.approx(known["ros_sd"], abs=known["tolerance"])


def test_modelled_values_of_a_sample_with_three_limits() -> None:
    # 50 values, 29 of them below 0.09, 0.9 or 1: data and modelled values as statsmodels 0.15.0 ships
    # them with its tests, after the package NADA for R; compared there to three decimals.
    shipped = test_ros.Test_ROS_RNADAdata
    values, below = shipped.df["res"].to_numpy(), shipped.df["cen"].to_numpy(dtype=bool)
    modelled = robust_ros(list(values[~below]), list(values[below]))
    assert modelled == pytest.approx(sorted(shipped.expected_final), abs=1.5 * 10**-shipped.decimal)


def test_published_sign_test_of_the_atrazine() -> None:
    known = CENSORED["atrazine"]

    def number(text: str) -> float:
        # Below the one limit of all: less than any number, and equal to each other.
        return 0.0 if text.startswith("<") else float(text)

    pairs = [(number(a), number(b)) for a, b in zip(known["june"], known["september"], strict=True)]
    fell, rose = (sum(sign * (b - a) > 0 for a, b in pairs) for sign in (-1, 1))
    assert (fell, rose) == (known["fell"], known["rose"])
    p = 2 * at_least(rose, rose + fell, 0.5)
    assert p == pytest.approx(known["p"], abs=known["tolerance"])


@pytest.mark.parametrize(("n", "share", "confidence"), CENSORED["ranks"]["highest_from"])
def test_published_sizes_for_a_bound_by_the_highest(
    n: int, share: float, confidence: float
) -> None:
    assert bound_rank(n - 1, share, confidence) is None
    assert bound_rank(n, share, confidence) == n
    assert covered_share(n, confidence) >= share > covered_share(n - 1, confidence)


@pytest.mark.parametrize(("n", "low", "high"), CENSORED["ranks"]["median"])
def test_published_ranks_of_a_median(n: int, low: int, high: int) -> None:
    assert quantile_ranks(n) == (low, high)
    assert quantile_ranks(5) is None


def test_published_trend_of_the_sodium() -> None:
    known = TRENDS["sodium"]
    found = trend_slope(known["times"], known["values"], known["values"])
    assert found is not None
    assert found.slope == pytest.approx(known["slope"], abs=known["tolerance"])
    assert found.p == pytest.approx(known["p"], abs=known["tolerance"])
    assert found.score / 45 == pytest.approx(known["tau"], abs=known["tolerance"])


@pytest.mark.parametrize(("n", "p"), TRENDS["smallest"]["p"])
def test_smallest_probability_of_few_values(n: int, p: float) -> None:
    found = trend_slope(range(n), [float(v) for v in range(n)], [float(v) for v in range(n)])
    assert found is not None
    assert found.p == pytest.approx(p, abs=1e-8)


# Other people's libraries


@pytest.mark.parametrize("name", SAMPLES)
def test_ros_as_statsmodels_has_it(name: str) -> None:
    quantified, limits = parted(name)
    values = np.array([*quantified, *limits])
    censored = np.array([False] * len(quantified) + [True] * len(limits))
    expected = np.sort(impute_ros(values, censored))
    assert robust_ros(quantified, limits) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("name", SAMPLES)
def test_kaplan_meier_as_lifelines_has_it(name: str) -> None:
    quantified, limits = parted(name)
    top = max(quantified + limits) + 1
    fitter = lifelines.KaplanMeierFitter()
    fitter.fit(
        [top - v for v in quantified + limits], [True] * len(quantified) + [False] * len(limits)
    )
    for step in kaplan_meier(quantified, limits):
        assert step.below == pytest.approx(fitter.predict(top - step.value), abs=1e-12)


def test_ros_of_an_open_series_as_statsmodels_has_it() -> None:
    # ammonium in precipitation, shipped with lifelines: 102 rows, 46 below a limit
    table = lifelines.datasets.load_nh4()
    values, censored = table["NH4.mg.per.L"].to_numpy(), table["Censored"].to_numpy()
    found = robust_ros(list(values[~censored]), list(values[censored]))
    assert found == pytest.approx(np.sort(impute_ros(values, censored)), rel=1e-9)


@pytest.mark.parametrize(
    ("k", "n", "p"), [(1, 13, 0.01), (2, 13, 0.01), (3, 13, 1 / 21), (0, 5, 0.1)]
)
def test_binomial_tail_as_scipy_has_it(k: int, n: int, p: float) -> None:
    assert at_least(k, n, p) == pytest.approx(scipy.stats.binom.sf(k - 1, n, p), rel=1e-9)


@pytest.mark.parametrize("n", [6, 17, 60, 100, 101, 400])
@pytest.mark.parametrize("p", [0.25, 0.5])
def test_ranks_enclose_a_quantile_as_often_as_they_say(n: int, p: float) -> None:
    ranks = quantile_ranks(n, p)
    if ranks is None:
        assert n < 17
        return
    # the p-quantile lies between the two order statistics when k values are below it
    inside = scipy.stats.binom.cdf(ranks[1] - 1, n, p) - scipy.stats.binom.cdf(ranks[0] - 1, n, p)
    assert 0.945 <= inside < 0.99 or n < 20


@pytest.mark.parametrize("seed", range(5))
def test_slope_without_limits_as_scipy_has_it(seed: int) -> None:
    random = np.random.default_rng(seed)
    times = np.sort(random.uniform(0, 10, 23))
    values = 0.3 * times + random.normal(0, 1, 23).round(1) + 10
    found = trend_slope(times.tolist(), values.tolist(), values.tolist())
    expected = scipy.stats.theilslopes(values, times)
    assert found is not None
    assert found.slope == pytest.approx(expected.slope)
    # both give ranks of the sorted slopes; rounding a rank may differ by one
    slopes = sorted(
        (b - a) / (t - s) for (s, a), (t, b) in combinations(zip(times, values, strict=True), 2)
    )
    place = [
        int(np.argmin(np.abs(np.array(slopes) - v)))
        for v in (found.lower, expected.low_slope, found.upper, expected.high_slope)
    ]
    assert abs(place[0] - place[1]) <= 1
    assert abs(place[2] - place[3]) <= 1


@pytest.mark.parametrize("n", [5, 6, 7, 8, 9])
@pytest.mark.parametrize("seed", range(3))
def test_probability_of_few_values_as_scipy_has_it(n: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    values = (np.arange(n) * 0.4 + random.normal(0, 1, n)).tolist()
    found = trend_slope(list(range(n)), values, values)
    assert found is not None
    exact = scipy.stats.kendalltau(range(n), values, method="exact").pvalue
    assert found.p == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_variance_with_limits_is_that_of_random_orders(seed: int) -> None:
    random = np.random.default_rng(seed)
    values = random.lognormal(0, 1, 14).round(1)
    limits = random.choice([0.5, 1.0, 2.0], 14)
    low = [float(v) if v >= d else 0.0 for v, d in zip(values, limits, strict=True)]
    high = [float(v) if v >= d else float(d) for v, d in zip(values, limits, strict=True)]
    found = trend_slope(list(range(14)), low, high)
    assert found is not None
    pairs = list(zip(low, high, strict=True))
    higher = np.array([[rises(a, b) for b in pairs] for a in pairs])
    scores = [
        np.triu(higher[np.ix_(o, o)]).sum() for o in (random.permutation(14) for _ in range(4000))
    ]
    # the standard error of a variance from 4000 draws is 2.2 %
    assert np.var(scores) == pytest.approx(found.variance, rel=0.1)


@pytest.mark.parametrize("seed", range(5))
def test_slope_leaves_no_trend_in_the_residuals(seed: int) -> None:
    # Akritas, Murphy and LaValley (1995): the slope is where Kendall's S of the residuals changes sign
    random = np.random.default_rng(seed)
    times = np.arange(30.0)
    values = np.maximum(0.05 * times + random.normal(1, 0.7, 30), 0.01)
    limits = random.choice([0.3, 1.0], 30)
    known = values >= limits
    low, high = np.where(known, values, 0.0), np.where(known, values, limits)
    found = trend_slope(times.tolist(), low.tolist(), high.tolist())
    assert found is not None
    assert found.slope is not None

    def score(slope: float) -> int:
        below = np.where(known, values - slope * times, -np.inf)
        up_to = np.where(known, values, limits) - slope * times
        pairs = list(zip(below, up_to, strict=True))
        return sum(rises(a, b) for a, b in combinations(pairs, 2))

    assert score(found.slope - 1e-6) >= 0 >= score(found.slope + 1e-6)


# Rules, by hand


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [((0, 2), (2, 2), 1), ((0, 2), (1, 1), 0), ((3, 3), (0, 2), -1), ((0, 2), (0, 5), 0),
     ((2, 2), (2, 2), 0), ((1, 3), (4, 4), 1), ((1, 3), (1, 3), 0), ((1, 3), (0, 1), -1)],
)  # fmt: skip
def test_pairs_of_values_and_limits(
    first: tuple[float, float], second: tuple[float, float], expected: int
) -> None:
    assert rises(first, second) == expected


@pytest.mark.parametrize("line", TRENDS["pairs"]["lines"])
def test_pairs_of_the_manual(line: list[Any]) -> None:
    first, second = (
        (0.0, float(v[1:])) if v.startswith("<") else (float(v), float(v)) for v in line[:2]
    )
    assert (rises(first, second), rises(second, first)) == (line[2], -line[2])


def test_falling_limits_are_no_trend() -> None:
    limits = [5.0, 4.0, 3.0, 2.0, 1.0, 0.5]
    found = trend_slope(range(6), [0.0] * 6, limits)
    assert found is not None
    assert (found.slope, found.score, found.p) == (None, 0, 1.0)


@pytest.mark.parametrize("n", [0, 1, 4])
def test_too_few_values_have_no_slope(n: int) -> None:
    assert trend_slope(range(n), [1.0] * n, [1.0] * n) is None


def test_mostly_below_a_limit_is_said_as_below() -> None:
    # 9 of 10 below 2: by hand the median is below 2, and one value surely exceeds the limit
    found = summarise([*[0.0] * 9, 7.0], [*[2.0] * 9, 7.0])
    assert (found.method, found.median, found.median_below, found.mean) == (
        COUNTS_ONLY,
        None,
        2.0,
        None,
    )
    assert (found.highest_limit, found.over_limit) == (2.0, 1)
    # 95 % interval by ranks 2 and 9 of ten
    assert found.confidence == (0.0, 2.0)


def test_equal_numbers_draw_no_line_for_what_lies_below_the_limits() -> None:
    # Three numbers of 2.5 and nine below 2: any line through the former puts the latter at 2.5.
    found = summarise([*[0.0] * 9, 2.5, 2.5, 2.5], [*[2.0] * 9, 2.5, 2.5, 2.5])
    assert (found.method, found.median, found.median_below, found.mean) == (
        COUNTS_ONLY, None, 2.0, None,
    )  # fmt: skip


def test_an_estimate_outside_of_what_the_intervals_allow_is_left_out() -> None:
    # Eight below 2, four numbers from 2.60 to 2.63: ROS models values above 2 for what lies below it
    # (statsmodels: 2.53 to 2.59), so the median, below 2 by count, is not its 2.59; nor can the mean
    # exceed (8 * 2 + 10.46) / 12 = 2.205.
    numbers = [2.60, 2.61, 2.62, 2.63]
    modelled = impute_ros(np.array([*[2.0] * 8, *numbers]), np.array([True] * 8 + [False] * 4))
    assert min(modelled) > 2.0
    found = summarise([*[0.0] * 8, *numbers], [*[2.0] * 8, *numbers])
    assert (found.method, found.median, found.median_below, found.mean) == (
        ROBUST_ROS, None, 2.0, None,
    )  # fmt: skip


def test_median_that_is_quantified_is_known_whatever_the_method() -> None:
    found = summarise([0.0, 3.0, 4.0, 5.0], [1.0, 3.0, 4.0, 5.0])
    assert (found.method, found.median) == (KAPLAN_MEIER, 3.5)


def test_half_below_their_limits_gives_a_median_below_the_lowest_number() -> None:
    # P(X < 5) = 1/2 by the product-limit formula; the middle upper ends 1 and 5 average to 3
    found = summarise([0.0, 0.0, 5.0, 6.0], [1.0, 1.0, 5.0, 6.0])
    assert (found.method, found.median, found.median_below) == (KAPLAN_MEIER, None, 3.0)


def test_a_value_without_an_upper_end_leaves_counts() -> None:
    found = summarise([1.0, 2.0, 50.0], [1.0, 2.0, None])
    assert (found.method, found.mean) == (COUNTS_ONLY, None)
    assert found.median == 2.0


def test_values_that_may_be_negative_have_no_logarithms() -> None:
    found = summarise([-1.0, 2.0, 3.0, 0.0, 0.0, 0.0, 0.0], [-1.0, 2.0, 3.0, 1.0, 1.0, 1.0, 1.0])
    assert found.method == COUNTS_ONLY


def test_columns_are_added() -> None:
    frame = pl.DataFrame(
        {"times": [[1.0, None], None, [1.0] * 5], "lowers": [[1.0, 0.0], [1.0, 2.0], [1.0] * 5],
         "uppers": [[1.0, 2.0], [1.0, 2.0], [1.0] * 5]}
    )  # fmt: skip
    added = add_slopes(add_estimates(frame))
    assert {**ESTIMATES, **SLOPES}.items() <= dict(added.schema).items()
    assert added["slope_note"].to_list() == [
        "1 of at least 5 values with a time", "0 of at least 5 values with a time",
        "all values are of one time",
    ]  # fmt: skip
