"""Summarise the values of one analyte, row by row of what it is followed over."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import polars as pl

from pipeline.errors import WrongUse
from pipeline.statistics import SLOPES, add_estimates, add_slopes, leave_slopes_out
from pipeline.trends.anonymise import hide_names, note_recognisable
from pipeline.trends.groups import (
    APART,
    DIMENSIONS,
    POOLABLE,
    POOLED,
    check_word,
    resolve_analyte,
)  # fmt: skip
from pipeline.withheld import is_trusted
from schemas.vocabulary import FORMS, STAGES, Vocabulary, load_vocabulary

if TYPE_CHECKING:
    from pipeline.store import Store

_SAMPLE = ("sample_id", "sampled_on")
_DAYS_PER_YEAR = 365.25
_STAGE_ORDER = {stage: place for place, stage in enumerate(STAGES)}
_ENDS = (("minimum", "min"), ("median", "median"), ("maximum", "max"))
_PLURALS = {"lab": "laboratories", "method": "methods"}


def _one_per_sample(results: pl.DataFrame, by: str) -> pl.DataFrame:
    """Take the latest analysis of each sample and average its replicates end by end."""
    keys = [*dict.fromkeys((by, *APART, *_SAMPLE))]
    return (
        results.with_columns(upper=pl.col("upper").fill_null(float("inf")))
        .group_by(*keys, "analysed_on")
        .agg(pl.col("lower", "upper").mean())
        .sort("analysed_on", nulls_last=False)
        .group_by(keys)
        .last()
    )


def _pooled(rows: pl.DataFrame, pool: Sequence[str]) -> pl.DataFrame:
    """Give what is pooled one name; `each_lab` and `each_method` keep what it stands for."""
    each = (pl.col(name).alias(f"each_{name}") for name in pool)
    return rows.with_columns(each).with_columns(pl.lit(POOLED).alias(name) for name in pool)


def _what_is_pooled(pool: Sequence[str]) -> pl.Expr:
    said = [
        pl.format(
            f"{_PLURALS[name]}: {{}}",
            pl.col(f"each_{name}").fill_null("not given").unique().sort().str.join(", "),
        )
        for name in pool
    ]
    return (pl.concat_str(said, separator="; ") if said else pl.lit(None, pl.String)).alias(
        "pooled"
    )


def _summary() -> list[pl.Expr]:
    censored = pl.col("lower") != pl.col("upper")
    ends = [
        getattr(pl.col(end), statistic)().alias(f"{name}_{end}")
        for name, statistic in _ENDS
        for end in ("lower", "upper")
    ]
    return [
        pl.len().cast(pl.Int64).alias("n"),
        censored.sum().cast(pl.Int64).alias("n_censored"),
        censored.mean().alias("share_censored"),
        *ends,
        pl.col("lower").alias("lowers"),
        pl.when(pl.col("upper").is_finite()).then(pl.col("upper")).alias("uppers"),
        (pl.col("sampled_on").cast(pl.Int32) / _DAYS_PER_YEAR).alias("times"),
        pl.col("sampled_on").min().alias("first_sampled_on"),
        pl.col("sampled_on").max().alias("last_sampled_on"),
    ]


def _with_slopes(summary: pl.DataFrame, by: str) -> pl.DataFrame:
    """Add the trend of each lot over its days, or of the vintages' medians over the vintages."""
    if by == "lot":
        return add_slopes(summary.with_columns(pl.when(pl.col("by").is_not_null()).then("times")))
    if by == "vintage":
        over = summary.group_by(APART).agg(
            times=pl.col("by").cast(pl.Float64), lowers="median_lower", uppers="median_upper"
        )
        return summary.join(
            add_slopes(over).select(*APART, *SLOPES), on=APART, how="left", nulls_equal=True
        )
    return leave_slopes_out(summary, "no order in time; ask by lot or vintage")


def _ordered(table: pl.DataFrame, by: str) -> pl.DataFrame:
    if by != "stage":
        return table.sort("by", *APART, nulls_last=True)
    place = pl.col("by").replace_strict(_STAGE_ORDER, default=len(STAGES), return_dtype=pl.Int32)
    return table.sort(place, "by", *APART, nulls_last=True)


def _wanted(results: pl.DataFrame, name: str, form: str | None, sample_kind: str) -> pl.DataFrame:
    return results.filter(
        pl.col("analyte") == name,
        pl.col("sample_kind") == sample_kind,
        pl.col("form") == form if form is not None else pl.lit(True),
        pl.col("lower").is_not_null(),
        is_trusted(results),
    )


def _check(by: str, form: str | None, pool: Sequence[str]) -> None:
    check_word("--by", by, DIMENSIONS)
    if form is not None:
        check_word("--form", form, FORMS)
    for name in pool:
        check_word("--pool", name, POOLABLE)
    if by in pool:
        raise WrongUse(f"--by {by} keeps apart what --pool {by} throws together; give one of them")


def trend(
    source: Store | pl.DataFrame,
    analyte: str,
    by: str,
    form: str | None = None,
    *,
    sample_kind: str = "lot",
    pool: Sequence[str] = (),
    anonymous: bool = False,
    vocabulary: Vocabulary | None = None,
    estimates: bool = True,
) -> pl.DataFrame:
    """Summarise one analyte by one of `DIMENSIONS`: region, grower, vineyard, lot, stage, ...

    Columns: by, lab, method, matrix, unit, form, expressed_as (rows are kept apart by these),
    n (samples), n_censored, share_censored (0 to 1), minimum, median and maximum as pairs _lower
    and _upper in `unit`, first_sampled_on, last_sampled_on, pooled, analyte, estimates and slopes.
    A censored value counts as an interval: the lower end of the median is the median of lower ends,
    the upper end that of upper ends; a null upper end has no bound. Each sample counts once for a
    laboratory and method, by its latest analysis, replicates averaged; a number whose unit is suspected of a
    slip counts for nothing. Only samples of the lots
    themselves unless `sample_kind` says otherwise. `form` null keeps all forms apart. `pool` names
    what of `POOLABLE` is thrown together: that column then says "pooled", and `pooled` of what;
    it is null where nothing is. `anonymous` replaces names by numbers, leaves days out and adds
    `note`. Without `estimates` the columns of estimates and slopes are left out, which cost most.
    Raises WrongUse for an unknown analyte, dimension, form or pool.
    """
    name = resolve_analyte(analyte, vocabulary or load_vocabulary())
    _check(by, form, pool)
    results = source if isinstance(source, pl.DataFrame) else source.results()
    wanted = _wanted(results, name, form, sample_kind)
    pooling = [*dict.fromkeys(pool)]
    summary = (
        (hide_names(wanted, by) if anonymous else wanted)
        .pipe(_one_per_sample, by)
        .pipe(_pooled, pooling)
        .with_columns(by=pl.col(by).cast(pl.String))
        .group_by("by", *APART)
        .agg(*_summary(), _what_is_pooled(pooling))
    )
    ends = [f"{name}_upper" for name, _ in _ENDS]
    bounded = pl.when(pl.col(ends).is_finite()).then(pl.col(ends))
    bare = summary.with_columns(bounded, analyte=pl.lit(name))
    told = bare.pipe(add_estimates).pipe(_with_slopes, by) if estimates else bare
    table = told.drop("lowers", "uppers", "times").pipe(_ordered, by)
    return note_recognisable(table) if anonymous else table
