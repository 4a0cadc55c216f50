"""Write an empty register workbook to fill in."""

from __future__ import annotations

from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.errors import WrongUse
from pipeline.register.sheets import NOTES, SHEETS, Column, Sheet

_LAST_ROW = 5000
_HEAD = PatternFill("solid", fgColor="E7E2DA")


def _drop_down(column: Column, sheet: Sheet) -> DataValidation | None:
    if column.words:
        choice = DataValidation("list", formula1=f'"{",".join(column.words)}"', allow_blank=True)
    elif column.name in ("lot", "from_lot", "to_lot") and sheet.name != "lots":
        choice = DataValidation("list", formula1=f"lots!$A$2:$A${_LAST_ROW}", allow_blank=True)
        choice.showErrorMessage = False
        return choice
    else:
        return None
    choice.showErrorMessage = True
    choice.error = f"Write one of: {', '.join(column.words)}"
    return choice


def _head_column(page: Worksheet, sheet: Sheet, number: int, column: Column) -> None:
    letter = get_column_letter(number)
    head = page.cell(1, number, column.name)
    head.font, head.fill = Font(bold=True), _HEAD
    page.column_dimensions[letter].width = max(12, len(column.name) + 3)
    if column.kind == "date":
        page.column_dimensions[letter].number_format = "yyyy-mm-dd"
    choice = _drop_down(column, sheet)
    if choice is not None:
        page.add_data_validation(choice)
        choice.add(f"{letter}2:{letter}{_LAST_ROW}")


def _draw_sheet(book: Workbook, sheet: Sheet) -> None:
    page = book.create_sheet(sheet.name)
    page.freeze_panes = "A2"
    for number, column in enumerate(sheet.columns, start=1):
        _head_column(page, sheet, number, column)


def _draw_notes(book: Workbook) -> None:
    page = book.create_sheet(NOTES)
    page.append(["sheet", "column", "meaning", "needed", "accepted words"])
    for sheet in SHEETS:
        page.append([sheet.name, "", sheet.means])
        for column in sheet.columns:
            needed = "yes" if column.needed else ""
            page.append(["", column.name, column.means, needed, ", ".join(column.words)])
    for letter, width in zip("ABCDE", (15, 20, 48, 8, 70), strict=True):
        page.column_dimensions[letter].width = width
        page[f"{letter}1"].font = Font(bold=True)
    for row in page.iter_rows(min_row=2):
        row[4].alignment = Alignment(wrap_text=True, vertical="top")


def register_template(path: Path) -> None:
    """Write an empty register: a sheet each with headings, drop-downs, and a sheet of notes.

    Raises WrongUse when the file exists: a filled register is never overwritten.
    """
    if path.exists():
        raise WrongUse(f"{path}: there is a file already; move it away or name another")
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in SHEETS:
        _draw_sheet(book, sheet)
    _draw_notes(book)
    book.save(path)
