"""Recognise the tables of a document: which cells are results and what says what they are.

Analytes' names are found by vocabulary. Where they run side by side the sheet is read as it is;
where they run one under the other it is read with rows and columns swapped, or as a list with one
result per line. A sheet that two readings fit is refused, naming both cells.
"""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from pipeline.dates import date_patterns
from pipeline.errors import FileRefused
from pipeline.languages import language_of
from pipeline.readers import Readers
from pipeline.recognise.batches import leave_batches, leave_stated_batch
from pipeline.recognise.by_layout import OwnReading, read_by_layout, refuse_contradiction
from pipeline.recognise.clues import gather_clues
from pipeline.recognise.context import Surroundings, fixed_fields
from pipeline.recognise.equivalents import say_equivalents, sheets_of_notes, texts_around
from pipeline.recognise.facts import letterhead
from pipeline.recognise.fill_facts import fill_facts
from pipeline.recognise.find_tables import find_tables
from pipeline.recognise.first_lines import first_line_notice
from pipeline.recognise.footnotes import heed_footnotes
from pipeline.recognise.form_letters import heed_letters, letters_explained
from pipeline.recognise.found import Found
from pipeline.recognise.glimpse import glimpse, with_unread
from pipeline.recognise.grid import Grid, Regions, read_grids
from pipeline.recognise.headers import named_cells
from pipeline.recognise.legends import dash_meaning
from pipeline.recognise.lists import list_frames
from pipeline.recognise.marks import Margins, find_marks, margins, name_marks
from pipeline.recognise.method_forms import say_forms_of_methods
from pipeline.recognise.namesakes import names_down
from pipeline.recognise.roles import (
    ROLES,
    dated_names,
    named_by_lot,
    named_by_lots,
    sheet_roles,
    unlabelled,
    unread_numbers,
)
from pipeline.recognise.series import heed_series
from pipeline.recognise.side_tables import SideTable, find_side_tables, without
from pipeline.recognise.statements import read_statements
from pipeline.recognise.table_frames import crossing_frames
from pipeline.recognise.tables import Table
from schemas.layout import Block, OwnLayout, Recognised, load_layouts
from schemas.vocabulary import STAGES, squash

__all__ = ["gather_clues", "glimpse", "recognise", "with_unread"]


def recognise(
    cells: pl.DataFrame,
    file: str,
    readers: Readers,
    layouts: Sequence[OwnLayout] = (),
    *,
    with_roles: bool = False,
) -> Recognised:
    """Find the tables of results in Cells and what the document says around them.

    A sheet that one of the user's own `layouts` fits is read with that layout alone. `roles` is
    filled only when asked for (sheet, row, col, role of every printed cell). Raises FileRefused
    when no table is found, or when two readings fit one sheet (both cells are named).
    """
    sheets = read_grids(cells)
    plain = tuple(sheet for sheet in sheets if not named_cells(sheet, readers))
    found = Found(
        elsewhere=sheets_of_notes(plain, readers), lent=letters_explained(plain, readers.names)
    )
    beside = {sheet.sheet: find_side_tables(sheet, readers) for sheet in sheets}
    aside = [table for tables in beside.values() for table in tables]
    for sheet in sheets:
        if own := read_by_layout(sheet, layouts, file, readers):
            _take_own(found, sheet, own, file, readers, with_roles)
        else:
            _take_sheet(found, sheet, beside[sheet.sheet], aside, file, readers, with_roles)
    if not found.blocks:
        raise FileRefused(file, _nothing_found(cells))
    blocks, doubts = found.with_namesakes(found.with_legends(readers))
    texts = cells.filter(pl.col("kind") == "text")["text"].unique()
    return Recognised(
        blocks,
        found.stated | found.facts,
        _layout_name(found.blocks),
        pl.concat(found.roles) if found.roles else pl.DataFrame(schema=ROLES),
        (*found.notices, *doubts, *_unknown_stages(found.blocks, readers)),
        language=language_of(texts),
        date_patterns=date_patterns(texts),
    )


def _take_own(
    found: Found, sheet: Grid, own: OwnReading, file: str, readers: Readers, with_roles: bool
) -> None:
    """Take a sheet as the user's own layout reads it."""
    said = read_statements(sheet, readers.names, own.taken)
    found.hear(said, sheet.sheet, [])
    refuse_contradiction(own, said, file, readers)
    found.blocks += own.blocks_where(dash_meaning(said.texts, readers.notations))
    found.notices += own.notices(said, readers)
    found.roles += [own.roles(said)] if with_roles else []
    found.stated |= {"lab": own.layout.lab} if own.layout.lab else {}


def _take_sheet(
    found: Found,
    sheet: Grid,
    beside: list[SideTable],
    aside: list[SideTable],
    file: str,
    readers: Readers,
    with_roles: bool,
) -> None:
    """Take the tables of a sheet that vocabulary finds; `beside` are its lists of other facts."""
    grid = without(sheet, beside)
    readers = heed_letters(grid, found.letters(grid, readers), heed_series(grid, readers))
    tables = find_tables(grid, file, readers)
    said = read_statements(grid, readers.names, Regions(tuple(table.taken for table in tables)))
    said, left = leave_stated_batch(said, tables, readers)
    found.notices += [*left, *(n for table in tables for n in leave_batches(table, readers))]
    found.hear(said, grid.sheet, tables)
    if "lab" not in found.facts and (name := letterhead(said, readers.names)):
        found.facts["lab"] = name
        found.notices.append(f'{grid.sheet}: laboratory taken from the letterhead: "{name}"')
    beside_results = margins(tables, readers)
    around = Surroundings(grid, tables, said, found.cover, found.elsewhere)
    found.blocks += _blocks(around, aside, beside_results, readers)
    found.named += [names_down(table) for table in tables]
    if with_roles:
        described = {place for table in beside for place in table.cells}
        found.roles.append(sheet_roles(sheet, tables, said, described))
    found.notices += unread_numbers(grid, tables, said)
    found.notices += [notice for margin in beside_results for notice in name_marks(margin)]
    found.notices += [n for table in tables if (n := named_by_lots(table))]
    for table in tables:
        found.notices += first_line_notice(grid.sheet, table.lines.named)
    found.notices += [notice for table in tables for notice in unlabelled(table)]
    found.notices += [notice for table in tables for notice in dated_names(table)]
    found.cover = found.cover or (None if tables else said)


def _unknown_stages(blocks: list[Block], readers: Readers) -> list[str]:
    """Name the stages of winemaking that no vocabulary knows: they would be lost in silence."""
    texts = {b.fixed["stage"] for b in blocks if "stage" in b.fixed}
    for block in blocks:
        if "raw_stage" in block.lines.columns:
            texts |= set(block.lines["raw_stage"].drop_nulls())
    known = readers.names.vocabulary.stages
    unknown = sorted(text for text in texts if squash(text) not in known)
    return [f'stage "{text}" is not known; write one of {", ".join(STAGES)}' for text in unknown]


def _nothing_found(cells: pl.DataFrame) -> str:
    first = cells.row(0, named=True)
    return (
        f"no table of results was recognised (first cell: {first['sheet']}, row {first['row']}, "
        f'"{first["text"][:40]}"); names of analytes must stand side by side or one under the other, '
        "with the samples named beside them; see each cell, and draft a layout: cinderlot preview --draft"
    )


def _blocks(
    around: Surroundings, aside: list[SideTable], beside: list[Margins], readers: Readers
) -> list[Block]:
    said = around.said
    dash = dash_meaning(said.texts, readers.notations)
    blocks = []
    for number, table in enumerate(around.tables):
        fixed = fixed_fields(around, number, readers)
        lines, columns = list_frames(table) if _is_list(table) else crossing_frames(table)
        lines, columns = fill_facts(lines, columns, fixed, aside, readers)
        fixed = named_by_lot(fixed, lines, columns)
        lines, contrary = say_forms_of_methods(lines, columns, fixed, readers)
        texts = texts_around(around, number, readers.names)
        lines, columns, unclear = say_equivalents(lines, columns, texts, readers.names)
        swapped = table.grid.swapped
        blocks.append(
            Block(
                around.grid.sheet,
                table.layout,
                swapped,
                lines,
                columns,
                fixed,
                table.header_cell,
                dash,
                (
                    *find_marks(beside[number]),
                    *heed_footnotes(table, said, readers),
                    *unclear,
                    *contrary,
                ),
                head_lines=table.head_lines,
                side_columns=table.side_columns,
                titles=tuple(table.titles),
            )
        )
    return blocks


def _is_list(table: Table) -> bool:
    return "analyte" in table.columns.fields and table.layout == "one_result_per_row"


def _layout_name(blocks: list[Block]) -> str:
    """Name the document's geometry: one layout, or stacked panels when a sheet has several tables."""
    sheets = [b.sheet for b in blocks]
    names = sorted({b.layout for b in blocks})
    if set(names) - {layout.name for layout in load_layouts()}:
        return " + ".join(names)
    if len(sheets) != len(set(sheets)) and names != ["one_result_per_row"]:
        return "stacked_panels"
    return " + ".join(names)
