"""Split everything the digest tells by lot, once for all lots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.digest.course import NOT_YET_WINE, in_life_order, letters_of_flagged
from pipeline.digest.findings import with_uncertainty, worst_first
from pipeline.digest.states import with_subject
from pipeline.digest.unseen import Unseen
from pipeline.digest.views import Views
from pipeline.digest.waiting import Waiting
from pipeline.digest.words import interval, share

Groups = Mapping[str, pl.DataFrame]


@dataclass(frozen=True)
class Shelf:
    """Every frame by subject, split once."""

    flags: Groups
    results: Groups
    fractions: Groups
    interventions: Groups
    movements: Groups
    left: Groups
    tastings: Groups
    decisions: Groups
    bound: Mapping[str, str]
    lots: Mapping[str, dict[str, Any]]
    changed: frozenset[str]
    free_only: frozenset[str]
    waiting: Mapping[str, Waiting]
    doubted: Mapping[str, Waiting]
    letters: Mapping[str, str]


def _by(frame: pl.DataFrame, column: str) -> dict[str, pl.DataFrame]:
    parts = frame.filter(pl.col(column).is_not_null()).partition_by(
        column, as_dict=True, maintain_order=True
    )
    return {str(key[0]): part for key, part in parts.items()}


def _bound_parts(fractions: pl.DataFrame) -> dict[str, str]:
    """Say the bound part of each lot's latest wine sample: size, share and basis."""
    wine = fractions.filter(
        pl.col("aglycone") == "panel",
        pl.col("unit") == "nmol/L",
        ~pl.col("stage").is_in(NOT_YET_WINE).fill_null(False),
    )
    latest = in_life_order(wine, "subject").unique("subject", keep="last")
    return {row["subject"]: _bound_words(row) for row in latest.iter_rows(named=True)}


def _bound_words(row: dict[str, Any]) -> str:
    size = interval(row["bound_lower"], row["bound_upper"], row["unit"])
    part = share(row["bound_fraction_lower"], row["bound_fraction_upper"])
    return f"{size}, {part} of the panel ({row['bound_basis']})"


def shelve(views: Views, flags: pl.DataFrame, panel: pl.DataFrame, unseen: Unseen) -> Shelf:
    """Split every frame by lot, or by sample where no lot is known."""
    away = views.movements.filter(pl.col("from_lot").ne_missing(pl.col("to_lot")))
    fractions = with_subject(views.fractions.filter(pl.col("sample_kind") == "lot"))
    results = with_subject(panel)
    return Shelf(
        flags=_by(worst_first(with_uncertainty(flags, panel)), "subject"),
        results=_by(in_life_order(results, "subject"), "subject"),
        fractions=_by(fractions, "subject"),
        interventions=_by(views.interventions.sort("done_on", nulls_last=True), "lot"),
        movements=_by(views.movements.sort("moved_on", nulls_last=True), "to_lot"),
        left=_by(away.sort("moved_on", nulls_last=True), "from_lot"),
        tastings=_by(views.tastings.sort("tasted_on", nulls_last=True), "lot"),
        decisions=_by(views.decisions.sort("decided_on", nulls_last=True), "lot"),
        bound=_bound_parts(fractions),
        lots={row["lot"]: row for row in views.lots.iter_rows(named=True)},
        changed=frozenset(unseen.changed["lot"]),
        free_only=frozenset(unseen.free_only),
        waiting=unseen.waiting,
        doubted=unseen.doubted,
        letters=letters_of_flagged(results, flags),
    )
