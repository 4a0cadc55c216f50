"""What was not looked at: silence must not look like safety."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.digest.model import Gap, Held
from pipeline.digest.unseen import Unseen
from pipeline.digest.views import Views
from pipeline.digest.waiting import doubted_gap, held_gap, open_count
from pipeline.digest.words import day, plural
from pipeline.withheld import open_held
from schemas.vocabulary import Vocabulary


def panel_results(results: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    """Keep results of the lots themselves that are phenols or their glycosides."""
    phenols = [a.name for a in vocabulary.analytes.values() if a.has_form]
    return results.filter(pl.col("sample_kind") == "lot", pl.col("analyte").is_in(phenols))


def _lot_words(row: dict[str, object]) -> str:
    parts = [str(row[k]) for k in ("variety", "vineyard", "block") if row.get(k)]
    return f"{row['lot']} ({', '.join(parts)})" if parts else str(row["lot"])


def _without_panel(unseen: Unseen) -> Gap:
    lots = unseen.untested
    lines = tuple(
        ", ".join(
            filter(None, (_lot_words(row), open_count(row["lot"], unseen.waiting, unseen.doubted)))
        )
        for row in lots.iter_rows(named=True)
    )
    some_wait = any(lot in unseen.waiting or lot in unseen.doubted for lot in lots["lot"])
    settle = "; settle first what is held back or suspected" if some_wait else ""
    step = f"Nothing is known: sample them{settle}."
    return Gap("No current panel", lines, step, tuple(lots["lot"]))


def _free_only(lots: tuple[str, ...]) -> Gap:
    return Gap(
        "Free results only",
        lots,
        "Ask the same laboratory for totals or glycosides.",
        lots,
    )


def _older_than_change(changed: pl.DataFrame) -> Gap:
    lines = tuple(
        f"{row['lot']}: last sample {day(row['last_on'])}, {row['what']} {day(row['happened_on'])}"
        for row in changed.iter_rows(named=True)
    )
    return Gap(
        "Last test older than a treatment or blend",
        lines,
        "The numbers below are from before: re-test.",
        tuple(dict.fromkeys(changed["lot"])),
    )


def _retest_due(overdue: pl.DataFrame) -> Gap:
    due = overdue.to_dicts()
    lines = tuple(
        f"{row['lot']}: due {day(row['retest_due_on'])}, last sample {day(row['last_on'])}"
        for row in due
    )
    names = tuple(f"{row['lot']} since {day(row['retest_due_on'])}" for row in due)
    return Gap("Re-test due", lines, "No newer sample is in: sample them.", names)


def _without_lot(views: Views) -> Gap:
    rows = views.unassigned.sort("lab", "sample_id", nulls_last=True)
    lines = tuple(
        f"{row['sample_id']} ({row['lab'] or 'laboratory unknown'}), "
        f"{plural(row['n_results'], 'result')}; "
        + (f"nearest known name: {row['nearest']}" if row["nearest"] else "no known name is near")
        for row in rows.iter_rows(named=True)
    )
    return Gap(
        "Samples without a lot",
        lines,
        "Name their lots in the register, sheet samples.",
        tuple(_nearest(row) for row in rows.iter_rows(named=True)),
    )


def _nearest(row: dict[str, Any]) -> str:
    return f"{row['sample_id']} (is it {row['nearest']}?)" if row["nearest"] else row["sample_id"]


def _contradicted(views: Views) -> Gap:
    rows = views.contradictions.sort("lot", "sample_id", "field", "file", nulls_last=True)
    told = [_about(row) for row in rows.iter_rows(named=True)]
    return Gap(
        "Reports disagree with the register or with each other",
        tuple(_opposed(row) for row in rows.iter_rows(named=True)),
        "The register's word is used below; where it has none, a sample name given to two lots "
        "stands for two samples. Correct the register, or ask the laboratory.",
        tuple(dict.fromkeys(told)),
    )


def _about(row: dict[str, Any]) -> str:
    return " ".join(dict.fromkeys(str(n) for n in (row["lot"], row["sample_id"]) if n))


def _opposed(row: dict[str, Any]) -> str:
    other = (
        f"“{row['in_register']}” in the register"
        if row["in_register"] is not None
        else f"“{row['in_other_reports']}” in other reports"
    )
    place = f"({row['file']}, {row['sheet']}!{row['cell']})"
    return f"{_about(row)}: {row['field']} “{row['in_report']}” in the report, {other} {place}"


def gaps(views: Views, unseen: Unseen) -> tuple[Gap, ...]:
    """List what was not looked at; kinds with nothing to say are left out."""
    found = (
        _without_panel(unseen),
        _free_only(unseen.free_only),
        _older_than_change(unseen.changed),
        _retest_due(unseen.overdue),
        held_gap(unseen.waiting, unseen.tests),
        doubted_gap(unseen.doubted, unseen.tests),
        _without_lot(views),
        _contradicted(views),
    )
    return tuple(gap for gap in found if gap.lines)


def held_by_reason(held: pl.DataFrame, vocabulary: Vocabulary) -> tuple[Held, ...]:
    """Count open held values by reason, most frequent first."""
    counted = (
        open_held(held)
        .group_by("reason_code")
        .agg(n=pl.len())
        .sort("n", "reason_code", descending=[True, False])
    )
    return tuple(_held(code, count, vocabulary) for code, count in counted.iter_rows())


def _held(code: str, count: int, vocabulary: Vocabulary) -> Held:
    means, next_step = vocabulary.reasons.get(code, (code.replace("_", " "), ""))
    return Held(means, count, next_step)
