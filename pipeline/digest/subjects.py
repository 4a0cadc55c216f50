"""Assemble what the digest says of each lot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.digest.advice import CHANGED, FREE_ONLY, next_steps
from pipeline.digest.changes import subject_matter
from pipeline.digest.controls import merge_controls
from pipeline.digest.course import course
from pipeline.digest.exposure import KIND, exposure
from pipeline.digest.findings import finding
from pipeline.digest.model import Course, Finding, Subject
from pipeline.digest.origin import origin, told_apart
from pipeline.digest.shelves import Groups, Shelf
from pipeline.digest.states import JUDGED, NOTHING_TO_JUDGE_BY
from pipeline.digest.timeline import Moment, history, scores, timeline
from pipeline.digest.words import day, interval, reason
from schemas.frames import FRACTIONS
from schemas.judgement import NextStep

FACTS = ("variety", "vintage", "vineyard", "block", "grower", "region")


def _rows(groups: Groups, name: str) -> list[dict[str, Any]]:
    return list(groups[name].iter_rows(named=True)) if name in groups else []


def _known(register: Mapping[str, Any], last: Mapping[str, Any]) -> dict[str, Any]:
    """Take what the register says of a lot, else what its last report said."""
    return {fact: register.get(fact) or last.get(fact) for fact in FACTS}


def _timeline(name: str, shelf: Shelf) -> tuple[Moment, ...]:
    moves = [*_rows(shelf.movements, name), *_rows(shelf.left, name)]
    return timeline(
        name, _rows(shelf.results, name), _rows(shelf.interventions, name), moves,
        _rows(shelf.tastings, name), _rows(shelf.decisions, name),
    )  # fmt: skip


def _steps(name: str, rows: list[dict[str, Any]], shelf: Shelf) -> tuple[NextStep, ...]:
    """Give the next steps that the flags which are no clearance and the lot's gaps call for."""
    open_rows: list[Mapping[str, Any]] = [
        r for r in rows
        if r["decision"] != "below" and (r["kind"] != KIND or r["severity"] == "warn")
    ]  # fmt: skip
    if name in shelf.changed:
        open_rows.append(CHANGED)
    if name in shelf.free_only:
        open_rows.append(FREE_ONLY)
    return next_steps(open_rows)


def _deciding(flags: pl.DataFrame) -> dict[str, Any] | None:
    """Pick the single analyte nearest to or farthest over its threshold."""
    single = flags.filter(pl.col("kind") == "over_threshold", pl.col("unit").is_not_null())
    ranked = single.with_columns(
        _r=pl.coalesce("upper", pl.col("lower") * 2) / pl.col("threshold")
    ).sort("_r", descending=True, nulls_last=True)
    return ranked.row(0, named=True) if ranked.height else None


def _course(name: str, shelf: Shelf) -> Course | None:
    flags, results = shelf.flags.get(name), shelf.results.get(name)
    if flags is None or results is None:
        return None
    fractions = shelf.fractions.get(name, pl.DataFrame(schema=FRACTIONS))
    chosen = _deciding(flags)
    if chosen is None:
        return None
    return course(
        results, fractions, chosen["analyte"], chosen["form"], chosen["unit"], chosen["threshold"],
        shelf.letters,
    )  # fmt: skip


def _numbers(name: str, shelf: Shelf) -> tuple[tuple[str, ...], ...]:
    """Rows of the lot's table: stage, date, laboratory, what, value, where it stands."""
    return tuple(
        (
            r["stage"] or "stage unknown",
            day(r["sampled_on"]),
            r["lab"] or "laboratory unknown",
            " ".join(p for p in (r["form"], r["analyte"]) if p),
            interval(r["lower"], r["upper"], r["unit"], r["standard_uncertainty"]),
            r["raw_value"] or "",
            f"{r['file']}, {r['sheet']}!{r['cell']}",
        )
        for r in _rows(shelf.results, name)
    )


def _why(state: str, judged: list[dict[str, Any]], matrix: str | None) -> str:
    """Say why a lot is undecided, the real doubts first."""
    if state != "undecided":
        return ""
    open_rows = [r for r in judged if r["decision"] == "undecided"]
    doubts = [r for r in open_rows if r["reason"] not in NOTHING_TO_JUDGE_BY]
    if not doubts:
        return f"no threshold set for {matrix or 'this matrix'}"
    return "; ".join(dict.fromkeys(reason(r["reason"]) or "not decided" for r in doubts))


def _highest_unjudged(judged: list[dict[str, Any]]) -> tuple[Finding, ...]:
    """Give the two highest values that no threshold is set for."""
    rows = [r for r in judged if r["reason"] == "no_threshold" and r["lower"] is not None]
    return tuple(
        finding(r)
        for r in sorted(rows, key=lambda r: (r["lower"], r["upper"] or 0.0), reverse=True)[:2]
    )


def _not_judged(judged: list[dict[str, Any]]) -> tuple[str, ...]:
    """Name what no rule could judge; missing thresholds are said once for all lots elsewhere."""
    said = (
        f"{subject_matter(r)} ({reason(r['reason'])})"
        for r in judged
        if r["reason"] in NOTHING_TO_JUDGE_BY and r["reason"] != "no_threshold"
    )
    return tuple(dict.fromkeys(said))


def _split(findings: list[Finding], decision: str) -> tuple[Finding, ...]:
    return tuple(f for f in findings if f.kind in JUDGED and f.decision == decision)


def _undecided(judged: list[dict[str, Any]]) -> tuple[Finding, ...]:
    return tuple(
        finding(r)
        for r in judged
        if r["decision"] == "undecided" and r["reason"] not in NOTHING_TO_JUDGE_BY
    )


def _notices(findings: list[Finding]) -> tuple[Finding, ...]:
    told_elsewhere = (*JUDGED, KIND)
    return tuple(
        f
        for f in merge_controls(findings)
        if f.kind not in told_elsewhere and f.decision != "below"
    )


def subject(name: str, is_lot: bool, state: str, shelf: Shelf, detailed: bool = False) -> Subject:
    """Say what the digest knows of one lot or one sample without a lot.

    `detailed` adds its table of numbers and its path through the stages.
    """
    rows = _rows(shelf.flags, name)
    samples = _rows(shelf.results, name)
    last = samples[-1] if samples else (rows[0] if rows else {})
    judged = [r for r in rows if r["kind"] in JUDGED]
    findings = [finding(r) for r in rows]
    known = _known(shelf.lots.get(name, {}), last)
    labs = dict.fromkeys(r["lab"] or "laboratory unknown" for r in judged)
    return Subject(
        name=name,
        is_lot=is_lot,
        state=state,
        known=known,
        stage=last.get("stage") or "stage unknown",
        sampled_on=last.get("sampled_on"),
        labs=", ".join(labs),
        why=_why(state, judged, last.get("matrix")),
        above=_split(findings, "above"),
        undecided=_undecided(judged),
        below=_split(findings, "below"),
        notices=_notices(findings),
        exposure=exposure(rows, known["variety"]),
        unjudged=_highest_unjudged(judged),
        not_judged=_not_judged(judged),
        bound=shelf.bound.get(name, ""),
        growth=origin(rows),
        origin=told_apart(rows),
        history=history(
            name, _rows(shelf.interventions, name), _rows(shelf.movements, name),
            _rows(shelf.decisions, name), last.get("sampled_on"),
        ),
        tastings=scores(_rows(shelf.tastings, name)),
        timeline=_timeline(name, shelf),
        next_steps=_steps(name, rows, shelf),
        n_held=shelf.waiting[name].count if name in shelf.waiting else 0,
        held=shelf.waiting[name].words if name in shelf.waiting else "",
        n_doubted=shelf.doubted[name].count if name in shelf.doubted else 0,
        doubted=shelf.doubted[name].words if name in shelf.doubted else "",
        numbers=_numbers(name, shelf) if detailed else (),
        course=_course(name, shelf) if detailed else None,
    )  # fmt: skip
