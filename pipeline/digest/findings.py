"""Flags in words: what, how much, against which threshold, how sure, where from."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.digest.changes import subject_matter
from pipeline.digest.model import Finding
from pipeline.digest.states import JUDGED
from pipeline.digest.words import (
    interval,
    odds,
    reason,
    sentences,
    sources,
    sureness,
    with_unit,
)
from pipeline.digest.words import number as rounded
from pipeline.uncertainty import ASSUMED_FACTOR
from schemas.judgement import load_judgement

# What the note on an assumed uncertainty is known by; it is the same for many lots.
ASSUMED = "Horwitz-Thompson"
_SAME_VALUE = ("lab", "sample_id", "analyte", "form")
_DECISION_ORDER = {"above": 0, "undecided": 1, "below": 2}
_KIND_ORDER = {kind: place for place, kind in enumerate(JUDGED)}
_SEVERITY_ORDER = {"act": 0, "warn": 1, "note": 2}


def with_uncertainty(flags: pl.DataFrame, results: pl.DataFrame) -> pl.DataFrame:
    """Add the uncertainty of the value a flag judges, in the flag's unit; null when none is stated.

    Adds standard_uncertainty, expanded_uncertainty and coverage_factor.
    """
    stated = (
        results.filter(pl.col("standard_uncertainty").is_not_null())
        .group_by(_SAME_VALUE)
        .agg(pl.col("standard_uncertainty", "expanded_uncertainty", "coverage_factor").max())
    )
    return flags.join(stated, on=list(_SAME_VALUE), how="left", nulls_equal=True)


def worst_first(flags: pl.DataFrame) -> pl.DataFrame:
    """Sort flags by decision, severity, kind (single compounds first) and ratio to threshold."""
    return flags.with_columns(
        _d=pl.col("decision").replace_strict(_DECISION_ORDER, default=3, return_dtype=pl.Int8),
        _s=pl.col("severity").replace_strict(_SEVERITY_ORDER, default=3, return_dtype=pl.Int8),
        _k=pl.col("kind").replace_strict(_KIND_ORDER, default=3, return_dtype=pl.Int8),
        _r=pl.col("lower") / pl.col("threshold"),
    ).sort(
        "_d", "_s", "_k", "_r", "analyte", "form", "lab",
        descending=[False, False, False, True, False, False, False], nulls_last=True,
    ).drop("_d", "_s", "_k", "_r")  # fmt: skip


def _size(row: dict[str, Any]) -> str:
    ends = (row["lower"], row["upper"])
    return "" if ends == (None, None) else interval(*ends, row["unit"], row["standard_uncertainty"])


def _value(row: dict[str, Any]) -> str:
    spread, u = row["expanded_uncertainty"], row["standard_uncertainty"]
    if spread is None or row["lower"] is None or row["lower"] != row["upper"]:
        return _size(row)
    text = rounded(row["lower"], u)
    assumed = " assumed" if ASSUMED_FACTOR in (row.get("uncertainty_source") or "") else ""
    k = row["coverage_factor"]
    factor = f" (k\u00a0=\u00a0{k:g}{assumed})" if k else ""
    return with_unit(f"{text}\u00a0±\u00a0{rounded(spread, u)}", row["unit"]) + factor


def _threshold(row: dict[str, Any]) -> str:
    if row["threshold"] is None:
        return ""
    unit = None if row["kind"] == "odour_activity" else row["unit"]
    source = f", {row['threshold_source']}" if row["threshold_source"] else ""
    return with_unit(f"{row['threshold']:g}", unit) + source


def _perhaps(notes: tuple[str, ...]) -> tuple[str, ...]:
    """Name the sources other than smoke that notes tell of, by the words of their rules."""
    rules = load_judgement().other_sources
    began = ((rule, rule.words.partition("{")[0].replace("ug/", "µg/")) for rule in rules)
    told = (rule.short for rule, words in began if any(words in note for note in notes))
    return tuple(dict.fromkeys(told))


def _in_points(row: dict[str, Any]) -> dict[str, Any]:
    """Take the growth of a share from a part of one into percentage points; others as they are."""
    if row["kind"] != "bound_growth":
        return row
    moved = {n: None if row[n] is None else 100 * row[n] for n in ("lower", "upper", "threshold")}
    return row | moved | {"unit": "percentage points"}


def finding(row: dict[str, Any]) -> Finding:
    """Say one flag row (FLAGS columns, subject and uncertainty) in words."""
    row = _in_points(row)
    told = sentences(row.get("note"))
    notes = tuple(note for note in told if ASSUMED not in note)
    return Finding(
        kind=row["kind"],
        decision=row["decision"] or "",
        severity=row["severity"] or "",
        subject=row["subject"],
        what=subject_matter(row),
        message=(row["message"] or "").replace("ug/", "µg/"),
        value=_value(row),
        threshold=_threshold(row),
        sure=sureness(row["probability"], row["decision"] or "", row["kind"])
        if row["kind"] in JUDGED
        else "",
        odds=odds(row["probability"]) if row["kind"] in JUDGED else "",
        why=reason(row["reason"]),
        lab=row["lab"] or "laboratory unknown",
        method=row["method"] or "",
        sources=sources(row["cells"]),
        notes=notes,
        assumed=" ".join(note for note in told if ASSUMED in note),
        perhaps=_perhaps(notes),
        size=_size(row),
    )
