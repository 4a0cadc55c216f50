"""One compound against its own threshold."""

from __future__ import annotations

import polars as pl

from pipeline.flag.decisions import decide, severity
from pipeline.flag.evidence import Evidence, as_flags, mark_newest
from pipeline.flag.notes import (
    assumed_factor,
    assumed_uncertainty,
    high_limit,
    join_sentences,
    scatter_alone,
    with_other_sources,
)
from pipeline.flag.wording import capitalised, chance, interval, left_open, number, write
from schemas.vocabulary import Threshold, Vocabulary

_LIMITS = {
    "analyte": pl.String, "form": pl.String, "matrix": pl.String, "threshold": pl.Float64,
    "unit": pl.String, "threshold_source": pl.String,
}  # fmt: skip


def threshold_frame(thresholds: tuple[Threshold, ...]) -> pl.DataFrame:
    """Lay the thresholds out as rows: analyte, form (null for colour), matrix, threshold, unit."""
    rows = [(t.analyte, t.form or None, t.matrix, t.value, t.unit, t.source) for t in thresholds]
    return pl.DataFrame(rows, schema=_LIMITS, orient="row")


def over_threshold(
    evidence: Evidence, *, confidence: float = 0.95, thresholds: tuple[Threshold, ...] = ()
) -> pl.DataFrame:
    """Compare each free smoke phenol, and whatever has a threshold, with that threshold.

    A threshold belongs to one analyte, form and matrix. Without one the row is undecided, reason
    `no_threshold`; in `wine` of unknown colour `colour_unknown`; a reported sum of isomers is never
    compared with one isomer's threshold (`isomer_sum`). Of several analyses of one sample the
    latest is current and the others are shown as superseded.
    """
    limits = threshold_frame(thresholds)
    rows = evidence.decisive(evidence.analyses).join(
        limits, on=["analyte", "form", "matrix", "unit"], how="left", nulls_equal=True
    )
    return (
        rows.filter(_of_interest(evidence.vocabulary))
        .pipe(_with_colour_rule)
        .pipe(decide, confidence)
        .pipe(_with_reasons, evidence.vocabulary)
        .pipe(with_other_sources, evidence)
        .pipe(
            write,
            kind=pl.lit("over_threshold"),
            severity=severity(pl.col("decision"), pl.col("reason")),
            message=_sentence(),
            note=_note(),
        )
        .pipe(mark_newest)
        .pipe(as_flags)
    )


def _of_interest(vocabulary: Vocabulary) -> pl.Expr:
    smoke = [a.name for a in vocabulary.analytes.values() if a.smoke]
    return pl.col("threshold").is_not_null() | (
        (pl.col("form") == "free") & pl.col("analyte").is_in(smoke)
    )


def _with_colour_rule(rows: pl.DataFrame) -> pl.DataFrame:
    colourless = (pl.col("matrix") == "wine").fill_null(False)
    return rows.with_columns(
        threshold=pl.when(~colourless).then("threshold"),
        threshold_source=pl.when(~colourless).then("threshold_source"),
    )


def _with_reasons(rows: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    sums = [a.name for a in vocabulary.analytes.values() if a.members]
    undecided = pl.col("decision") == "undecided"
    return rows.with_columns(
        reason=pl.when(~undecided)
        .then(None)
        .when((pl.col("matrix") == "wine").fill_null(False))
        .then(pl.lit("colour_unknown"))
        .when(pl.col("threshold").is_null() & pl.col("analyte").is_in(sums))
        .then(pl.lit("isomer_sum"))
        .when(pl.col("threshold").is_not_null() & (pl.col("reports") > 1))
        .then(pl.lit("conflicting_reports"))
        .otherwise("reason")
    )


def _note() -> pl.Expr:
    not_below = pl.col("decision") != "below"
    judged = not_below & pl.col("threshold").is_not_null()
    return join_sentences(
        pl.when(not_below & (pl.col("lower") > 0)).then("other_source"),
        high_limit(),
        pl.when(judged).then(assumed_uncertainty()),
        pl.when(judged).then(assumed_factor()),
        pl.when(judged).then(scatter_alone()),
    )


def _found() -> pl.Expr:
    name = pl.concat_str([pl.col("form"), pl.col("analyte")], separator=" ", ignore_nulls=True)
    unit = pl.col("unit").fill_null("")
    return pl.format(
        "{} {} {}", capitalised(name), interval(pl.col("lower"), pl.col("upper")), unit
    )


def _limit() -> pl.Expr:
    return pl.format(
        "{} {}, the threshold in {} ({})",
        number(pl.col("threshold")), "unit", "matrix", "threshold_source",
    )  # fmt: skip


def _why_undecided() -> dict[str, pl.Expr]:
    kind = pl.col("matrix").fill_null("a sample of unknown kind")
    return {
        "no_threshold": pl.format(
            "{}: no threshold is set for {}, so nothing is decided; set one in the settings, taste",
            _found(), kind,
        ),
        "colour_unknown": pl.format(
            "{}: the colour of the wine is not known, so no threshold applies; enter the lot's"
            " colour in the register",
            _found(),
        ),
        "isomer_sum": pl.format(
            "{}: a sum of isomers is not compared with the threshold of one of them; ask the"
            " laboratory for the single isomers",
            _found(),
        ),
        "limit_above_threshold": pl.format(
            "{}: the laboratory's limit is too high to tell, it leaves room above {}; ask for a"
            " method with a lower limit",
            _found(), _limit(),
        ),
        **left_open(_found(), _limit()),
    }  # fmt: skip


def _sentence() -> pl.Expr:
    text = (
        pl.when(pl.col("decision") == "above")
        .then(pl.format("{} is above {}", _found(), _limit()))
        .when(pl.col("decision") == "below")
        .then(pl.format("{} is not above {}", _found(), _limit()))
    )
    for reason, sentence in _why_undecided().items():
        text = text.when(pl.col("reason") == reason).then(sentence)
    near = pl.format("{} is too near {} to tell", _found(), _limit())
    return text.otherwise(near) + chance(pl.col("probability"), pl.col("decision")) + "."
