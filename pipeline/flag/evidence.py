"""What every kind of flag looks at, prepared once."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import polars as pl

from pipeline.amounts import pair_forms, pool_amounts
from pipeline.repeats import MEASURE, combine_repeats, number_samples
from pipeline.uncertainty import is_assumed
from pipeline.withheld import NONE_WITHHELD, open_sums
from schemas.frames import FLAGS, QUALITY, SUSPECTS
from schemas.vocabulary import STAGES, Vocabulary

# `current` is the row of the latest sample; among equals the greater value comes last.
_AGE = ["day", "stage_rank", "received_on", "analysed_on", "reported_on", "upper", "sample",
        "first_cell"]  # fmt: skip
_KEY = ["place", "analyte", "form", "method"]
_SAMPLE = ["lab", "sample_id", "lot", "sampled_on", "stage"]
ABOUT = ["lot", "vintage", "stage", "sampled_on", "received_on", "analysed_on", "reported_on",
         "sample_id", "day", "stage_rank", "place", "report_without_lab", "fermented", "sampled"]  # fmt: skip
_CELL = ["report_id", "sheet", "cell"]
# Stages at which a lot is wine and its alcoholic fermentation is over.
_WINE_STAGES = STAGES[STAGES.index("end of AF") :]
_UNFERMENTED = ("grape", "must")


@dataclass(frozen=True)
class Evidence:
    """The lots' own samples: printed rows, one row per measurand, molar pairs, and the register.

    `rows`: results of sample kind `lot` with `sample` and loaded_at. `analyses`: one row per
    sample, measurand and day of analysis (see `pipeline.repeats`) with the sample's lot, owner (the
    lot, else laboratory and sample), stage, day (sampled, else received, else analysed) and matrix.
    `repeats`: the latest analyses only. `samples`: one row per sample. `paired`: the numbers of the
    samples that have a bound fraction. `missing`: the sums of glycosides (sample, aglycone) that
    miss a value held back. `references`: the latest analyses of samples that never met smoke, with
    their sample's facts as in `analyses`.
    `quality`: what the rules say of quality controls (QUALITY). `suspects`: analyses like `repeats`,
    with power and evidence, that no other frame contains.
    """

    rows: pl.DataFrame
    samples: pl.DataFrame
    analyses: pl.DataFrame
    repeats: pl.DataFrame
    paired: pl.DataFrame
    interventions: pl.DataFrame
    movements: pl.DataFrame
    vocabulary: Vocabulary
    missing: pl.DataFrame
    references: pl.DataFrame
    assume_uncertainty: bool = True
    quality: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=QUALITY))
    suspects: pl.DataFrame = field(default_factory=pl.DataFrame)

    def decisive(self, rows: pl.DataFrame) -> pl.DataFrame:
        """Take the uncertainties that a comparison with a limit may use, assumed ones if asked."""
        if self.assume_uncertainty:
            return rows
        return rows.with_columns(
            pl.when(~is_assumed()).then(pl.col(name)).alias(name)
            for name in ("u_lower", "u_upper", "uncertainty_source")
        )

    @cached_property
    def pairs(self) -> pl.DataFrame:
        """Pair free and bound smoke phenols (see `pipeline.amounts`), with each sample's facts.

        Adds `fermented` (wine after its alcoholic fermentation, by stage, else by matrix) and
        `sampled` (stage and day in words).
        """
        rows = self.repeats.join(self.paired, on="sample", how="semi")
        days = rows.group_by("sample").agg(pl.col("day", "analysed_on").max())
        columns = ["sample", "analyte", "form", "expressed_as", "unit", "method", "lower", "upper",
                   "u_lower", "u_upper", "u_within", "uncertainty_source", "cells", "loaded_at"]  # fmt: skip
        about = self.samples.join(days, on="sample").with_columns(
            fermented=_is_fermented(), sampled=_when_sampled()
        )
        return (
            rows.select(columns)
            .pipe(pool_amounts, self.vocabulary, self.missing)
            .pipe(pair_forms)
            .filter(pl.col("aglycone").is_in(list(self.vocabulary.panels["smoke"])), "known")
            .join(about.select("sample", "owner", "lab", *ABOUT), on="sample")
        )


def _is_fermented() -> pl.Expr:
    by_stage = pl.col("stage").is_in(_WINE_STAGES)
    by_matrix = ~pl.col("matrix").is_in([*_UNFERMENTED, "wine"])
    unfermented = pl.col("matrix").is_in(_UNFERMENTED).fill_null(False)
    return pl.coalesce(by_stage, by_matrix).fill_null(False) & ~unfermented


def _when_sampled() -> pl.Expr:
    day = pl.coalesce(pl.format(" ({})", pl.col("sampled_on")), pl.lit(""))
    return pl.format("{}{}", pl.coalesce("stage", "sample_id"), day)


def _owned(samples: pl.DataFrame) -> pl.DataFrame:
    place = pl.coalesce("lab", "source").fill_null("")
    return samples.with_columns(
        owner=pl.coalesce("lot", pl.format("{}|{}", place, pl.col("sample_id").fill_null(""))),
        stage_rank=pl.col("stage").replace_strict(
            {name: rank for rank, name in enumerate(STAGES)}, default=None, return_dtype=pl.Int32
        ),
    ).with_columns(
        place=pl.struct("owner", "lab", "source").rank("dense"), report_without_lab="source"
    )


def _newest_report(rows: pl.DataFrame, reports: pl.DataFrame) -> pl.DataFrame:
    days = rows.join(reports.select("report_id", "reported_on"), on="report_id", how="left")
    return days.group_by("sample").agg(pl.col("reported_on").max())


def _lot_rows(results: pl.DataFrame) -> pl.DataFrame:
    return results.filter(pl.col("sample_kind").fill_null("lot") == "lot")


def _analysed(
    rows: pl.DataFrame, samples: pl.DataFrame, record: pl.DataFrame, loaded: pl.DataFrame
) -> pl.DataFrame:
    about = samples.select(pl.exclude("source", "sample_kind"))
    return (
        combine_repeats(rows, record, loaded)
        .join(about, on="sample")
        .with_columns(day=pl.coalesce("sampled_on", "received_on", "analysed_on"))
    )


def _references(results: pl.DataFrame, record: pl.DataFrame, loaded: pl.DataFrame) -> pl.DataFrame:
    rows, samples = number_samples(results.filter(pl.col("sample_kind") == "reference"))
    return _analysed(rows, _owned(samples), record, loaded).filter("latest")


def gather(
    results: pl.DataFrame,
    fractions: pl.DataFrame,
    reports: pl.DataFrame,
    interventions: pl.DataFrame,
    movements: pl.DataFrame,
    record: pl.DataFrame,
    vocabulary: Vocabulary,
    *,
    withheld: pl.DataFrame | None = None,
    assume_uncertainty: bool = True,
    quality: pl.DataFrame | None = None,
    suspects: pl.DataFrame | None = None,
) -> Evidence:
    """Number the lots' samples, join when each report was loaded, and combine repeats.

    `reports` needs report_id, reported_on and loaded_at; `withheld` as from `pipeline.withheld`.
    Bench and mini-ferment samples stay out; reference samples stand apart in `references`. `suspects`
    (SUSPECTS) are results that stay out of everything but their own flag.
    """
    loaded = reports.select("report_id", "loaded_at")
    every, samples = number_samples(_lot_rows(results))
    samples = _owned(samples).join(_newest_report(every, reports), on="sample")
    slips = pl.DataFrame(schema=SUSPECTS) if suspects is None else suspects
    rows = every.join(slips, on=_CELL, how="anti", nulls_equal=True)
    analyses = _analysed(rows, samples, record, loaded)
    suspected = every.join(slips, on=_CELL, how="inner", nulls_equal=True)
    paired = samples.join(
        fractions.select(_SAMPLE).unique(), on=_SAMPLE, how="semi", nulls_equal=True
    )  # fmt: skip
    return Evidence(
        rows=rows.join(loaded, on="report_id", how="left"),
        samples=samples,
        analyses=analyses,
        repeats=analyses.filter("latest"),
        paired=paired.select("sample"),
        interventions=interventions,
        movements=movements,
        vocabulary=vocabulary,
        missing=open_sums(rows, NONE_WITHHELD if withheld is None else withheld, vocabulary),
        references=_references(results, record, loaded),
        assume_uncertainty=assume_uncertainty,
        quality=pl.DataFrame(schema=QUALITY) if quality is None else quality,
        suspects=_suspected(suspected, samples, record, loaded),
    )


def _suspected(
    rows: pl.DataFrame, samples: pl.DataFrame, record: pl.DataFrame, loaded: pl.DataFrame
) -> pl.DataFrame:
    """Combine suspected results as any others; power and evidence are one of theirs."""
    why = rows.group_by(MEASURE).agg(
        pl.col("power", "evidence").sort_by("power", "evidence").last()
    )
    latest = _analysed(rows, samples, record, loaded).filter("latest")
    return latest.join(why, on=MEASURE, nulls_equal=True)


def mark_newest(rows: pl.DataFrame) -> pl.DataFrame:
    """Add `status`: current for the latest sample of a lot, laboratory, analyte, form and method.

    A laboratory that is not known compares with nothing, so no other report supersedes its own.

    Older ones are superseded. Latest by day, stage, received, analysed, reported; on a tie the
    greater value counts, so that of two tanks sampled together the worse is shown. Rows are of one
    kind.
    """
    numbered = rows.with_row_index("row")
    newest = (
        numbered.select("row", *_KEY, *_AGE[:-1], first_cell=pl.col("cells").list.first())
        .sort(_AGE, nulls_last=False)
        .group_by(_KEY)
        .agg(pl.col("row").last())
    )
    current = pl.col("row").is_in(newest["row"].implode())
    return numbered.with_columns(
        status=pl.when(current).then(pl.lit("current")).otherwise(pl.lit("superseded"))
    ).drop("row")


def as_flags(rows: pl.DataFrame) -> pl.DataFrame:
    """Keep the columns of FLAGS, in order; one that a kind does not speak of is null."""
    present = rows.with_columns(
        raised_at="loaded_at", cells=pl.col("cells").list.unique().list.sort().list.join("; ")
    )
    return present.select(
        (pl.col(name) if name in present.columns else pl.lit(None)).cast(dtype).alias(name)
        for name, dtype in FLAGS.items()
    )
