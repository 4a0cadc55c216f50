"""What every kind of flag looks at, prepared once."""

from __future__ import annotations

from dataclasses import dataclass, field

import polars as pl

from pipeline.analyses import Analyses
from pipeline.phrases import listed
from pipeline.uncertainty import is_assumed
from schemas.frames import FLAGS, QUALITY
from schemas.vocabulary import STAGES, Vocabulary

# `current` is the row of the latest sample; among equals the greater value comes last.
_AGE = ["day", "stage_rank", "received_on", "analysed_on", "reported_on", "upper", "sample",
        "first_cell"]  # fmt: skip
_KEY = ["place", "analyte", "form", "method"]
ABOUT = ["lot", "vintage", "stage", "sampled_on", "received_on", "analysed_on", "reported_on",
         "sample_id", "day", "stage_rank", "place", "report_without_lab", "fermented", "sampled"]  # fmt: skip
# Stages at which a lot is wine and its alcoholic fermentation is over.
_WINE_STAGES = STAGES[STAGES.index("end of AF") :]
_UNFERMENTED = ("grape", "must")


@dataclass(frozen=True)
class Evidence:
    """The lots' own samples: printed rows, one row per measurand, molar pairs, and the register.

    `rows`: results of sample kind `lot` with `sample` and loaded_at. `analyses`: one row per
    sample, measurand and day of analysis (see `pipeline.repeats`) with the sample's lot, owner (the
    lot, else laboratory and sample), stage, day (sampled, else received, else analysed) and matrix.
    `repeats`: the latest analyses only. `samples`: one row per sample. `pairs`: free and bound amounts
    of smoke phenols side by side (see `pipeline.amounts`), with their sample's facts, `fermented`
    (wine after its alcoholic fermentation, by stage, else by matrix) and `sampled` (stage and day in
    words). `references`: the latest analyses of samples that never met smoke, with their sample's
    facts as in `analyses`.
    `quality`: what the rules say of quality controls (QUALITY). `suspects`: analyses like `repeats`,
    with power and evidence, that no other frame contains.
    """

    rows: pl.DataFrame
    samples: pl.DataFrame
    analyses: pl.DataFrame
    repeats: pl.DataFrame
    pairs: pl.DataFrame
    interventions: pl.DataFrame
    movements: pl.DataFrame
    vocabulary: Vocabulary
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


def _of_samples(analyses: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    about = samples.select(pl.exclude("source", "sample_kind"))
    return analyses.join(about, on="sample").with_columns(
        day=pl.coalesce("sampled_on", "received_on", "analysed_on")
    )


def _paired(analyses: Analyses, samples: pl.DataFrame, repeats: pl.DataFrame) -> pl.DataFrame:
    days = repeats.group_by("sample").agg(pl.col("day", "analysed_on").max())
    about = samples.join(days, on="sample").with_columns(
        fermented=_is_fermented(), sampled=_when_sampled()
    )
    smoke = list(analyses.vocabulary.panels["smoke"])
    return analyses.pairs.filter(pl.col("aglycone").is_in(smoke), "known").join(
        about.select("sample", "owner", "lab", *ABOUT), on="sample"
    )


def gather(
    analyses: Analyses,
    reports: pl.DataFrame,
    interventions: pl.DataFrame,
    movements: pl.DataFrame,
    *,
    assume_uncertainty: bool = True,
    quality: pl.DataFrame | None = None,
) -> Evidence:
    """Pick the lots' samples out of all analyses, and say when each of their reports was loaded.

    `reports` needs report_id, reported_on and loaded_at. Bench and mini-ferment samples stay out;
    reference samples stand apart in `references`. Suspected results stay out of everything but
    their own flag.
    """
    lots, references = (
        analyses.samples.filter(pl.col("sample_kind") == kind) for kind in ("lot", "reference")
    )
    every = analyses.results.filter(pl.col("sample_kind") == "lot")
    samples = _owned(lots).join(_newest_report(every, reports), on="sample")
    rows = analyses.rows.filter(pl.col("sample_kind") == "lot")
    of_lots = _of_samples(analyses.combined, samples)
    repeats = of_lots.filter("latest")
    return Evidence(
        rows=rows.join(reports.select("report_id", "loaded_at"), on="report_id", how="left"),
        samples=samples,
        analyses=of_lots,
        repeats=repeats,
        pairs=_paired(analyses, samples, repeats),
        interventions=interventions,
        movements=movements,
        vocabulary=analyses.vocabulary,
        references=_of_samples(analyses.repeats, _owned(references)),
        assume_uncertainty=assume_uncertainty,
        quality=pl.DataFrame(schema=QUALITY) if quality is None else quality,
        suspects=_of_samples(analyses.suspects, samples),
    )


def in_series_of(some: pl.DataFrame, rows: pl.DataFrame) -> pl.DataFrame:
    """Keep those of all rows whose place, analyte, form and method some rows share.

    A kind that speaks of few rows need not tell the newest of all the others.
    """
    return rows.join(some.select(_KEY).unique(), on=_KEY, how="semi", nulls_equal=True)


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
    present = rows.with_columns(raised_at="loaded_at", cells=listed(pl.col("cells")))
    return present.select(
        (pl.col(name) if name in present.columns else pl.lit(None)).cast(dtype).alias(name)
        for name, dtype in FLAGS.items()
    )
