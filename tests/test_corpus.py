"""Files that nobody prepared for: each value is right, or held, or the file is refused."""

from __future__ import annotations

from functools import cache
from typing import Any

import polars as pl
import pytest
from corpus import MADE, Case, Value

from pipeline.errors import FileRefused
from pipeline.normalise import normalise
from pipeline.read import read_cells
from pipeline.readers import Readers, make_readers
from pipeline.recognise import recognise
from pipeline.settings import Settings
from pipeline.tidy import tidy
from pipeline.validate import validate
from schemas.vocabulary import load_vocabulary

CASES = {name: make for name, make in MADE}
COLUMNS = (
    "outcome", "analyte", "form", "sample_id", "value", "unit", "lower", "upper", "censoring",
    "reason_code", "qc_kind",
)  # fmt: skip


@cache
def readers() -> Readers:
    return make_readers(load_vocabulary())


def read(case: Case) -> tuple[dict[str, dict[str, Any]], dict[str, str], tuple[str, ...]]:
    """Take a file through the real stages: value cells, facts, notices."""
    document = read_cells(case.content, case.file)
    recognised = recognise(document.cells, case.file, readers())
    readings = tidy(document.cells, recognised, "r", case.file)
    judged = validate(normalise(readings, readers(), Settings()), readers().names.vocabulary)
    held = judged.held.with_columns(outcome=pl.lit("held"))
    rows = [
        *judged.stored.iter_rows(named=True),
        *held.iter_rows(named=True),
        *judged.unused.iter_rows(named=True),
    ]
    assert len(rows) == readings.height
    found = {f"{row['sheet']}!{row['cell']}": row for row in rows}
    assert len(found) == len(rows), "a cell was counted twice"
    return found, dict(recognised.facts), (*document.notices, *recognised.notices)


def differences(expected: Value, row: dict[str, Any]) -> dict[str, tuple[Any, Any]]:
    """Each column that is not as expected: (expected, found)."""
    told = {name: getattr(expected, name) for name in COLUMNS} | dict(expected.more)
    if expected.outcome not in {"result", "qc", "repeated"}:
        told = {"outcome": expected.outcome, "reason_code": expected.reason_code}
    return {
        name: (wanted, row.get(name))
        for name, wanted in told.items()
        if not _same(wanted, row.get(name))
    }


def _same(wanted: Any, found: Any) -> bool:
    if isinstance(wanted, float) and isinstance(found, float):
        return found == pytest.approx(wanted, rel=1e-4, abs=1e-12)
    return bool(wanted == found)


@pytest.mark.parametrize("name", CASES)
def test_each_value_is_read_as_its_laboratory_meant_it(name: str) -> None:
    case = CASES[name]()
    if case.refused:
        with pytest.raises(FileRefused) as refusal:
            read(case)
        assert [w for w in (case.file, *case.refused) if w not in str(refusal.value)] == []
        return
    found, facts, notices = read(case)
    wrong = {c: d for c, v in case.expected.items() if c in found and (d := differences(v, found[c]))}
    assert (wrong, sorted(case.expected.keys() - found), sorted(found.keys() - case.expected)) == (
        {}, [], [],
    )  # fmt: skip
    assert {n: facts.get(n) for n in case.facts} == case.facts
    assert [w for w in case.notices if not any(w in notice for notice in notices)] == []


@pytest.mark.parametrize("name", CASES)
def test_each_held_value_says_where_it_stands_and_what_to_do(name: str) -> None:
    case = CASES[name]()
    if case.refused:
        return
    held = [row for row in read(case)[0].values() if row["outcome"] == "held"]
    assert all(row["file"] == case.file and row["reason"] and row["hint"] for row in held)
