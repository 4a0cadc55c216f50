"""The sheets of the workbook as frames."""

from __future__ import annotations

import polars as pl

from pipeline.digest.exposure import KIND as EXPOSURE
from pipeline.digest.model import Change, Subject
from pipeline.digest.states import with_subject
from pipeline.digest.subjects import FACTS
from pipeline.digest.views import Views
from pipeline.phrases import SHOWN_UNITS
from pipeline.withheld import open_held

_FLAGS = (
    "subject", "stage", "sampled_on", "lab", "method", "kind", "analyte", "form", "lower", "upper",
    "unit", "threshold", "threshold_source", "probability", "decision", "reason", "severity",
    "message", "note", "uncertainty_source", "cells",
)  # fmt: skip
_PANELS = (
    "subject", "stage", "sampled_on", "lab", "method", "sample_id", "panel", "basis",
    "expressed_as", "lower", "middle", "upper", "unit", "n_members", "n_missing", "n_censored",
    "missing", "limit_driven", "cells",
)  # fmt: skip
_RESULTS = (
    "subject", "stage", "sampled_on", "lab", "report_no", "revision", "method", "sample_id",
    "matrix",
    "analyte", "form", "expressed_as", "lower", "upper", "unit", "censoring", "lod", "loq",
    "expanded_uncertainty", "coverage_factor", "suspected_factor", "raw_value", "raw_unit",
    "file", "sheet", "cell",
)  # fmt: skip
_EXPOSURE = (
    "subject", "stage", "sampled_on", "lab", "method", "sample_id", "form", "analyte", "lower",
    "upper", "unit", "background", "background_source", "probability", "decision", "reason",
    "severity", "cells",
)  # fmt: skip
_QUALITY = (
    "lab", "report_no", "method", "analysed_on", "qc_kind", "rule", "analyte", "sample_id",
    "judgement", "message", "cells",
)  # fmt: skip
_PICKING = (
    "expected_picking_on", "block", "vineyard", "variety", "lot", "sample_kind", "stage",
    "sampled_on", "lab", "sample_id", "matrix", "form", "analyte", "lower", "upper", "unit",
    "background", "background_source", "raw_value", "file", "sheet", "cell",
)  # fmt: skip
_HELD = (
    "held_id", "lot", "reason_code", "reason", "hint", "status", "raw_sample", "raw_analyte", "raw_value",
    "raw_unit", "file", "sheet", "cell", "held_at",
)  # fmt: skip
_LOTS = {
    "lot": pl.String, "state": pl.String, "why": pl.String, "variety": pl.String,
    "vintage": pl.Int64, "vineyard": pl.String, "block": pl.String, "grower": pl.String,
    "region": pl.String, "stage": pl.String, "last_sample_on": pl.Date,
    "laboratories": pl.String, "deciding": pl.String, "value": pl.String, "threshold": pl.String,
    "how_sure": pl.String, "source": pl.String, "n_above": pl.Int64, "n_undecided": pl.Int64,
    "n_held": pl.Int64, "n_suspected": pl.Int64,
    "bound": pl.String, "growth": pl.String, "history": pl.String, "tastings": pl.String,
    "exposure": pl.String, "next_step": pl.String,
}  # fmt: skip


def _deciding(lot: Subject) -> tuple[str | None, ...]:
    first = next(iter((*lot.above, *lot.undecided, *lot.below)), None)
    if first is None:
        return (None,) * 5
    return (first.what, first.value, first.threshold, first.sure, "; ".join(first.sources))


def _lot_row(lot: Subject) -> tuple[object, ...]:
    grown = [f.message for f in lot.above if f.kind == "bound_growth"]
    return (
        lot.name, lot.state, lot.why, *(lot.known[fact] for fact in FACTS), lot.stage,
        lot.sampled_on, lot.labs, *_deciding(lot), len(lot.above), len(lot.undecided), lot.n_held,
        lot.n_doubted, lot.bound,
        " ".join([*grown, *(text for _, text in lot.growth)]), "; ".join(lot.history),
        "; ".join(lot.tastings), lot.exposure, "; ".join(s.short for s in lot.next_steps),
    )  # fmt: skip


def _present(frame: pl.DataFrame, columns: tuple[str, ...]) -> pl.DataFrame:
    return frame.select(c for c in columns if c in frame.columns)


def _in_shown_units(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.with_columns(pl.col("unit").replace(SHOWN_UNITS))


def _exposure(flags: pl.DataFrame, order: pl.Enum) -> pl.DataFrame:
    """Lay out the markers beside their background, a row each."""
    rows = flags.filter(pl.col("kind") == EXPOSURE).rename(
        {"threshold": "background", "threshold_source": "background_source"}
    )
    key = (pl.col("subject").cast(order), "sampled_on", "lab", "analyte", "form")
    return _in_shown_units(_present(rows.sort(*key, nulls_last=True), _EXPOSURE))


def _timeline(subjects: list[Subject]) -> pl.DataFrame:
    rows = [(s.name, moment.on, moment.what) for s in subjects for moment in s.timeline]
    schema = {"subject": pl.String, "on": pl.String, "what": pl.String}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _quality(quality: pl.DataFrame) -> pl.DataFrame:
    """Lay out the judgements of quality control, failures first."""
    rank = pl.col("judgement").replace_strict({"fail": 0, "warn": 1}, default=2)
    return _present(quality.sort(rank, *_QUALITY, nulls_last=True), _QUALITY)


def picking_table(unpicked: pl.DataFrame) -> pl.DataFrame:
    """Lay out grapes and mini-ferments before picking beside the background, a marker a row."""
    key = ("expected_picking_on", "vineyard", "block", "lot", "sample_kind", "lab", "analyte")
    return _in_shown_units(_present(unpicked.sort(*key, "form", nulls_last=True), _PICKING))


def tables(
    views: Views, subjects: list[Subject], flags: pl.DataFrame, moved: tuple[Change, ...]
) -> dict[str, pl.DataFrame]:
    """Lay out the sheets of the workbook, a frame each; `picking` comes from `picking_table`.

    `results` and `panels` are those of flagged and undecided lots. Units have their column.
    """
    open_names = [s.name for s in subjects if s.state != "below"]
    order = pl.Enum(list(dict.fromkeys(s.name for s in subjects)))
    of_open_lots = (pl.col("sample_kind") == "lot") & pl.col("subject").is_in(open_names)
    results = with_subject(views.results).filter(of_open_lots)
    panels = with_subject(views.panels).filter(of_open_lots)
    known = flags.filter(pl.col("subject").is_in(list(order.categories)))
    decided = known.filter(pl.col("kind") != EXPOSURE).sort(pl.col("subject").cast(order))
    return {
        "lots": pl.DataFrame([_lot_row(s) for s in subjects], schema=_LOTS, orient="row"),
        "flags": _in_shown_units(_present(decided, _FLAGS)),
        "results": _in_shown_units(_present(results.sort(pl.col("subject").cast(order)), _RESULTS)),
        "panels": _present(panels.sort(pl.col("subject").cast(order)), _PANELS),
        "exposure": _exposure(known, order),
        "timeline": _timeline(subjects),
        "quality": _quality(views.quality),
        "held": _present(
            open_held(views.held).join(views.held_lots, on="held_id", how="left"), _HELD
        ),
        "changes": pl.DataFrame(
            [(c.kind, c.subject, c.text) for c in moved],
            schema={"change": pl.String, "lot": pl.String, "text": pl.String},
            orient="row",
        ),
    }
