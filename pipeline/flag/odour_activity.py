"""Several compounds together: the sum of concentration / threshold over a set."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline import intervals
from pipeline.amounts import cover_members
from pipeline.flag.decisions import decide, severity
from pipeline.flag.evidence import Evidence, as_flags, mark_newest
from pipeline.flag.notes import (
    assumed_factor,
    assumed_uncertainty,
    join_sentences,
    limit_driven,
    with_other_sources,
)
from pipeline.flag.odour_wording import odour_sentence
from pipeline.flag.wording import write
from schemas.vocabulary import OdourSet, Threshold, Vocabulary

_SOURCE = (
    "sum of concentration / threshold; additivity is a screening assumption"
    " (common practice, no source)"
)
_SAMPLE = ["sample", "method", "unit"]


@dataclass(frozen=True)
class Shares:
    """What each measurable name may contribute to a set, as bit patterns over its members.

    `table`: analyte, bit, span, least and greatest threshold of the members it spans (null where
    one of them has none). `spans` in the order of the bits.
    """

    members: tuple[str, ...]
    spans: dict[str, int]
    known: int
    table: pl.DataFrame


def list_shares(
    odour_set: OdourSet, thresholds: tuple[Threshold, ...], vocabulary: Vocabulary
) -> Shares:
    """List the members of a set and the isomer sums within it, with their thresholds."""
    limits = {
        t.analyte: t.value
        for t in thresholds
        if t.form == "free" and t.matrix == odour_set.matrix and t.unit == "ug/L"
    }
    members = odour_set.members
    inside = {m: (m,) for m in members} | {
        a.name: a.members
        for a in vocabulary.analytes.values()
        if a.members and set(a.members) <= set(members)
    }
    spans = {name: sum(1 << members.index(m) for m in parts) for name, parts in inside.items()}
    rows = []
    for k, (name, parts) in enumerate(inside.items()):
        of_parts = [limits[m] for m in parts if m in limits]
        whole = len(of_parts) == len(parts)
        rows.append((name, 1 << k, spans[name], min(of_parts) if whole else None,
                     max(of_parts) if whole else None))  # fmt: skip
    schema = {"analyte": pl.String, "bit": pl.Int64, "span": pl.Int64,
              "least": pl.Float64, "greatest": pl.Float64}  # fmt: skip
    return Shares(
        members=members,
        spans=spans,
        known=sum(1 << k for k, m in enumerate(members) if m in limits),
        table=pl.DataFrame(rows, schema=schema, orient="row"),
    )


def odour_activity(
    evidence: Evidence,
    *,
    confidence: float = 0.95,
    thresholds: tuple[Threshold, ...] = (),
    odour_sets: tuple[OdourSet, ...] = (),
) -> pl.DataFrame:
    """Sum concentration / threshold over each set and compare the sum with 1.

    A reported sum x of isomers contributes [x / greatest threshold, x / least threshold]. A member
    that was not measured or has no threshold leaves the sum without an upper end
    (`member_missing`); it can still be above. Where 1 lies inside the interval the reason is
    `limit_above_threshold`, or `isomers_unresolved` where the split of a reported sum of isomers
    alone decides. Additivity is a screening assumption (common practice, no source). In `wine` of
    unknown colour the row is undecided (`colour_unknown`).
    """
    sets = [_of_one_set(evidence, s, thresholds, confidence) for s in odour_sets]
    sets += [_of_unknown_colour(evidence, s) for s in odour_sets]
    return pl.concat([frame for frame in sets if frame.height] or [as_flags(_none(evidence))])


def _none(evidence: Evidence) -> pl.DataFrame:
    return evidence.repeats.clear()


def _of_one_set(
    evidence: Evidence, odour_set: OdourSet, thresholds: tuple[Threshold, ...], confidence: float
) -> pl.DataFrame:
    shares = list_shares(odour_set, thresholds, evidence.vocabulary)
    rows = (
        evidence.decisive(evidence.repeats)
        .filter(
            pl.col("form") == "free",
            pl.col("matrix") == odour_set.matrix,
            pl.col("unit") == "ug/L",
        )
        .join(shares.table, on="analyte")
    )
    return (
        rows.pipe(_choose_names, shares)
        .pipe(_sum_shares)
        .pipe(_name_missing, shares)
        .with_columns(threshold=pl.lit(1.0), threshold_source=pl.lit(_SOURCE))
        .pipe(decide, confidence)
        .with_columns(
            reason=pl.when((pl.col("decision") == "undecided") & pl.col("missing").is_not_null())
            .then(pl.lit("member_missing"))
            .when((pl.col("reason") == "limit_above_threshold") & pl.col("by_isomers"))
            .then(pl.lit("isomers_unresolved"))
            .otherwise("reason")
        )
        .pipe(_finish, evidence, odour_set)
    )


def _choose_names(rows: pl.DataFrame, shares: Shares) -> pl.DataFrame:
    wanted = (1 << len(shares.members)) - 1
    measured = rows.group_by(_SAMPLE).agg(measured=pl.col("bit").unique().sum())
    covers = {
        mask: cover_members(mask, wanted, shares.spans)
        for mask in measured["measured"].unique().to_list()
    }
    chosen = measured.with_columns(
        cover=pl.col("measured").replace_strict(covers, default=0, return_dtype=pl.Int64)
    )
    return rows.join(chosen, on=_SAMPLE, nulls_equal=True).filter(
        (pl.col("bit") & pl.col("cover")) > 0
    )


def _sum_shares(rows: pl.DataFrame) -> pl.DataFrame:
    least, greatest = pl.col("least"), pl.col("greatest")
    return (
        rows.with_columns(
            lower=(pl.col("lower") / greatest).fill_null(0.0),
            upper=pl.col("upper") / least,
            split=pl.col("lower") / least,
            var_lower=(pl.col("u_lower") / greatest).pow(2),
            var_upper=(pl.col("u_upper") / least).pow(2),
            counted=pl.when(least.is_not_null()).then("span").otherwise(0),
        )
        .group_by(_SAMPLE)
        .agg(
            intervals.ordered_sum("lower"),
            upper=intervals.sum_or_null("upper"),
            # What limits hide counts as nothing here: only the split of isomers is open.
            by_isomers=(intervals.ordered_sum("lower") <= 1) & (intervals.ordered_sum("split") > 1),
            uncertainty_source=pl.col("uncertainty_source")
            .drop_nulls()
            .unique()
            .sort()
            .str.join("; ")
            .replace("", None),
            u_lower=intervals.ordered_sum("var_lower").sqrt(),
            u_upper=intervals.ordered_sum("var_upper").sqrt(),
            counted=pl.col("counted").sum(),
            largest=pl.col("analyte").sort_by("lower", "upper", "analyte").last(),
            largest_share=pl.col("lower").max(),
            analysed_on=pl.col("analysed_on").max(),
            loaded_at=pl.col("loaded_at").max(),
            cells=pl.col("cells").list.explode(),
        )
    )


def _name_missing(sums: pl.DataFrame, shares: Shares) -> pl.DataFrame:
    missing = {
        mask: ", ".join(m for k, m in enumerate(shares.members) if not mask >> k & 1) or None
        for mask in sums["counted"].unique().to_list()
    }
    return sums.with_columns(
        missing=pl.col("counted").replace_strict(missing, default=None, return_dtype=pl.String)
    ).with_columns(upper=pl.when(pl.col("missing").is_null()).then("upper"))


def _of_unknown_colour(evidence: Evidence, odour_set: OdourSet) -> pl.DataFrame:
    rows = evidence.decisive(evidence.repeats).filter(
        pl.col("form") == "free",
        pl.col("matrix") == "wine",
        pl.col("analyte").is_in(list(odour_set.members)),
    )
    return (
        rows.group_by(_SAMPLE)
        .agg(
            analysed_on=pl.col("analysed_on").max(),
            loaded_at=pl.col("loaded_at").max(),
            cells=pl.col("cells").list.explode(),
        )
        .with_columns(
            lower=pl.lit(None, pl.Float64),
            upper=pl.lit(None, pl.Float64),
            threshold=pl.lit(None, pl.Float64),
            probability=pl.lit(None, pl.Float64),
            decision=pl.lit("undecided"),
            reason=pl.lit("colour_unknown"),
            missing=pl.lit(None, pl.String),
            largest=pl.lit(None, pl.String),
            largest_share=pl.lit(None, pl.Float64),
            uncertainty_source=pl.lit(None, pl.String),
        )
        .pipe(_finish, evidence, odour_set)
    )


def _finish(rows: pl.DataFrame, evidence: Evidence, odour_set: OdourSet) -> pl.DataFrame:
    return (
        rows.join(evidence.samples, on="sample")
        .with_columns(day=pl.coalesce("sampled_on", "received_on", "analysed_on"))
        .pipe(with_other_sources, evidence, "largest")
        .pipe(
            write,
            kind=pl.lit("odour_activity"),
            analyte=pl.lit(odour_set.name),
            form=pl.lit("free"),
            unit=pl.lit("1"),
            severity=severity(pl.col("decision"), pl.col("reason")),
            message=odour_sentence(odour_set),
            note=pl.when(pl.col("decision") != "below").then(
                join_sentences(
                    pl.col("other_source"), limit_driven(), assumed_uncertainty(), assumed_factor()
                )
            ),
        )
        .pipe(mark_newest)
        .pipe(as_flags)
    )
