"""A lot's time line: samples, treatments, movements, tastings and decisions in one order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.digest.words import day, number, plural
from pipeline.page.places import lot_link

Frames = Mapping[str, pl.DataFrame]


@dataclass(frozen=True)
class Event:
    """Something that happened to a lot: when (null: not given), what sort, and in words."""

    on: date | None
    sort: str
    text: str
    link: str | None = None


def _amount(value: float | None, unit: str | None) -> str:
    return "" if value is None else f" {number(value)}\u00a0{unit or ''}".rstrip()


def _samples(results: pl.DataFrame) -> Iterator[Event]:
    keys = ("sampled_on", "stage", "lab", "sample_id", "sample_kind")
    for row in results.group_by(keys, maintain_order=True).len().iter_rows(named=True):
        kind = "" if row["sample_kind"] == "lot" else f", {row['sample_kind']}"
        text = (
            f"{row['stage'] or 'stage unknown'}: {row['sample_id']}{kind}, "
            f"{row['lab'] or 'laboratory unknown'}, {plural(row['len'], 'result')}"
        )
        yield Event(row["sampled_on"], "sample", text)


def _interventions(rows: pl.DataFrame) -> Iterator[Event]:
    for row in rows.iter_rows(named=True):
        note = f"; {row['permission_note']}" if row["permission_note"] else ""
        dose = _amount(row["dose"], row["dose_unit"])
        yield Event(row["done_on"], row["kind"], f"{row['agent'] or row['kind']}{dose}{note}")


def _movements(rows: pl.DataFrame, lot: str) -> Iterator[Event]:
    for row in rows.iter_rows(named=True):
        here = row["to_lot"] == lot
        other = row["from_lot"] if here else row["to_lot"]
        volume = _amount(row["volume_l"], "L").strip()
        text = " ".join(p for p in (volume, "from" if here else "to", other or "another lot") if p)
        yield Event(row["moved_on"], row["kind"], text, lot_link(other) if other else None)


def _tastings(rows: pl.DataFrame) -> Iterator[Event]:
    for row in rows.iter_rows(named=True):
        scale = f" of {number(row['scale_max'])}" if row["scale_max"] is not None else ""
        panel = f", {plural(row['panel_size'], 'taster')}" if row["panel_size"] else ""
        score = "no score" if row["score"] is None else number(row["score"])
        yield Event(row["tasted_on"], "tasting", f"{row['attribute']}: {score}{scale}{panel}")


def _decisions(rows: pl.DataFrame) -> Iterator[Event]:
    for row in rows.iter_rows(named=True):
        due = f"; re-test due {day(row['retest_due_on'])}" if row["retest_due_on"] else ""
        who = f" ({row['who']})" if row["who"] else ""
        note = f": {row['note']}" if row["note"] else ""
        yield Event(row["decided_on"], "decision", f"{row['decision']}{who}{note}{due}")


def _exposures(rows: pl.DataFrame) -> Iterator[Event]:
    for row in rows.iter_rows(named=True):
        parts = (
            f"block {row['block']}, until {day(row['to'])}",
            row["growth_stage"],
            f"index {number(row['index'])}" if row["index"] is not None else None,
            row["source"],
        )
        yield Event(row["from"], "smoke", ", ".join(p for p in parts if p))


def timeline(lot: str, results: pl.DataFrame, told: Frames) -> list[Event]:
    """Put all that is known of a lot into the order of its dates; what has none comes last."""
    events = [
        *_exposures(told["exposures"]),
        *_samples(results),
        *_interventions(told["interventions"]),
        *_movements(told["movements"], lot),
        *_tastings(told["tastings"]),
        *_decisions(told["decisions"]),
    ]
    return sorted(events, key=lambda event: (event.on is None, event.on or date.min))
