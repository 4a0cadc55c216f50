"""Outlier statistics against published examples, and their critical values by drawing."""

import math
import random
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.outliers import dixon, grubbs, robust_spread, whole_power
from schemas.quality import load_quality_rules

WORKED = tomllib.loads(
    (Path(__file__).parent / "reference" / "quality.toml").read_text(encoding="utf-8")
)
RULES = load_quality_rules()


def of(values: list[float], statistic: pl.Expr) -> Any:
    return pl.DataFrame({"x": values}).select(statistic).item()


def test_grubbs_statistic_of_the_naphthalene_example() -> None:
    case = WORKED["naphthalene"]
    values = [float(v) for v in case["values"]]
    first = of(values, grubbs(pl.col("x")))
    second = of([v for v in values if v != case["outliers"][0]], grubbs(pl.col("x")))
    assert first == pytest.approx(case["first"], abs=case["tolerance"])
    assert second == pytest.approx(case["second"], abs=case["tolerance"])


@pytest.mark.parametrize("case", WORKED["weights"]["sets"], ids=lambda c: f"n={len(c['values'])}")
def test_grubbs_statistic_of_weights_in_print(case: dict[str, Any]) -> None:
    found = of(case["values"], grubbs(pl.col("x")))
    assert found == pytest.approx(case["statistic"], abs=WORKED["weights"]["tolerance"])


def test_grubbs_statistic_repeated_over_the_values_of_rosner() -> None:
    case = WORKED["rosner"]
    left = list(case["values"])
    for expected in case["statistics"]:
        assert of(left, grubbs(pl.col("x"))) == pytest.approx(expected, abs=case["tolerance"])
        mean = sum(left) / len(left)
        left.remove(max(left, key=lambda v: abs(v - mean)))


def test_dixon_ratio_of_the_example_in_print() -> None:
    case = WORKED["dixon_example"]
    ratio = of(case["values"], dixon(pl.col("x")))
    assert ratio == pytest.approx(case["ratio"], abs=case["tolerance"])
    assert RULES.dixon[len(case["values"])][0] == case["critical"] > ratio


@pytest.mark.parametrize("line", WORKED["grubbs"]["lines"], ids=lambda line: f"n={line[0]}")
def test_critical_value_of_grubbs_is_the_printed_one(line: list[float]) -> None:
    assert RULES.grubbs[int(line[0])][0] == pytest.approx(
        line[1], abs=WORKED["grubbs"]["tolerance"]
    )


def test_critical_values_of_dixon_are_the_printed_ones() -> None:
    assert dict(RULES.dixon) == {n: (a, b) for n, a, b in WORKED["dixon"]["lines"]}


def drawn(n: int, sets: int) -> Iterator[tuple[float, float]]:
    """Draw G and r10 of normal samples, worked out here without the program."""
    draw = random.Random(20260)
    for _ in range(sets):
        x = sorted(draw.gauss(0, 1) for _ in range(n))
        mean = sum(x) / n
        s = math.sqrt(sum((v - mean) ** 2 for v in x) / (n - 1))
        yield max(mean - x[0], x[-1] - mean) / s, max(x[1] - x[0], x[-1] - x[-2]) / (x[-1] - x[0])


@pytest.mark.parametrize("n", [4, 6, 10])
def test_critical_values_are_exceeded_as_often_as_they_say(n: int) -> None:
    # Drawing, no source: 10,000 normal samples; three standard deviations of a share of 5 % and 1 %.
    sets = list(drawn(n, 10_000))
    for place, level, leeway in ((0, 0.05, 0.0066), (1, 0.01, 0.003)):
        for statistic, critical in enumerate((RULES.grubbs[n], RULES.dixon[n])):
            share = sum(s[statistic] > critical[place] for s in sets) / len(sets)
            assert share == pytest.approx(level, abs=leeway + 0.001)


def test_replicates_that_agree_have_no_outlier() -> None:
    assert of([2.0, 2.0, 2.0], grubbs(pl.col("x"))) is None
    assert of([2.0, 2.0, 2.0], dixon(pl.col("x"))) is None


@pytest.mark.parametrize("case", WORKED["slip"]["cases"], ids=lambda case: str(case["value"]))
def test_shift_against_a_history_and_its_power_of_ten(case: dict[str, float]) -> None:
    history = WORKED["slip"]["history"]
    frame = pl.DataFrame({"h": [math.log10(h) for h in history]})
    middle = frame.select(pl.col("h").median()).item()
    shift = math.log10(case["value"]) - middle
    assert shift == pytest.approx(case["shift"], abs=WORKED["slip"]["tolerance"])
    slip = RULES.slip
    power = of([shift], whole_power(pl.col("x"), slip.powers, slip.amounts_within))
    assert power == case.get("power")


def test_robust_spread_is_that_of_the_handbook() -> None:
    # By hand: median 3, deviations 2 1 0 1 97, their median 1; 1.482602 as in Iglewicz & Hoaglin.
    assert of([1.0, 2.0, 3.0, 4.0, 100.0], robust_spread(pl.col("x"))) == pytest.approx(1.482602)
