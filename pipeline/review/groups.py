"""Held values that one decision can settle: the same reason for the same printed words."""

from __future__ import annotations

import hashlib

import polars as pl

BY_SAMPLE = ("sample_missing", "sample_conflict")
# Dates belong to a sample: what settles one value of it settles all of them.
BY_DATE = ("date_ambiguous", "date_invalid")


def waiting(held: pl.DataFrame) -> pl.DataFrame:
    """Keep held values of reports in force that are open or asked, with their `group`."""
    is_waiting = pl.col("is_current") & pl.col("status").is_in(["open", "asked"])
    return with_groups(held.filter(is_waiting))


def with_groups(held: pl.DataFrame) -> pl.DataFrame:
    """Add `group`, a short name that is the same in every store and at every time.

    An unknown name makes a group over all reports of its laboratory; a value without sample goes
    with its row (and the state of the wine), one whose date cannot be read with its sample; all
    others go with those of the same report, sheet, printed analyte and unit.
    """
    code = pl.col("reason_code")
    place = pl.concat_str("report_id", "sheet", separator="|")
    words = pl.concat_str(
        pl.col("raw_analyte").fill_null(""), pl.col("raw_unit").fill_null(""), separator="|"
    )
    row = pl.col("cell").str.extract(r"(\d+)$")
    # One row may hold a sample before and after a treatment: two decisions.
    own = pl.col("reason").str.extract(r'"([^"]+)" may be a sample of its own')
    rest = (
        pl.when(code == "analyte_unknown")
        .then(pl.concat_str(pl.coalesce("lab", "report_id"), words, separator="|"))
        .when(code.is_in(BY_SAMPLE))
        .then(pl.concat_str(place, row, own, separator="|", ignore_nulls=True))
        .when(code.is_in(BY_DATE))
        .then(pl.concat_str(place, pl.coalesce("raw_sample", "cell"), separator="|"))
        .otherwise(pl.concat_str(place, words, separator="|"))
    )
    keys = held.select(pl.concat_str(code, rest, separator="|")).to_series()
    names = [None if k is None else f"G-{_short(k)}" for k in keys]
    return held.with_columns(pl.Series("group", names, dtype=pl.String))


def _short(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()[:8]


def groups(values: pl.DataFrame) -> pl.DataFrame:
    """List the groups of two or more values, the largest first; columns as the sheet shows."""
    texts = ("file", "sheet", "raw_analyte", "raw_unit", "lab")
    return (
        values.group_by("group")
        .agg(
            pl.len().alias("n"),
            *(_listed(name) for name in texts),
            _listed("raw_value").alias("raw_values"),
            pl.col("reason", "hint", "reason_code").first(),
        )
        .filter(pl.col("n") > 1)
        .sort("n", "file", "group", descending=[True, False, False])
    )


def _listed(name: str) -> pl.Expr:
    distinct = pl.col(name).drop_nulls().unique(maintain_order=True)
    more = pl.when(distinct.len() > 5).then(pl.lit(", ...")).otherwise(pl.lit(""))
    return distinct.head(5).str.join(", ") + more
