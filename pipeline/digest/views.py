"""The frames a digest is gathered from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import polars as pl

from schemas.frames import PANELS

if TYPE_CHECKING:
    from pipeline.store import Store

Schema = dict[str, pl.DataType]
_DAY, _TEXT, _NUMBER = pl.Date(), pl.String(), pl.Float64()
LOTS: Schema = {
    "lot": _TEXT, "region": _TEXT, "grower": _TEXT, "vineyard": _TEXT, "block": _TEXT,
    "variety": _TEXT, "colour": _TEXT, "vintage": pl.Int32(), "volume_l": _NUMBER,
    "expected_picking_on": _DAY,
}  # fmt: skip
MOVEMENTS: Schema = {
    "from_lot": _TEXT, "to_lot": _TEXT, "kind": _TEXT, "volume_l": _NUMBER, "moved_on": _DAY,
}  # fmt: skip
INTERVENTIONS: Schema = {
    "lot": _TEXT, "kind": _TEXT, "agent": _TEXT, "dose": _NUMBER, "dose_unit": _TEXT,
    "done_on": _DAY, "permission_note": _TEXT,
}  # fmt: skip
TASTINGS: Schema = {
    "lot": _TEXT, "attribute": _TEXT, "score": _NUMBER, "scale_max": _NUMBER,
    "panel_size": pl.Int64(), "tasted_on": _DAY,
}  # fmt: skip
DECISIONS: Schema = {
    "lot": _TEXT, "decision": _TEXT, "decided_on": _DAY, "who": _TEXT, "note": _TEXT,
    "retest_due_on": _DAY,
}  # fmt: skip
UNASSIGNED: Schema = {"lab": _TEXT, "sample_id": _TEXT, "n_results": pl.Int64(), "nearest": _TEXT}
AMENDED: Schema = {
    "report_id": _TEXT, "lab": _TEXT, "report_no": _TEXT, "revision": _TEXT, "sample_id": _TEXT,
    "lot": _TEXT, "analyte": _TEXT, "form": _TEXT, "change": _TEXT, "old_lower": _NUMBER,
    "old_upper": _NUMBER, "old_unit": _TEXT, "raw_before": _TEXT, "lower": _NUMBER,
    "upper": _NUMBER, "unit": _TEXT, "raw_now": _TEXT, "file": _TEXT, "sheet": _TEXT, "cell": _TEXT,
}  # fmt: skip
QUALITY: Schema = {
    "report_id": _TEXT, "lab": _TEXT, "report_no": _TEXT, "method": _TEXT, "analysed_on": _DAY,
    "qc_kind": _TEXT, "rule": _TEXT, "analyte": _TEXT, "sample_id": _TEXT, "judgement": _TEXT,
    "message": _TEXT, "cells": _TEXT,
}  # fmt: skip
SUSPECTS: Schema = {
    "suspect_id": _TEXT, "lab": _TEXT, "sample_id": _TEXT, "lot": _TEXT, "raw_analyte": _TEXT,
    "raw_value": _TEXT, "status": _TEXT, "file": _TEXT, "sheet": _TEXT, "cell": _TEXT,
}  # fmt: skip
HELD_LOTS: Schema = {"held_id": _TEXT, "lot": _TEXT}
CONTRADICTIONS: Schema = {
    "lot": _TEXT, "lab": _TEXT, "sample_id": _TEXT, "field": _TEXT, "in_report": _TEXT,
    "in_register": _TEXT, "in_other_reports": _TEXT, "file": _TEXT, "sheet": _TEXT,
    "cell": _TEXT,
}  # fmt: skip


def _empty(schema: Schema) -> pl.DataFrame:
    return pl.DataFrame(schema=schema)


@dataclass(frozen=True)
class Views:
    """The store's views, as frames with the documented columns; empty where nothing is known."""

    reports: pl.DataFrame
    results: pl.DataFrame
    held: pl.DataFrame
    fractions: pl.DataFrame
    flags: pl.DataFrame
    lots: pl.DataFrame = field(default_factory=lambda: _empty(LOTS))
    movements: pl.DataFrame = field(default_factory=lambda: _empty(MOVEMENTS))
    interventions: pl.DataFrame = field(default_factory=lambda: _empty(INTERVENTIONS))
    tastings: pl.DataFrame = field(default_factory=lambda: _empty(TASTINGS))
    decisions: pl.DataFrame = field(default_factory=lambda: _empty(DECISIONS))
    unassigned: pl.DataFrame = field(default_factory=lambda: _empty(UNASSIGNED))
    amended: pl.DataFrame = field(default_factory=lambda: _empty(AMENDED))
    contradictions: pl.DataFrame = field(default_factory=lambda: _empty(CONTRADICTIONS))
    panels: pl.DataFrame = field(default_factory=lambda: _empty(PANELS))
    quality: pl.DataFrame = field(default_factory=lambda: _empty(QUALITY))
    held_lots: pl.DataFrame = field(default_factory=lambda: _empty(HELD_LOTS))
    suspects: pl.DataFrame = field(default_factory=lambda: _empty(SUSPECTS))


def read_views(store: Store) -> Views:
    """Take every view a digest needs from the store."""
    return Views(
        reports=store.reports(),
        results=store.results(),
        held=store.held(),
        fractions=store.fractions(),
        flags=store.flags(),
        lots=store.view("lots"),
        movements=store.view("movements"),
        interventions=store.view("interventions"),
        tastings=store.view("tastings"),
        decisions=store.view("decisions"),
        unassigned=store.unassigned(),
        amended=store.amended(),
        contradictions=store.view("contradictions"),
        panels=store.view("panels"),
        quality=store.view("quality"),
        held_lots=store.held_lots(),
        suspects=store.view("suspects"),
    )
