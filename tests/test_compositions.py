"""Any geometry, notation, unit and language together read back as they were written."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from math import isclose
from typing import Any

import openpyxl
import xlwt
from corpus.books import fill, saved
from corpus.containers import binary_workbook
from corpus.reading import Read, read_all, rows_of
from corpus.texts import open_document_of
from corpus.worlds import Meant, Reading, Sheet, Written, reports
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from schemas.report import Report


def as_workbook(written: Written, top: int, left: int) -> bytes:
    """Save the sheets as an .xlsx, each from a place on."""
    workbook = openpyxl.Workbook()
    workbook.remove(workbook.active)
    for sheet in written.sheets:
        page = workbook.create_sheet(sheet.name)
        fill(page, sheet.rows, top, left)
        for row, column, wide in sheet.merged:
            at = {"start_row": top + row, "start_column": left + column}
            page.merge_cells(**at, end_row=top + row, end_column=left + column + wide - 1)
    return saved(workbook)


def as_older_workbook(written: Written, top: int, left: int) -> bytes:
    """Save the sheets as an .xls, each from a place on."""
    workbook = xlwt.Workbook()
    for sheet in written.sheets:
        page = workbook.add_sheet(sheet.name)
        covered = {(r, c + n) for r, c, wide in sheet.merged for n in range(wide)}
        for r, c, wide in sheet.merged:
            at = (top + r - 1, top + r - 1, left + c - 1, left + c + wide - 2)
            page.write_merge(*at, sheet.rows[r][c])
        for r, row in enumerate(sheet.rows):
            for c, content in enumerate(row):
                if content is not None and (r, c) not in covered:
                    page.write(top + r - 1, left + c - 1, content)
    return saved(workbook)


def moved(sheet: Sheet, top: int, left: int) -> list[list[Any]]:
    """The rows of a sheet, from a place on."""
    return [[] for _ in range(top - 1)] + [[None] * (left - 1) + row for row in sheet.rows]


def as_text(written: Written, encoding: str) -> bytes:
    """Save a sheet as text: every number is printed with the country's mark."""
    lines = io.StringIO()
    mark = written.world.mark
    writer = csv.writer(lines, delimiter=";" if mark == "," else ",")
    for row in written.sheets[0].rows:
        writer.writerow([str(c).replace(".", mark) if isinstance(c, float) else c for c in row])
    return lines.getvalue().encode(encoding)


TEXTS = ("utf-8", "utf-8-sig", "utf-16", "cp1252")
BOOKS: dict[str, Callable[[Written, int, int], bytes]] = {
    "xlsx": as_workbook,
    "xls": as_older_workbook,
    "ods": lambda w, top, left: open_document_of(moved(w.sheets[0], top, left), w.sheets[0].name),
    "xlsb": lambda w, top, left: binary_workbook(moved(w.sheets[0], top, left), w.sheets[0].name),
}


def kinds_for(written: Written) -> list[str]:
    """List the kinds of files that can carry a report: some take one sheet, or few letters."""
    sheet = written.sheets[0]
    alone = ["xlsb", "ods", *TEXTS[:3]]
    told = str(sheet.rows)
    narrow = ["cp1252"] if told.encode("cp1252", "ignore").decode("cp1252") == told else []
    # The name of a text's sheet is that of the file.
    alone = [k for k in alone if k not in TEXTS or written.world.unit_place != "sheet"]
    return ["xlsx", "xlsx", "xls"] + (alone + narrow if len(written.sheets) == 1 else [])


def written_as(written: Written, kind: str, top: int, left: int) -> tuple[bytes, str]:
    """Save a report as a kind of file: its bytes and the file's name."""
    if kind in BOOKS:
        return BOOKS[kind](written, top, left), f"report.{kind}"
    name = "report" if written.sheets[0].name.startswith("Results") else written.sheets[0].name
    return as_text(written, kind), f"{name}.csv"


def read_back(report: Read, unit: str) -> tuple[Meant, list[str]]:
    """What would be stored of a file: results in one unit, each once; and why others are held."""
    found: Meant = {}
    held = []
    assert isinstance(report, Report), report
    for row in rows_of(report).values():
        if row["outcome"] == "held":
            held.append(row["reason_code"])
            continue
        assert (row["outcome"], row["unit"]) == ("result", unit)
        key = row["sample_id"], row["analyte"], row["form"]
        assert key not in found
        found[key] = row["value"], row["lower"], row["upper"]
    return found, held


def alike(found: Reading, meant: Reading) -> bool:
    """Tell whether two readings are the same, as far as molmass and we agree on molar masses."""
    pairs = zip(found, meant, strict=True)
    return all(f is m or (f is not None and isclose(f, m or 0, rel_tol=3e-5)) for f, m in pairs)


@st.composite
def files(draw: st.DrawFn) -> tuple[Written, tuple[bytes, str]]:
    """A report and the file that carries it: its bytes and its name."""
    written = draw(reports())
    kind = draw(st.sampled_from(kinds_for(written)))
    return written, written_as(written, kind, draw(st.integers(1, 4)), draw(st.integers(1, 3)))


# Many loads of ten files, for ten read together take less than two read one by one.
@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.lists(files(), min_size=10, max_size=10, unique_by=lambda made: made[1]))
def test_what_was_written_is_read_back(made: list[tuple[Written, tuple[bytes, str]]]) -> None:
    for (written, _), report in zip(made, read_all([file for _, file in made]), strict=True):
        found, held = read_back(report, written.unit)
        # A number drawn a thousand times greater than those beside it may have slipped in its unit.
        assert [reason for reason in held if reason != "unit_slip"] == []
        assert len(found) + len(held) == len(written.meant)
        unlike = {
            key: (read, written.meant[key])
            for key, read in found.items()
            if not alike(read, written.meant[key])
        }
        assert unlike == {}
