"""Values held back, by the lot they belong to: what a decision on it does not know."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.digest.model import Gap
from pipeline.digest.views import Views
from pipeline.digest.words import plural
from pipeline.withheld import open_held

_MOST = 3
# By lot: how many of its values are held (n) and the first of them (first).
Waiting = Mapping[str, Mapping[str, Any]]


def waiting_lots(views: Views) -> dict[str, dict[str, Any]]:
    """Give for each lot with open held values how many (n) and the first of them (words)."""
    printed = pl.format(
        "{} “{}”", pl.col("raw_analyte").fill_null("no name"), pl.col("raw_value").fill_null("")
    )
    rows = (
        open_held(views.held)
        .join(views.held_lots.drop_nulls("lot"), on="held_id")
        .sort("lot", "file", "sheet", "raw_analyte", "raw_value", "cell", nulls_last=True)
        .with_columns(printed=printed)
        .group_by("lot", maintain_order=True)
        .agg(n=pl.len(), first=pl.col("printed").unique(maintain_order=True))
    )
    return {row["lot"]: row for row in rows.iter_rows(named=True)}


def held_words(waiting: Mapping[str, Any]) -> str:
    """Say what of a lot is held back: the first values as printed, and how many more."""
    more = waiting["n"] - _MOST
    shown = "; ".join(waiting["first"][:_MOST])
    return f"{shown} and {more} more" if more > 0 else shown


def held_gap(waiting: Waiting, tests: pl.DataFrame) -> Gap:
    """List the lots with held values; one without any other current panel says so."""
    known = set(tests["lot"])
    lines = (
        f"{lot}: {held_words(row)}" + ("" if lot in known else "; nothing else is current")
        for lot, row in waiting.items()
    )
    return Gap(
        "Lots with values held back",
        tuple(lines),
        "They are in no decision below: settle them, or ask the laboratory.",
        tuple(f"{lot}\u00a0({row['n']})" for lot, row in waiting.items()),
        "settle them",
    )


def held_count(lot: str, waiting: Waiting) -> str:
    """Say how many values of a lot are held back; empty when none is."""
    return plural(waiting[lot]["n"], "value") + " held back" if lot in waiting else ""
