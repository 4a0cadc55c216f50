"""Every sheet that can be read, moved or spoilt in one place: the same numbers, or none.

Beside `test_mutations`, which spoils some sheets in all places, this spoils all sheets in some.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from zlib import crc32

import openpyxl
import pytest
from corpus import MADE
from corpus.places import moved as address
from corpus.reading import Read, read_all, rows_of
from corpus.spoilt import STRANGE, moved, respelt, spoilt, without_unit

from pipeline.errors import FileRefused

REPORTS = Path(__file__).parents[1] / "sample_reports"
PARTS = 8
KEPT = {"result", "qc", "repeated"}
# Sheets that are only moved. Without one of their statements another one holds, and nothing on the
# sheet tells that there was one: what is lost in each.
ONLY_MOVED = {
    "path_length_above_the_table": "the optical path",
    "path_length_in_a_sentence": "the optical path",
    "path_length_beside_a_number_for_one_centimetre": "the optical path",
    "the_unit_behind_each_sample": "the limits' own unit, so that they are in that of the results",
    "unit_of_the_cell_beside_that_of_the_heading": "the unit of one cell, beside that of its heading",
    "label_of_another_form_between_the_samples": "the form of the lines below, beside the title's",
    "label_of_another_unit_between_the_samples": "the unit of the lines below, beside the title's",
    "stacked_certificates": "the second sample's name, so that the first one's table goes on",
    "each_sample_names_the_results_below_it": "the second sample's name",
    "each_sample_names_the_list_below_it": "the second sample's name",
    "long_export_with_cas_numbers": "the heading over the kinds of samples, of which one is a blank",
    "flags_in_columns_of_their_own": "a letter in its column, which says that a number is a limit",
    "letters_beside_samples_across": "a letter in its column, which says that a number is a limit",
    "columns_that_say_what_was_detected": "what its column asks, which says that a number is a limit",
    "both_limits_in_one_column": "the limits' own unit, so that they are in that of the results",
    "letters_behind_the_names": "the list of samples, by which a letter is no part of a name",
    "limit_in_points_where_every_number_is_great": "the one number that tells thousands",
}
Row = dict[str, Any]


def sheets(part: int) -> dict[str, bytes]:
    """The workbooks of one part: those of the corpus that are read at all, and the sample reports."""
    found = {path.name: path.read_bytes() for path in sorted(REPORTS.glob("2*.xlsx"))}
    for name, make in MADE:
        if crc32(name.encode()) % PARTS == part:
            case = make()
            found |= {} if case.refused or name in STRICT else {name: case.content}
    chosen = {n: c for n, c in found.items() if crc32(n.encode()) % PARTS == part}
    return {n: c for n, c in chosen.items() if is_workbook(c)}


# openpyxl, which spoils the sheets, finds none in a strict workbook.
STRICT = {"strict_workbook"}


def is_workbook(content: bytes) -> bool:
    return zipfile.is_zipfile(io.BytesIO(content)) and b"xl/workbook.xml" in content


def ways(name: str, content: bytes) -> Iterator[tuple[str, bytes]]:
    """Move a workbook's first sheet; then rename one text and drop one unit, chosen by their places."""
    yield "move", spoilt(content, moved(1, 1))
    if name in ONLY_MOVED:
        return
    for kind in ("rename", "drop the unit of"):
        places = dict(respelt(content, kind))
        if places:
            chosen = min(places, key=lambda place: crc32(f"{name} {place}".encode()))
            yield f"{kind} {chosen}", places[chosen]()


def kept(report: Read) -> dict[str, Row]:
    """The cells of which a number would be stored."""
    if isinstance(report, FileRefused):
        return {}
    return {cell: row for cell, row in rows_of(report).items() if row["outcome"] in KEPT}


def numbers(row: Row) -> tuple[Any, ...]:
    return row["value"], row["lower"], row["upper"], row["unit"]


def is_same(before: Row, after: Row) -> bool:
    """Tell whether a cell says the same of the same sample, or less.

    Any text can be a sample's name: a line or column under a new name is that sample's. Where the
    client's name is lost, the laboratory's own number or the lot names the sample. Where nothing calls
    them replicates any more, W-1a and W-1b are samples of their own, and a notice names them.
    """
    names = {before["sample_id"], before["lab_sample_id"], before["lot"], STRANGE} - {None}
    names |= {without_unit(name) for name in names}
    same = all(before[n] == after[n] for n in ("analyte", "form"))
    kind = before["qc_kind"] == after["qc_kind"] or after["sample_id"] == STRANGE
    if before["replicate"] and after["sample_id"].startswith(before["sample_id"]):
        names.add(after["sample_id"])
    if not (same and kind and after["sample_id"] in names):
        return False
    if numbers(before) == numbers(after):
        return True
    return (
        after["value"] is None
        and before["unit"] == after["unit"]
        and None not in (before["upper"], after["upper"])
        and after["lower"] <= before["lower"]
        and before["upper"] <= after["upper"]
    )


def as_moved(before: dict[str, Row], first: str) -> dict[str, Row]:
    """The cells where those of the first sheet stand one line lower and one column further."""
    found = {}
    for place, row in before.items():
        sheet, cell = place.rsplit("!", 1)
        found[f"{sheet}!{address(cell, 1, 1)}" if sheet == first else place] = row
    return found


def compared(before: dict[str, Row], after: dict[str, Row]) -> list[object]:
    """List the cells whose number is another one than before."""
    return [
        (
            cell,
            [(r["sample_id"], r["analyte"], r["form"], *numbers(r)) for r in (before[cell], row)],
        )
        for cell, row in after.items()
        if cell in before and not is_same(before[cell], row)
    ]


def differing(one: dict[str, Row], other: dict[str, Row]) -> list[object]:
    """List the cells that do not stand in both with the same sample, analyte, form and number."""
    named = ("sample_id", "analyte", "form")
    told = [
        {c: (*map(r.get, named), *numbers(r)) for c, r in part.items()} for part in (one, other)
    ]
    return [(c, *[t.get(c) for t in told]) for c in one.keys() | other.keys()
            if told[0].get(c) != told[1].get(c)]  # fmt: skip


def first_sheet(content: bytes) -> str:
    return openpyxl.load_workbook(io.BytesIO(content), read_only=True).sheetnames[0]


@pytest.mark.parametrize("part", range(PARTS))
def test_no_sheet_that_is_moved_or_spoilt_gives_another_number(part: int) -> None:
    files: dict[bytes, tuple[str, str]] = {}
    for name, content in sheets(part).items():
        files.setdefault(content, (name, ""))
        for way, spoiled in ways(name, content):
            files.setdefault(spoiled, (name, way))
    reports = read_all([(content, "report.xlsx") for content in files])
    firsts = {name: first_sheet(content) for name, content in sheets(part).items()}
    found: dict[str, dict[str, Row]] = {}
    wrong: list[object] = []
    for (name, way), report in zip(files.values(), reports, strict=True):
        cells = kept(report)
        if not way:
            found[name] = cells
        elif way == "move":
            expected = as_moved(found[name], firsts[name])
            if told := differing(expected, cells):
                wrong.append((name, way, told[:2]))
        elif unlike := compared(found[name], cells):
            wrong.append((name, way, unlike[:2]))
    assert wrong == []
