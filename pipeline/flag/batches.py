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
    of_itself = (pl.col("qc_kind") == "replicates").fill_null(False)
    return pl.concat(
        [
            _joined(rows, controls.filter(~of_itself), []),
            # By name too, or each set of replicates would meet each sample of its report.
            _joined(rows, controls.filter(of_itself), ["sample_id"]),
        ]
    )


def _joined(rows: pl.DataFrame, controls: pl.DataFrame, shared: list[str]) -> pl.DataFrame:
    def meet(judged: pl.DataFrame, key: list[str]) -> pl.DataFrame:
        names = [*key, *shared]
        theirs = [f"qc_{name}" for name in names]
        return rows.join(
            judged, left_on=["analyte", *names], right_on=["analyte", *theirs], nulls_equal=True,
            coalesce=False,
        )  # fmt: skip

    own = meet(controls.filter(pl.col("qc_report_id").is_not_null()), ["report_id"])
    of_day = controls.drop_nulls(["qc_lab", "qc_method", "qc_analysed_on"])
    other = meet(of_day, ["lab", "method", "analysed_on"]).filter(
        pl.col("report_id") != pl.col("qc_report_id")
    )
    columns = [*rows.columns, "qc_kind", "rule", "judgement", "qc_message", "qc_cells",
               "qc_sample_id", "qc_report_id"]  # fmt: skip
    agreed = own.filter(_agree("method"), _agree("analysed_on"), _agree("form"))
    return pl.concat(frame.select(columns) for frame in (agreed, other.filter(_agree("form"))))


def _agree(name: str) -> pl.Expr:
    either_open = pl.col(f"qc_{name}").is_null()
    if name == "analysed_on":
        either_open = either_open | pl.col(name).is_null()
    return either_open | (pl.col(name) == pl.col(f"qc_{name}")).fill_null(False)
