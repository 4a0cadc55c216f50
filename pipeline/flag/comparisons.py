"""A lot's later samples beside its baseline: which may be compared, and by how much they differ.

Compared are sums over the smoke phenols that both samples have in both forms, within one series:
same lot, laboratory, methods, basis and unit. Amounts are molar.
"""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from pipeline import intervals
from pipeline.amounts import PAIR
from pipeline.flag.evidence import ABOUT
from schemas.judgement import load_judgement

SERIES = ["owner", "lab", "free_method", "bound_method", "bound_basis", "expressed", "unit"]
_BASELINE = "end of AF"
PARTS = ("free", "other", "bound")
_ENDS = ("lower", "upper", "shared")


def _first(rows: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    order = ["day", "stage_rank", "sample_id", *(c for c in SERIES if c not in key)]
    return (
        rows.sort(order, nulls_last=True, maintain_order=True)
        .group_by(key, maintain_order=True)
        .first()
    )


def _baselines(samples: pl.DataFrame) -> pl.DataFrame:
    """Give the baseline sample of each series that has one (column `base`)."""
    wines = samples.filter("fermented")
    at_end = wines.filter(pl.col("stage") == _BASELINE)
    elsewhere = wines.join(at_end.select("owner").unique(), on="owner", how="anti")
    return (
        pl.concat([_first(at_end, SERIES), _first(elsewhere, SERIES)])
        .select(*SERIES, base="sample", base_day="day", base_rank="stage_rank", base_was="sampled")
    )  # fmt: skip


def match_baselines(pairs: pl.DataFrame) -> pl.DataFrame:
    """Set each wine sample of a lot beside the baseline of its series.

    One row per series and later sample. `base` is null where there is none, and `why` then says
    why in words; `reason` is `not_comparable` or `no_baseline`. The baseline is the lot's sample at
    the end of alcoholic fermentation, else its earliest later wine sample of the same series.
    """
    samples = pairs.select(*SERIES, "sample", *ABOUT).unique()
    matched = samples.filter("fermented").join(
        _baselines(samples), on=SERIES, how="left", nulls_equal=True
    )
    later = (pl.col("day") > pl.col("base_day")) | (
        (pl.col("day").eq(pl.col("base_day")).fill_null(True))
        & (pl.col("stage_rank") > pl.col("base_rank"))
    )
    comparable = matched.filter(later.fill_null(False))
    return pl.concat(
        [
            comparable.filter(pl.col("lab").is_not_null()).with_columns(_why(None, None)),
            _of_unknown_laboratory(comparable),
            _of_other_series(matched, samples),
            _without_baseline(matched, samples),
        ],
        how="diagonal",
    )


def _why(reason: str | None, why: str | None) -> list[pl.Expr]:
    return [
        pl.lit(reason, pl.String).alias("reason"),
        pl.lit(why, pl.String).alias("why"),
    ]


def _of_unknown_laboratory(comparable: pl.DataFrame) -> pl.DataFrame:
    return comparable.filter(pl.col("lab").is_null()).with_columns(
        *_why("not_comparable", "the laboratory is not known"),
        base=pl.lit(None, pl.UInt32),
    )


def _of_other_series(matched: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    at_end = samples.filter("fermented", pl.col("stage") == _BASELINE)
    theirs = _first(at_end, ["owner"]).select(
        "owner", *(pl.col(c).alias(f"end_{c}") for c in (*SERIES[1:], "day", "sampled"))
    )
    same_lab = (pl.col("lab") == pl.col("end_lab")).fill_null(False)
    same_methods = pl.all_horizontal(
        pl.col(c).eq_missing(pl.col(f"end_{c}")) for c in ("free_method", "bound_method")
    )
    why = (
        pl.when(~same_lab)
        .then(
            pl.format(
                "the sample at {} was measured by {}, this one by {}, and results of different"
                " laboratories should not be compared directly ({})", "end_sampled",
                pl.col("end_lab").fill_null("an unknown laboratory"),
                pl.col("lab").fill_null("an unknown laboratory"),
                pl.lit(load_judgement().laboratories_source),
            )
        )
        .when(~same_methods)
        .then(pl.format("the sample at {} was measured with other methods", "end_sampled"))
        .otherwise(
            pl.format("bound of the sample at {} is {}, of this one {}", "end_sampled",
                      "end_bound_basis", "bound_basis")
        )
    )  # fmt: skip
    return (
        matched.filter(pl.col("base").is_null(), pl.col("stage").ne_missing(_BASELINE))
        .join(theirs, on="owner")
        .filter((pl.col("day") >= pl.col("end_day")).fill_null(True))
        .with_columns(reason=pl.lit("not_comparable"), why=why)
        .drop(pl.selectors.starts_with("end_"))
    )


def _without_baseline(matched: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    unfermented = samples.filter(~pl.col("fermented")).select(*SERIES, "day")
    before = _first(unfermented.with_columns(stage_rank=0, sample_id=pl.lit("")), ["owner"])
    alone = (pl.col("sample") == pl.col("base")) & pl.col("stage").ne_missing(_BASELINE)
    only_one = pl.col("sample").n_unique().over("owner") == 1
    return (
        matched.filter(alone & only_one)
        .join(before.select("owner"), on="owner")
        .with_columns(
            *_why(
                "no_baseline",
                "the lot has no earlier wine sample, and grapes, must and fermenting wine are no"
                " baseline",
            ),
            base=pl.lit(None, pl.UInt32),
        )
    )


def compare_sums(
    matched: pl.DataFrame, pairs: pl.DataFrame, parts: Sequence[str] = PARTS
) -> pl.DataFrame:
    """Sum both samples over the aglycones they share; `base_*` is the baseline's.

    Adds free_*, other_*, bound_* (or those of some `parts`) with their variances (nmol/L squared),
    `common` (the aglycones in words), `assumed` (default uncertainties among them), cells of both
    and the later loaded_at. An aglycone counts as shared when the same substances were summed for
    it. Comparisons without a shared aglycone are left out.
    """
    lowers = [f"{part}_lower" for part in parts]
    lowers += [f"{p}_var_{end}" for p in parts if p != "bound" for end in _ENDS]
    uppers = [f"{part}_upper" for part in parts]
    assumed = ["free_assumed", "other_assumed"]
    values = [*lowers, *uppers, *assumed, "parts", "cells", "loaded_at"]
    key = [*PAIR, "aglycone"]
    own = pairs.select(*key, *values)
    base = own.rename({"sample": "base", **{v: f"base_{v}" for v in values}})
    shared = (
        matched.filter(pl.col("base").is_not_null())
        .select(*PAIR, "base")
        .join(own, on=PAIR, nulls_equal=True)
        .join(base, on=["base", *key[1:]], nulls_equal=True)
        .filter(pl.col("parts") == pl.col("base_parts"))
    )
    return shared.group_by(PAIR).agg(
        *(intervals.ordered_sum(c, f"base_{c}") for c in lowers),
        *(intervals.sum_or_null(p + c).alias(p + c) for c in uppers for p in ("", "base_")),
        assumed=pl.any_horizontal(*assumed, *(f"base_{name}" for name in assumed)).any(),
        common=pl.when(pl.len() > 3)
        .then(pl.format("{} smoke phenols", pl.len()))
        .otherwise(pl.col("aglycone").sort().str.join(", ")),
        cells=pl.concat_list("cells", "base_cells").list.explode(),
        loaded_at=pl.max_horizontal("loaded_at", "base_loaded_at").max(),
    )
