"""Derive the bound fraction of each sample: results -> fractions.

Nothing about flags, trends or lots' histories belongs here.
"""

from __future__ import annotations

import polars as pl

from pipeline import intervals
from pipeline.amounts import PAIR, TOTAL_MINUS_FREE
from pipeline.analyses import Analyses, analyse
from pipeline.phrases import listed
from pipeline.uncertainty import NO_RECORD
from pipeline.withheld import NONE_WITHHELD
from schemas.frames import FRACTIONS, PANELS
from schemas.judgement import load_judgement
from schemas.vocabulary import Vocabulary

_ENDS = ("free_lower", "free_upper", "bound_lower", "bound_upper")


def derive(
    results: pl.DataFrame,
    vocabulary: Vocabulary,
    record: pl.DataFrame = NO_RECORD,
    *,
    withheld: pl.DataFrame = NONE_WITHHELD,
) -> pl.DataFrame:
    """Pair free and bound amounts of each sample and give the bound fraction, as FRACTIONS.

    One row per sample, methods, basis and aglycone measured in both forms, and one named `panel`
    that sums the smoke phenols among them. Amounts in nmol/L, or nmol/kg for grapes; fractions are
    molar, bound / (bound + free). A null upper end is unbounded or unknown (total below free); a
    null fraction end is unknown. A group of isomers that is not wholly known has null amounts and
    stays out of the panel. Rows of all sample kinds. `record` is what is known of uncertainties
    beside the reports (see `pipeline.uncertainty`). `withheld` (see `pipeline.withheld`) are values
    held back: a sum of glycosides that misses one has no upper end.
    """
    return _as_pairs(analyse(results, vocabulary, record=record, withheld=withheld))


def derive_all(analyses: Analyses) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Give what `derive` gives, and the sums of panels as PANELS (see `sum_panels`)."""
    panels = sum_panels(analyses.amounts, analyses.samples, analyses.vocabulary)
    return _as_pairs(analyses), panels


def sum_panels(
    amounts: pl.DataFrame, samples: pl.DataFrame, vocabulary: Vocabulary
) -> pl.DataFrame:
    """Sum each panel of each sample, method and basis, in nmol/L or nmol/kg, as PANELS.

    What is not quantified counts with its lower end in `lower`, its upper end in `upper`, the
    middle of both in `middle`: 0, half the limit and the limit for "below LOQ", and not below the
    limit of detection for a trace. Bounds are null where a member that the panel requires was not
    measured (a group of isomers wholly); such a member is not zero. `limit_driven`: (upper - lower) /
    upper exceeds 20 %. `amounts` as from `pool_amounts`. Sources: interval arithmetic; lowerbound,
    upperbound and 20 % of Commission Regulation (EU) 2017/644, Annex III, 6.1.
    """
    sums = [_sum_one_panel(amounts, name, vocabulary) for name in vocabulary.panels]
    return (
        pl.concat(sums)
        .join(samples, on="sample")
        .with_columns(pl.col("basis").replace(TOTAL_MINUS_FREE, "total"))
        .sort("sample", "panel", "basis", "method", "unit", "expressed_as")
        .select(pl.col(name).cast(kind) for name, kind in PANELS.items())
    )


def _sum_one_panel(amounts: pl.DataFrame, panel: str, vocabulary: Vocabulary) -> pl.DataFrame:
    members, required = vocabulary.panels[panel], vocabulary.required[panel]
    complete = pl.col("aglycone").is_in(list(required)).sum() == len(required)
    share = (pl.col("upper") - pl.col("lower")) / pl.col("upper")
    limit_driven = share.round(9) > load_judgement().limit_driven
    return (
        amounts.filter(pl.col("aglycone").is_in(list(members)), pl.col("lower").is_not_null())
        .group_by("sample", "unit", "method", "basis", expressed_as="expressed")
        .agg(
            panel=pl.lit(panel).first(),
            lower=pl.when(complete).then(intervals.ordered_sum("lower")),
            upper=pl.when(complete).then(intervals.sum_or_null("upper")),
            n_members=pl.len(),
            n_missing=len(members) - pl.len(),
            n_censored=pl.col("lower").ne_missing(pl.col("upper")).sum(),
            members=pl.col("aglycone").sort().str.join(", "),
            cells=pl.col("cells").list.explode(),
        )
        .with_columns(
            cells=listed(pl.col("cells")),
            middle=(pl.col("lower") + pl.col("upper")) / 2,
            limit_driven=limit_driven,
        )
        .pipe(_name_missing, sorted(members))
    )


def _name_missing(sums: pl.DataFrame, members: list[str]) -> pl.DataFrame:
    present = pl.col("members").str.split(", ")
    absent = [pl.when(~present.list.contains(m)).then(pl.lit(m)) for m in members]
    # Few sets of members stand for many sums.
    named = (
        sums.select("members")
        .unique()
        .with_columns(
            missing=pl.concat_str(absent, separator=", ", ignore_nulls=True).replace("", None)
        )
    )
    return sums.join(named, on="members", how="left")


def _as_pairs(analyses: Analyses) -> pl.DataFrame:
    pairs = analyses.pairs
    both = pl.concat(
        [
            pairs.select(*PAIR, "aglycone", *_ENDS, "cells"),
            pairs.pipe(_sum_panel, analyses.vocabulary.panels["smoke"]),
        ]
    )
    return both.pipe(_with_fraction).join(analyses.samples, on="sample").pipe(_as_fractions)


def _sum_panel(pairs: pl.DataFrame, members: tuple[str, ...]) -> pl.DataFrame:
    return (
        pairs.filter(pl.col("aglycone").is_in(list(members)), "known")
        .group_by(PAIR)
        .agg(
            aglycone=pl.lit("panel").first(),
            free_lower=intervals.ordered_sum("free_lower"),
            free_upper=intervals.sum_or_null("free_upper"),
            bound_lower=intervals.ordered_sum("bound_lower"),
            bound_upper=intervals.sum_or_null("bound_upper"),
            cells=pl.col("cells").list.explode(),
        )
    )


def _with_fraction(pairs: pl.DataFrame) -> pl.DataFrame:
    corners = [pl.col(end) for end in ("bound_lower", "bound_upper", "free_lower", "free_upper")]
    return pairs.with_columns(
        bound_fraction_lower=intervals.fraction_lower(*corners),
        bound_fraction_upper=intervals.fraction_upper(*corners),
    )


def _as_fractions(rows: pl.DataFrame) -> pl.DataFrame:
    order = ["sample", "bound_basis", "free_method", "bound_method", "unit", "aglycone",
             "expressed"]  # fmt: skip
    return (
        rows.sort(order)
        .with_columns(cells=listed(pl.col("cells"), once=False))
        .select(pl.col(name).cast(kind) for name, kind in FRACTIONS.items())
    )
