"""Draw sheets as text and save them as files, in memory."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from datetime import date, datetime
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

Cell = str | float | int | date | None


def rows(drawing: str) -> list[list[Cell]]:
    """Read a drawn sheet: a line per row, cells parted by `|`, an empty line for an empty row.

    A number is typed as a number, `d:2025-10-01` as a date, `'12.3` as text; `=` starts a formula.
    """
    return [[_cell(c.strip()) for c in line.split("|")] for line in _lines(drawing)]


def _lines(drawing: str) -> list[str]:
    return drawing.strip("\n").splitlines()


def _cell(text: str) -> Cell:
    if not text:
        return None
    if text.startswith("'"):
        return text[1:]
    if text.startswith("d:"):
        return date.fromisoformat(text[2:])
    try:
        return int(text) if text.lstrip("-").isdecimal() else float(text)
    except ValueError:
        return text


def fill(sheet: Worksheet, drawn: Iterable[Iterable[Any]], top: int = 1, left: int = 1) -> None:
    """Write rows into a sheet from a place on."""
    for i, row in enumerate(drawn):
        for j, content in enumerate(row):
            if content is not None:
                at = sheet.cell(top + i, left + j)
                at.value = content
                if isinstance(content, date) and not isinstance(content, datetime):
                    at.number_format = "yyyy-mm-dd"


def book(
    *sheets: tuple[str, str],
    merge: Iterable[str] = (),
    dress: Callable[[Worksheet], None] | None = None,
) -> bytes:
    """Save drawn sheets as an .xlsx; `merge` and `dress` work on the first one."""
    workbook = openpyxl.Workbook()
    workbook.remove(workbook.active)
    for title, drawing in sheets:
        fill(workbook.create_sheet(title), rows(drawing))
    first = workbook.worksheets[0]
    for area in merge:
        first.merge_cells(area)
    if dress:
        dress(first)
    return saved(workbook)


def saved(workbook: Any) -> bytes:
    """The bytes of a workbook."""
    buffer = io.BytesIO()
    workbook.save(buffer)
    return buffer.getvalue()
