"""What happened to a lot, in the order of its days: samples, what was done, tasted and decided."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from pipeline.digest.words import day

Row = Mapping[str, Any]
# Day, whether it is a sample, words, and the same without remarks.
Dated = tuple[date | None, bool, str, str]


@dataclass(frozen=True)
class Moment:
    """A day, or several days of samples only, and what stands at it."""

    on: str
    what: str
    is_sample: bool = False
    short: str = ""

    @property
    def briefly(self) -> str:
        """Say what stands at it without remarks."""
        return self.short or self.what


def dose_words(row: Row) -> str:
    """Say an intervention with its dose as the register has it."""
    dose = f", {row['dose']:g} {row['dose_unit'] or ''}".rstrip() if row["dose"] is not None else ""
    return f"{row['agent'] or row['kind']}{dose}"


def score_words(row: Row, *, with_panel: bool = True) -> str:
    """Say a tasting's score with its scale and panel."""
    scale = f" of {row['scale_max']:g}" if row["scale_max"] else ""
    panel = f", {row['panel_size']} tasters" if row["panel_size"] and with_panel else ""
    return f"{row['attribute']} {row['score']:g}{scale}{panel}"


def decision_words(row: Row, *, with_note: bool = True) -> str:
    """Say a decision of the register with its note and when a re-test is due."""
    note = f", {row['note']}" if row["note"] and with_note else ""
    due = f"; re-test due {day(row['retest_due_on'])}" if row.get("retest_due_on") else ""
    return f"decision: {row['decision']}{note}{due}"


def _moved(row: Row, lot: str) -> str:
    if row["from_lot"] == row["to_lot"]:
        return "racked" if row["kind"] == "rack" else str(row["kind"])
    if row["to_lot"] == lot:
        return f"{row['kind']} from {row['from_lot'] or 'an unnamed lot'}"
    return f"{row['kind']} to {row['to_lot'] or 'an unnamed lot'}"


def _done(row: Row) -> str:
    allowed = f" ({row['permission_note']})" if row.get("permission_note") else ""
    return f"{row['kind']}: {dose_words(row)}{allowed}" if row["agent"] else dose_words(row)


def _merged(dated: list[Dated]) -> Iterable[Moment]:
    """Bring samples between two events together, so that the events stand out."""
    for is_sample, rows in groupby(dated, key=lambda moment: moment[1]):
        run = list(rows)
        if not is_sample:
            yield from (Moment(day(on), what, short=short) for on, _, what, short in run)
            continue
        days = list(dict.fromkeys(day(on) for on, *_ in run))
        span = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
        stages = ", ".join(dict.fromkeys(what for _, _, what, _ in run))
        yield Moment(span, f"sampled: {stages}", is_sample=True)


def timeline(
    lot: str,
    samples: Iterable[Row],
    interventions: Iterable[Row],
    movements: Iterable[Row],
    tastings: Iterable[Row],
    decisions: Iterable[Row],
) -> tuple[Moment, ...]:
    """Lay out a lot's days, the earliest first, unknown days last; empty without any event.

    Rows as the register's views and the results have them. A sample of a day stands before what
    was done on that day.
    """
    happened: list[Dated] = [
        *((r["done_on"], False, _done(r), "") for r in interventions),
        *((r["moved_on"], False, _moved(r, lot), "") for r in movements),
        *(
            (r["tasted_on"], False, score_words(r), score_words(r, with_panel=False))
            for r in tastings
            if r["score"] is not None
        ),
        *(
            (r["decided_on"], False, decision_words(r), decision_words(r, with_note=False))
            for r in decisions
        ),
    ]
    if not happened:
        return ()
    seen: set[Dated] = {(r["sampled_on"], True, r["stage"] or "stage unknown", "") for r in samples}
    dated = sorted(seen, key=lambda m: (m[0] or date.max, m[2])) + happened
    return tuple(_merged(sorted(dated, key=lambda m: (m[0] is None, m[0] or date.max, not m[1]))))


def _when(happened: date | None, last_sample: date | None) -> str:
    later = happened is not None and last_sample is not None and happened > last_sample
    return day(happened) + (", after the last sample" if later else "")


def history(
    lot: str,
    interventions: Iterable[Row],
    movements: Iterable[Row],
    decisions: Iterable[Row],
    last_sample: date | None,
) -> tuple[str, ...]:
    """Say what was done to a lot and decided about it, each with its day."""
    return (
        *(f"{dose_words(r)} ({_when(r['done_on'], last_sample)})" for r in interventions),
        *(
            f"{r['kind']} from {r['from_lot']} ({_when(r['moved_on'], last_sample)})"
            for r in movements
            if r["from_lot"] != lot
        ),
        *(
            f"decision: {r['decision']}"
            + (f", {r['note']}" if r["note"] else "")
            + f" ({day(r['decided_on'])})"
            for r in decisions
        ),
    )


def scores(tastings: Iterable[Row]) -> tuple[str, ...]:
    """Say the tastings of a lot that gave a score, each with its day."""
    return tuple(
        f"{score_words(r)} ({day(r['tasted_on'])})" for r in tastings if r["score"] is not None
    )
