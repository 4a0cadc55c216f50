"""Write the review workbook: held values, groups of them, and what to do with both."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import polars as pl
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.digest.workbook import put
from pipeline.errors import WrongUse
from pipeline.review.given import TEACH
from pipeline.review.groups import groups
from pipeline.review.sheets import (
    COLUMNS,
    FROZEN_BEFORE,
    GROUPS,
    NOTES,
    STORE_MARK,
    VALUES,
    WORDS,
    Column,
)
from pipeline.whole_files import replace_whole
from schemas.settlements import DECISIONS
from schemas.vocabulary import FORMS, Vocabulary

_HEAD = PatternFill("solid", fgColor="E7E2DA")
_FILL_HEAD = PatternFill("solid", fgColor="F2CE8A")
_FILL = PatternFill("solid", fgColor="FFF6DC")
_BOLD = Font(name="Calibri", size=11, bold=True)
_EDGE = Side("thin", color="D8C79A")
_LINE = Border(bottom=Side("hair", color="B9B2A6"))
_BOX = Border(left=_EDGE, right=_EDGE, top=_EDGE, bottom=_EDGE)
_TOP = Alignment(vertical="top", wrap_text=True)
_LINE_POINTS, _MOST_LINES = 15, 6
_PAGE_CHARACTERS = 215  # of the usual size, on A4 across, shrunk to some three fifths
_ADVICE = (
    "Each line of the sheet held values is a value of a laboratory report that cinderlot did not "
    "take for certain. Fill in the yellow cells; leave the others as they are.",
    "correct: say what is right (corrected value, unit, analyte, form or sample; whatever is left "
    "empty stays as printed; of values that are replicates write yes under replicate; of a number "
    "whose unit slipped the right unit or value, or the factor that its hint suggests). confirm: "
    "the value is right as printed, although its unit looked "
    "wrong. dismiss: the value shall never be used. ask the laboratory: it stays "
    "open until you decide again.",
    "Every decision needs your name under who. A line that is left empty stays open.",
    "A line of the sheet groups settles all of its values at once. A decision on a value's own "
    "line goes before that of its group.",
    "A remark, limit or uncertainty that stands beside the value in the report still counts. Write "
    "the whole value, such as <0.5.",
    "The printed text never changes, and neither do the counts of the report: a correction is a "
    "row of its own that points at the cell, with your name and the day.",
    "To have the next file laid out alike read at once, write layout under teach on the lines (or "
    "groups) of its sheet that say what is right: analyte, unit, form, sample or matrix. The sheet is "
    "read once more with the new layout, and it is kept only where every other cell stays as it is.",
    "Sort whole lines only, and keep the headings. Columns may be moved, lines may be deleted.",
    "Then: cinderlot held --apply FILE. Lines that cannot be used are named and left open; the "
    "others are stored. Take a decision back with: cinderlot held --undo held_id.",
)


def write_review(
    path: Path, values: pl.DataFrame, store_id: str, vocabulary: Vocabulary, at: datetime
) -> None:
    """Write held values (with their group) into a new workbook, whole or not at all.

    Raises WrongUse when the file exists: a filled workbook is never overwritten.
    """
    if path.exists():
        raise WrongUse(f"{path} is there already; move it away or name another file.")
    book = Workbook()
    book.remove(book.worksheets[0])
    units = sorted({u.name for u in vocabulary.units.values()})
    words = {
        "analyte": list(vocabulary.analytes),
        "unit": units,
        "matrix": list(vocabulary.matrix_words),
    }
    _draw(book.create_sheet(VALUES), COLUMNS[VALUES], values, words)
    _draw(book.create_sheet(GROUPS), COLUMNS[GROUPS], groups(values), words)
    _draw_notes(book.create_sheet(NOTES), store_id, at)
    _draw_words(book.create_sheet(WORDS), words)
    book.properties.creator = "cinderlot"
    book.properties.created = at.replace(tzinfo=None)
    replace_whole(path, book.save)


def _draw(
    page: Worksheet, columns: Sequence[Column], rows: pl.DataFrame, words: dict[str, list[str]]
) -> None:
    last = max(rows.height + 1, 2)
    for place, column in enumerate(columns, start=1):
        letter = get_column_letter(place)
        head = page.cell(1, place)
        put(head, column.name)
        head.font, head.alignment = _BOLD, _TOP
        head.fill = _FILL_HEAD if column.is_filled_in else _HEAD
        page.column_dimensions[letter].width = column.width + 2
        if column.is_filled_in and rows.height:
            _offer(page, column, f"{letter}2:{letter}{last}", words)
    for line, row in enumerate(rows.iter_rows(named=True), start=2):
        _draw_line(page, line, columns, row)
    frozen = [c.name for c in columns].index(FROZEN_BEFORE[page.title]) + 1
    page.freeze_panes = f"{get_column_letter(frozen)}2"
    page.auto_filter.ref = f"A1:{get_column_letter(len(columns))}{last}"
    _fit_print(page, get_column_letter(frozen - 1))


def _fit_width(page: Worksheet, pages: int) -> None:
    page.page_setup.orientation, page.page_setup.paperSize = "landscape", page.PAPERSIZE_A4
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = pages, 0


def _fit_print(page: Worksheet, last_title: str) -> None:
    """Print on as many pages beside each other as stay readable, each with the first columns."""
    widths = [size.width for size in page.column_dimensions.values()]
    again = sum(widths[: column_index_from_string(last_title)])
    _fit_width(page, -(-int(sum(widths) - again) // int(_PAGE_CHARACTERS - again)))
    page.print_title_rows, page.print_title_cols = "1:1", f"A:{last_title}"


def _draw_line(
    page: Worksheet, line: int, columns: Sequence[Column], row: dict[str, object]
) -> None:
    most = 1
    for place, column in enumerate(columns, start=1):
        cell = page.cell(line, place)
        cell.alignment = _TOP
        if column.source is None:
            cell.fill, cell.border = _FILL, _BOX
            continue
        cell.border = _LINE
        value = row[column.source]
        put(cell, value)
        most = max(most, _lines(str(value or ""), column.width))
    page.row_dimensions[line].height = _LINE_POINTS * min(most, _MOST_LINES)


def _lines(text: str, width: int) -> int:
    return sum(1 + max(len(line) - 1, 0) // width for line in text.split("\n"))


def _offer(page: Worksheet, column: Column, cells: str, words: dict[str, list[str]]) -> None:
    short = {"decision": list(DECISIONS), "form": list(FORMS), "teach": list(TEACH)}
    if column.name in short:
        choice = DataValidation("list", formula1=f'"{",".join(short[column.name])}"')
        choice.showErrorMessage = True
        choice.error = f"Write one of: {', '.join(short[column.name])}"
    elif column.name in words:
        letter = get_column_letter(list(words).index(column.name) + 1)
        choice = DataValidation(
            "list", formula1=f"{WORDS}!${letter}$2:${letter}${len(words[column.name]) + 1}"
        )
        # Other spellings are understood too, and checked when the workbook is brought back.
        choice.showErrorMessage = False
    else:
        return
    choice.allow_blank = True
    page.add_data_validation(choice)
    choice.add(cells)


def _draw_notes(page: Worksheet, store_id: str, at: datetime) -> None:
    page.column_dimensions["A"].width, page.column_dimensions["B"].width = 40, 100
    _fit_width(page, 1)
    rows = [("what to do" if n == 0 else "", t) for n, t in enumerate(_ADVICE)]
    told = [(STORE_MARK, store_id), ("taken out (UTC)", f"{at:%Y-%m-%d %H:%M}")]
    meant = [
        (f"{sheet}: {c.name}" + (" (fill in)" if c.is_filled_in else ""), c.means)
        for sheet, columns in COLUMNS.items()
        for c in columns
        if sheet == VALUES or c.name not in {v.name for v in COLUMNS[VALUES]}
    ]
    for line, (name, text) in enumerate([*rows, *meant, *told], start=1):
        for place, said in enumerate((name, text), start=1):
            cell = page.cell(line, place)
            put(cell, said)
            cell.alignment = _TOP
        page.cell(line, 1).font = _BOLD
        page.row_dimensions[line].height = _LINE_POINTS * max(_lines(text, 95), _lines(name, 38))


def _draw_words(page: Worksheet, words: dict[str, list[str]]) -> None:
    _fit_width(page, 1)
    for place, (name, listed) in enumerate(words.items(), start=1):
        page.column_dimensions[get_column_letter(place)].width = 38
        for line, word in enumerate([name, *listed], start=1):
            put(page.cell(line, place), word)
        page.cell(1, place).font = _BOLD
    page.freeze_panes = "A2"
