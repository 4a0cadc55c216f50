"""One sheet in another kind of file gives the same cells: .xls, .ods and .xlsb beside .xlsx.

For .xlsx there are two readers, which `test_corpus` compares. The other kinds have one each, so
what it gives is compared with what is read of the same sheet as .xlsx. The .xls files are written
by xlwt; those of the other kinds by the few lines in `corpus`, by their published formats.
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


WRITERS: dict[str, Callable[[Sheets], bytes]] = {"xls": as_xls, "ods": as_ods, "xlsb": as_xlsb}


@cache
def plain_cases() -> list[tuple[str, bytes, Sheets]]:
    """The cases of the corpus that are plain sheets."""
    # openpyxl, which reads the sheet to write it again, finds none in a strict workbook.
    made = [(name, make().content) for name, make in MADE if name != "strict_workbook"]
    return [(name, content, sheets) for name, content in made if (sheets := plain_sheets(content))]


def cells_of(content: bytes, file: str) -> pl.DataFrame:
    return read_cells(content, file).cells.select("sheet", "row", "col", "text", "number", "kind")


@pytest.mark.parametrize("kind", WRITERS)
def test_a_sheet_gives_the_same_cells_in_every_kind_of_file(kind: str) -> None:
    compared, unlike = 0, []
    for name, content, sheets in plain_cases():
        if kind != "xls" and len(sheets) > 1:
            continue  # the writers of .ods and .xlsb make one sheet only
        one = cells_of(content, "report.xlsx")
        two = cells_of(WRITERS[kind](sheets), f"report.{kind}")
        compared += 1
        if not one.equals(two):
            unlike.append(
                (name, one.join(two, on=one.columns, how="anti", nulls_equal=True).rows()[:2])
            )
    assert unlike == []
    assert compared > 300
