"""Which results a row of quality control speaks for.

A batch is what one report gives for one method and analyte; where the control and the result both
carry a day of analysis, that day too. Another report of the same laboratory belongs to the batch
when method and day of analysis are printed in both and are the same. A control without method, or
without form, speaks for all of its report.
"""

from __future__ import annotations

import polars as pl


def in_batch(judged: pl.DataFrame, rows: pl.DataFrame) -> pl.DataFrame:
    """Join judgements (QUALITY) to the results (`row` and the columns of results) of their batch.

    One row per judgement and result, with the judgement's columns as `qc_...` where the two share a
    name. Replicates speak for their own sample alone.
    """
    shared = ["report_id", "lab", "method", "analysed_on", "form", "sample_id", "cells"]
    controls = judged.rename({name: f"qc_{name}" for name in shared}).select(
        *(f"qc_{name}" for name in shared), "analyte", "qc_kind", "rule", "judgement",
        qc_message="message",
    )  # fmt: skip
    own = rows.join(
        controls, left_on=["report_id", "analyte"], right_on=["qc_report_id", "analyte"]
    )
    own = own.filter(_agree("method"), _agree("analysed_on"), _agree("form"))
    of_day = controls.drop_nulls(["qc_lab", "qc_method", "qc_analysed_on"])
    other = rows.join(
        of_day,
        left_on=["lab", "method", "analysed_on", "analyte"],
        right_on=["qc_lab", "qc_method", "qc_analysed_on", "analyte"],
    ).filter(pl.col("report_id") != pl.col("qc_report_id"), _agree("form"))
    itself = pl.col("sample_id").eq_missing(pl.col("qc_sample_id"))
    columns = [*rows.columns, "qc_kind", "rule", "judgement", "qc_message", "qc_cells",
               "qc_sample_id", "qc_report_id"]  # fmt: skip
    both = [
        frame.with_columns(qc_report_id=pl.col(report)).select(columns)
        for frame, report in ((own, "report_id"), (other, "qc_report_id"))
    ]
    return pl.concat(both).filter((pl.col("qc_kind") != "replicates") | itself)


def _agree(name: str) -> pl.Expr:
    either_open = pl.col(f"qc_{name}").is_null()
    if name == "analysed_on":
        either_open = either_open | pl.col(name).is_null()
    return either_open | (pl.col(name) == pl.col(f"qc_{name}")).fill_null(False)
