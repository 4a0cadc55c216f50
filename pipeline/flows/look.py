"""Look at files through the first stages only, to see what each cell was taken for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

from pipeline.errors import FileRefused
from pipeline.find import Source, find
from pipeline.flows.loading import enough_workers
from pipeline.flows.order import Workplace, read_vocabulary
from pipeline.preview import Sight, with_roles
from pipeline.read import read_cells
from pipeline.recognise import recognise
from pipeline.workers import Workers


def look(paths: Sequence[Path], workplace: Workplace) -> Iterator[Sight]:
    """See which role each cell of the files would have; nothing is stored."""
    found = find(paths)
    yield from (Sight(r.file, refusal=r.message) for r in found.refused)
    with Workers(enough_workers(len(found.sources))) as workers:
        for _, seen in workers.map(partial(_look, workplace=workplace), found.sources):
            yield Sight(seen.file, refusal=seen.message) if isinstance(seen, FileRefused) else seen


def _look(source: Source, workplace: Workplace) -> Sight:
    document = read_cells(source.read_bytes(), source.file)
    try:
        readers = read_vocabulary(workplace.settings.vocabulary)
        recognised = recognise(document.cells, source.file, readers, with_roles=True)
    except FileRefused as refusal:
        return Sight(source.file, with_roles(document.cells), refusal=refusal.message)
    cells = with_roles(document.cells, recognised.roles)
    notices = (*document.notices, *recognised.notices)
    return Sight(source.file, cells, recognised.layout, notices)
