"""Recognise the tables of a document: which cells are results and what says what they are.

Analytes' names are found by vocabulary. Where they run side by side the sheet is read as it is;
where they run one under the other it is read with rows and columns swapped, or as a list with one
result per line. A sheet that two readings fit is refused, naming both cells.
"""

from __future__ import annotations

import polars as pl

from pipeline.errors import FileRefused
from pipeline.readers import Readers
from pipeline.recognise.context import Surroundings, fixed_fields
from pipeline.recognise.facts import column_facts, letterhead, report_facts
from pipeline.recognise.fill_facts import fill_facts
from pipeline.recognise.find_tables import find_tables
from pipeline.recognise.footnotes import heed_footnotes
from pipeline.recognise.grid import Grid, Regions, read_grids
from pipeline.recognise.lists import list_frames
from pipeline.recognise.marks import find_marks, name_marks
from pipeline.recognise.roles import ROLES, named_by_lots, sheet_roles, unread_numbers
from pipeline.recognise.side_tables import SideTable, find_side_tables, without
from pipeline.recognise.statements import (
    Statements,
    dash_meaning,
    read_statements,
)
from pipeline.recognise.tables import Table, crossing_frames
from schemas.layout import Block, Recognised
from schemas.vocabulary import STAGES, squash


def recognise(
    cells: pl.DataFrame, file: str, readers: Readers, *, with_roles: bool = False
) -> Recognised:
    """Find the tables of results in Cells and what the document says around them.

    `roles` is filled only when asked for (sheet, row, col, role of every printed cell). Raises
    FileRefused when no table is found, or when two readings fit one sheet (both cells are named).
    """
    blocks: list[Block] = []
    facts: dict[str, str] = {}
    notices: list[str] = []
    roles: list[pl.DataFrame] = []
    cover: Statements | None = None
    sheets = read_grids(cells)
    beside = {sheet.sheet: find_side_tables(sheet, readers) for sheet in sheets}
    aside = [table for found in beside.values() for table in found]
    for sheet in sheets:
        grid = without(sheet, beside[sheet.sheet])
        tables = find_tables(grid, file, readers)
        taken = Regions(tuple(table.taken for table in tables))
        said = read_statements(grid, readers.names, taken)
        facts = {**report_facts(said), **facts}
        told, doubts = column_facts(grid.sheet, tables)
        facts = {**told, **facts}
        notices += doubts
        if "lab" not in facts and (name := letterhead(said, readers.names)):
            facts["lab"] = name
            notices.append(f'{grid.sheet}: laboratory taken from the letterhead: "{name}"')
        blocks += _blocks(grid, tables, said, cover, aside, readers)
        if with_roles:
            described = {place for table in beside[grid.sheet] for place in table.cells}
            roles.append(sheet_roles(sheet, tables, said, described))
        notices += unread_numbers(grid, tables, said)
        notices += [notice for table in tables for notice in name_marks(table, readers)]
        notices += [n for table in tables if (n := named_by_lots(table))]
        cover = cover or (None if tables else said)
    if not blocks:
        raise FileRefused(file, _nothing_found(cells))
    notices += _unknown_stages(blocks, readers)
    return Recognised(
        tuple(blocks),
        facts,
        _layout_name(blocks),
        pl.concat(roles) if roles else pl.DataFrame(schema=ROLES),
        tuple(notices),
    )


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
        "with the samples named beside them; see what was made of each cell: cinderlot preview"
    )


def _blocks(
    grid: Grid,
    tables: list[Table],
    said: Statements,
    cover: Statements | None,
    aside: list[SideTable],
    readers: Readers,
) -> list[Block]:
    dash = dash_meaning(said, readers.notations)
    around = Surroundings(grid, tables, said, cover)
    blocks = []
    for number, table in enumerate(tables):
        fixed = fixed_fields(around, number, readers)
        lines, columns = list_frames(table) if _is_list(table) else crossing_frames(table)
        lines, columns = fill_facts(lines, columns, fixed, aside, readers)
        swapped = table.grid.swapped
        blocks.append(
            Block(
                grid.sheet,
                table.layout,
                swapped,
                lines,
                columns,
                fixed,
                table.header_cell,
                dash,
                (*find_marks(table, readers), *heed_footnotes(table, said, readers)),
            )
        )
    return blocks


def _is_list(table: Table) -> bool:
    return "analyte" in table.columns.fields and table.layout == "one_result_per_row"


def _layout_name(blocks: list[Block]) -> str:
    """Name the document's geometry: one layout, or stacked panels when a sheet has several tables."""
    sheets = [b.sheet for b in blocks]
    names = sorted({b.layout for b in blocks})
    if len(sheets) != len(set(sheets)) and names != ["one_result_per_row"]:
        return "stacked_panels"
    return " + ".join(names)
