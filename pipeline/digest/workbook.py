"""Write the digest as a workbook whose cells are safe to open."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import polars as pl
from openpyxl import Workbook
from openpyxl.cell import Cell, MergedCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.digest.columns import CAUTION, COLUMNS, SHEETS
from pipeline.digest.links import first_place, link
from pipeline.digest.model import Digest
from pipeline.digest.page import first_line

# Characters across a page of A4 that can still be read.
_PRINTED_WIDTH = 200
# A sheet ends at 1,048,576 rows and is slow long before; what is cut is said on the sheet about.
MOST_ROWS = 50_000
# Rows of a sheet whose long texts are folded into their cells; more rows stay one line high.
MOST_WRAPPED = 1000
_LINE_HEIGHT, _MOST_LINES = 15, 10
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_WIDE = {"message": 70, "why": 44, "bound": 34, "hint": 44, "reason": 40, "text": 70, "source": 44,
         "cells": 80, "growth": 60, "history": 40, "threshold_source": 44, "file": 34,
         "how_sure": 54, "next_step": 60, "what": 60, "background_source": 44, "exposure": 44,
         "threshold": 34, "meaning": 90, "name": 56, "laboratories": 34, "tastings": 34,
         "lot": 22, "subject": 22}  # fmt: skip
_FORMATS = {pl.Date: "yyyy-mm-dd", pl.Datetime: "yyyy-mm-dd hh:mm", pl.Float64: "0.0##"}
_HEADING = Font(name="Calibri", size=11, bold=True)
_FILL = PatternFill("solid", fgColor="F1EDE6")
_LINK = Font(name="Calibri", size=11, underline="single")
_LEFT = Alignment(horizontal="left", vertical="top", indent=1)
_RIGHT = Alignment(horizontal="right", vertical="top", indent=1)
_TOP, _WRAPPED = Alignment(vertical="top"), Alignment(vertical="top", wrap_text=True)
_LINE = Border(bottom=Side("thin", color="B8B0A4"))


def put(cell: Cell | MergedCell, value: Any) -> None:
    """Set a cell; text stays text, whatever sign it starts with, and control characters go."""
    if isinstance(value, datetime):
        cell.value = value.replace(tzinfo=None)
        return
    if not isinstance(value, str):
        cell.value = value
        return
    text = ILLEGAL_CHARACTERS_RE.sub("", value)[:32767]
    cell.value = text
    cell.data_type = "s"
    if text.startswith(_FORMULA_STARTS):
        cell.quotePrefix = True


def _width(frame: pl.DataFrame, column: str, heading: str) -> float:
    if column in _WIDE:
        return _WIDE[column]
    shown = frame[column].cast(pl.String, strict=False).str.len_chars().max() or 0
    return min(max(int(str(shown)), len(heading), 8) + 3, 36)


def _print(sheet: Worksheet, width: float) -> None:
    """Set a sheet up for paper: A4 lying, as few pages side by side as stay readable."""
    across = max(1, round(width / _PRINTED_WIDTH))
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = across, 0
    sheet.print_title_rows = "1:1"
    if across > 1:
        sheet.print_title_cols = "A:A"
    footer = sheet.oddFooter
    if footer is not None and footer.left is not None and footer.right is not None:
        footer.left.text, footer.right.text = "&A", "page &P of &N"


def _head(sheet: Worksheet, frame: pl.DataFrame, called: Mapping[str, tuple[str, str]]) -> None:
    for place, column in enumerate(frame.columns, start=1):
        heading = called.get(column, (column.replace("_", " "), ""))[0]
        cell = sheet.cell(1, place)
        put(cell, heading)
        cell.font, cell.fill, cell.border = _HEADING, _FILL, _LINE
        side = "right" if frame[column].dtype.is_numeric() and column != "vintage" else "left"
        cell.alignment = Alignment(side, "top", wrap_text=True, indent=side == "right")
        sheet.column_dimensions[get_column_letter(place)].width = _width(frame, column, heading)
    sheet.freeze_panes = "B2"
    _print(sheet, sum(sheet.column_dimensions[c].width for c in sheet.column_dimensions))
    sheet.auto_filter.ref = f"A1:{get_column_letter(max(frame.width, 1))}{frame.height + 1}"
    sheet.print_area = sheet.auto_filter.ref


def _height(row: tuple[Any, ...], widths: Sequence[float | None]) -> float:
    """Give the height of a row, in points, whose longest text is folded into its cell.

    Not every program works it out by itself. A null width is that of a column that is not folded.
    """
    lines = (
        math.ceil(1.1 * len(value) / width)
        for value, width in zip(row, widths, strict=True)
        if width and isinstance(value, str)
    )
    return _LINE_HEIGHT * min(max(1, *lines, 1), _MOST_LINES)


def _body(sheet: Worksheet, frame: pl.DataFrame) -> None:
    wrapped = _WIDE.keys() - {"file"} if frame.height <= MOST_WRAPPED else frozenset[str]()
    widths = [_WIDE[c] if c in wrapped else None for c in frame.columns]
    formats = [_FORMATS.get(dtype.base_type()) for dtype in frame.dtypes]
    for line, row in enumerate(frame.iter_rows(), start=2):
        for place, (value, shown) in enumerate(zip(row, formats, strict=True), start=1):
            if value is None:
                continue
            cell = sheet.cell(line, place)
            put(cell, value)
            if wrapped:
                cell.alignment = _WRAPPED if frame.columns[place - 1] in wrapped else _TOP
            if isinstance(value, int | float):
                cell.alignment = _RIGHT
            if isinstance(value, date) or frame.columns[place - 1] == "vintage":
                cell.alignment = _LEFT
            if shown:
                cell.number_format = shown
        if wrapped:
            sheet.row_dimensions[line].height = _height(row, widths)


def _link(sheet: Worksheet, frame: pl.DataFrame, found: Mapping[str, str]) -> None:
    """Link the column that names a row's cell to the file it stands in."""
    column = next((name for name in ("cell", "cells") if name in frame.columns), None)
    if column is None or not found:
        return
    beside = frame.columns.index(column) + 1
    for line, row in enumerate(frame.iter_rows(named=True), start=2):
        place = first_place(row)
        if place is not None and place[0] in found:
            cell = sheet.cell(line, beside)
            link(cell, place, found)
            cell.font = _LINK


def _about(digest: Digest) -> pl.DataFrame:
    rows: list[tuple[str, str, str]] = [
        ("digest", "made on", f"{digest.made_at:%Y-%m-%d %H:%M} UTC"),
        ("digest", "first line", first_line(digest)),
        *(("caution", "", text) for text in CAUTION),
        *(
            (name, "rows left out", f"{digest.tables[name].height - MOST_ROWS:,}; ask the store")
            for name in SHEETS
            if digest.tables[name].height > MOST_ROWS
        ),
        *(("setting", name, value) for name, value in digest.settings),
        *(
            (name, COLUMNS.get(c, (c, ""))[0], COLUMNS.get(c, ("", ""))[1])
            for name in SHEETS
            for c in digest.tables[name].columns
        ),
    ]
    return pl.DataFrame(rows, schema=["about", "name", "meaning"], orient="row")


def _write(
    sheets: dict[str, pl.DataFrame],
    made_at: datetime | None,
    path: Path | BytesIO,
    called: Mapping[str, tuple[str, str]] = COLUMNS,
    found: Mapping[str, str] | None = None,
) -> None:
    book = Workbook()
    for name in book.sheetnames:
        del book[name]
    for name, table in sheets.items():
        sheet = book.create_sheet(name)
        _head(sheet, table, called)
        _body(sheet, table)
        _link(sheet, table, found or {})
    book.properties.creator = "cinderlot"
    if made_at is not None:
        book.properties.created = made_at.replace(tzinfo=None)
    book.save(path)


def write_table(
    table: pl.DataFrame,
    name: str,
    path: Path,
    called: Mapping[str, tuple[str, str]] | None = None,
    about: Sequence[tuple[str, str]] = (),
) -> None:
    """Write one frame as a workbook, with the same guards as the digest.

    `called` gives heading and meaning of its columns; a sheet `about` then lists them, after the
    pairs of `about`.
    """
    if called is None:
        _write({name: table}, None, path)
        return
    rows = [*about, *called.values()]
    told = pl.DataFrame(rows, schema=["name", "meaning"], orient="row")
    _write({name: table, "about": told}, None, path, called)


def write_workbook(
    digest: Digest, path: Path | BytesIO, found: Mapping[str, str] | None = None
) -> None:
    """Write the sheets of the digest and the sheet about to an .xlsx file.

    `found` maps source files to their address beside the workbook, as from `reachable`; cells of
    files that are not in it stay text.
    """
    sheets = {name: digest.tables[name].head(MOST_ROWS) for name in SHEETS}
    _write({**sheets, "about": _about(digest)}, digest.made_at, path, found=found)
