"""A batch whose quality control failed, beside the numbers of the lots in it."""

from __future__ import annotations

import polars as pl

from pipeline.flag.batches import in_batch
from pipeline.flag.evidence import Evidence, as_flags, in_series_of, mark_newest
from pipeline.flag.wording import capitalised
from pipeline.repeats import MEASURE


def quality_control(evidence: Evidence) -> pl.DataFrame:
    """Show results of a batch in which a rule of quality control failed or warned.

    Always undecided, for the mark changes no decision: it says that the number stands on a batch
    whose blank, spike, duplicate, control or replicates did not come out as they should. severity
    is warn where a rule failed and note where it warned. One row per sample, analyte, form and
    method; the view `quality` has each judgement. See `pipeline.flag.batches` for what a batch is.
    """
    judged = evidence.quality.filter(pl.col("judgement").is_in(["warn", "fail"]))
    place = [*MEASURE, "analysed_on"]
    # Each judgement meets many results: only what tells them apart goes with them.
    told = dict.fromkeys([*place, "report_id", "lab", "sample_id"])
    marked = in_batch(judged, evidence.rows.select(*told)).group_by(place).agg(
        messages=pl.col("qc_message").unique().sort().str.join("; "),
        failed=(pl.col("judgement") == "fail").any(),
        marks=pl.col("qc_cells").unique().sort(),
    )  # fmt: skip
    concerned = evidence.repeats.join(marked, on=place, how="semi", nulls_equal=True)
    return (
        in_series_of(concerned, evidence.repeats)
        .with_columns(kind=pl.lit("quality_control"))
        .pipe(mark_newest)
        .join(marked, on=place, nulls_equal=True)
        .with_columns(
            cells=pl.concat_list("cells", pl.col("marks").list.join("; ").str.split("; ")),
            decision=pl.lit("undecided"),
            reason=pl.lit("quality_control"),
            severity=pl.when("failed").then(pl.lit("warn")).otherwise(pl.lit("note")),
            message=pl.format("{}: ask the laboratory what it means for this result.", _told()),
        )
        .pipe(as_flags)
    )


def _told() -> pl.Expr:
    outcome = pl.when("failed").then(pl.lit("failed")).otherwise(pl.lit("warns"))
    name = pl.concat_str([pl.col("form"), pl.col("analyte")], separator=" ", ignore_nulls=True)
    return pl.format(
        "{}: quality control of the batch {}, {}", capitalised(name), outcome, "messages"
    )
