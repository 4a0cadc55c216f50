"""Judge the decisions of a review workbook, and draw the layouts that some of them ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from pipeline.flows.amending import judge_amendments
from pipeline.flows.correcting import judge_corrections
from pipeline.flows.order import Workplace, read_vocabulary
from pipeline.flows.teaching import LayoutLesson, layouts_in, teach_layouts
from pipeline.readers import Readers
from pipeline.review.decide import Decided, Decision
from pipeline.review.faults import Fault
from pipeline.store import Store
from schemas.settlements import GIVES_RESULT, SETTLEMENTS


@dataclass(frozen=True)
class Places:
    """Where a user's own words are kept, and where the laboratories' files may lie."""

    vocabulary: Path
    layouts: Path
    reports: tuple[Path, ...] = ()


@dataclass(frozen=True)
class Judgement:
    """Decisions as they can be stored, the rows they give, and why others cannot be; by held_id."""

    frame: pl.DataFrame
    rows: pl.DataFrame
    faults: dict[str, Fault]

    def without(self, faults: dict[str, Fault]) -> Judgement:
        """Take out what cannot be taught, for a line is stored whole or not at all."""
        bad = pl.col("held_id").is_in(list(faults))
        return Judgement(self.frame.filter(~bad), self.rows.filter(~bad), {**self.faults, **faults})


def _settlements(decisions: Sequence[Decision]) -> pl.DataFrame:
    """Tabulate decisions, with the day on which they are taken."""
    frame = pl.DataFrame(
        [{"held_id": d.held_id, "decision": d.said.decision, **d.said.given} for d in decisions],
        schema=SETTLEMENTS,
    )
    return frame.with_columns(pl.lit(f"{datetime.now(UTC):%Y-%m-%d}").alias("day"))


def judge(
    new: Sequence[Decision],
    store: Store,
    readers: Readers,
    workplace: Workplace,
    numbers: pl.DataFrame,
) -> Judgement:
    """Judge the corrections: what can be stored, and why the others cannot.

    `numbers` are stored and suspected: one of them has its row of results already, so that
    confirming it gives none, and a correction stands in its place.
    """
    frame = _settlements(new)
    is_stored = pl.col("held_id").is_in(numbers["held_id"].implode())
    gives = frame.filter(pl.col("decision").is_in(GIVES_RESULT))
    told = readers, workplace.settings
    held = judge_corrections(gives.filter(~is_stored), store, *told)
    changed = gives.filter(is_stored, pl.col("decision") == "correct")
    places = numbers.select("held_id", "report_id", "sheet", "cell")
    amended = judge_amendments(changed.join(places, on="held_id"), store, *told)
    why = dict(pl.concat([held.refused, amended.refused]).iter_rows())
    faults = {d.held_id: Fault(d.at, f"as corrected: {why[d.held_id]}")
              for d in new if d.held_id in why}  # fmt: skip
    rows = pl.concat([held.rows, amended.rows])
    return Judgement(frame.filter(~pl.col("held_id").is_in(list(why))), rows, faults)


def draw_layouts(
    decided: Decided,
    judged: Judgement,
    store: Store,
    held: pl.DataFrame,
    workplace: Workplace,
    places: Places,
) -> tuple[dict[str, LayoutLesson], dict[str, Fault]]:
    """Draw the layouts that are asked for, by what decisions give now or have given before."""
    asked = [d for d in (*decided.new, *decided.known)
             if d.said.lays_out and d.held_id not in judged.faults]  # fmt: skip
    if not asked:
        return {}, {}
    settings = workplace.settings
    readers = read_vocabulary(settings.vocabulary)
    before = [d for d in asked if d in decided.known]
    again = judge_corrections(_settlements(before), store, readers, settings)
    rows = pl.concat([judged.rows, again.rows])
    own = settings.own_layouts if settings.layouts else layouts_in(places.layouts, workplace)
    beside = replace(workplace, settings=replace(settings, own_layouts=own))
    return teach_layouts(asked, held, rows, store.reports(), beside, places.reports)
