"""Files that nobody prepared for: each value is right, or held, or the file is refused."""

from __future__ import annotations

import re
import zipfile
from functools import cache
from io import BytesIO
from typing import Any
from zlib import crc32

import polars as pl
import pytest
from corpus import MADE, Case, Value
from corpus.reading import Read, read, read_all, rows_of
from polars.testing import assert_frame_equal

from pipeline.errors import FileRefused
from pipeline.read import read_cells, read_with_openpyxl
from pipeline.summaries import unknown_names
from schemas.report import Report

CASES = dict(MADE)
COLUMNS = (
    "outcome", "analyte", "form", "sample_id", "value", "unit", "lower", "upper", "censoring",
    "reason_code", "qc_kind",
)  # fmt: skip
KEPT = {"result", "qc", "repeated"}
# Reading a case is the costly part: all that look at the cases of one part follow each other.
PARTS = 24


def part_of(name: str) -> int:
    return crc32(name.encode()) % PARTS


EACH = [pytest.param(name, id=name, marks=pytest.mark.kin(part_of(name))) for name in CASES]
EACH_PART = [pytest.param(part, marks=pytest.mark.kin(part)) for part in range(PARTS)]


@cache
def make(name: str) -> Case:
    return CASES[name]()


@cache
def outcome(name: str) -> Read:
    case = make(name)
    return read(case.content, case.file)


def differences(expected: Value, row: dict[str, Any]) -> dict[str, tuple[Any, Any]]:
    """Each column that is not as expected: (expected, found)."""
    told = {name: getattr(expected, name) for name in COLUMNS} | dict(expected.more)
    if expected.outcome not in KEPT:
        told = {"outcome": expected.outcome, "reason_code": expected.reason_code}
    pairs = {name: (wanted, row.get(name)) for name, wanted in told.items()}
    return {name: pair for name, pair in pairs.items() if not _same(*pair)}


def _same(wanted: Any, found: Any) -> bool:
    if isinstance(wanted, float) and isinstance(found, float):
        return found == pytest.approx(wanted, rel=1e-5, abs=1e-12)
    return bool(wanted == found)


@pytest.mark.parametrize("name", EACH)
def test_each_value_is_read_as_its_laboratory_meant_it(name: str) -> None:
    case, report = make(name), outcome(name)
    if isinstance(report, FileRefused):
        assert case.refused, report.message
        assert [w for w in (case.file, *case.refused) if w not in str(report)] == []
        return
    assert not case.refused, "the file should have been refused"
    found = rows_of(report)
    wrong = {
        cell: unlike
        for cell, value in case.expected.items()
        if cell in found and (unlike := differences(value, found[cell]))
    }
    missing, extra = case.expected.keys() - found, found.keys() - case.expected
    assert (wrong, sorted(missing), sorted(extra)) == ({}, [], [])
    assert {n: getattr(report, n) for n in case.facts} == case.facts
    assert [w for w in case.notices if not any(w in n for n in report.notices)] == []


@pytest.mark.parametrize("name", EACH)
def test_each_held_value_says_where_it_stands_and_what_to_do(name: str) -> None:
    case, report = make(name), outcome(name)
    if isinstance(report, Report):
        held = report.held.select("file", "sheet", "cell", "reason", "hint")
        assert held.null_count().row(0) == (0, 0, 0, 0, 0)
        assert set(held["file"]) <= {case.file}
        told = {f"{s}!{c}": f"{r}; {h}" for s, c, r, h in held.drop("file").iter_rows()}
        assert [c for c, words in case.hints.items() if words not in told[c]] == []


def told_cells(reason: str) -> list[str]:
    return re.findall(r'!([A-Z]+\d+) "', reason)


def held_for(*codes: str) -> list[dict[str, Any]]:
    """All rows held for one of these reasons, of the cases in which such are expected."""
    names = [n for n in CASES if any(v.reason_code in codes for v in make(n).expected.values())]
    reports = [r for name in names if isinstance(r := outcome(name), Report)]
    held = pl.concat([report.held for report in reports])
    return held.filter(pl.col("reason_code").is_in(codes)).rows(named=True)


def test_a_hold_names_what_was_printed_of_days() -> None:
    days = [row["reason"] for row in held_for("date_ambiguous", "date_invalid")]
    assert len(days) > 1
    assert all(re.search(r': (sampled|received|analysed) on ".+"$', text) for text in days)


def test_a_hold_names_the_values_that_contradict_each_other() -> None:
    twice = held_for("duplicate")
    assert len(twice) > 1
    assert all(r["cell"] in told_cells(r["reason"]) for r in twice)
    alone = [r["reason"] for r in twice if len(told_cells(r["reason"])) < 2]
    assert alone == []


def test_an_unknown_name_is_printed_once_per_column() -> None:
    report = outcome("unknown_names_are_held_in_each_cell")
    assert isinstance(report, Report)
    told = unknown_names(report.held)
    assert [line.split(":")[0] for line in told] == ["Results!C3"]
    assert '"Smokeol-7"' in told[0]


def is_workbook(content: bytes) -> bool:
    return zipfile.is_zipfile(BytesIO(content)) and b"xl/workbook.xml" in content


@pytest.mark.parametrize("name", EACH)
def test_both_readers_see_the_same_cells(name: str) -> None:
    case = make(name)
    if is_workbook(case.content):
        try:
            quick = read_cells(case.content, case.file)
        except FileRefused:
            assert case.refused
            return
        assert_frame_equal(quick.cells, read_with_openpyxl(case.content, case.file).cells)


@pytest.mark.parametrize("part", EACH_PART)
def test_files_read_together_are_read_as_each_by_itself(part: int) -> None:
    files = {make(name).content: name for name in CASES if part_of(name) == part}
    assert len(files) > 1
    together = read_all([(content, make(name).file) for content, name in files.items()])
    for report, name in zip(together, files.values(), strict=True):
        alone = outcome(name)
        if isinstance(report, Report) and isinstance(alone, Report):
            assert rows_of(report) == rows_of(alone), name
        else:
            assert str(report) == str(alone)


def test_the_same_bytes_under_two_names_stay_two_files() -> None:
    content = make("samples_down").content
    one, two = read_all([(content, "one.xlsx"), (content, "two.xlsx")])
    assert isinstance(one, Report)
    assert isinstance(two, Report)
    assert (set(one.stored["file"]), set(two.stored["file"])) == ({"one.xlsx"}, {"two.xlsx"})
    assert rows_of(one).keys() == rows_of(two).keys() == make("samples_down").expected.keys()
