"""Spoil a workbook in one place: move it, rename or empty a cell, drop a unit, swap two columns."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import openpyxl
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.worksheet.worksheet import Worksheet

from corpus.books import saved

STRANGE = "Quux-7"
_RESULTS = re.compile(r"[<>≤]|[Nn][Dd]$|BLQ$|tr\.?$")
# Under another name these lines and columns could be a sample's; nothing would tell.
_ALSO_NAMES = {"LOD", "LOQ"}
_DECIMAL = re.compile(r"[<> ]*\d+[.,]\d+")
_UNIT = re.compile(r"[(\[]?\s*\b[munµ]g/(?:L|kg)\s*[)\]]?")
Spoil = Callable[[Worksheet], None]


def spoilt(content: bytes, spoil: Spoil) -> bytes:
    """Save the workbook anew, its first sheet spoilt."""
    workbook = openpyxl.load_workbook(io.BytesIO(content), rich_text=True)
    spoil(workbook.worksheets[0])
    return saved(workbook)


def moved(rows: int, columns: int) -> Spoil:
    """Push the whole sheet down and to the right, its merged cells with it."""

    def spoil(sheet: Worksheet) -> None:
        merged = [str(area) for area in sheet.merged_cells.ranges]
        for area in merged:
            sheet.unmerge_cells(area)
        hidden = [r for r, line in sheet.row_dimensions.items() if line.hidden]
        covered = [c for c, line in sheet.column_dimensions.items() if line.hidden]
        if rows:
            sheet.insert_rows(1, rows)
        if columns:
            sheet.insert_cols(1, columns)
        for row in hidden:
            sheet.row_dimensions[row].hidden = False
        for letter in covered:
            sheet.column_dimensions[letter].hidden = False
        for row in hidden:
            sheet.row_dimensions[row + rows].hidden = True
        for letter in covered:
            place = get_column_letter(column_index_from_string(letter) + columns)
            sheet.column_dimensions[place].hidden = True
        for area in merged:
            place = CellRange(area)
            place.shift(col_shift=columns, row_shift=rows)
            sheet.merge_cells(place.coord)

    return spoil


def written(cell: str, text: str | None) -> Spoil:
    """Write something else into one cell."""

    def spoil(sheet: Worksheet) -> None:
        sheet[cell].value = text

    return spoil


def swapped(first: int, second: int) -> Spoil:
    """Swap two whole columns."""

    def spoil(sheet: Worksheet) -> None:
        for row in range(1, sheet.max_row + 1):
            one, two = sheet.cell(row, first), sheet.cell(row, second)
            one.value, two.value = two.value, one.value

    return spoil


def inserted(row: int = 0, column: int = 0) -> Spoil:
    """Insert one empty row or column."""

    def spoil(sheet: Worksheet) -> None:
        if row:
            sheet.insert_rows(row)
        else:
            sheet.insert_cols(column)

    return spoil


def removed(row: int = 0, column: int = 0) -> Spoil:
    """Remove one row or column."""

    def spoil(sheet: Worksheet) -> None:
        if row:
            sheet.delete_rows(row)
        else:
            sheet.delete_cols(column)

    return spoil


def repeated(column: int) -> Spoil:
    """Write a column a second time, right behind itself."""

    def spoil(sheet: Worksheet) -> None:
        sheet.insert_cols(column + 1)
        for row in range(1, sheet.max_row + 1):
            one, two = sheet.cell(row, column), sheet.cell(row, column + 1)
            two.value, two.number_format = one.value, one.number_format

    return spoil


def other_mark(cell: str) -> Spoil:
    """Print the number of one cell as text with the other decimal mark."""

    def spoil(sheet: Worksheet) -> None:
        sheet[cell].value = str(sheet[cell].value).translate(str.maketrans(".,", ",."))

    return spoil


def head_below(lines: int) -> Spoil:
    """Move the first lines of a sheet, such as those on the report itself, below everything."""

    def spoil(sheet: Worksheet) -> None:
        first = [[c.value for c in row] for row in sheet.iter_rows(max_row=lines)]
        sheet.delete_rows(1, lines)
        for row, cells in enumerate(first, start=sheet.max_row + 2):
            for column, content in enumerate(cells, start=1):
                sheet.cell(row, column).value = content

    return spoil


def every_rearrangement(content: bytes) -> Iterator[tuple[str, Spoil]]:
    """List the ways to leave all cells as they are, but elsewhere, twice, or in other figures."""
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]
    numbers = [c for row in sheet for c in row if _DECIMAL.fullmatch(str(c.value))]
    for cell in numbers:
        yield f"other mark in {cell.coordinate} {cell.value}", other_mark(cell.coordinate)
    if not sheet.merged_cells.ranges:
        yield "remove row 1", removed(row=1)
        for column in range(1, sheet.max_column + 1):
            yield f"repeat column {column}", repeated(column)
        for column in range(1, sheet.max_column):
            yield f"swap columns {column} and {column + 1}", swapped(column, column + 1)
        for lines in range(1, min(4, sheet.max_row - 2)):
            yield f"move {lines} lines below", head_below(lines)


def every_way(content: bytes) -> Iterator[tuple[str, Spoil]]:
    """List the ways to spoil one place of a sheet, each with a name."""
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]
    printed = {c.coordinate: c.value for row in sheet for c in row if isinstance(c.value, str)}
    words = {cell: text for cell, text in printed.items() if not _RESULTS.match(text)}
    for cell, text in words.items():
        if text not in _ALSO_NAMES:
            yield f"rename {cell} {text}", written(cell, STRANGE)
        yield f"empty {cell} {text}", written(cell, None)
        if _UNIT.search(text):
            yield f"drop the unit of {cell} {text}", written(cell, _UNIT.sub("", text) or None)
    if not sheet.merged_cells.ranges:
        for row in range(2, sheet.max_row + 1):
            yield f"insert row {row}", inserted(row=row)
            yield f"remove row {row}", removed(row=row)
        for column in range(2, sheet.max_column + 1):
            yield f"insert column {column}", inserted(column=column)
            yield f"remove column {column}", removed(column=column)


def respelt(content: bytes, kind: str) -> Iterator[tuple[str, Callable[[], bytes]]]:
    """List the texts that can be renamed, or the units that can be dropped, and how to do so.

    The workbook is opened once: each way is undone before the next one is asked for.
    """
    workbook = openpyxl.load_workbook(io.BytesIO(content), rich_text=True)
    for sheet in workbook.worksheets:
        for cell in (c for row in sheet for c in row if isinstance(c.value, str)):
            text = str(cell.value)
            if _RESULTS.match(text) or (
                text in _ALSO_NAMES if kind == "rename" else not _UNIT.search(text)
            ):
                continue
            new = STRANGE if kind == "rename" else _UNIT.sub("", text) or None
            yield (
                f"{sheet.title}!{cell.coordinate} {text}",
                partial(_saved_with, workbook, cell, new),
            )


def without_unit(text: str) -> str:
    """The text less every unit per litre or kilogram in it."""
    return _UNIT.sub("", text).strip()


def _saved_with(workbook: openpyxl.Workbook, cell: Any, text: str | None) -> bytes:
    printed, cell.value = cell.value, text
    content = saved(workbook)
    cell.value = printed
    return content


def every_heading(content: bytes, row: int) -> Iterator[tuple[str, Spoil]]:
    """List the ways to lose one heading of a line, or all of a kind: emptied, or not understood."""
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]
    printed = {c.coordinate: c.value for c in sheet[row] if isinstance(c.value, str)}
    for cell, text in printed.items():
        yield f"empty {cell} {text}", written(cell, None)
        if text not in _ALSO_NAMES:
            yield f"rename {cell} {text}", written(cell, STRANGE)
    for text in set(printed.values()):
        same = [cell for cell, other in printed.items() if other == text]
        if len(same) > 1:
            yield f"empty every {text}", _each(same, None)
            yield f"rename every {text}", _each(same, STRANGE)


def _each(cells: list[str], text: str | None) -> Spoil:
    def spoil(sheet: Worksheet) -> None:
        for cell in cells:
            sheet[cell].value = text

    return spoil
