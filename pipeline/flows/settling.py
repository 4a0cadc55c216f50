"""Settle what was held: a workbook goes out, decisions come back, and can be taken back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from pipeline.errors import CinderlotError, FileRefused, WrongUse
from pipeline.find import Source, find
from pipeline.flows.judging import Places, draw_layouts, judge
from pipeline.flows.order import Workplace, read_vocabulary, refresh, refresh_stale
from pipeline.flows.teaching import write_layouts
from pipeline.read import read_cells
from pipeline.register.keys import name_key
from pipeline.review.decide import Decided, Samples, decide
from pipeline.review.faults import Fault, in_order
from pipeline.review.groups import waiting
from pipeline.review.parse import Review, read_review
from pipeline.review.teach import Lesson, lessons, write_lessons
from pipeline.store import Store
from pipeline.workers import Workers
from schemas.settlements import DECISIONS
from schemas.vocabulary import Vocabulary, load_vocabulary


@dataclass(frozen=True)
class Applied:
    """What became of a review workbook.

    `counts` has correct, confirm, dismiss, ask (stored), known (stored before) and open (left empty);
    `taught` the names that are new in the vocabulary, `layouts` the files of new layouts and what
    each was taught from, `affected` the files to load again for them. `unused` tells what of
    vocabulary and layouts the settings do not name.
    """

    file: str
    counts: dict[str, int]
    faults: tuple[Fault, ...]
    taught: tuple[Lesson, ...]
    layouts: tuple[tuple[Path, str], ...]
    affected: tuple[str, ...]
    unused: tuple[str, ...]


def _renew(store_file: Path) -> None:
    """Give a store of an older program the columns that decisions have by now."""
    with Store(store_file, read_only=True) as store:
        fresh = store.is_renewed()
    if not fresh:
        Store(store_file).close()


def export_review(file: Path, workplace: Workplace) -> tuple[int, int]:
    """Write what waits into a new workbook; give how many are held, and how many stored and suspected."""
    from pipeline.review.write import write_review

    _renew(workplace.store)
    with Store(workplace.store, read_only=True) as store:
        values, mark = waiting(store.settleable()), store.store_id()
    vocabulary = load_vocabulary(workplace.settings.vocabulary)
    write_review(file, values, mark, vocabulary, datetime.now(UTC))
    suspected = int(values["is_stored"].sum())
    return values.height - suspected, suspected


def apply_review(file: Path, workplace: Workplace, places: Places) -> Applied:
    """Store the decisions of a workbook: the lines that are right, in one change; name the others.

    Names and layouts to teach go into `places`. Raises FileRefused when the file is no such workbook
    or was taken out of another store.
    """
    review = _read(file)
    readers = read_vocabulary(workplace.settings.vocabulary)
    with Store(workplace.store) as store:
        if review.store_id != store.store_id():
            raise FileRefused(
                review.file, "it was taken out of another store; nothing of it was stored"
            )
        held = store.settleable()
        decided = decide(review, held, readers, _samples(store, held))
        decided, learnt = _with_lessons(decided, _own_vocabulary(places.vocabulary))
        judged = judge(decided.new, store, readers, workplace, held.filter("is_stored"))
        drawn, undrawn = draw_layouts(decided, judged, store, held, workplace, places)
        judged = judged.without(undrawn)
        store.settle(judged.frame, judged.rows)
        wanted = {h: x for h, x in learnt.items() if h not in judged.faults}
        taught = write_lessons(places.vocabulary, list(wanted.values())) if wanted else ()
        layouts = write_layouts(places.layouts, [drawn[h] for h in drawn if h not in judged.faults])
    stored = [d for d in decided.new if d.held_id not in judged.faults]
    known = [d for d in decided.known if d.held_id not in judged.faults]
    counts = {name: sum(d.said.decision == name for d in stored)
              for name in DECISIONS.values()}  # fmt: skip
    if taught:
        load_vocabulary.cache_clear()
        read_vocabulary.cache_clear()
    (refresh if stored or taught else refresh_stale)(workplace)
    return Applied(
        review.file,
        {**counts, "known": len(known), "open": decided.left_open},
        in_order((*decided.faults, *judged.faults.values())),
        taught,
        layouts,
        tuple(sorted({*_affected(held, list(wanted)), *(file for _, file in layouts)})),
        _unused(workplace, named=bool(wanted), drawn=bool(layouts)),
    )


def _unused(workplace: Workplace, *, named: bool, drawn: bool) -> tuple[str, ...]:
    """Name what was taught into and is not named by the settings."""
    settings = workplace.settings
    idle = {"vocabulary": named and settings.vocabulary is None,
            "layouts": drawn and settings.layouts is None}  # fmt: skip
    return tuple(key for key, is_idle in idle.items() if is_idle)


def undo_settlement(held_id: str, workplace: Workplace) -> str:
    """Take back what was decided of a held value; give the decision, '' when there was none.

    Raises WrongUse when no such value is held.
    """
    with Store(workplace.store) as store:
        undone = store.undo(held_id)
    if undone is None:
        raise WrongUse(f'no held value is called "{held_id}"; see them with: cinderlot held')
    if undone:
        refresh(workplace)
    return undone


def _read(file: Path) -> Review:
    found = find([file])
    if found.refused or len(found.sources) != 1:
        raise (
            found.refused[0]
            if found.refused
            else FileRefused(str(file), "it is no single workbook; name the workbook itself")
        )
    with Workers(1) as workers:
        for _, made in workers.map(_read_source, found.sources):
            if isinstance(made, FileRefused):
                raise made
            return made
    raise FileRefused(str(file), "it could not be read")


def _read_source(source: Source) -> Review:
    return read_review(read_cells(source.read_bytes(), source.file).cells, source.file)


def _samples(store: Store, held: pl.DataFrame) -> Samples:
    """Name the samples of each report, and those the register has for its laboratory or for any."""
    named, lab = ["report_id", "sample_id"], name_key(pl.col("lab")).alias("lab_key")
    trimmed = pl.col("raw_sample").str.replace_all(r"\s+", " ").str.strip_chars()
    registered = store.view("samples").select(lab, "sample_id").drop_nulls("sample_id")
    reports = held.select("report_id", lab).unique()
    told = pl.concat(
        [
            store.known_samples().select(named),
            held.select("report_id", trimmed.alias("sample_id")),
            reports.join(registered, on="lab_key").select(named),
            reports.join(registered.filter(pl.col("lab_key").is_null()), how="cross").select(named),
        ]
    )
    names = told.drop_nulls().group_by("report_id").agg(pl.col("sample_id").unique())
    return {report: frozenset(known) for report, known in names.iter_rows()}


def _own_vocabulary(file: Path) -> Vocabulary:
    try:
        return load_vocabulary(file)
    except (ValueError, OSError) as error:
        raise CinderlotError(f"{file}: {error}") from None


def _with_lessons(decided: Decided, own: Vocabulary) -> tuple[Decided, dict[str, Lesson]]:
    """Refuse lines that teach what cannot be taught; a line is stored whole or not at all."""
    good, bad = lessons((*decided.new, *decided.known), own)
    new = tuple(d for d in decided.new if d.held_id not in bad)
    known = tuple(d for d in decided.known if d.held_id not in bad)
    faults = (*decided.faults, *bad.values())
    return Decided(new, known, faults, decided.left_open), good


def _affected(held: pl.DataFrame, taught: Sequence[str]) -> tuple[str, ...]:
    """Name the files that print a name which was taught."""
    names = held.filter(pl.col("held_id").is_in(taught))["raw_analyte"].unique()
    met = held.filter(pl.col("raw_analyte").is_in(names.implode()), "is_current")
    return tuple(met["file"].unique().sort())
