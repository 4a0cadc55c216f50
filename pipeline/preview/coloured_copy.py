"""Write a copy of a report in which each cell has the colour, the letter and the story of its role."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import polars as pl
from openpyxl import Workbook
from openpyxl.cell import Cell, MergedCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.errors import WrongUse
from pipeline.preview.sight import ROLES, Sight, complete
from pipeline.preview.wording import describe
from pipeline.whole_files import replace_whole

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_FORBIDDEN = re.compile(r"[\[\]:*?/\\]")
_SIDE = Side("medium", color="333333")
_STRONG = Border(_SIDE, _SIDE, _SIDE, _SIDE)
_MOST_ROWS, _MOST_COLUMNS, _MOST_TEXT = 1_048_576, 16_384, 32_767
_TOLD = {"value", "held", "qc", "absent", "out of scope", "unknown", "unread"}
_STARRED = {"held", "unknown"}
_RUNS_ON = {"title", "metadata", "note", "unused"}
_PAGE_CHARACTERS = 200  # of the usual size, on A4 across, shrunk to some three fifths


def refuse_existing(path: Path, ending: str) -> None:
    """Raise WrongUse when a file is there already, or its name has another ending."""
    if path.suffix.lower() != ending:
        raise WrongUse(f"{path}: expected a name that ends in {ending}.")
    if path.exists():
        raise WrongUse(f"{path} is there already and is not overwritten; give a new name.")


def write_copy(sights: Sequence[Sight], path: Path) -> None:
    """Write the sheets of the files seen into one new workbook, a legend first.

    Texts are as shown; nothing is calculated. Never overwrites a file.
    """
    refuse_existing(path, ".xlsx")
    book = Workbook()
    legend = book.worksheets[0]
    legend.title = "legend of roles"
    sheets: list[tuple[str, str, str]] = []
    for sight in sights:
        for (sheet,), cells in sight.cells.group_by("sheet", maintain_order=True):
            name = _title(str(sheet), book.sheetnames)
            _copy_sheet(book.create_sheet(name), complete(cells), sight.file)
            sheets.append((name, sight.file, str(sheet)))
    _write_legend(legend, sights, sheets)
    book.properties.creator = "cinderlot"
    replace_whole(path, book.save)


def _title(sheet: str, taken: list[str]) -> str:
    """Give a sheet a name that a workbook accepts and that is not taken."""
    plain = _FORBIDDEN.sub("_", sheet).strip("'") or "sheet"
    used, title, number = {name.casefold() for name in taken}, plain[:31], 1
    while title.casefold() in used:
        number += 1
        title = f"{plain[: 28 - len(str(number))]} ({number})"
    return title


def _copy_sheet(sheet: Worksheet, cells: pl.DataFrame, file: str) -> None:
    rows, columns = cells["row"].max(), cells["col"].max()
    if int(str(rows)) > _MOST_ROWS or int(str(columns)) > _MOST_COLUMNS:
        raise WrongUse(f"{file}: the sheet is larger than a workbook can hold; no copy is written.")
    widths: dict[int, int] = {}
    places = set(cells.filter(pl.col("text") != "").select("row", "col").iter_rows())
    for cell in cells.iter_rows(named=True):
        shown = sheet.cell(cell["row"], cell["col"])
        _write_cell(shown, cell)
        # A long text runs on over empty cells, as titles do.
        is_free = (cell["row"], cell["col"] + 1) not in places and cell["col"] < int(str(columns))
        width = 0 if is_free and cell["role"] in _RUNS_ON else len(cell["text"] or "") + 6
        widths[cell["col"]] = max(widths.get(cell["col"], 8), width)
    for cell in cells.filter(pl.max_horizontal("row_span", "col_span") > 1).iter_rows(named=True):
        down, right = (max(cell[n] or 1, 1) - 1 for n in ("row_span", "col_span"))
        sheet.merge_cells(None, cell["row"], cell["col"], cell["row"] + down, cell["col"] + right)
    for col, width in widths.items():
        sheet.column_dimensions[get_column_letter(col)].width = min(width, 40)
    _fit_on_pages(sheet)
    sheet.print_options.headings = True
    if cells["hidden"].fill_null(False).all():
        sheet.sheet_properties.tabColor = "999999"


def _fit_on_pages(sheet: Worksheet) -> None:
    """Print the sheet's width on as many pages beside each other as stay readable."""
    width = sum(column.width for column in sheet.column_dimensions.values())
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
    sheet.page_setup.fitToWidth = max(-(-int(width) // _PAGE_CHARACTERS), 1)
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def _write_cell(shown: Any, cell: dict[str, Any]) -> None:
    role = ROLES[cell["role"]]
    put_text(shown, cell["text"] or "")
    hidden = "~" if cell["hidden"] else ""
    letter = hidden if cell["role"] == "unused" else f"{role.letter}{hidden}"
    shown.number_format = f'@"  [{letter}]"' if letter else "@"
    shown.font = Font(
        name="Calibri", bold=cell["role"] in _STARRED, italic=bool(hidden), color="000000"
    )
    if role.fill:
        shown.fill = PatternFill("solid", fgColor=role.fill)
    if cell["role"] in _STARRED:
        shown.border = _STRONG
    if cell["role"] in _TOLD:
        text = ILLEGAL_CHARACTERS_RE.sub("", describe(cell))
        shown.comment = Comment(text, "cinderlot", height=40 + 18 * _lines(text), width=320)


def _lines(text: str) -> int:
    return sum(1 + len(line) // 48 for line in text.splitlines())


def put_text(shown: Cell | MergedCell, text: str) -> None:
    """Set a cell to a text that stays text, whatever sign it starts with."""
    plain = ILLEGAL_CHARACTERS_RE.sub("", text)[:_MOST_TEXT]
    shown.value = plain
    shown.data_type = "s"
    if plain.startswith(_FORMULA_STARTS):
        shown.quotePrefix = True


def _write_legend(
    sheet: Worksheet, sights: Sequence[Sight], sheets: list[tuple[str, str, str]]
) -> None:
    """Explain the letters and colours, and say of each file what it was recognised as."""
    lines: list[tuple[str, str, str]] = [("letter", "role", "meaning")]
    lines += [(role.letter, name, role.meaning) for name, role in ROLES.items()]
    lines += [("~", "hidden", "hidden in the original; here it is shown"), ("", "", "")]
    for sight in sights:
        lines.append(("file", sight.file, sight.refusal or f"recognised as {sight.layout}"))
        lines += [("", "", notice) for notice in sight.notices]
    lines += [("sheet", name, f"{file}, sheet {original}") for name, file, original in sheets]
    for number, line in enumerate(lines, start=1):
        for place, text in enumerate(line, start=1):
            put_text(sheet.cell(number, place), text)
            sheet.cell(number, place).alignment = Alignment(vertical="top", wrap_text=place == 3)
        role = ROLES.get(line[1]) if number > 1 and line[0] else None
        if role and role.letter == line[0] and role.fill:
            sheet.cell(number, 1).fill = PatternFill("solid", fgColor=role.fill)
            sheet.cell(number, 2).fill = PatternFill("solid", fgColor=role.fill)
    for letter, width in (("A", 8), ("B", 34), ("C", 90)):
        sheet.column_dimensions[letter].width = width
        sheet[f"{letter}1"].font = Font(name="Calibri", bold=True)
    _fit_on_pages(sheet)
