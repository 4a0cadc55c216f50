"""Markers against what unexposed fruit and wine carry: a sign of exposure, not of perception."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from pipeline.flag.backgrounds import chance, compare, kin
from pipeline.flag.decisions import decide
from pipeline.flag.evidence import Evidence, as_flags, mark_newest
from pipeline.flag.wording import capitalised, interval, left_open, number, percent
from schemas.vocabulary import Background, Vocabulary

_NO_BACKGROUND = ("analyte", "form", "method", "unit", "lower", "upper")


def above_background(
    evidence: Evidence,
    *,
    confidence: float = 0.95,
    backgrounds: tuple[Background, ...] = (),
    exposure_markers: int = 2,
    exposure_false_alarm: float = 0.05,
    exposure_references: int = 20,
) -> pl.DataFrame:
    """Compare each smoke marker with the background of its variety, matrix, form and method.

    `above` is said of a marker; that the lot was exposed to smoke is said (severity warn) when at
    least `exposure_markers` of its sample's markers are above and chance alone would bring so many
    about in no more than `exposure_false_alarm` of unexposed lots. Markers that wood gives as well
    do not count in a lot with recorded wood contact. Undecided where the laboratory's limit lies
    above the background, within the uncertainty, or beyond too few reference lots of one's own. A
    sample of whose variety no background is known, while its matrix has some, is one undecided row,
    reason `no_background`; where the variety itself is not known there is no row. `threshold` is
    the background, never a threshold of perception.
    """
    markers = _markers(evidence)
    compared = (
        compare(markers, backgrounds, evidence.references, evidence.vocabulary, exposure_references)
        .pipe(decide, confidence)
        .pipe(_with_reasons)
        .pipe(_with_counts, exposure_markers, exposure_false_alarm)
        .with_columns(
            severity=pl.when(pl.col("exposed") & (pl.col("decision") == "above"))
            .then(pl.lit("warn"))
            .otherwise(pl.lit("note")),
            message=_sentence(exposure_markers, exposure_references),
        )
        .pipe(mark_newest)
    )
    matrices = {b.matrix for b in backgrounds} | set(evidence.references["matrix"].drop_nulls())
    unknown = _without_background(markers, compared, matrices)
    frames = [rows.with_columns(kind=pl.lit("above_background")) for rows in (compared, unknown)]
    return pl.concat([as_flags(rows) for rows in frames])


def _marker_names(vocabulary: Vocabulary) -> list[str]:
    known = vocabulary.analytes
    return [a.name for a in known.values() if a.smoke or (a.aglycone and known[a.aglycone].smoke)]


def _markers(evidence: Evidence) -> pl.DataFrame:
    wooded = evidence.interventions.filter(pl.col("kind") == "wood")["lot"].unique()
    from_wood = (pl.col("form") == "free") & pl.col("analyte").is_in(
        list(evidence.vocabulary.from_wood)
    )
    rows = evidence.decisive(evidence.repeats).filter(
        pl.col("analyte").is_in(_marker_names(evidence.vocabulary))
    )
    return rows.join(
        kin(rows["variety"], evidence.vocabulary), on="variety", how="left"
    ).with_columns(wooded=(from_wood & pl.col("lot").is_in(wooded.implode())).fill_null(False))


def _with_reasons(rows: pl.DataFrame) -> pl.DataFrame:
    beyond_few = pl.col("few") & (pl.col("decision") != "below")
    disagree = (pl.col("decision") == "undecided") & (pl.col("reports") > 1)
    return rows.with_columns(
        decision=pl.when(beyond_few).then(pl.lit("undecided")).otherwise("decision"),
        reason=pl.when(disagree)
        .then(pl.lit("conflicting_reports"))
        .when(beyond_few)
        .then(pl.lit("few_references"))
        .when(pl.col("reason") == "limit_above_threshold")
        .then(pl.lit("limit_above_background"))
        .otherwise("reason"),
    )


def _with_counts(rows: pl.DataFrame, needed: int, false_alarm: float) -> pl.DataFrame:
    # A marker with few references can only be cleared, so it stands in no reckoning of chance.
    counted = ~pl.col("wooded") & ~pl.col("few")
    above = counted & (pl.col("decision") == "above")
    counts = rows.group_by("sample").agg(
        n_above=pl.col("analyte").filter(above).n_unique().cast(pl.Int64),
        n_markers=pl.col("analyte").filter(counted).n_unique().cast(pl.Int64),
        alarm=pl.col("alarm").filter(counted).max().fill_null(0.0),
    )
    judged = chance(counts).with_columns(
        exposed=(pl.col("n_above") >= needed) & (pl.col("chance") <= false_alarm)
    )
    return rows.drop("alarm").join(judged, on="sample")


def _found() -> pl.Expr:
    name = pl.format("{} {}", "form", "analyte")
    return pl.format(
        "{} {} {}", capitalised(name), interval(pl.col("lower"), pl.col("upper")), "unit"
    )


def _limit() -> pl.Expr:
    return pl.format(
        "{} {}, the background of {} in {} ({})",
        number(pl.col("threshold")), "unit", "variety", "matrix", "threshold_source",
    )  # fmt: skip


def _verdict(needed: int) -> pl.Expr:
    """Say what the sample's markers together mean."""
    several = pl.format(
        "{} of its {} markers {} above their background",
        "n_above", "n_markers", pl.when(pl.col("n_above") == 1).then(pl.lit("is")).otherwise(pl.lit("are")),
    )  # fmt: skip
    exposed = pl.format(
        "{}: a sign that it was exposed to smoke, which does not tell whether smoke can be tasted",
        several,
    )
    few = pl.format(
        "{}, which alone is no sign of exposure (at least {} are asked for; chance brings as many"
        " about in up to {} of unexposed samples)",
        several, pl.lit(str(needed)), percent(pl.col("chance")),
    )  # fmt: skip
    return (
        pl.when("wooded")
        .then(pl.lit("the lot had wood contact, which gives it as well; it is not counted"))
        .when("exposed")
        .then(exposed)
        .otherwise(few)
    )


def _why_undecided(enough: int) -> dict[str, pl.Expr]:
    return {
        "limit_above_background": pl.format(
            "{}: nothing is decided, as the laboratory's limit leaves room above {}; ask for a"
            " method with a lower limit",
            _found(), _limit(),
        ),
        "few_references": pl.format(
            "{} is not surely within {}; {} reference lots are too few to say more ({} are asked"
            " for)",
            _found(), _limit(), "n", pl.lit(str(enough)),
        ),
        **left_open(_found(), _limit()),
    }  # fmt: skip


def _sentence(needed: int, enough: int) -> pl.Expr:
    text = (
        pl.when(pl.col("decision") == "above")
        .then(pl.format("{} is above {}; {}", _found(), _limit(), _verdict(needed)))
        .when(pl.col("decision") == "below")
        .then(pl.format("{} is within {}", _found(), _limit()))
    )
    for reason, sentence in _why_undecided(enough).items():
        text = text.when(pl.col("reason") == reason).then(sentence)
    near = pl.format("{} is too near {} to tell", _found(), _limit())
    chance_above = pl.coalesce(
        pl.format("; probability of being above: {}", percent(pl.col("probability"))), pl.lit("")
    )
    return text.otherwise(near + chance_above) + "."


def _whose() -> pl.Expr:
    """Name the laboratory, for reference lots speak for results of their own method alone."""
    return pl.coalesce(pl.format("the methods of {}", "lab"), pl.lit("this laboratory's methods"))


def _without_background(
    markers: pl.DataFrame, compared: pl.DataFrame, matrices: Sequence[str] | set[str]
) -> pl.DataFrame:
    """Give one row for each newest sample with markers but without any background."""
    samples = (
        markers.sort("analyte", "form", "method", nulls_last=True)
        .group_by("sample", maintain_order=True)
        .agg(
            pl.exclude("sample", "cells", "loaded_at", "analysed_on").first(),
            pl.col("cells").list.explode(),
            pl.col("loaded_at", "analysed_on").max(),
        )
        .with_columns(
            pl.lit(None).cast(markers.schema[name]).alias(name) for name in _NO_BACKGROUND
        )
    )
    return (
        samples.pipe(mark_newest)
        .join(compared.select("sample").unique(), on="sample", how="anti")
        .filter(
            pl.col("status") == "current",
            pl.col("matrix").is_in(sorted(matrices)),
            pl.col("variety").is_not_null(),
        )
        .with_columns(
            decision=pl.lit("undecided"),
            reason=pl.lit("no_background"),
            severity=pl.lit("note"),
            message=pl.format(
                "No background is known for {} in {} by {}: whether it was exposed to smoke is not"
                " judged; add reference lots, or a [[background]] to the settings.",
                "variety", "matrix", _whose(),
            ),
        )
    )  # fmt: skip
