"""Look at files through the first stages only, to see what each cell was taken for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

import polars as pl

from pipeline.errors import FileRefused
from pipeline.find import Source, find
from pipeline.flows.loading import enough_workers
from pipeline.flows.order import Workplace, assume_lab, draft, read_vocabulary, report_id
from pipeline.normalise import normalise
from pipeline.preview import Sight, with_roles
from pipeline.read import Document, read_cells
from pipeline.readers import Readers
from pipeline.recognise import gather_clues, glimpse, recognise, with_unread
from pipeline.register import is_register
from pipeline.tidy import tidy
from pipeline.validate import Judged, validate
from pipeline.workers import Workers
from schemas.layout import Clues, Recognised
from schemas.vocabulary import load_vocabulary

_OPEN = ["unread", "held", "unknown"]


def look(paths: Sequence[Path], workplace: Workplace) -> Iterator[Sight]:
    """See which role each cell of the files would have; nothing is stored."""
    found = find(paths)
    yield from (Sight(r.file, refusal=r.message) for r in found.refused)
    with Workers(enough_workers(len(found.sources))) as workers:
        for _, seen in workers.map(partial(_look, workplace=workplace), found.sources):
            yield Sight(seen.file, refusal=seen.message) if isinstance(seen, FileRefused) else seen


def _look(source: Source, workplace: Workplace) -> Sight:
    document = read_cells(source.read_bytes(), source.file)
    if is_register(document.cells):
        return _register(document, source, workplace)
    readers = read_vocabulary(workplace.settings.vocabulary)
    try:
        layouts = workplace.settings.own_layouts
        found = recognise(document.cells, source.file, readers, layouts, with_roles=True)
    except FileRefused as refusal:
        cells = with_roles(document.cells, glimpse(document.cells, readers))
        return Sight(
            source.file,
            cells,
            notices=document.notices,
            refusal=refusal.message,
            clues=_clues(document, cells, readers),
        )
    judged = _judge(document, assume_lab(found, workplace.lab), source, workplace)
    roles = with_unread(found.roles, document.cells, readers)
    cells = with_roles(document.cells, roles, judged)
    notices = (*document.notices, *found.notices)
    return Sight(source.file, cells, found.layout, notices, clues=_clues(document, cells, readers))


def _register(document: Document, source: Source, workplace: Workplace) -> Sight:
    """Show a register workbook: its cells have no roles, but it may be refused."""
    cells = with_roles(document.cells, pl.DataFrame(schema=_PLACE | {"role": pl.String()}))
    read = draft(source, workplace)
    refusal = read.message if isinstance(read, FileRefused) else None
    return Sight(source.file, cells, "a register, not a report", refusal=refusal)


def _clues(document: Document, cells: pl.DataFrame, readers: Readers) -> Clues | None:
    """Gather clues for the sheet in which most cells were not understood; null when none is."""
    counts = cells.filter(pl.col("role").is_in(_OPEN)).group_by("sheet", maintain_order=True).len()
    if counts.is_empty():
        return None
    sheet = str(counts.sort("len", descending=True, maintain_order=True)["sheet"].first())
    return gather_clues(document.cells, sheet, readers)


_PLACE = {"sheet": pl.String(), "row": pl.Int32(), "col": pl.Int32()}


def _judge(
    document: Document, recognised: Recognised, source: Source, workplace: Workplace
) -> pl.DataFrame:
    """Judge the values as a load would; a row per value cell: sheet, row, col and what became of it."""
    settings = workplace.settings
    readings = tidy(document.cells, recognised, report_id(source), source.file)
    readers = read_vocabulary(settings.vocabulary)
    judged = validate(normalise(readings, readers, settings), load_vocabulary(settings.vocabulary))
    places = readings.select("sheet", "cell", "row", "col")
    outcomes = pl.concat(_outcomes(judged), how="diagonal")
    return places.join(outcomes, on=["sheet", "cell"], how="left").drop("cell")


def _outcomes(judged: Judged) -> Iterator[pl.DataFrame]:
    place = ["sheet", "cell"]
    words = ["analyte", "form", "value", "lower", "upper", "unit", "qc_kind"]
    yield judged.stored.select(*place, "outcome", *words, sample="sample_id")
    yield judged.held.select(
        *place,
        "reason_code",
        "reason",
        "hint",
        outcome=pl.lit("held"),
        sample="raw_sample",
        analyte="raw_analyte",
    )
    yield judged.unused.select(*place, "outcome", sample="raw_sample", analyte="raw_analyte")
