"""Read .xls workbooks, with formats, errors, strike-through, notes and what is hidden."""

import io
from collections.abc import Iterator
from typing import Any

import xlrd  # type: ignore[import-untyped,unused-ignore]

from pipeline.errors import FileRefused
from pipeline.read.cells import (
    Cell,
    Document,
    Shown,
    frame_cells,
    part_runs,
    show_boolean,
    show_number,
)
from pipeline.read.number_formats import render_text
from pipeline.read.xls_formulas import Place, empty_formulas

OFFSET_1904 = 1462
UNSAVED = Shown("=\u2026", kind="formula")
_POSITIONS = {1: "high", 2: "low"}
LOCAL_DATE_KEYS = {14: "mm-dd-yy", 22: "m/d/yy h:mm"}


def _in_utf16(name: str) -> bytes:
    return name.encode("utf-16-le")


def read_xls(content: bytes, file: str) -> Document:
    """Read a workbook of the older binary form, or refuse what else its container may hold."""
    _refuse_other_containers(content, file)
    book = _open(content, file)
    empty, unsaved = empty_formulas(content)
    formulas = empty if unsaved else frozenset()
    cells = [cell for sheet in book.sheets() for cell in _sheet_cells(book, sheet, formulas)]
    if not cells:
        raise FileRefused(file, "no cell holds anything; ask for the results as figures in cells.")
    notices = tuple(_notices(book, cells, empty, unsaved))
    return Document(frame_cells(cells), notices, "xlrd", "1904" if book.datemode else "1900")


def _refuse_other_containers(content: bytes, file: str) -> None:
    if _in_utf16("EncryptedPackage") in content:
        raise FileRefused(file, "it is protected by a password; save a copy without one.")
    if _in_utf16("Workbook") in content or _in_utf16("Book") in content:
        return
    for sign, sentence in _OTHERS.items():
        if _in_utf16(sign) in content:
            raise FileRefused(file, sentence)
    raise FileRefused(
        file, "it is cut off or holds no workbook; fetch the file again from where it came."
    )


_OTHERS = {
    "WordDocument": "this is a text document, not a table; save its table as .xlsx.",
    "PowerPoint Document": "this is a presentation, not a table; ask for the report itself.",
    "__properties_version1.0": (
        "this is an e-mail as a mail program keeps it (.msg); save its attachment, or save the "
        "e-mail as .eml."
    ),
}


def _open(content: bytes, file: str) -> Any:
    try:
        return xlrd.open_workbook(
            file_contents=content, formatting_info=True, ragged_rows=True, logfile=io.StringIO()
        )
    except MemoryError:
        raise
    except Exception as error:
        if "encrypt" in str(error).lower() or "password" in str(error).lower():
            message = "it is protected by a password; save a copy without one."
        elif _in_utf16("__properties_version1.0") in content:
            message = _OTHERS["__properties_version1.0"]
        else:
            message = "it is cut off or damaged; fetch the file again, best as .xlsx."
        raise FileRefused(file, message) from None


def _sheet_cells(book: Any, sheet: Any, formulas: frozenset[Place]) -> Iterator[Cell]:
    offset = OFFSET_1904 if book.datemode else 0
    rows = {row for row, info in sheet.rowinfo_map.items() if info.hidden}
    cols = {col for col, info in sheet.colinfo_map.items() if info.hidden or info.width == 0}
    spans = {
        (top, left): (bottom - top, right - left) for top, bottom, left, right in sheet.merged_cells
    }
    covered = _covered(spans)
    for row in range(sheet.nrows):
        for col, cell in enumerate(sheet.row(row)):
            look = book.xf_list[cell.xf_index]
            uncalculated = (row, col) in formulas and cell.value == ""
            shown = UNSAVED if uncalculated else _show(book, cell, look, offset)
            if shown is None or (row, col) in covered:
                continue
            text, raised, crossed = _split_runs(book, sheet, row, col, shown.text)
            if cell.ctype == xlrd.XL_CELL_TEXT:
                text = render_text(text, _code(book, look)).strip()
            if not text:
                continue
            hidden = shown.hidden or bool(sheet.visibility) or row in rows or col in cols
            note = sheet.cell_note_map.get((row, col))
            yield Cell(
                sheet.name,
                row + 1,
                col + 1,
                *shown._replace(text=text, hidden=hidden),
                crossed or bool(book.font_list[look.font_index].struck_out),
                (note.text.strip() or None) if note else None,
                raised,
                *spans.get((row, col), (1, 1)),
            )


def _covered(spans: dict[tuple[int, int], tuple[int, int]]) -> set[tuple[int, int]]:
    return {
        (top + down, left + right)
        for (top, left), (height, width) in spans.items()
        for down in range(height)
        for right in range(width)
        if down or right
    }


def _show(book: Any, cell: Any, look: Any, offset: int) -> Shown | None:
    match cell.ctype:
        case xlrd.XL_CELL_TEXT:
            return Shown(cell.value)
        case xlrd.XL_CELL_NUMBER | xlrd.XL_CELL_DATE:
            return show_number(float(cell.value), _code(book, look), offset)
        case xlrd.XL_CELL_BOOLEAN:
            return show_boolean(bool(cell.value))
        case xlrd.XL_CELL_ERROR:
            return Shown(xlrd.error_text_from_code.get(cell.value, "#ERROR!"), kind="error")
    return None


def _code(book: Any, look: Any) -> str:
    known = book.format_map.get(look.format_key)
    return LOCAL_DATE_KEYS.get(look.format_key) or (known.format_str if known else "General")


def _split_runs(
    book: Any, sheet: Any, row: int, col: int, text: str
) -> tuple[str, str | None, bool]:
    """Part the text from what is printed raised, and tell whether any of it is struck out."""
    runs = sheet.rich_text_runlist_map.get((row, col))
    if not runs:
        return text, None, False
    starts = [0, *(start for start, _ in runs)]
    fonts = [None, *(book.font_list[font] for _, font in runs)]
    ends = [*starts[1:], len(text)]
    parts: list[tuple[str, str]] = []
    struck = False
    for font, start, end in zip(fonts, starts, ends, strict=True):
        struck = struck or bool(font and font.struck_out and end > start)
        parts.append((text[start:end], _POSITIONS.get(font.escapement, "") if font else ""))
    return *part_runs(parts), struck


def _notices(book: Any, cells: list[Cell], empty: frozenset[Place], unsaved: bool) -> Iterator[str]:
    if unsaved:
        yield "no formula has a saved result; open it in a spreadsheet, save it and load it again."
    elif empty:
        yield (
            f"formulas without a result ({len(empty)}) count as empty cells, since others of the "
            "workbook have results; save it as .xlsx to be sure."
        )
    for sheet in book.sheets():
        if sheet.visibility:
            yield f'sheet "{sheet.name}" is hidden; what it holds is held back.'
        elif count := sum(cell.hidden and cell.sheet == sheet.name for cell in cells):
            yield (
                f'sheet "{sheet.name}": {count} cells are hidden by hidden rows, columns or '
                "formats; they are held back."
            )
    if book.datemode:
        yield "dates are counted from 1904 in this workbook; they were read so."
