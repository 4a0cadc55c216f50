"""Read .xlsb workbooks: values by calamine, errors and extents from the records themselves.

Source of the record numbers: [MS-XLSB] Excel Binary File Format, 2.3.2 and 2.4.
"""

import datetime as dt
import posixpath
import struct
import zipfile
from collections.abc import Iterator
from typing import Any

from python_calamine import SheetVisibleEnum

from pipeline.errors import FileRefused
from pipeline.read.calamine_cells import grid, open_calamine
from pipeline.read.cells import Cell, Document, frame_cells, show_boolean, show_number
from pipeline.read.safety import open_zip, read_member

DENSE_LIMIT = 20_000_000
ROW, ERROR_CELL, FORMULA_ERROR = 0, 3, 11
CELLS = frozenset(range(1, 12))
BUNDLE_SHEET = 156
ERRORS = {
    0x00: "#NULL!",
    0x07: "#DIV/0!",
    0x0F: "#VALUE!",
    0x17: "#REF!",
    0x1D: "#NAME?",
    0x24: "#NUM!",
    0x2A: "#N/A",
}
BLIND = (
    "number formats, strike-through, hidden rows and comments cannot be seen in .xlsb; save it as "
    ".xlsx to have them checked."
)


def read_xlsb(content: bytes, file: str) -> Document:
    """Read a binary workbook; what this form hides from the reader is said in a notice."""
    errors = _look_inside(open_zip(content, file), file)
    workbook = open_calamine(content, file)
    cells: list[Cell] = []
    notices = [BLIND]
    for sheet in workbook.sheets_metadata:
        if "WorkSheet" not in str(sheet.typ):
            notices.append(f'sheet "{sheet.name}" is no table of cells and was ignored.')
            continue
        hidden = sheet.visible != SheetVisibleEnum.Visible
        if hidden:
            notices.append(f'sheet "{sheet.name}" is hidden; what it holds is held back.')
        rows = grid(workbook, sheet.name, file)
        cells.extend(_cells(sheet.name, rows, errors.get(sheet.name, {}), hidden))
    if not cells:
        raise FileRefused(file, "no cell holds anything; ask for the results as figures in cells.")
    return Document(frame_cells(cells), tuple(notices), "calamine")


def _cells(
    name: str, rows: list[list[Any]], errors: dict[tuple[int, int], str], hidden: bool
) -> Iterator[Cell]:
    for place, text in errors.items():
        yield Cell(name, *place, text, None, None, "error", hidden=hidden)
    for row, values in enumerate(rows, start=1):
        for col, value in enumerate(values, start=1):
            if str(value).strip() and (row, col) not in errors:
                yield _cell(name, row, col, value, hidden)


def _cell(name: str, row: int, col: int, value: Any, hidden: bool) -> Cell:
    if isinstance(value, bool):
        return Cell(name, row, col, *show_boolean(value)._replace(hidden=hidden))
    if isinstance(value, int | float):
        return Cell(name, row, col, *show_number(float(value), "General")._replace(hidden=hidden))
    if isinstance(value, dt.date):
        day = value.date() if isinstance(value, dt.datetime) else value
        return Cell(name, row, col, str(value), None, day, "date", hidden=hidden)
    return Cell(name, row, col, str(value).strip(), None, None, "text", hidden=hidden)


def _look_inside(archive: zipfile.ZipFile, file: str) -> dict[str, dict[tuple[int, int], str]]:
    """Find the error cells of each sheet, and refuse a sheet that reaches too far."""
    targets = _targets(archive, file)
    errors = {}
    for kind, body in records(read_member(archive, "xl/workbook.bin", file), file):
        if kind == BUNDLE_SHEET:
            relation, rest = _wide_string(body[8:])
            name, _ = _wide_string(rest)
            part = targets.get(relation, "")
            if part in archive.namelist() and "worksheets" in part:
                errors[name] = _sheet_errors(read_member(archive, part, file), name, file)
    return errors


def _targets(archive: zipfile.ZipFile, file: str) -> dict[str, str]:
    from xml.etree import ElementTree

    source = read_member(archive, "xl/_rels/workbook.bin.rels", file)
    try:
        root = ElementTree.fromstring(source)
    except ElementTree.ParseError:
        raise FileRefused(file, "its list of sheets is damaged; fetch the file again.") from None
    return {
        entry.get("Id", ""): posixpath.normpath(posixpath.join("/xl", entry.get("Target", "")))[1:]
        for entry in root
    }


def _wide_string(body: bytes) -> tuple[str, bytes]:
    (length,) = struct.unpack_from("<I", body)
    if length == 0xFFFFFFFF:
        return "", body[4:]
    end = 4 + 2 * length
    return body[4:end].decode("utf-16-le", "replace"), body[end:]


def records(part: bytes, file: str) -> Iterator[tuple[int, bytes]]:
    """Give number and body of each record of a binary part; refuse one that is cut off."""
    at = 0
    try:
        while at < len(part):
            kind, at = _variable(part, at, 2)
            size, at = _variable(part, at, 4)
            if at + size > len(part):
                raise IndexError
            yield kind, part[at : at + size]
            at += size
    except (IndexError, struct.error):
        raise FileRefused(file, "it is cut off or damaged; fetch the file again.") from None


def _variable(part: bytes, at: int, longest: int) -> tuple[int, int]:
    """Read a number of seven bits a byte; record numbers keep the high bit they are known by."""
    number = 0
    for place in range(longest):
        byte = part[at + place]
        number |= (byte & 0x7F) << (7 * place)
        if not byte & 0x80:
            return number, at + place + 1
    return number, at + longest


def _sheet_errors(part: bytes, name: str, file: str) -> dict[tuple[int, int], str]:
    errors = {}
    row = far_row = far_col = 0
    for kind, body in records(part, file):
        if kind == ROW:
            row = struct.unpack_from("<I", body)[0] + 1
        elif kind in CELLS:
            col = struct.unpack_from("<I", body)[0] + 1
            far_row, far_col = max(far_row, row), max(far_col, col)
            if kind in {ERROR_CELL, FORMULA_ERROR}:
                errors[row, col] = ERRORS.get(body[8], "#ERROR!")
    if far_row * far_col > DENSE_LIMIT:
        raise FileRefused(
            file,
            f'sheet "{name}" reaches to row {far_row}, column {far_col}, too far for a report; '
            "delete that cell, or save as .xlsx.",
        )
    return errors
