"""What was not looked at: silence must not look like safety."""

from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl

from pipeline.digest.model import Gap, Held
from pipeline.digest.views import Views
from pipeline.digest.waiting import Waiting, held_count, held_gap, waiting_lots
from pipeline.digest.words import day, plural
from pipeline.withheld import open_held
from schemas.vocabulary import Vocabulary

_BOUND_FORMS = ("bound", "total")


def panel_results(results: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    """Keep results of the lots themselves that are phenols or their glycosides."""
    phenols = [a.name for a in vocabulary.analytes.values() if a.has_form]
    return results.filter(pl.col("sample_kind") == "lot", pl.col("analyte").is_in(phenols))


def last_tests(panel: pl.DataFrame) -> pl.DataFrame:
    """Say when each lot was last sampled and whether anything bound was measured.

    Columns: lot, last_on (null when no date is known), has_bound.
    """
    return (
        panel.filter(pl.col("lot").is_not_null())
        .group_by("lot")
        .agg(
            last_on=pl.col("sampled_on").max(),
            has_bound=pl.col("form").is_in(_BOUND_FORMS).any(),
        )
        .sort("lot")
    )


def untested(views: Views, tests: pl.DataFrame) -> pl.DataFrame:
    """Keep lots of the register that no current panel result belongs to."""
    return views.lots.join(tests, on="lot", how="anti").sort("lot")


def _lot_words(row: dict[str, object]) -> str:
    parts = [str(row[k]) for k in ("variety", "vineyard", "block") if row.get(k)]
    return f"{row['lot']} ({', '.join(parts)})" if parts else str(row["lot"])


def _without_panel(views: Views, tests: pl.DataFrame, waiting: Waiting) -> Gap:
    lots = untested(views, tests)
    lines = tuple(
        ", ".join(filter(None, (_lot_words(row), held_count(row["lot"], waiting))))
        for row in lots.iter_rows(named=True)
    )
    settle = (
        "; settle first what is held back" if any(lot in waiting for lot in lots["lot"]) else ""
    )
    steps = f"sample them{settle}"
    return Gap("No current panel", lines, f"Nothing is known: {steps}.", tuple(lots["lot"]), steps)


def without_bound(tests: pl.DataFrame) -> pl.DataFrame:
    """Keep lots of which only free phenols were measured."""
    return tests.filter(~pl.col("has_bound").fill_null(False))


def _free_only(tests: pl.DataFrame) -> Gap:
    lots = without_bound(tests)["lot"].to_list()
    return Gap(
        "Free results only",
        tuple(lots),
        "Ask the same laboratory for totals or glycosides.",
        tuple(lots),
        "ask for the bound part",
    )


def _touched(views: Views) -> pl.DataFrame:
    treated = views.interventions.select(
        "lot", happened_on="done_on", what=pl.coalesce("agent", "kind")
    )
    moved = views.movements.filter(
        (pl.col("from_lot") != pl.col("to_lot")).fill_null(True), pl.col("kind") != "rack"
    ).select(
        lot="to_lot",
        happened_on="moved_on",
        what=pl.format("{} with {}", "kind", pl.col("from_lot").fill_null("an unnamed lot")),
    )
    return pl.concat([treated, moved], how="vertical_relaxed").sort("lot", "happened_on")


def changed_since(views: Views, tests: pl.DataFrame) -> pl.DataFrame:
    """Keep treatments and blends that are younger than the lot's last sample, a row each."""
    return (
        _touched(views)
        .join(tests, on="lot")
        .filter((pl.col("happened_on") > pl.col("last_on")).fill_null(True))
    )


def _older_than_change(views: Views, tests: pl.DataFrame) -> Gap:
    changed = changed_since(views, tests)
    lines = tuple(
        f"{row['lot']}: last sample {day(row['last_on'])}, {row['what']} {day(row['happened_on'])}"
        for row in changed.iter_rows(named=True)
    )
    return Gap(
        "Last test older than a treatment or blend",
        lines,
        "The numbers below are from before: re-test.",
        tuple(dict.fromkeys(changed["lot"])),
        "re-test",
    )


def overdue(views: Views, tests: pl.DataFrame, today: date) -> pl.DataFrame:
    """Keep decisions of the register whose re-test is due while no newer sample is in."""
    return (
        views.decisions.filter(pl.col("retest_due_on") <= today)
        .join(tests, on="lot", how="left")
        .filter((pl.col("last_on") <= pl.col("decided_on")).fill_null(True))
        .sort("retest_due_on", "lot")
    )


def _retest_due(views: Views, tests: pl.DataFrame, today: date) -> Gap:
    due = overdue(views, tests, today).to_dicts()
    lines = tuple(
        f"{row['lot']}: due {day(row['retest_due_on'])}, last sample {day(row['last_on'])}"
        for row in due
    )
    names = tuple(f"{row['lot']} since {day(row['retest_due_on'])}" for row in due)
    return Gap("Re-test due", lines, "No newer sample is in: sample them.", names, "sample them")


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
        tuple(rows["sample_id"]),
        "name their lots",
    )


def _contradicted(views: Views) -> Gap:
    rows = views.contradictions.sort("lot", "sample_id", "field", "file", nulls_last=True)
    told = [_about(row) for row in rows.iter_rows(named=True)]
    return Gap(
        "Reports disagree with the register or with each other",
        tuple(_opposed(row) for row in rows.iter_rows(named=True)),
        "The register's word is used below; where it has none, a sample name given to two lots "
        "stands for two samples. Correct the register, or ask the laboratory.",
        tuple(dict.fromkeys(told)),
        "correct one of them",
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


def gaps(views: Views, tests: pl.DataFrame, today: date) -> tuple[Gap, ...]:
    """List what was not looked at; kinds with nothing to say are left out.

    `tests` as from `last_tests`.
    """
    waiting = waiting_lots(views)
    found = (
        _without_panel(views, tests, waiting),
        held_gap(waiting, tests),
        _free_only(tests),
        _older_than_change(views, tests),
        _retest_due(views, tests, today),
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
