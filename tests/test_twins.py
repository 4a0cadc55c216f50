"""One sheet in another kind of file gives the same cells: .xls, .ods and .xlsb beside .xlsx.

For .xlsx there are two readers, which `test_corpus` compares. What the one reader of each other kind
gives is compared with what is read of the same sheet as .xlsx, and for .xls (read by xlrd) and .ods
(read as XML) with what calamine, which takes no part there, finds in the same bytes; .xlsb is read
with calamine itself. The .xls files are written by xlwt; those of the other kinds by the few lines
in `corpus`, by their published formats.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from functools import cache
from typing import Any

import openpyxl
import polars as pl
import pytest
import xlwt
from corpus import MADE
from corpus.containers import binary_workbook
from corpus.texts import open_document_of
from python_calamine import CalamineWorkbook

from pipeline.read import read_cells

Sheets = list[tuple[str, list[list[Any]]]]


def plain_sheets(content: bytes) -> Sheets | None:
    """The sheets of a workbook of texts and numbers as typed; of one with anything else none."""
    if not zipfile.is_zipfile(io.BytesIO(content)) or b"xl/workbook.xml" not in content:
        return None
    workbook = openpyxl.load_workbook(io.BytesIO(content), rich_text=True)
    sheets = [(s.title, [[c.value for c in row] for row in s.iter_rows()]) for s in workbook]
    cells = [c for s in workbook for row in s.iter_rows() for c in row if c.value is not None]
    plain = all(
        isinstance(c.value, str | int | float)
        and not isinstance(c.value, bool)
        and c.data_type in {"s", "n"}
        and c.number_format == "General"
        and not (c.font.strike or c.comment)
        for c in cells
    )
    dimensions = [
        d for s in workbook for d in (*s.row_dimensions.values(), *s.column_dimensions.values())
    ]
    usual = not any(d.hidden for d in dimensions) and not any(
        s.merged_cells.ranges for s in workbook
    )
    shown = all(s.sheet_state == "visible" for s in workbook)
    return sheets if cells and plain and usual and shown else None


def as_xls(sheets: Sheets) -> bytes:
    workbook = xlwt.Workbook()
    for title, rows in sheets:
        page = workbook.add_sheet(title)
        for r, row in enumerate(rows):
            for c, content in enumerate(row):
                if content is not None:
                    page.write(r, c, content)
    buffer = io.BytesIO()
    workbook.save(buffer)
    return buffer.getvalue()


def as_ods(sheets: Sheets) -> bytes:
    return open_document_of(sheets[0][1], sheets[0][0])


def as_xlsb(sheets: Sheets) -> bytes:
    return binary_workbook(sheets[0][1], sheets[0][0])


# The cases of the corpus that are of these kinds themselves.
OWN = {"xls": {"old_binary_workbook"}, "ods": {"open_document_spreadsheet"}}
WRITERS: dict[str, Callable[[Sheets], bytes]] = {"xls": as_xls, "ods": as_ods, "xlsb": as_xlsb}


@cache
def plain_cases() -> list[tuple[str, bytes, Sheets]]:
    """The cases of the corpus that are plain sheets."""
    # openpyxl, which reads the sheet to write it again, finds none in a strict workbook.
    made = [(name, make().content) for name, make in MADE if name != "strict_workbook"]
    return [(name, content, sheets) for name, content in made if (sheets := plain_sheets(content))]


@cache
def written(kind: str) -> list[tuple[str, bytes]]:
    """The plain sheets in another kind of file; the writers of .ods and .xlsb make one sheet only."""
    return [
        (name, WRITERS[kind](sheets))
        for name, _, sheets in plain_cases()
        if kind == "xls" or len(sheets) == 1
    ]


def cells_of(content: bytes, file: str) -> pl.DataFrame:
    return read_cells(content, file).cells.select("sheet", "row", "col", "text", "number", "kind")


def by_calamine(content: bytes) -> dict[tuple[str, int, int], str | float]:
    """Each text and number as calamine reads it, by sheet, row and column."""
    workbook = CalamineWorkbook.from_filelike(io.BytesIO(content))
    return {
        (name, r, c): value.strip() if isinstance(value, str) else value
        for name in workbook.sheet_names
        for r, row in enumerate(
            workbook.get_sheet_by_name(name).to_python(skip_empty_area=False), 1
        )
        for c, value in enumerate(row, 1)
        if value != "" and str(value).strip()
    }


def by_us(cells: pl.DataFrame) -> dict[tuple[str, int, int], str | float]:
    """The same of our own cells: a number where there is one, else the text."""
    return {
        (row["sheet"], row["row"], row["col"]): row["text"].strip()
        if row["number"] is None
        else row["number"]
        for row in cells.iter_rows(named=True)
    }


def unlike_calamine(content: bytes, file: str) -> list[object]:
    """List the cells of a file in which calamine finds something else than we do."""
    one, two = by_us(cells_of(content, file)), by_calamine(content)
    return [
        (at, one.get(at), two.get(at))
        for at in one.keys() | two.keys()
        if one.get(at) != two.get(at)
    ]


@pytest.mark.parametrize("kind", ["xls", "ods"])
def test_calamine_finds_the_same_in_every_older_workbook_and_open_document(kind: str) -> None:
    made = [(n, c, f"report.{kind}") for n, c in written(kind)]
    made += [(n, make().content, f"report.{kind}") for n, make in MADE if n in OWN[kind]]
    unlike = [(name, told[:2]) for name, c, file in made if (told := unlike_calamine(c, file))]
    assert unlike == []
    assert len(made) > 300


@pytest.mark.parametrize("kind", WRITERS)
def test_a_sheet_gives_the_same_cells_in_every_kind_of_file(kind: str) -> None:
    unlike, originals = [], {name: content for name, content, _ in plain_cases()}
    made = written(kind)
    for name, content in made:
        one, two = cells_of(originals[name], "a.xlsx"), cells_of(content, f"a.{kind}")
        if not one.equals(two):
            told = one.join(two, on=one.columns, how="anti", nulls_equal=True)
            unlike.append((name, told.rows()[:2]))
    assert unlike == []
    assert len(made) > 300
