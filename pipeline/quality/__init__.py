"""Quality: judge the rows of quality control that stand in the reports beside the samples.

One row per rule and control, passes too. What a failing rule means for the samples of its batch is
said by `pipeline.flag`.
"""

from __future__ import annotations

import polars as pl

from pipeline.quality.blanks import judge_blanks
from pipeline.quality.charts import judge_charts, judge_recovery_of_controls, judge_scores
from pipeline.quality.pairs import judge_duplicates, judge_horrat, judge_spikes, with_parents
from pipeline.quality.replicates import judge_replicates
from schemas.frames import QUALITY
from schemas.quality import QualityRules, load_quality_rules

_ORDER = ["report_id", "lab", "qc_kind", "analyte", "form", "sample_id", "rule", "cells", "message"]


def judge_quality(
    qc: pl.DataFrame,
    results: pl.DataFrame,
    reports: pl.DataFrame,
    rules: QualityRules | None = None,
) -> pl.DataFrame:
    """Judge blanks, spikes, duplicates and controls of `qc`, and replicates in `results`.

    `qc` and `results` as the views qc_results and results give them, `reports` with report_id and
    reported_on. Returns QUALITY, sorted; a function of what is stored alone. judgement is pass,
    warn, fail or `not judged`, and then the message says why.
    """
    numbers = rules or load_quality_rules()
    replicates = results.filter(pl.col("replicate").is_not_null())
    frames = [pl.DataFrame(schema={**QUALITY, "rule_source": pl.String()})]
    if qc.height:
        frames += _judge_controls(qc, results, reports, numbers)
    if replicates.height:
        frames.append(judge_replicates(replicates.with_columns(cells=_reference()), numbers))
    sources = pl.col("rule_source").replace_strict(
        dict(numbers.source), default=None, return_dtype=pl.String
    )
    judged = pl.concat([_as_quality(frame) for frame in frames])
    return (
        judged.with_columns(source=sources)
        .select(list(QUALITY))
        .sort(_ORDER, nulls_last=True, maintain_order=True)
    )


def _judge_controls(
    qc: pl.DataFrame, results: pl.DataFrame, reports: pl.DataFrame, numbers: QualityRules
) -> list[pl.DataFrame]:
    told = qc.with_columns(cells=_reference())
    # Few results are parents of a control or replicates; sentences of all would be made in vain.
    beside = results.filter(_may_be_parents(qc))
    paired = with_parents(told, beside.with_columns(cells=_reference()))
    return [
        judge_blanks(told, numbers),
        judge_spikes(paired, numbers),
        judge_duplicates(paired, numbers),
        judge_horrat(paired, numbers),
        judge_recovery_of_controls(told, numbers),
        judge_charts(told, reports, numbers),
        judge_scores(told, numbers),
    ]


def _may_be_parents(qc: pl.DataFrame) -> pl.Expr:
    """Tell results of reports with controls, and of laboratories that name a control's parent."""
    naming = qc.filter(pl.col("parent_sample").is_not_null())["lab"]
    own = pl.col("report_id").is_in(qc["report_id"].unique().to_list())
    return own | pl.col("lab").is_in(naming.drop_nulls().unique().to_list()).fill_null(False)


def _reference() -> pl.Expr:
    return pl.format(
        "{}|{}!{}", *(pl.col(name).fill_null("") for name in ("file", "sheet", "cell"))
    )


def _as_quality(frame: pl.DataFrame) -> pl.DataFrame:
    wanted = {**QUALITY, "source": pl.String(), "rule_source": pl.String()}
    return frame.select(
        (pl.col(name) if name in frame.columns else pl.lit(None)).cast(dtype).alias(name)
        for name, dtype in wanted.items()
    )
