"""A total that is smaller than the part of it that is free."""

from __future__ import annotations

import polars as pl

from pipeline import intervals
from pipeline.flag.decisions import decide
from pipeline.flag.evidence import Evidence, as_flags, in_series_of, mark_newest
from pipeline.flag.wording import interval, number, percent, write
from pipeline.uncertainty import is_assumed
from schemas.vocabulary import Vocabulary

_PAIR = ["sample", "analyte", "unit", "expressed_as"]


def total_below_free(evidence: Evidence, *, confidence: float = 0.95) -> pl.DataFrame:
    """Show totals (free + acid-released) that lie below the free form of the same sample.

    `above` when free exceeds total beyond their uncertainties, `undecided` when the difference
    lies within them (usual near the quantitation limit). lower and upper are free minus total in
    the results' unit. The bound amount is then at most the expanded uncertainty (k = 2) of the
    difference where both uncertainties are known, and else not known.
    """
    columns = [*_PAIR, "method", "lower", "upper", "u_lower", "u_upper", "uncertainty_source",
               "cells", "loaded_at", "analysed_on"]  # fmt: skip
    total = evidence.repeats.filter(pl.col("form") == "total").select("place", "form", *columns)
    free = evidence.repeats.filter(pl.col("form") == "free").select(
        *_PAIR, pl.col(columns).exclude(_PAIR).name.prefix("free_")
    )
    both = total.join(free, on=_PAIR, nulls_equal=True).with_columns(
        below_free=intervals.total_below_free(pl.col("upper"), pl.col("free_lower"))
    )
    return (
        in_series_of(both.filter("below_free"), both)
        .join(evidence.samples.drop("place"), on="sample")
        .with_columns(
            stated=_is_stated("uncertainty_source"),
            free_stated=_is_stated("free_uncertainty_source"),
            is_isomer=pl.col("analyte").is_in(_isomers(evidence.vocabulary)),
        )
        .drop("uncertainty_source", "free_uncertainty_source")
        .pipe(_with_excess, confidence)
        .pipe(mark_newest)
        .filter("below_free")
        .pipe(_with_sentence)
        .pipe(as_flags)
    )


def _is_stated(name: str) -> pl.Expr:
    return pl.col(name).is_not_null() & ~is_assumed(name)


def _isomers(vocabulary: Vocabulary) -> list[str]:
    return [a.name for a in vocabulary.analytes.values() if a.group not in (None, a.name)]


def _with_excess(rows: pl.DataFrame, confidence: float) -> pl.DataFrame:
    def apart(total_end: str, free_end: str) -> pl.Expr:
        squares = pl.col(total_end).fill_null(0.0).pow(2) + pl.col(free_end).fill_null(0.0).pow(2)
        return squares.sqrt()

    return (
        rows.rename({"lower": "total_lower", "upper": "total_upper"})
        .with_columns(
            lower=pl.col("free_lower") - pl.col("total_upper"),
            upper=pl.col("free_upper") - pl.col("total_lower"),
            u_lower=apart("u_upper", "free_u_lower"),
            u_upper=apart("u_lower", "free_u_upper"),
            threshold=pl.lit(0.0),
            cells=pl.concat_list("cells", "free_cells"),
            loaded_at=pl.max_horizontal("loaded_at", "free_loaded_at"),
            day=pl.coalesce("sampled_on", "received_on", "analysed_on"),
        )
        .pipe(decide, confidence)
        .with_columns(
            kind=pl.lit("total_below_free"),
            form=pl.lit("total"),
            severity=pl.lit("warn"),
            threshold_source=pl.lit("a total includes the free form"),
        )
    )


def _with_sentence(rows: pl.DataFrame) -> pl.DataFrame:
    total = interval(pl.col("total_lower"), pl.col("total_upper"))
    free = interval(pl.col("free_lower"), pl.col("free_upper"))
    return write(
        rows,
        message=pl.format(
            "Total {} {} {} is printed below free {} {}, although a total includes the free"
            " form ({}); {}, ask the laboratory.",
            "analyte", total, "unit", free, "unit", _how_sure(), _bound_amount(),
        ),
    )  # fmt: skip


def _bound_amount() -> pl.Expr:
    known = pl.col("stated") & pl.col("free_stated")
    amount = (
        pl.when(known)
        .then(pl.format("its bound amount is at most {} {}", number(2 * pl.col("u_lower")), "unit"))
        .otherwise(pl.lit("its bound amount is not known"))
    )
    group = pl.lit(" (the group of isomers is judged by its own total)")
    return pl.when("is_isomer").then(amount + group).otherwise(amount)


def _how_sure() -> pl.Expr:
    within = pl.format(
        "it may be scatter: probability {} that it is more", percent(pl.col("probability"))
    )
    return (
        pl.when((pl.col("decision") == "undecided") & pl.col("probability").is_not_null())
        .then(within)
        .when(pl.col("decision") == "above")
        .then(pl.lit("more than the scatter of both"))
        .otherwise(pl.lit("its scatter is not known"))
    )
