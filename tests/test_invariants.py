"""Invariants of the whole: nothing lost, text as seen, order of loading, derived equals rebuilt."""

from __future__ import annotations

import random
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipeline.find import find
from pipeline.flows import Workplace, load, prepare, refresh
from pipeline.settings import load_settings
from pipeline.store import Store
from schemas.report import Report

REPORTS = Path(__file__).parents[1] / "sample_reports"
FILES = [s.path for s in find([REPORTS]).sources]
COUNTS = ("n_results", "n_qc", "n_held", "n_not_analysed", "n_repeated", "n_out_of_scope")


def _place(folder: Path) -> Workplace:
    return Workplace(folder / "store.duckdb", load_settings(None))


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Workplace:
    place = _place(tmp_path_factory.mktemp("season"))
    summary = load([REPORTS], place, lambda *_: None)
    assert summary.count("refused") == 0, summary.files
    return place


def test_every_value_of_a_report_is_counted_once(season: Workplace) -> None:
    with Store(season.store, read_only=True) as store:
        reports = store.reports()
    assert reports.height == len([f for f in FILES if f.name != "lot_register.xlsx"])
    assert (
        reports["n_values"].to_list()
        == reports.select(pl.sum_horizontal(COUNTS)).to_series().to_list()
    )


def test_repeated_loads_change_nothing(season: Workplace) -> None:
    with Store(season.store, read_only=True) as store:
        before = store.fingerprint()
    summary = load([REPORTS], season, lambda *_: None)
    with Store(season.store, read_only=True) as store:
        assert store.fingerprint() == before
    assert summary.count("new") == 0


@pytest.mark.parametrize("seed", [1, 2])
def test_any_order_of_loading_gives_the_same_state(
    season: Workplace, tmp_path: Path, seed: int
) -> None:
    place, files = _place(tmp_path), list(FILES)
    random.Random(seed).shuffle(files)
    half = len(files) // 2
    load(files[:half], place, lambda *_: None)
    load(files[half:], place, lambda *_: None)
    with Store(season.store, read_only=True) as first, Store(place.store, read_only=True) as second:
        assert first.fingerprint() == second.fingerprint()


def test_derived_tables_equal_a_whole_rebuild(season: Workplace) -> None:
    with Store(season.store, read_only=True) as store:
        fractions, flags = store.fractions(), store.flags()
    refresh(season)
    with Store(season.store, read_only=True) as store:
        assert store.fractions().equals(fractions)
        assert store.flags().equals(flags)


def _shown(cell: openpyxl.cell.cell.Cell) -> str:
    """Show a cell as a spreadsheet does, for the few number formats of the sample reports."""
    value, code = cell.value, cell.number_format
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if set(code) <= {"0", "."}:
        return f"{value:.{len(code.partition('.')[2])}f}"
    return f"{value:g}"


@pytest.mark.parametrize(
    "path",
    [p for p in FILES if p.suffix == ".xlsx" and "register" not in p.name],
    ids=lambda p: p.stem,
)
def test_printed_text_and_stored_number_stand_in_their_cell(path: Path) -> None:
    (source,) = find([path]).sources
    (report,) = prepare([source], Workplace(Path("unused.duckdb"), load_settings(None)))
    assert isinstance(report, Report)
    book = openpyxl.load_workbook(path)
    kept = [report.stored, report.held, report.unused]
    for sheet, cell, text in pl.concat(
        f.select("sheet", "cell", "raw_value") for f in kept
    ).iter_rows():
        assert text == _shown(book[sheet][cell]), cell
    typed = report.stored.filter(pl.col("unit") == pl.col("raw_unit").str.replace("µ", "u"))
    for sheet, cell, value in typed.select("sheet", "cell", "value").drop_nulls().iter_rows():
        stored = book[sheet][cell].value
        if isinstance(stored, int | float):
            assert value == stored, cell
