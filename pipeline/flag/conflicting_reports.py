"""Two current reports of one laboratory that contradict each other."""

from __future__ import annotations

import polars as pl

from pipeline.flag.evidence import Evidence, as_flags, in_series_of, mark_newest
from pipeline.flag.wording import interval
from pipeline.repeats import MEASURE


def conflicting_reports(evidence: Evidence) -> pl.DataFrame:
    """Show values that differ between two current reports of one laboratory.

    Same sample, analyte, form, method and day of analysis (two unknown days count as the same; a
    later analysis settles the matter). Reports of unknown laboratories never meet. Both stay; lower
    and upper span them. Undecided until the laboratory says which one holds.
    """
    repeats = evidence.repeats
    doubled = (
        in_series_of(repeats.filter(pl.col("reports") > 1), repeats)
        .with_columns(kind=pl.lit("conflicting_reports"))
        .pipe(mark_newest)
        .filter(pl.col("reports") > 1)
    )
    return (
        doubled.join(_values_by_report(evidence, doubled), on=MEASURE, nulls_equal=True)
        .filter("differing")
        .pipe(_with_sentence)
        .pipe(as_flags)
    )


def _values_by_report(evidence: Evidence, doubled: pl.DataFrame) -> pl.DataFrame:
    days = doubled.select(*MEASURE, day_counted="analysed_on")
    return (
        evidence.rows.join(days, on=MEASURE, nulls_equal=True)
        .filter(pl.col("analysed_on").eq_missing(pl.col("day_counted")))
        .sort("lower", "upper", nulls_last=True)
        .group_by(*MEASURE, "report_id")
        .agg(
            pl.col("lower", "upper"),
            pl.col("file").first(),
            pl.coalesce("report_no", "report_id").first().alias("name"),
        )
        .with_columns(name=_told_apart())
        .group_by(MEASURE)
        .agg(
            differing=pl.struct("lower", "upper").n_unique() > 1,
            names=pl.col("name").unique().sort().str.join(" and "),
        )
    )


def _told_apart() -> pl.Expr:
    """Name reports by their number, those of one number by their file too."""
    alike = pl.len().over(*MEASURE, "name") > 1
    return pl.when(alike).then(pl.format("{} ({})", "name", "file")).otherwise("name")


def _with_sentence(rows: pl.DataFrame) -> pl.DataFrame:
    name = pl.concat_str([pl.col("form"), pl.col("analyte")], separator=" ", ignore_nulls=True)
    return rows.with_columns(
        decision=pl.lit("undecided"),
        reason=pl.lit("conflicting_reports"),
        severity=pl.lit("warn"),
        message=pl.format(
            "Reports {} of {} give different values of {} for sample {}: {} {}; both are kept,"
            " ask the laboratory which one holds.",
            "names", "lab", name, "sample_id",
            interval(pl.col("lower"), pl.col("upper")), pl.col("unit").fill_null(""),
        ),
    )  # fmt: skip
