"""The statistics as columns of a summary, one row per group."""

from __future__ import annotations

import polars as pl

from pipeline.statistics.estimates import Summary, summarise
from pipeline.statistics.slopes import FEWEST, Slope, trend_slope

ESTIMATES: dict[str, pl.DataType] = {
    "statistic": pl.String(), "median_estimate": pl.Float64(), "median_below": pl.Float64(),
    "median_confidence_lower": pl.Float64(), "median_confidence_upper": pl.Float64(),
    "mean_estimate": pl.Float64(), "highest_limit": pl.Float64(), "n_over_limit": pl.Int64(),
}  # fmt: skip
SLOPES: dict[str, pl.DataType] = {
    "slope": pl.Float64(), "slope_lower": pl.Float64(), "slope_upper": pl.Float64(),
    "slope_p": pl.Float64(), "slope_n": pl.Int64(), "slope_note": pl.String(),
}  # fmt: skip


def _estimates(found: Summary) -> tuple[object, ...]:
    ends = found.confidence or (None, None)
    return (found.method, found.median, found.median_below, *ends, found.mean,
            found.highest_limit, found.over_limit)  # fmt: skip


def add_estimates(frame: pl.DataFrame) -> pl.DataFrame:
    """Add `ESTIMATES` to rows that hold lists `lowers` and `uppers`, in the unit of the values.

    statistic is the method; median_estimate is null where only "below median_below" is true;
    median_confidence_* enclose the median with 95 %; n_over_limit values surely reach
    highest_limit, both null where no value is below a limit. See `pipeline.statistics.estimates`.
    """
    rows = [
        _estimates(summarise(lowers, uppers))
        for lowers, uppers in frame.select("lowers", "uppers").iter_rows()
    ]
    return frame.hstack(pl.DataFrame(rows, schema=ESTIMATES, orient="row"))


def _slope_row(found: Slope | None, n: int) -> tuple[object, ...]:
    if found is None:
        few = f"{n} of at least {FEWEST} values with a time"
        return (None, None, None, None, n, few if n < FEWEST else "all values are of one time")
    note = None if found.slope is not None else "too many values below their limits for a slope"
    return (found.slope, found.lower, found.upper, found.p, found.n, note)


def add_slopes(frame: pl.DataFrame) -> pl.DataFrame:
    """Add `SLOPES` to rows that hold lists `times` (years), `lowers` and `uppers` of one length.

    slope per year with its 95 % confidence, null where slope_note says why; slope_p is the
    two-sided probability of the Mann-Kendall test. Values without a time are left out, all of
    them where `times` is null. See `pipeline.statistics.slopes`.
    """
    rows = []
    for times, lowers, uppers in frame.select("times", "lowers", "uppers").iter_rows():
        at = times or [None] * len(lowers)
        dated = [v for v in zip(at, lowers, uppers, strict=True) if v[0] is not None]
        ends = [low for _, low, _ in dated], [high for _, _, high in dated]
        found = trend_slope([time for time, _, _ in dated], *ends)
        rows.append(_slope_row(found, len(dated)))
    return frame.hstack(pl.DataFrame(rows, schema=SLOPES, orient="row"))


def leave_slopes_out(frame: pl.DataFrame, why: str) -> pl.DataFrame:
    """Add `SLOPES` as nulls, with the reason in slope_note."""
    nothing = (pl.lit(None, dtype).alias(name) for name, dtype in SLOPES.items())
    return frame.with_columns(nothing).with_columns(slope_note=pl.lit(why))
