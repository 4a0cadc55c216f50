"""The sheets of the workbook as frames."""

from __future__ import annotations

import polars as pl

from pipeline.digest.gaps import open_held
from pipeline.digest.model import Change, Subject
from pipeline.digest.states import with_subject
from pipeline.digest.views import Views
from pipeline.digest.words import SHOWN_UNITS

_FLAGS = (
    "subject", "stage", "sampled_on", "lab", "method", "kind", "analyte", "form", "lower", "upper",
    "unit", "threshold", "threshold_source", "probability", "decision", "reason", "severity",
    "message", "cells",
)  # fmt: skip
_RESULTS = (
    "subject", "stage", "sampled_on", "lab", "report_no", "revision", "method", "sample_id",
    "matrix",
    "analyte", "form", "expressed_as", "lower", "upper", "unit", "censoring", "lod", "loq",
    "expanded_uncertainty", "coverage_factor", "raw_value", "raw_unit", "file", "sheet", "cell",
)  # fmt: skip
_HELD = (
    "held_id", "reason_code", "reason", "hint", "status", "raw_sample", "raw_analyte", "raw_value",
    "raw_unit", "file", "sheet", "cell", "held_at",
)  # fmt: skip
_LOTS = {
    "lot": pl.String, "state": pl.String, "why": pl.String, "facts": pl.String, "stage": pl.String,
    "last_sample_on": pl.Date, "laboratories": pl.String, "deciding": pl.String, "value": pl.String,
    "threshold": pl.String, "how_sure": pl.String, "n_above": pl.Int64, "n_undecided": pl.Int64,
    "growth": pl.String, "history": pl.String, "tastings": pl.String, "source": pl.String,
}  # fmt: skip


def _lot_row(lot: Subject) -> tuple[object, ...]:
    first = next(iter((*lot.above, *lot.undecided, *lot.below)), None)
    grown = [f.message for f in lot.above if f.kind == "bound_growth"]
    return (
        lot.name, lot.state, lot.why, lot.facts, lot.stage, lot.sampled_on, lot.labs,
        first and first.what, first and first.value, first and first.threshold,
        first and first.sure,
        len(lot.above), len(lot.undecided), " ".join([*grown, *(text for _, text in lot.growth)]), "; ".join(lot.history),
        "; ".join(lot.tastings), "; ".join(first.sources) if first else None,
    )  # fmt: skip


def _present(frame: pl.DataFrame, columns: tuple[str, ...]) -> pl.DataFrame:
    return frame.select(c for c in columns if c in frame.columns)


def _in_shown_units(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.with_columns(pl.col("unit").replace(SHOWN_UNITS))


def tables(
    views: Views, subjects: list[Subject], flags: pl.DataFrame, moved: tuple[Change, ...]
) -> dict[str, pl.DataFrame]:
    """Lay out lots, flags, results, held and changes, one frame per sheet.

    `results` are the current results of flagged and undecided lots. Units have their column.
    """
    open_names = [s.name for s in subjects if s.state != "below"]
    order = pl.Enum(list(dict.fromkeys(s.name for s in subjects)))
    results = with_subject(views.results).filter(
        pl.col("sample_kind") == "lot", pl.col("subject").is_in(open_names)
    )
    known = flags.filter(pl.col("subject").is_in(list(order.categories)))
    return {
        "lots": pl.DataFrame([_lot_row(s) for s in subjects], schema=_LOTS, orient="row"),
        "flags": _in_shown_units(_present(known.sort(pl.col("subject").cast(order)), _FLAGS)),
        "results": _in_shown_units(_present(results.sort(pl.col("subject").cast(order)), _RESULTS)),
        "held": _present(open_held(views.held), _HELD),
        "changes": pl.DataFrame(
            [(c.kind, c.subject, c.text) for c in moved],
            schema={"change": pl.String, "lot": pl.String, "text": pl.String},
            orient="row",
        ),
    }
