"""Kinds of workbooks, and workbooks that hold no table that could be read."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable, Iterable

import openpyxl
from openpyxl.chart import BarChart

from corpus.books import Cell, book, rows, saved
from corpus.cases import Case, case, crossing

NAMES = "guaiacol syringol"
DRAWN = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12.5     | <0.5
S2     | 3        | 4.25
"""
READ = crossing("B3", NAMES, "free", {"S1": "12.5 [0,0.5]", "S2": "3 4.25"})
SCHEMAS = "http://schemas.openxmlformats.org"
STRICT = {
    f"{SCHEMAS}/spreadsheetml/2006/main": "http://purl.oclc.org/ooxml/spreadsheetml/main",
    f"{SCHEMAS}/officeDocument/2006/relationships": (
        "http://purl.oclc.org/ooxml/officeDocument/relationships"
    ),
}
MACROS = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def parts_changed(content: bytes, edit: Callable[[bytes], bytes], **added: bytes) -> bytes:
    """Write a workbook anew, each part edited and further parts added."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(buffer, "w") as new:
        for name in old.namelist():
            new.writestr(name, edit(old.read(name)))
        for name, part in added.items():
            new.writestr(name, part)
    return buffer.getvalue()


@case
def strict_workbook() -> Case:
    def edit(part: bytes) -> bytes:
        for usual, strict in STRICT.items():
            part = part.replace(usual.encode(), strict.encode())
        return part

    return Case(parts_changed(book(("Results", DRAWN)), edit), READ)


def with_macros(content: bytes) -> bytes:
    """Declare a workbook one with macros, and put a part of macros beside its sheets."""
    kinds = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    macros = b"application/vnd.ms-excel.sheet.macroEnabled.main+xml"
    part = {"xl/vbaProject.bin": MACROS}
    return parts_changed(content, lambda p: p.replace(kinds, macros), **part)


@case
def workbook_with_macros() -> Case:
    return Case(with_macros(book(("Results", DRAWN))), READ, "report.xlsm")


@case
def workbook_of_macros_only() -> Case:
    return Case(with_macros(saved(openpyxl.Workbook())), file="report.xlsm", refused=("macros",))


def record(kind: int, body: bytes = b"") -> bytes:
    """One record of a binary workbook ([MS-XLSB] 2.1.4): its kind, its size in sevens of bits."""
    head = bytes([kind]) if kind < 128 else bytes([kind & 0x7F | 0x80, kind >> 7])
    size = len(body)
    length = bytes([size]) if size < 128 else bytes([size & 0x7F | 0x80, size >> 7])
    return head + length + body


def wide(text: str) -> bytes:
    """A text of a binary workbook ([MS-XLSB] 2.5.168): its length, then UTF-16."""
    return len(text).to_bytes(4, "little") + text.encode("utf-16-le")


def binary_row(row: int, line: Iterable[Cell]) -> bytes:
    """The records of one row: a number as BrtCellReal, a text as BrtCellSt."""
    found = record(0, row.to_bytes(4, "little") + bytes(21))
    for column, content in enumerate(line):
        place = column.to_bytes(4, "little") + bytes(4)
        if isinstance(content, int | float):
            found += record(5, place + struct.pack("<d", content))
        elif content is not None:
            found += record(6, place + wide(str(content)))
    return found


def binary_workbook(lines: list[list[Cell]], title: str = "Results") -> bytes:
    """Save rows as an .xlsb by the records of [MS-XLSB] 2.3, and nothing beside them."""
    last = (len(lines) - 1, max(map(len, lines)) - 1)
    extent = struct.pack("<4I", 0, last[0], 0, last[1])
    sheet = b"".join(binary_row(n, line) for n, line in enumerate(lines))
    sheet = record(129) + record(148, extent) + record(145) + sheet + record(146) + record(130)
    named = record(156, bytes(4) + (1).to_bytes(4, "little") + wide("rId1") + wide(title))
    kind = f"{SCHEMAS}/officeDocument/2006/relationships/worksheet"
    relation = f'<Relationship Id="rId1" Type="{kind}" Target="worksheets/sheet1.bin"/>'
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr(
            "xl/workbook.bin", record(131) + record(143) + named + record(144) + record(132)
        )
        archive.writestr("xl/worksheets/sheet1.bin", sheet)
        archive.writestr(
            "xl/_rels/workbook.bin.rels",
            f'<Relationships xmlns="{SCHEMAS}/package/2006/relationships">{relation}</Relationships>',
        )
    return buffer.getvalue()


@case
def binary_workbook_of_2007() -> Case:
    return Case(binary_workbook(rows(DRAWN)), READ, "report.xlsb")


@case
def workbook_of_charts_only() -> Case:
    workbook = openpyxl.Workbook()
    workbook.remove(workbook.active)
    workbook.create_chartsheet("Chart").add_chart(BarChart())
    return Case(saved(workbook), refused=("report.xlsx", "charts only"))


@case
def workbook_with_a_picture_only() -> Case:
    # A scanned report put on an otherwise empty sheet: a drawing, and not one cell.
    picture = {"xl/media/image1.png": b"\x89PNG\r\n\x1a\n"}
    content = parts_changed(saved(openpyxl.Workbook()), lambda part: part, **picture)
    return Case(content, refused=("report.xlsx", "no cell"))


@case
def picture_under_the_name_of_a_workbook() -> Case:
    return Case(b"\x89PNG\r\n\x1a\n" + bytes(64), refused=("report.xlsx", "image"))


@case
def workbook_under_a_password() -> Case:
    locked = MACROS + "EncryptedPackage".encode("utf-16-le") + bytes(600)
    return Case(locked, refused=("report.xlsx", "password"))


@case
def tabs_with_decimal_commas_in_a_file_of_tabs() -> Case:
    text = "Sample\tFree guaiacol (µg/L)\tFree syringol (µg/L)\nS1\t12,5\t<0,5\nS2\t3,75\t4,25\n"
    read = crossing("B2", NAMES, "free", {"S1": "12.5 [0,0.5]", "S2": "3.75 4.25"}, "report")
    return Case(text.encode("cp1252"), read, "report.tsv")
