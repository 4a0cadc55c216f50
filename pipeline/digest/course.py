"""A lot's path through its stages: the deciding analyte and the free and bound panel."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import polars as pl

from pipeline.digest.model import Course, Mark
from pipeline.digest.words import brief
from pipeline.phrases import shown_unit
from pipeline.withheld import is_trusted
from schemas.vocabulary import STAGES

NOT_YET_WINE = STAGES[: STAGES.index("end of AF")]
_STAGE_ORDER = {stage: place for place, stage in enumerate(STAGES)}
_SAMPLE = ("stage", "sampled_on", "lab", "sample_id")


def in_life_order(frame: pl.DataFrame, owner: str | None = None) -> pl.DataFrame:
    """Sort samples by stage, then date; one of unknown stage stands where its date puts it.

    `owner` names the column that tells lots apart where the frame holds several.
    """
    place = pl.col("stage").replace_strict(_STAGE_ORDER, default=None, return_dtype=pl.Int32)
    reached = place.forward_fill()
    return (
        frame.sort("sampled_on", "lab", "sample_id", nulls_last=True)
        .with_columns(_place=(reached if owner is None else reached.over(owner)).fill_null(-1))
        .sort("_place", "sampled_on", "lab", "sample_id", nulls_last=True)
        .drop("_place")
    )


def lettered(labs: Iterable[str | None]) -> dict[str, str]:
    """Give each laboratory a letter, in the order of their names; past z a number.

    An unknown laboratory stands as an empty name.
    """
    names = sorted({lab or "" for lab in labs})
    return {lab: chr(ord("a") + i) if i < 26 else str(i + 1) for i, lab in enumerate(names)}


def letters_of_flagged(results: pl.DataFrame, flags: pl.DataFrame) -> dict[str, str]:
    """Give a letter to each laboratory of the flagged lots; both frames have `subject`."""
    above = flags.filter(pl.col("decision") == "above")
    return lettered(results.join(above, on="subject", how="semi")["lab"])


def _slots(frames: list[pl.DataFrame], letters: Mapping[str, str] | None) -> pl.DataFrame:
    samples = in_life_order(pl.concat([f.select(_SAMPLE) for f in frames]).unique())
    several = samples["lab"].n_unique() > 1
    given = letters or lettered(samples["lab"])
    used = {lab: letter if several else "" for lab, letter in given.items()}
    stage = pl.col("stage").fill_null("stage unknown").str.replace_all("|", "/", literal=True)
    return (
        samples.with_row_index("place")
        .with_columns(
            letter=pl.col("lab").fill_null("").replace_strict(used, return_dtype=pl.String)
        )
        .with_columns(slot=pl.format("{}|{}|{}", "place", stage, "letter"))
    )


def _analyte_rows(results: pl.DataFrame, analyte: str, form: str | None, unit: str) -> pl.DataFrame:
    """Average marked replicates: mean of lowers, mean of uppers."""
    return (
        results.filter(
            pl.col("analyte") == analyte,
            pl.col("form").eq_missing(pl.lit(form)),
            pl.col("unit") == unit,
            is_trusted(results),
        )
        .group_by(_SAMPLE)
        .agg(
            pl.col("lower").mean(),
            upper=pl.when(pl.col("upper").null_count() == 0).then(pl.col("upper").mean()),
            spread=pl.col("expanded_uncertainty").max(),
            u=pl.col("standard_uncertainty").max(),
        )
        .filter(pl.col("lower").is_not_null())
    )


def _panel_rows(fractions: pl.DataFrame) -> pl.DataFrame:
    return fractions.filter(pl.col("aglycone") == "panel", pl.col("unit") == "nmol/L")


def _marks(rows: pl.DataFrame, slots: pl.DataFrame) -> tuple[Mark, ...]:
    placed = rows.join(slots, on=list(_SAMPLE), nulls_equal=True).sort("place")
    return tuple(
        Mark(r["slot"], "value", r["lower"], r["upper"], r["spread"],
             brief(r["lower"], r["upper"], r["u"]))
        for r in placed.iter_rows(named=True)
    )  # fmt: skip


def _panel_marks(panel: pl.DataFrame, slots: pl.DataFrame) -> tuple[Mark, ...]:
    placed = panel.join(slots, on=list(_SAMPLE), nulls_equal=True).sort("place", "bound_basis")
    return tuple(
        Mark(r["slot"], series, r[f"{part}_lower"], r[f"{part}_upper"], None,
             brief(r[f"{part}_lower"], r[f"{part}_upper"]))
        for r in placed.iter_rows(named=True)
        for part, series in (("free", "free"), ("bound", f"bound ({r['bound_basis']})"))
        if r[f"{part}_lower"] is not None
    )  # fmt: skip


def _notes(slots: pl.DataFrame) -> tuple[str, ...]:
    letters = slots.filter(pl.col("letter") != "").select("letter", "lab").unique().sort("letter")
    return tuple(f"{letter} = {lab or 'laboratory unknown'}" for letter, lab in letters.iter_rows())


def _spoken(title: str, unit: str, marks: tuple[Mark, ...], limit: str) -> str:
    path = "; ".join(f"{mark.slot.split('|')[1]} {mark.label}" for mark in marks)
    return f"{title} in {unit} by stage: {path}. {limit}".strip()


def course(
    results: pl.DataFrame,
    fractions: pl.DataFrame,
    analyte: str,
    form: str | None,
    unit: str,
    threshold: float | None,
    letters: Mapping[str, str] | None = None,
) -> Course | None:
    """Lay out one lot's samples in the order of its life; null when there is nothing to draw.

    `results` and `fractions` are the rows of the lot's own samples. The deciding analyte is in
    `unit`, the panel in nmol/L; other units are left out. A censored value stays an interval.
    `letters` tell laboratories apart, as from `lettered` for all of them (null: for this lot
    alone); the notes name those that are drawn, where there are several.
    """
    rows, panel = _analyte_rows(results, analyte, form, unit), _panel_rows(fractions)
    if rows.is_empty() and panel.is_empty():
        return None
    slots = _slots([rows, panel], letters)
    title, shown = " ".join(p for p in (form, analyte) if p), shown_unit(unit)
    limit = "" if threshold is None else f"threshold {threshold:g} {shown}"
    marks = _marks(rows, slots)
    return Course(
        tuple(slots["slot"]), title, shown, marks, threshold,
        "smoke phenols", "nmol/L", _panel_marks(panel, slots),
        _notes(slots), _spoken(title, shown, marks, limit),
    )  # fmt: skip
