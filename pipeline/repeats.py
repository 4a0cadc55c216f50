"""One row per sample and measurand: replicates, re-analyses and double reports brought together.

Samples are known only within a laboratory, and where the laboratory is unknown only within one
report. A name that comes again for another lot, day or stage is another sample: free and bound of
two of them never meet. Arms of a trial that share a printed sample name stay apart by their
treatment and dose.
"""

from __future__ import annotations

import polars as pl

from pipeline.intervals import ordered_sum
from pipeline.uncertainty import (
    ASSUMED_FACTOR,
    CHART,
    DEFAULT,
    RECORD,
    REPLICATES,
    REPORT,
    UNEXPLAINED,
    horwitz_thompson,
    with_own_uncertainty,
)

_IDENTITY = ["lab", "source", "sample_id", "lot", "sampled_on", "stage", "delivered_on",
             "sample_kind", "treatment", "dose", "dose_unit"]  # fmt: skip
_ATTRIBUTES = ["variety", "vintage", "matrix", "received_on"]
MEASURE = ["sample", "analyte", "form", "expressed_as", "unit", "method"]


def number_samples(results: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Give every sample a number; return the results with `sample`, and one row per sample.

    The second frame carries lab, sample_id, sample_kind (null counts as `lot`), lot, variety,
    vintage, matrix, stage, sampled_on, received_on. `source` is the report where the laboratory is
    unknown, else null. The number means nothing outside the two frames. The store has shared what
    one report says of a sample with the others, so a null here is unknown to all of them.
    """
    rows = results.with_columns(
        source=pl.when(pl.col("lab").is_null()).then(pl.col("report_id")),
        delivered_on=pl.when(pl.col("sampled_on").is_null()).then(pl.col("received_on")),
        sample_kind=pl.col("sample_kind").fill_null("lot"),
    )
    samples = (
        rows.select(*_IDENTITY, *_ATTRIBUTES)
        .unique()
        .group_by(_IDENTITY)
        .agg(pl.col(_ATTRIBUTES).max())
        .sort(_IDENTITY)
        .with_row_index("sample")
    )
    numbered = rows.join(
        samples.select("sample", *_IDENTITY), on=_IDENTITY, how="left", nulls_equal=True
    )
    return numbered.drop("delivered_on"), samples.drop("delivered_on")


def _with_known_uncertainty(rows: pl.DataFrame, record: pl.DataFrame) -> pl.DataFrame:
    stated = pl.coalesce(
        "standard_uncertainty", pl.col("expanded_uncertainty") / pl.col("coverage_factor")
    )
    quantified = (pl.col("lower") == pl.col("upper")).fill_null(False)
    return with_own_uncertainty(rows, record).with_columns(
        quantified=quantified,
        known=pl.when(quantified).then(pl.coalesce(stated, "recorded")),
        charted=pl.when(quantified).then("charted"),
        within=pl.when(quantified).then("within"),
        unexplained=(pl.col("uncertainty_source") == UNEXPLAINED).fill_null(False),
        source_known=pl.when(
            stated.is_not_null() & (pl.col("uncertainty_source") == ASSUMED_FACTOR)
        )
        .then(pl.lit(ASSUMED_FACTOR))
        .when(stated.is_not_null())
        .then(pl.lit(REPORT))
        .when(pl.col("recorded").is_not_null())
        .then(pl.lit(RECORD)),
    )


def _single(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.select(
        *MEASURE, "lower", "upper", "known", "source_known", "charted", "within", "unexplained",
        "quantified", "loq", "analysed_on", "loaded_at",
        scatter=pl.lit(None, pl.Float64),
        reports=pl.lit(1, pl.UInt32),
        latest=pl.lit(True),
        cells=pl.concat_list("reference"),
    )  # fmt: skip


def _mean_within_report(rows: pl.DataFrame) -> pl.DataFrame:
    quantified = pl.col("quantified")

    def mean_if_known(name: str) -> pl.Expr:
        all_known = (pl.col(name).is_not_null() | ~quantified).all() & quantified.any()
        return pl.when(all_known).then(ordered_sum(name) / pl.len()).alias(name)

    scatter = pl.col("lower").sort().std() / pl.len().sqrt()
    return rows.group_by(*MEASURE, "analysed_on", "report_id").agg(
        pl.col("lower").sort().mean(),
        *(mean_if_known(name) for name in ("known", "charted", "within")),
        upper=pl.when(pl.col("upper").is_not_null().all()).then(pl.col("upper").sort().mean()),
        source_known=pl.col("source_known").drop_nulls().max(),
        scatter=pl.when(quantified.all() & (pl.len() >= 3) & (scatter > 0)).then(scatter),
        quantified=quantified.any(),
        unexplained=pl.col("unexplained").any(),
        loq=pl.col("loq").max(),
        loaded_at=pl.col("loaded_at").max(),
        cells=pl.col("reference"),
    )


def _hull_over_reports(means: pl.DataFrame) -> pl.DataFrame:
    def worst_if_known(name: str) -> pl.Expr:
        all_known = (pl.col(name).is_not_null() | ~pl.col("quantified")).all()
        return pl.when(all_known).then(pl.col(name).max()).alias(name)

    return means.group_by(*MEASURE, "analysed_on").agg(
        pl.col("lower").min(),
        *(worst_if_known(name) for name in ("known", "charted", "within")),
        pl.col("quantified", "unexplained").any(),
        pl.col("loq").max(),
        upper=pl.when(pl.col("upper").is_not_null().all()).then(pl.col("upper").max()),
        source_known=pl.col("source_known").drop_nulls().max(),
        loaded_at=pl.col("loaded_at").max(),
        scatter=pl.col("scatter").max(),
        reports=pl.len(),
        cells=pl.col("cells").list.explode().sort(),
    )


def _repeated(rows: pl.DataFrame) -> pl.DataFrame:
    newest = pl.col("analysed_on").max().over(MEASURE)
    return (
        rows.pipe(_mean_within_report)
        .pipe(_hull_over_reports)
        .with_columns(latest=newest.is_null() | (pl.col("analysed_on") == newest).fill_null(False))
    )


def combine_repeats(
    rows: pl.DataFrame, record: pl.DataFrame, loaded: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Bring the rows of one sample, analyte, form, unit, method and day together into one interval.

    Marked replicates of a report become the mean of lowers and the mean of uppers. Of analyses on
    different days the `latest` counts (an undated one only where none is dated). Two reports that
    disagree for the same day are both kept: the interval then spans them and `reports` is above 1.

    Adds u_lower, u_upper (standard uncertainty at either end, in the result's unit; null where the
    result is wholly censored, so that the interval decides alone), uncertainty_source, and u_within:
    what of the uncertainty two results of the laboratory and method do not share, null where the
    laboratory's record and control charts do not tell; `loq` is the highest limit.
    The uncertainties of replicates are taken as fully correlated, since they share the calibration.
    Scatter counts from three replicates on, and never when they all agree: rounded replicates show
    no precision. `record` as from `pipeline.uncertainty`; `loaded` holds report_id, loaded_at.
    `cells` is a list of `file|sheet!cell`. Sources: s / sqrt n of a mean, JCGM 100:2008, 4.2; scatter
    beside bias, Nordtest TR 537; else Thompson, Analyst 125 (2000) 385.
    """
    columns = ["sample", *MEASURE[1:], "lab", "report_id", "lower", "upper", "loq", "analysed_on",
               "standard_uncertainty", "expanded_uncertainty", "coverage_factor",
               "uncertainty_source"]  # fmt: skip
    reference = pl.format(
        "{}|{}!{}",
        *(pl.col(name).fill_null("") for name in ("file", "sheet", "cell")),
    )
    prepared = rows.select(*columns, reference=reference).pipe(_with_known_uncertainty, record)
    if loaded is None:
        prepared = prepared.with_columns(loaded_at=pl.lit(None, pl.Datetime("us", "UTC")))
    else:
        prepared = prepared.join(loaded, on="report_id", how="left")
    alone = prepared.select(pl.len().over(MEASURE) == 1).to_series()
    singles, several = prepared.filter(alone), prepared.filter(~alone)
    combined = pl.concat([_single(singles), _repeated(several)], how="diagonal")
    return combined.pipe(_with_chosen_uncertainty)


def _with_chosen_uncertainty(combined: pl.DataFrame) -> pl.DataFrame:
    by_mass = pl.col("unit").is_in(["ug/L", "ug/kg"]) & pl.col("quantified")
    best = pl.coalesce("known", "scatter", "charted")
    assumed = (
        pl.when("unexplained").then(pl.lit(f"{UNEXPLAINED}; {DEFAULT}")).otherwise(pl.lit(DEFAULT))
    )

    def at(end: str) -> pl.Expr:
        return pl.coalesce(best, pl.when(by_mass).then(horwitz_thompson(pl.col(end))))

    return combined.with_columns(
        u_within=pl.when(pl.col("within").is_not_null()).then(
            pl.min_horizontal("within", at("lower"), at("upper"))
        ),
        u_lower=at("lower"),
        u_upper=at("upper"),
        uncertainty_source=pl.when(pl.col("known").is_not_null())
        .then("source_known")
        .when(pl.col("scatter").is_not_null())
        .then(pl.lit(REPLICATES))
        .when(pl.col("charted").is_not_null())
        .then(pl.lit(CHART))
        .when(by_mass)
        .then(assumed),
    ).drop("known", "source_known", "scatter", "charted", "within", "unexplained", "quantified")
