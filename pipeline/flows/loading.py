"""Load files: prepare them in workers, store each whole, then refresh what is derived."""

from __future__ import annotations

import os
from collections.abc import Callable, Container, Sequence
from dataclasses import replace
from functools import cache, partial
from pathlib import Path

from pipeline.errors import FileRefused
from pipeline.find import Source, find
from pipeline.flows.batches import in_batches
from pipeline.flows.order import (
    Prepared,
    Workplace,
    prepare_packed,
    prepare_registers,
    refresh,
    refresh_stale,
)
from pipeline.register import Register
from pipeline.store import Store
from pipeline.summaries import (
    STORED,
    Loaded,
    LoadSummary,
    amendments,
    recount,
    summarise,
    summarise_register,
)
from pipeline.unordered import of_one_number, unordered
from pipeline.workers import Workers

Ready = Callable[[], Prepared]
Prepare = Callable[[Sequence[Source], Workplace], tuple[Prepared, ...]]
Tell = Callable[[Loaded, int, int], None]


def load(paths: Sequence[Path], workplace: Workplace, tell: Tell) -> LoadSummary:
    """Store every report under the paths and refresh what no longer follows; tell of each file."""
    with Store(workplace.store, adding=True) as store:
        files = load_each(paths, workplace, tell, lambda _, ready: keep(store, ready()))
    derive_anew(workplace)
    return sum_up(workplace, files)


def derive_anew(workplace: Workplace) -> None:
    """Refresh what no longer follows from what is stored; where there is no store, make one."""
    (refresh_stale if workplace.store.exists() else refresh)(workplace)


def load_register(file: Path, workplace: Workplace, tell: Tell) -> LoadSummary:
    """Store a register workbook; a file that is none, or one with bad rows, is refused."""

    def keep_register(_: str, ready: Ready) -> Loaded:
        return keep_alone(workplace.store, ready())

    files = load_each([file], workplace, tell, keep_register, prepare_registers)
    derive_anew(workplace)
    return sum_up(workplace, files)


def load_each(
    paths: Sequence[Path],
    workplace: Workplace,
    tell: Tell,
    keep_one: Callable[[str, Ready], Loaded],
    prepare: Prepare = prepare_packed,
    only: Container[Path] | None = None,
) -> Sequence[Loaded]:
    """Prepare the files in workers, ahead of their turn; keep and tell of each in order.

    Files of another kind in a folder are passed over and said to be. `only` leaves out all others.
    """
    store = workplace.store.resolve()
    own = {store, store.with_name(f"{store.name}.wal"), store.with_name(f"{store.name}.tmp")}
    found = find(paths, only, own)
    files: list[Loaded] = []

    def take(file: str, ready: Ready) -> None:
        files.append(keep_one(file, ready))
        tell(files[-1], len(files), len(found.refused) + len(found.sources))

    for refusal in found.refused:
        take(refusal.file, partial(_itself, refusal))
    with Workers(enough_workers(len(found.sources))) as workers:
        prepared = in_batches(workers, partial(_prepare_at, prepare, workplace), found.sources)
        for source in found.sources:
            take(source.file, cache(lambda: next(prepared)))
    return [*files, *(Loaded(name, "passed over") for name in found.passed_over)]


def keep(store: Store, prepared: Prepared) -> Loaded:
    """Store what was prepared of one file, whole, and say what became of it."""
    try:
        if isinstance(prepared, FileRefused):
            raise prepared
        if isinstance(prepared, Register):
            outcome = store.add_register(prepared)
            notices = (*prepared.notices, *(stray.line for stray in store.strays(prepared)))
            return summarise_register(prepared.file, outcome, notices)
        before = store.stored_lab(prepared.report_id)
        return _told(summarise(prepared, store.add_report(prepared)), before)
    except FileRefused as refusal:
        return Loaded(refusal.file, "refused", refusal.message)


def _told(loaded: Loaded, before: str | None) -> Loaded:
    """Name the laboratory under which a report is stored, and the one it takes the place of."""
    if loaded.outcome == "known":
        return replace(loaded, lab=before)
    if before in (None, loaded.lab):
        return loaded
    return replace(loaded, notices=(f"the laboratory was {before} before", *loaded.notices))


def keep_alone(store_file: Path, prepared: Prepared) -> Loaded:
    """Open the store for one file only, so that others get their turn between two files."""
    with Store(store_file, adding=True) as store:
        return keep(store, prepared)


def enough_workers(files: int) -> int:
    """Tell how many reader processes pay: each takes about a second to start."""
    return max(1, min(4, os.cpu_count() or 1, (files + 1) // 2))


def _prepare_at(
    prepare: Prepare, workplace: Workplace, sources: Sequence[Source]
) -> tuple[Prepared, ...]:
    return prepare(sources, workplace)


def _itself(refusal: FileRefused) -> FileRefused:
    return refusal


def sum_up(workplace: Workplace, files: Sequence[Loaded]) -> LoadSummary:
    """Add what only the whole load can tell: repeats, what was amended, which samples have no lot."""
    with Store(workplace.store, read_only=True) as store:
        reports = store.reports()
        counted, sent_again = recount(files, reports)
        amended = amendments(store.amended(), files, reports)
        alike = of_one_number(reports, {f.report_id or "" for f in files if f.outcome in STORED})
        doubled = unordered(alike, store.results()) if alike.height else ()
        return LoadSummary(counted, store.unassigned(), amended, doubled, sent_again)
