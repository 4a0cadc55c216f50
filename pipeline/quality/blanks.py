"""Blanks: nothing should be found."""

from __future__ import annotations

import polars as pl

from pipeline.phrases import interval, number
from pipeline.quality.outcomes import measurand, plain_unit
from schemas.quality import QualityRules


def judge_blanks(qc: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge blanks: fail above the limit of quantification, warn above that of detection.

    A blank below a limit passes, whatever the limit. A number without any limit beside it is not
    judged. Source: common practice.
    """
    lower, limit = pl.col("lower"), pl.coalesce("loq", "lod")
    return qc.filter(pl.col("qc_kind") == "blank").with_columns(
        rule=pl.lit("blank"),
        rule_source=pl.lit("blank"),
        limit_upper=pl.coalesce("lod", "loq"),
        judgement=pl.when(lower == 0)
        .then(pl.lit("pass"))
        .when(limit.is_null())
        .then(pl.lit("not judged"))
        .when((lower > limit).fill_null(False))
        .then(pl.lit("fail"))
        .when((lower >= pl.coalesce("lod", "loq")).fill_null(False))
        .then(pl.lit("warn"))
        .otherwise(pl.lit("pass")),
        message=pl.format(
            "blank {}: {} {} {}",
            "sample_id", measurand(), interval(lower, pl.col("upper")), plain_unit(),
        ) + pl.coalesce(
            pl.format(", limit of quantification {}", number(pl.col("loq"))),
            pl.format(", limit of detection {}", number(pl.col("lod"))),
            pl.when(lower == 0).then(pl.lit("")).otherwise(pl.lit(", no limit is printed")),
        ),
    )  # fmt: skip
