"""Interval arithmetic: worked corners, and ends that are not known."""

import tomllib
from pathlib import Path

import polars as pl
import pytest

from pipeline import intervals

WORKED = tomllib.loads(
    (Path(__file__).parent / "reference" / "bound_fraction.toml").read_text(encoding="utf-8")
)
ENDS = ("bound_lower", "bound_upper", "free_lower", "free_upper")


def fraction(*ends: float | None) -> tuple[float | None, float | None]:
    frame = pl.DataFrame([ends], schema=dict.fromkeys(ENDS, pl.Float64), orient="row")
    corners = [pl.col(end) for end in ENDS]
    row = frame.select(
        low=intervals.fraction_lower(*corners), high=intervals.fraction_upper(*corners)
    ).row(0)
    return row[0], row[1]


def bound(total: tuple[float | None, ...], free: tuple[float | None, ...]) -> tuple[float, ...]:
    frame = pl.DataFrame(
        [(*total, *free)],
        schema=dict.fromkeys(("tl", "tu", "fl", "fu"), pl.Float64),
        orient="row",
    )
    return frame.select(
        intervals.bound_lower(pl.col("tl"), pl.col("fu")).alias("low"),
        intervals.bound_upper(pl.col("tu"), pl.col("fl")).alias("high"),
    ).row(0)


@pytest.mark.parametrize("case", WORKED["interval"], ids=lambda case: case["what"])
def test_fraction_takes_the_corners(case: dict[str, list[float]]) -> None:
    assert fraction(*case["bound"], *case["free"]) == pytest.approx(
        tuple(case["fraction"]), abs=WORKED["tolerance"]
    )


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        ((5.0, None, 1.0, 1.0), (5 / 6, None)),
        ((5.0, 5.0, 1.0, None), (0.0, 5 / 6)),
        ((0.0, 5.0, 1.0, None), (0.0, 5 / 6)),
        ((5.0, 5.0, None, None), (None, None)),
        ((None, None, 1.0, 1.0), (None, None)),
        ((None, None, 1.0, None), (None, None)),
        ((0.0, 0.0, 0.0, 0.0), (None, None)),
        ((0.0, 2.0, 0.0, 0.0), (1.0, 1.0)),
        ((0.0, 0.0, 0.0, 2.0), (0.0, 0.0)),
    ],
)
def test_fraction_of_open_and_empty_intervals(
    ends: tuple[float | None, ...], expected: tuple[float | None, ...]
) -> None:
    assert fraction(*ends) == pytest.approx(expected)


# Worked by hand from [max(0, T_lower - F_upper), max(0, T_upper - F_lower)].
@pytest.mark.parametrize(
    ("total", "free", "expected"),
    [
        ((12.0, 12.0), (5.0, 5.0), (7.0, 7.0)),
        ((12.0, 12.0), (0.0, 2.0), (10.0, 12.0)),
        ((0.0, 4.0), (0.0, 1.0), (0.0, 4.0)),
        ((6.12, 6.12), (7.36, 7.36), (0.0, 0.0)),
        ((12.0, None), (5.0, 5.0), (7.0, None)),
        ((12.0, 12.0), (5.0, None), (0.0, 7.0)),
    ],
)
def test_bound_is_total_minus_free(
    total: tuple[float | None, ...],
    free: tuple[float | None, ...],
    expected: tuple[float | None, ...],
) -> None:
    assert bound(total, free) == pytest.approx(expected)


@pytest.mark.parametrize("line", WORKED["differences"]["lines"])
def test_bound_is_a_difference_of_intervals_never_below_zero(line: list[list[float]]) -> None:
    # Less the other way round is the same with both signs turned.
    one, other, (low, high) = line
    assert bound(tuple(one), tuple(other)) == (max(low, 0.0), max(high, 0.0))
    assert bound(tuple(other), tuple(one)) == (max(-high, 0.0), max(-low, 0.0))
    for total, free, greatest in ((one, other, high), (other, one, -low)):
        frame = pl.DataFrame({"t": [total[1]], "f": [free[0]]})
        below = frame.select(intervals.total_below_free(pl.col("t"), pl.col("f"))).item()
        assert below is (greatest < 0)


@pytest.mark.parametrize(
    ("total_upper", "free_lower", "expected"),
    [(6.12, 7.36, True), (7.36, 7.36, False), (8.0, 7.36, False), (None, 7.36, False)],
)
def test_total_below_free(total_upper: float | None, free_lower: float, expected: bool) -> None:
    frame = pl.DataFrame(
        {"t": [total_upper], "f": [free_lower]}, schema={"t": pl.Float64, "f": pl.Float64}
    )
    assert frame.select(intervals.total_below_free(pl.col("t"), pl.col("f"))).item() is expected


@pytest.mark.parametrize(
    ("members", "expected"), [([4.0, 12.5], 16.5), ([4.0, None], None), ([1.0, 0.0], 1.0)]
)
def test_a_sum_with_an_open_member_is_open(
    members: list[float | None], expected: float | None
) -> None:
    frame = pl.DataFrame({"upper": members}, schema={"upper": pl.Float64})
    assert frame.select(intervals.sum_or_null("upper")).item() == expected
