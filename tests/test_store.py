"""The store: whole or nothing, the same from any order of loading, and asked through views."""

from __future__ import annotations

import hashlib
import itertools
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pytest

from pipeline.errors import CinderlotError, FileRefused, StoreBusy
from pipeline.register import Register, RegisterRefused, Stray
from pipeline.register.sheets import SHEETS
from pipeline.store import VIEWS, Store, documented_columns
from pipeline.store.succession import named_numbers, revision_rank
from pipeline.uncertainty import RECORD_LINES
from schemas.frames import FLAGS, FRACTIONS, HELD, PANELS, RESULTS
from schemas.report import STORED, UNUSED, Report

ROOT = Path(__file__).parents[1]
LAB = "North Laboratory"
ROW = {
    "sample_id": "S1",
    "sample_kind": "lot",
    "matrix": "red wine",
    "analyte": "guaiacol",
    "form": "free",
    "expressed_as": "guaiacol",
    "value": 5.0,
    "lower": 5.0,
    "upper": 5.0,
    "unit": "ug/L",
    "censoring": "none",
    "method": "GC-MS",
    "raw_analyte": "Guaiacol",
    "raw_value": "5.0",
    "raw_unit": "µg/L",
    "sheet": "Phenols",
    "cell": "C7",
    "outcome": "result",
}


def rows(*given: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame([{**ROW, **row} for row in given], schema=STORED)


def measured(value: float, **others: Any) -> dict[str, Any]:
    return {"value": value, "lower": value, "upper": value, "raw_value": str(value), **others}


def report(*given: dict[str, Any], held: int = 0, unused: int = 0, **others: Any) -> Report:
    """Build a report of these rows; its content decides its identifier."""
    told = {"lab": LAB, "report_no": "R-1", "revision": None, "replaces": None, **others}
    sha256 = hashlib.sha256(repr((given, held, unused, told)).encode()).hexdigest()
    names = {"report_id": sha256[:16], "file": f"{sha256[:4]}.xlsx"}
    stored = rows(*given).with_columns(
        **{k: pl.lit(v) for k, v in names.items()},
        **{k: pl.lit(told[k], pl.String) for k in ("lab", "report_no", "revision")},
    )
    fields = {"layout": "samples_down", "reported_on": date(2026, 3, 1), **told}
    return Report(
        **names,
        sha256=sha256,
        n_values=fields.pop("n_values", len(given) + held + unused),
        stored=stored.select(list(STORED)),
        held=pl.DataFrame(
            [
                {
                    **names,
                    "held_id": f"{sha256[:6]}{n}",
                    "sheet": "Phenols",
                    "cell": f"D{n}",
                    "raw_sample": "S1",
                    "raw_analyte": "Guiacol",
                    "raw_value": "4",
                    "reason_code": "analyte_unknown",
                }
                for n in range(held)
            ],
            schema=HELD,
        ),
        unused=pl.DataFrame(
            [
                {**names, "sheet": "Phenols", "cell": f"E{n}", "outcome": "not_analysed"}
                for n in range(unused)
            ],
            schema=UNUSED,
        ),
        **fields,
    )


def register(**sheets: list[dict[str, Any]]) -> Register:
    frames = {s.name: pl.DataFrame(sheets.get(s.name, []), schema=s.schema) for s in SHEETS}
    return Register("register.xlsx", **frames)


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty store; a copy of it is quicker than a new one."""
    path = tmp_path_factory.mktemp("store") / "empty.duckdb"
    Store(path).close()
    return path


@pytest.fixture
def file(tmp_path: Path, empty: Path) -> Path:
    return Path(shutil.copy(empty, tmp_path / "cellar.duckdb"))


@pytest.fixture
def new_file(tmp_path: Path) -> Path:
    return tmp_path / "new.duckdb"


@pytest.fixture
def files(tmp_path: Path, empty: Path) -> Iterator[Path]:
    return (Path(shutil.copy(empty, tmp_path / f"{n}.duckdb")) for n in itertools.count())


def load(file: Path, *parts: Report | Register) -> Store:
    """Store the parts and give the store open for asking."""
    with Store(file) as store:
        for part in parts:
            if isinstance(part, Report):
                store.add_report(part)
            else:
                store.add_register(part)
    return Store(file, read_only=True)


def column(frame: pl.DataFrame, name: str) -> list[Any]:
    return frame[name].to_list()


# Design section 2, "Views": the names and their order are a contract.
CONTRACT = {
    "reports": "report_id file sha256 lab report_no revision supersedes layout reported_on "
    "loaded_at n_values n_results n_qc n_held n_not_analysed n_repeated n_out_of_scope",
    "results": " ".join(RESULTS),
    "qc_results": " ".join(RESULTS) + " qc_kind",
    "held": "held_id report_id file sheet cell raw_sample raw_analyte raw_value raw_unit "
    "reason_code reason hint status held_at",
    "fractions": " ".join(FRACTIONS),
    "flags": " ".join(FLAGS),
    "lots": "lot region grower vineyard block variety colour vintage volume_l expected_picking_on",
    "samples": "sample_id lab lot sample_kind matrix stage sampled_on bunches brix treatment dose "
    "dose_unit trial",
    "movements": "from_lot to_lot kind volume_l moved_on",
    "interventions": "lot kind agent dose dose_unit done_on permission_note",
    "tastings": "lot attribute score scale_max panel_size tasted_on",
    "decisions": "lot decision decided_on who note retest_due_on",
    "exposures": "block from to growth_stage index source",
}


@pytest.mark.parametrize("view", CONTRACT)
def test_views_have_the_promised_columns_in_their_order(empty: Path, view: str) -> None:
    wanted = CONTRACT[view].split()
    with Store(empty, read_only=True) as store:
        assert store.frame(f"SELECT * FROM {view}").columns[: len(wanted)] == wanted


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_and_column_is_documented_where_it_can_be_asked(empty: Path, view: str) -> None:
    with Store(empty, read_only=True) as store:
        told = store.frame(
            "SELECT column_name, comment FROM duckdb_columns() "
            f"WHERE schema_name = 'main' AND table_name = '{view}' ORDER BY column_index"
        )
        about = store.frame(f"SELECT comment FROM duckdb_views() WHERE view_name = '{view}'")
    assert dict(told.iter_rows()) == documented_columns()[view]
    assert list(told["column_name"]) == list(documented_columns()[view])
    assert about["comment"].null_count() == 0


def test_frames_have_the_declared_types(file: Path) -> None:
    with load(file, report({})) as store:
        assert dict(store.results().schema) == RESULTS | {
            "held_id": pl.String(),
            "suspected_factor": pl.Float64(),
        }
        assert store.reports().schema["loaded_at"] == pl.Datetime("us", "UTC")
        assert dict(store.flags().schema) == FLAGS
        assert dict(store.fractions().schema) == FRACTIONS


def test_a_stored_number_comes_back_with_everything_printed_about_it(file: Path) -> None:
    full: dict[str, Any] = {name: ROW.get(name) for name in RESULTS} | {
        "lab_sample_id": "17",
        "lot": "26-SH-01",
        "vintage": 2026,
        "sampled_on": date(2026, 2, 3),
        "lod": 0.3,
        "loq": 1.0,
        "standard_uncertainty": 0.25,
        "replicate": "a",
        "qualifier": "J",
        "path_length": 1.0,
    }
    with load(file, report(full)) as store:
        back = store.results().row(0, named=True)
    stamped = {"report_id", "lab", "report_no", "revision", "file"}
    unknown = {"held_id": None, "suspected_factor": None}
    assert {k: v for k, v in back.items() if k not in stamped} == unknown | {
        k: v for k, v in full.items() if k not in stamped
    }


def test_the_same_bytes_again_change_nothing(file: Path) -> None:
    first = report({}, held=1)
    load(file, first).close()
    with Store(file) as store:
        before = store.fingerprint()
        assert store.add_report(first) == "known"
        assert store.fingerprint() == before
        assert store.reports().height == 1


def test_a_report_takes_the_laboratory_it_is_given_later_and_keeps_it(
    files: Iterator[Path],
) -> None:
    bare = report(measured(5), held=1, unused=1, lab=None)
    stored = bare.stored.with_columns(lab=pl.lit(LAB))
    named = replace(bare, lab=LAB, stored=stored)
    other = report(measured(5), measured(6, analyte="phenol"))
    states = set()
    for order in itertools.permutations((bare, named, other)):
        with load(next(files), *order) as store:
            states.add(store.fingerprint())
            assert store.stored_lab(bare.report_id) == LAB
            assert sorted(column(store.reports(), "n_held")) == [0, 1]
            assert store.view("unused").height == 1
    assert len(states) == 1


def test_a_report_is_judged_anew_when_what_judges_it_has_changed(file: Path) -> None:
    before = replace(report(measured(5), held=1), judged_with="a")
    after = replace(
        before, held=before.held.clear(), judged_with="b",
        stored=rows(measured(5), measured(4, analyte="phenol", cell="D0")),
    )  # fmt: skip
    with Store(file) as store:
        assert [store.add_report(r) for r in (before, before)] == ["new", "known"]
        came_in = column(store.reports(), "loaded_at")
        assert store.add_report(replace(after, lab=None)) == "known"
        assert store.add_report(after) == "renewed"
        assert sorted(column(store.results(), "value")) == [4.0, 5.0]
        assert store.held().is_empty()
        assert column(store.reports(), "loaded_at") == came_in


def test_counts_add_up_to_the_values_of_the_file(file: Path) -> None:
    kinds = [{"outcome": "result"}, {"outcome": "qc", "qc_kind": "blank"}, {"outcome": "repeated"}]
    with load(file, report(*kinds, held=2, unused=3)) as store:
        line = store.reports().row(0, named=True)
        assert column(store.qc_results(), "qc_kind") == ["blank"]
        assert store.results().height == 1
    counts = ["n_results", "n_qc", "n_held", "n_not_analysed", "n_repeated", "n_out_of_scope"]
    assert [line[name] for name in counts] == [1, 1, 2, 3, 1, 0]
    assert line["n_values"] == 8


def test_a_report_whose_values_are_not_all_accounted_for_is_refused_whole(file: Path) -> None:
    with Store(file) as store:
        with pytest.raises(FileRefused, match="9 values were counted but 1 are accounted for"):
            store.add_report(report({}, n_values=9))
        assert store.reports().is_empty()


@pytest.mark.parametrize(
    "spoil",
    [
        pytest.param(
            lambda r: replace(r, stored=r.stored.with_columns(vintage=pl.lit(10**12))),
            id="refused by the engine after the report's line",
        ),
        pytest.param(
            lambda r: replace(r, held=r.held.drop("hint")), id="refused after the results"
        ),
    ],
)
def test_a_failing_insert_leaves_nothing_of_the_report(
    file: Path, spoil: Callable[[Report], Report]
) -> None:
    bad = report({}, {"cell": "C8"}, held=1, report_no="R-2")
    with Store(file) as store:
        store.add_report(report({}))
        before = store.fingerprint()
        with pytest.raises((StoreBusy, pl.exceptions.ColumnNotFoundError)):
            store.add_report(spoil(bad))
        assert store.fingerprint() == before
        assert store.add_report(bad) == "new"


# The printed revision decides before the date; null is the original.
# (revision, issued on), from the oldest to the one in force.
CHAINS = [
    [(None, 1), ("1", 2), ("2", 3)],
    [(None, 3), ("Rev. 1", 2), ("Rev 2", 1)],
    [("A", 1), ("B", 1), ("C", 1)],
    [("Revision 9", 5), ("Revision 10", 4)],
    [("1.1", 1), ("1.2", 1)],
    [("preliminary", 1), ("final", 1)],
    [(None, 1), (None, 2)],
    [("1", 9), ("reissued after complaint", 10)],
]


@pytest.mark.parametrize("chain", CHAINS)
def test_the_latest_revision_stands_whatever_the_order_of_loading(
    files: Iterator[Path], chain: list[tuple[str | None, int]]
) -> None:
    reports = [
        report(measured(n), revision=revision, reported_on=date(2026, 3, day))
        for n, (revision, day) in enumerate(chain, start=1)
    ]
    states = set()
    for order in (reports, reports[::-1], [*reports[1:], reports[0]]):
        with load(next(files), *order) as store:
            assert column(store.results(), "value") == [float(len(chain))]
            replaced = dict(store.reports().select("report_id", "supersedes").iter_rows())
            states.add(store.fingerprint())
    assert replaced == {
        r.report_id: reports[n - 1].report_id if n else None for n, r in enumerate(reports)
    }
    assert len(states) == 1


@pytest.mark.parametrize(
    "others",
    [
        pytest.param({"reported_on": date(2026, 3, 1)}, id="same date"),
        pytest.param({"reported_on": None}, id="no date"),
        pytest.param({"revision": "1", "lab": None}, id="laboratory unknown"),
        pytest.param({"revision": "1", "report_no": None}, id="number unknown"),
        pytest.param({"revision": "1", "lab": "South Laboratory"}, id="other laboratory"),
        pytest.param({"revision": "1", "report_no": "R-2"}, id="other number"),
    ],
)
def test_reports_that_nothing_orders_both_stay(file: Path, others: dict[str, Any]) -> None:
    with load(file, report(measured(1)), report(measured(2), **others)) as store:
        assert sorted(column(store.results(), "value")) == [1.0, 2.0]
        assert column(store.reports(), "supersedes") == [None, None]


@pytest.mark.parametrize(
    ("name", "number"), [("north  LABORATORY ", "R-1"), (LAB, "r - 1"), (LAB, "R-1 ")]
)
def test_laboratory_and_number_are_compared_without_case_and_spaces(
    file: Path, name: str, number: str
) -> None:
    later = report(measured(2), lab=name, report_no=number, revision="1")
    with load(file, report(measured(1)), later) as store:
        assert column(store.results(), "value") == [2.0]


@pytest.mark.parametrize("named", ["R-1", "r-1 rev. 0", "R-9, R-1", "report R-1 of 1 March"])
def test_a_report_that_names_another_as_replaced_supersedes_it(
    files: Iterator[Path], named: str
) -> None:
    old, new = report(measured(1)), report(measured(2), report_no="R-2", replaces=named)
    for order in [(old, new), (new, old)]:
        with load(next(files), *order) as store:
            assert column(store.results(), "value") == [2.0]


def test_a_laboratory_and_a_lot_have_one_spelling_whatever_was_loaded_first(
    files: Iterator[Path],
) -> None:
    parts = (
        report({"lot": "l7 "}, lab="north  laboratory"),
        report(measured(6, lot="L7", sample_id="S2"), report_no="R-2"),
        report(measured(7, lot="l7", sample_id="S3"), report_no="R-3", lab="NORTH LABORATORY"),
    )
    for order in itertools.permutations(parts):
        with load(next(files), *order) as store:
            assert set(store.results().select("lab", "lot").rows()) == {("NORTH LABORATORY", "L7")}
            assert set(column(store.reports(), "lab")) == {"NORTH LABORATORY"}
    named = register(lots=[LOT], samples=[SAMPLE])
    with load(next(files), *parts, named) as store:
        assert set(column(store.results(), "lab")) == {LAB}


def test_reports_that_replace_each_other_both_stay(file: Path) -> None:
    one = report(measured(1), replaces="R-2")
    two = report(measured(2), report_no="R-2", replaces="R-1")
    with load(file, one, two) as store:
        assert sorted(column(store.results(), "value")) == [1.0, 2.0]


def test_a_reissue_that_replaces_its_own_number_is_the_later_one(file: Path) -> None:
    with load(file, report(measured(1)), report(measured(2), replaces="R-1")) as store:
        assert column(store.results(), "value") == [2.0]


@pytest.mark.parametrize(
    ("printed", "rank"),
    [
        (None, [0]),
        (" ", [0]),
        ("Rev. 1", [1]),
        ("01", [1]),
        ("A", [1]),
        ("Révision 3", [3]),
        ("v2", [2]),
        ("Amendment", [1]),
        ("original", [0]),
        ("draft", [-1]),
        ("as agreed", None),
    ],
)
def test_a_printed_revision_has_a_place(printed: str | None, rank: list[int] | None) -> None:
    assert revision_rank(printed) == rank


def test_replaced_numbers_are_read_without_their_revision() -> None:
    assert set(named_numbers("AB-12 Rev. 1, AB-13")) >= {"ab-12", "ab-13"}
    assert "1" not in named_numbers("AB-12 Rev. 1")
    assert named_numbers(" ") == []


def test_identical_values_sent_again_count_once_in_the_earlier_report(
    files: Iterator[Path],
) -> None:
    early = report(measured(1), measured(2, analyte="phenol"), reported_on=date(2026, 3, 1))
    late = report(measured(1), measured(7, analyte="syringol"), report_no="R-2",
                  reported_on=date(2026, 4, 1))  # fmt: skip
    states = set()
    for order in [(early, late), (late, early)]:
        with load(next(files), *order) as store:
            counts = {
                r["report_id"]: (r["n_results"], r["n_repeated"], r["n_values"])
                for r in store.reports().iter_rows(named=True)
            }
            assert counts == {early.report_id: (2, 0, 2), late.report_id: (1, 1, 2)}
            assert sorted(column(store.results(), "value")) == [1.0, 2.0, 7.0]
            states.add(store.fingerprint())
    assert len(states) == 1


@pytest.mark.parametrize(
    "other",
    [
        {"analysed_on": date(2026, 3, 2)},
        {"sampled_on": date(2026, 2, 2)},
        {"method": "HPLC"},
        {"form": "total"},
        {"sample_id": "S2"},
        {"replicate": "b"},
        {"dose": 20.0},
        {"upper": None},
    ],
)
def test_values_that_differ_in_anything_are_no_repeats(file: Path, other: dict[str, Any]) -> None:
    first = measured(1, sampled_on=date(2026, 2, 1))
    with load(file, report(first), report({**first, **other}, report_no="R-2")) as store:
        assert store.results().height == 2
        assert column(store.reports(), "n_repeated") == [0, 0]


def test_a_value_sent_again_without_the_facts_of_its_sample_counts_once(
    files: Iterator[Path],
) -> None:
    told = report(measured(1, **TOLD))
    silent = report(measured(1, **SILENT), report_no="R-2")
    for order in [(told, silent), (silent, told)]:
        with load(next(files), *order) as store:
            assert known(store, 1) == TOLD
            assert sum(column(store.reports(), "n_repeated")) == 1


def test_repeats_are_not_looked_for_in_other_or_unknown_laboratories(file: Path) -> None:
    names = [LAB, "South Laboratory", None, None]
    reports = [report({}, lab=name, report_no=f"R-{n}") for n, name in enumerate(names)]
    with load(file, *reports) as store:
        assert store.results().height == 4


def test_a_superseded_report_takes_no_repeats(file: Path) -> None:
    old = report(measured(1), reported_on=date(2026, 1, 1))
    new = report(measured(9), revision="1", reported_on=date(2026, 2, 1))
    other = report(measured(1), report_no="R-2", reported_on=date(2026, 3, 1))
    with load(file, old, new, other) as store:
        assert sorted(column(store.results(), "value")) == [1.0, 9.0]


LOT = {
    "lot": "26-SH-01",
    "region": "Upper Valley",
    "grower": "Hill Farm",
    "vineyard": "East",
    "block": "E1",
    "variety": "Shiraz",
    "colour": "red",
    "vintage": 2026,
}
SAMPLE = {"sample_id": "S1", "lab": LAB, "lot": "26-SH-01", "stage": "end of AF"}


def test_the_register_gives_a_sample_its_lot_before_or_after_the_report(
    files: Iterator[Path],
) -> None:
    parts = (report({"region": "elsewhere", "block": None}), register(lots=[LOT], samples=[SAMPLE]))
    states = set()
    for order in itertools.permutations(parts):
        with load(next(files), *order) as store:
            line = store.results().row(0, named=True)
            assert [line[k] for k in ("lot", "region", "block", "stage")] == [
                "26-SH-01", "Upper Valley", "E1", "end of AF",
            ]  # fmt: skip
            assert store.unassigned().is_empty()
            states.add(store.fingerprint())
    assert len(states) == 1


@pytest.mark.parametrize(
    ("lines", "printed", "lot"),
    [
        pytest.param([{**SAMPLE, "lab": "NORTH  laboratory"}], {}, "26-SH-01", id="case, spaces"),
        pytest.param([{**SAMPLE, "lab": None}], {}, "26-SH-01", id="any laboratory"),
        pytest.param(
            [{**SAMPLE, "lab": None, "lot": "26-ME-02"}, SAMPLE], {}, "26-SH-01", id="own line wins"
        ),
        pytest.param([{**SAMPLE, "lab": "South Laboratory"}], {}, None, id="another laboratory"),
        pytest.param(
            [{**SAMPLE, "sample_id": "17"}], {"lab_sample_id": "17"}, "26-SH-01", id="lab number"
        ),
        pytest.param([], {"lot": "26-sh-01"}, "26-SH-01", id="the report names the lot"),
        pytest.param([], {"lot": "unheard of"}, "unheard of", id="a lot of the report only"),
    ],
)
def test_printed_identifiers_lead_to_lots(
    file: Path, lines: list[dict[str, Any]], printed: dict[str, Any], lot: str | None
) -> None:
    merlot = {"lot": "26-ME-02", "colour": "red"}
    with load(file, report(printed), register(lots=[LOT, merlot], samples=lines)) as store:
        line = store.results().row(0, named=True)
    assert line["lot"] == lot
    assert line["vineyard"] == ("East" if lot == "26-SH-01" else None)


ASSUMED = {"matrix": "red wine", "qualifier": "J; matrix assumed: red wine"}


PAIR = [
    measured(value, sample_id=f"W-1{mark}", namesake_of="W-1", namesake_mark=mark, cell=f"C{n}")
    for n, (value, mark) in enumerate(((5.0, "a"), (7.0, "b")))
]
APART = [("W-1a", None, None), ("W-1b", None, None)]


@pytest.mark.parametrize(
    ("samples", "lots", "found"),
    [
        ([], ["L-1"], APART),
        (["W-1"], ["L-1"], [("W-1", "a", "L-1"), ("W-1", "b", "L-1")]),
        (["W-1", "W-1a"], ["L-1"], [("W-1a", None, "L-1"), ("W-1b", None, None)]),
        (["W-1"], ["L-1", "w-1B"], APART),
        ([], ["W-1", "L-1"], APART),
    ],
    ids=["unregistered", "one sample", "own sample", "own lot", "a lot of that name"],
)
def test_the_register_tells_replicates_from_samples_called_alike_in_any_order(
    files: Iterator[Path], samples: list[str], lots: list[str], found: list[tuple[str, ...]]
) -> None:
    known = register(
        lots=[{"lot": lot} for lot in lots],
        samples=[{"sample_id": s, "lab": LAB, "lot": "L-1"} for s in samples],
    )
    states = set()
    for parts in itertools.permutations([known, report(*PAIR)]):
        with load(next(files), *parts) as store:
            told = store.results().sort("cell").select("sample_id", "replicate", "lot").rows()
            states.add(store.fingerprint())
        assert told == found
    assert len(states) == 1


@pytest.mark.parametrize(
    ("printed", "lot", "sample", "matrix", "qualifier"),
    [
        ({"matrix": "wine"}, {"colour": "white"}, {}, "white wine", None),
        ({"matrix": "wine"}, {"colour": None, "variety": None}, {}, "wine", None),
        ({"matrix": "wine"}, {"colour": None, "variety": "Riesling"}, {}, "white wine",
         "matrix assumed: white wine"),
        ({"matrix": "rose wine"}, {"colour": "red"}, {}, "red wine", None),
        ({"matrix": "white wine"}, {"colour": None}, {}, "white wine", None),
        ({"matrix": "white wine"}, {"colour": "red"}, {"matrix": "rose wine"}, "rose wine", None),
        ({"matrix": "grape", "unit": "ug/kg"}, {"colour": "red"}, {}, "grape", None),
        ({"matrix": "must"}, {"colour": "red"}, {}, "must", None),
        (ASSUMED, {"colour": "rose"}, {}, "rose wine", "J"),
        (ASSUMED, {"colour": None, "variety": None}, {}, "red wine", ASSUMED["qualifier"]),
        ({"matrix": "wine"}, {"colour": "red"}, {"matrix": "model wine"}, "model wine", None),
        ({"matrix": "red wine"}, {"colour": "red"}, {"matrix": "wine"}, "red wine", None),
        ({"matrix": None, "unit": "ug/kg"}, {"colour": "red"}, {}, None, None),
        ({"matrix": "wine", "qualifier": "matrix assumed: wine"}, {"colour": "red"},
         {"stage": "must"}, "wine", "matrix assumed: wine"),
    ],
)  # fmt: skip
def test_the_colour_of_a_wine_comes_from_the_register_then_print_then_variety(
    file: Path,
    printed: dict[str, Any],
    lot: dict[str, Any],
    sample: dict[str, Any],
    matrix: str | None,
    qualifier: str | None,
) -> None:
    known = register(lots=[{**LOT, **lot}], samples=[{**SAMPLE, **sample}])
    with load(file, report(printed), known) as store:
        line = store.results().row(0, named=True)
    assert (line["matrix"], line["qualifier"]) == (matrix, qualifier)


def test_an_unknown_kind_of_sample_is_the_lot_itself(file: Path) -> None:
    with load(file, report({"sample_kind": None})) as store:
        assert column(store.results(), "sample_kind") == ["lot"]


def test_a_dose_of_the_register_brings_its_own_unit(file: Path) -> None:
    told = register(lots=[LOT], samples=[{**SAMPLE, "dose": 40.0, "sample_kind": "bench treated"}])
    with load(file, report({"dose": 0.4, "dose_unit": "g/L"}), told) as store:
        line = store.results().row(0, named=True)
    assert (line["sample_kind"], line["dose"], line["dose_unit"]) == ("bench treated", 40.0, None)


def test_a_later_register_updates_rows_by_key_and_keeps_those_left_out(file: Path) -> None:
    moved = {"from_lot": "a", "to_lot": "b", "kind": "rack", "volume_l": 10.0}
    first = register(lots=[LOT, {"lot": "26-ME-02"}], samples=[SAMPLE], movements=[moved])
    second = register(
        lots=[{**LOT, "vineyard": "West"}], movements=[moved, {**moved, "to_lot": "c"}]
    )
    with load(file, first, second) as store:
        assert dict(store.view("lots").select("lot", "vineyard").iter_rows()) == {
            "26-SH-01": "West",
            "26-ME-02": None,
        }
        assert store.view("samples").height == 1
        assert column(store.view("movements"), "to_lot") == ["b", "c"]


def having(register: Register, **columns: str) -> Register:
    """Say which columns of its sheets the register's workbook has."""
    return replace(register, columns={name: tuple(c.split()) for name, c in columns.items()})


def test_a_column_a_later_register_does_not_have_keeps_what_was_known(file: Path) -> None:
    first = register(
        lots=[LOT, {"lot": "26-ME-02", "variety": "Merlot"}],
        samples=[{**SAMPLE, "matrix": "red wine"}],
    )
    update = register(
        lots=[{"lot": "26-SH-01 ", "colour": "rose", "vineyard": None}, {"lot": "26-GR-03"}],
        samples=[{**SAMPLE, "stage": None}],
    )
    update = having(update, lots="lot colour vineyard", samples="sample_id lab lot stage")
    with load(file, first, update) as store:
        lots = store.view("lots").select("lot", "variety", "colour", "vineyard").rows()
        assert sorted(lots) == [
            ("26-GR-03", None, None, None),
            ("26-ME-02", "Merlot", None, None),
            ("26-SH-01 ", "Shiraz", "rose", None),
        ]
        told = store.view("samples").select("sample_id", "lab", "matrix", "stage").rows()
        assert told == [("S1", LAB, "red wine", None)]


def test_a_register_may_speak_of_lots_of_an_earlier_one_only(file: Path) -> None:
    strays = (Stray("samples", "26-sh-01", "samples!C2"), Stray("movements", "X", "movements!A2"))
    update = replace(register(lots=[{"lot": "26-ME-02"}], samples=[SAMPLE]), strays=strays)
    with Store(file) as store:
        with pytest.raises(RegisterRefused, match="samples!C2"):
            store.add_register(update)
        assert store.view("lots").is_empty()
        store.add_register(register(lots=[LOT]))
        assert store.add_register(update) == "new"
        assert column(store.view("samples"), "lot") == ["26-SH-01"]
        assert store.strays(update) == strays[1:]


def test_an_empty_column_and_none_are_two_registers(file: Path) -> None:
    given = register(lots=[{"lot": "26-SH-01"}])
    with Store(file) as store:
        store.add_register(register(lots=[LOT]))
        assert store.add_register(having(given, lots="lot")) == "new"
        assert column(store.view("lots"), "variety") == ["Shiraz"]
        assert store.add_register(given) == "new"
        assert column(store.view("lots"), "variety") == [None]


@pytest.mark.parametrize(
    ("labs", "after"), [((LAB,), [LAB]), ((LAB, "South"), [None, LAB, "South"])]
)
def test_a_sample_sheet_without_laboratories_speaks_of_the_only_one_known(
    file: Path, labs: tuple[str, ...], after: list[str | None]
) -> None:
    first = register(lots=[LOT], samples=[{**SAMPLE, "lab": lab} for lab in labs])
    update = register(lots=[LOT], samples=[{"sample_id": SAMPLE["sample_id"], "lot": "26-SH-01"}])
    with load(file, first, having(update, samples="sample_id lot")) as store:
        assert sorted(column(store.view("samples"), "lab"), key=str) == after


def test_the_same_register_again_is_known_but_an_older_one_counts_anew(file: Path) -> None:
    east, west = register(lots=[LOT]), register(lots=[{**LOT, "vineyard": "West"}])
    with Store(file) as store:
        assert [store.add_register(r) for r in (east, east, west, east)] == [
            "new", "known", "new", "new",
        ]  # fmt: skip
        assert column(store.view("lots"), "vineyard") == ["East"]


def test_samples_without_lot_are_listed_with_the_nearest_known_name(file: Path) -> None:
    given = [{"sample_id": "26-SH-O1"}, {"sample_id": "26-SH-O1", "cell": "C8"},
             {"sample_id": "tank 7", "cell": "C9"}]  # fmt: skip
    with load(file, report(*given), register(lots=[LOT])) as store:
        assert store.unassigned().rows() == [
            (LAB, "26-SH-O1", 2, "26-SH-01"),
            (LAB, "tank 7", 1, None),
        ]


def test_a_report_that_contradicts_the_register_is_shown(file: Path) -> None:
    printed = {"vineyard": "West", "variety": "SHIRAZ", "stage": "bottled", "matrix": "white wine"}
    with load(file, report(printed), register(lots=[LOT], samples=[SAMPLE])) as store:
        shown = store.view("contradictions")
    assert sorted(shown.select("field", "in_report", "in_register", "cell").rows()) == [
        ("matrix", "white wine", "red wine", "C7"),
        ("stage", "bottled", "end of AF", "C7"),
        ("vineyard", "West", "East", "C7"),
    ]


TOLD = {"lot": "L-1", "stage": "end of AF", "sampled_on": date(2026, 2, 1), "matrix": "red wine"}
FACTS = ("lot", "stage", "sampled_on", "matrix")
SILENT = dict.fromkeys(FACTS)


def known(store: Store, value: float) -> dict[str, Any]:
    """What the view results knows of the sample with this value."""
    [row] = store.results().filter(pl.col("value") == value).select(FACTS).to_dicts()
    return row


def test_what_one_report_says_of_a_sample_holds_in_the_others_of_its_laboratory(
    file: Path,
) -> None:
    told = report(measured(1, **TOLD))
    silent = report(measured(2, **SILENT, form="total"), report_no="R-2")
    elsewhere = report(measured(3, **SILENT), report_no="R-3", lab="South Laboratory")
    with load(file, silent, told, elsewhere) as store:
        assert known(store, 2) == known(store, 1) == TOLD
        assert known(store, 3) == SILENT
        assert store.view("contradictions").is_empty()


@pytest.mark.parametrize(
    ("second", "shared"),
    [
        ({"lot": "L-2"}, set()),
        ({"stage": "ageing"}, {"lot"}),
        ({"sampled_on": date(2026, 5, 1)}, {"lot"}),
    ],
)
def test_a_name_used_again_shares_only_what_both_agree_on(
    file: Path, second: dict[str, Any], shared: set[str]
) -> None:
    reports = [
        report(measured(1, **TOLD)),
        report(measured(2, **{**TOLD, **second}), report_no="R-2"),
        report(measured(3, **SILENT), report_no="R-3"),
    ]
    for order in itertools.permutations(reports):
        with load(file, *order) as store:
            assert known(store, 1) == TOLD
            assert known(store, 2) == {**TOLD, **second}
            found = known(store, 3)
            assert {n for n in ("lot", "stage", "sampled_on") if found[n]} == shared
        file.unlink()


def test_one_name_for_two_lots_is_no_repeat_and_is_shown(file: Path) -> None:
    first, second = (report(measured(1, lot=lot), report_no=lot) for lot in ("L-1", "L-2"))
    with load(file, first, second) as store:
        assert sorted(column(store.results(), "lot")) == ["L-1", "L-2"]
        shown = store.view("contradictions").select("field", "in_report", "in_register",
                                              "in_other_reports")  # fmt: skip
        assert sorted(shown.rows()) == [("lot", "L-1", None, "L-2"), ("lot", "L-2", None, "L-1")]
    settled = register(lots=[LOT], samples=[{"sample_id": "S1", "lot": "26-SH-01"}])
    with load(file, settled) as store:
        assert set(column(store.results(), "lot")) == {"26-SH-01"}
        told = store.view("contradictions").select("in_report", "in_register", "in_other_reports")
        assert sorted(told.rows()) == [("L-1", "26-SH-01", None), ("L-2", "26-SH-01", None)]


def test_a_superseded_report_says_nothing_of_a_sample(file: Path) -> None:
    old = report(measured(1, **TOLD))
    new = report(measured(2, **{**TOLD, "lot": "L-9"}), revision="1")
    silent = report(measured(3, **SILENT), report_no="R-2")
    with load(file, old, new, silent) as store:
        assert known(store, 3)["lot"] == "L-9"


def test_values_a_revision_no_longer_carries_are_withdrawn(file: Path) -> None:
    old = report(measured(1), measured(2, analyte="phenol"), measured(3, analyte="syringol"),
                 measured(4, analyte="eugenol", raw_analyte="Guiacol"))  # fmt: skip
    new = report(measured(1), measured(2.5, analyte="phenol"), held=1, revision="1")
    with load(file, old, new) as store:
        gone = store.view("withdrawn")
        assert gone.select("analyte", "value", "report_id", "old_report_id").rows() == [
            ("syringol", 3.0, new.report_id, old.report_id)
        ]
        assert store.view("withdrawn").filter(report_id=old.report_id).is_empty()


def test_a_revision_is_compared_value_by_value(file: Path) -> None:
    old = report(measured(1), measured(2, analyte="phenol"), measured(3, analyte="syringol"))
    new = report(measured(1, cell="D7"), measured(2.5, analyte="phenol", cell="D8"),
                 measured(8, analyte="eugenol"), revision="1")  # fmt: skip
    with load(file, new, old) as store:
        changes = store.amended(new.report_id)
        assert store.amended().equals(changes)
    told = changes.select("change", "analyte", "raw_before", "raw_now", "old_cell", "new_cell")
    assert sorted(told.rows()) == [
        ("added", "eugenol", None, "8", None, f"{new.file}|Phenols!C7"),
        ("changed", "phenol", "2", "2.5", f"{old.file}|Phenols!C7", f"{new.file}|Phenols!D8"),
        ("withdrawn", "syringol", "3", None, f"{old.file}|Phenols!C7", None),
    ]


def test_a_register_and_all_reports_give_one_state_in_every_order(files: Iterator[Path]) -> None:
    parts: list[Report | Register] = [
        report(measured(1), measured(2, analyte="phenol")),
        report(measured(1.5), revision="1", reported_on=date(2026, 3, 9)),
        report(measured(1.5), report_no="R-2", reported_on=date(2026, 4, 1)),
        register(lots=[LOT], samples=[SAMPLE]),
    ]
    states = set()
    for order in list(itertools.permutations(parts))[::5]:
        with load(next(files), *order) as store:
            states.add(store.fingerprint())
    assert len(states) == 1


def test_the_fingerprint_notices_one_value(files: Iterator[Path]) -> None:
    with load(next(files), report(measured(1), report_no="R")) as one:
        first = one.fingerprint()
    with load(next(files), report(measured(1.25), report_no="R")) as other:
        assert other.fingerprint() != first


FLAG = {
    "lot": "26-SH-01",
    "kind": "over_threshold",
    "decision": "above",
    "raised_at": datetime(2026, 3, 1, 12, tzinfo=UTC),
    "status": "current",
}


def flags(*given: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame([{**FLAG, **row} for row in given], schema=FLAGS)


def test_derived_tables_are_replaced_whole(file: Path) -> None:
    fraction = pl.DataFrame([{"lot": "26-SH-01", "aglycone": "panel"}], schema=FRACTIONS)
    with Store(file) as store:
        store.replace_derived(fraction, flags({}, {"kind": "bound_growth"}))
        store.replace_derived(fraction.clear(), flags({"decision": "below"}))
        assert store.fractions().is_empty()
        assert store.flags().equals(flags({"decision": "below"}))


def test_what_is_derived_is_out_of_date_as_soon_as_something_is_stored(file: Path) -> None:
    derived = (pl.DataFrame(schema=FRACTIONS), flags(), "settings")
    with Store(file) as store:
        for part in (report(measured(5)), register(lots=[LOT])):
            store.replace_derived(*derived)
            assert store.derived_with() == "settings"
            store.add_report(part) if isinstance(part, Report) else store.add_register(part)
            assert store.derived_with() is None
        store.replace_derived(*derived)
        store.add_report(report(measured(5)))
        assert store.derived_with() == "settings"


def test_a_digest_is_remembered_with_its_flags(file: Path) -> None:
    with Store(file) as store:
        assert store.last_digest() is None
        store.record_digest(flags({}, {"kind": "bound_growth"}), {"first_line": "2 lots"})
        store.record_digest(flags({}), {"first_line": "1 lot"})
    with Store(file, read_only=True) as store:
        last = store.last_digest()
    assert last is not None
    assert last.summary == {"first_line": "1 lot"}
    assert last.flags.equals(flags({}))
    assert abs((datetime.now(UTC) - last.written_at).total_seconds()) < 60


@pytest.fixture(scope="module", params=[True, False], ids=["read only", "for writing"])
def asked(
    request: pytest.FixtureRequest, empty: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """A store with one report beside two other files, open for asking; no query changes it."""
    folder = tmp_path_factory.mktemp("asked")
    (folder / "secret.txt").write_text("secret")
    (folder / "secret.csv").write_text("a\n1\n")
    file = Path(shutil.copy(empty, folder / "cellar.duckdb"))
    load(file, report({})).close()
    with Store(file, read_only=request.param) as store:
        before = store.fingerprint()
        yield store
        assert store.fingerprint() == before


@pytest.mark.parametrize(
    ("query", "why"),
    [
        ("SELEC 1", 'syntax error at or near "SELEC"'),
        ("SELECT nothing FROM results", "nothing"),
        ("DELETE FROM base.report", "read-only"),
        ("INSERT INTO base.version VALUES (9, '')", "read-only"),
        ("CREATE TABLE mine (a INTEGER)", "read-only"),
        ("SELECT 1; DROP VIEW results", "exactly one query"),
        ("COMMIT; DELETE FROM base.report", "exactly one query"),
        ("COPY results TO '{folder}/out.csv'", "file system operations are disabled"),
        ("ATTACH '{folder}/other.duckdb'", "file system operations are disabled"),
        ("SELECT * FROM read_text('{folder}/secret.txt')", "file system operations are disabled"),
        ("SELECT * FROM '{folder}/secret.csv'", "secret.csv"),
        ("INSTALL spatial", "disabled"),
        ("SET enable_external_access = true", "external access"),
        ("", "exactly one query"),
    ],
)
def test_queries_only_read_and_only_the_store(asked: Store, query: str, why: str) -> None:
    with pytest.raises(CinderlotError, match=re.escape(why)) as raised:
        asked.frame(query.format(folder=asked.path.parent))
    assert "\n" not in str(raised.value)
    assert asked.frame("SELECT count(*) AS n FROM results").rows() == [(1,)]
    assert asked.frame("SELECT count(*) AS n FROM base.report").rows() == [(1,)]


HOLD = """
import sys, time
from pipeline.store import Store
with Store(sys.argv[1], read_only=sys.argv[3] == "read"):
    print("open", flush=True)
    time.sleep(float(sys.argv[2]))
"""


def other_process(code: str, *args: object) -> subprocess.Popen[str]:
    """Run code in a second process; it has begun when this returns."""
    started = subprocess.Popen(
        [sys.executable, "-c", code, *map(str, args)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}"},
    )
    assert started.stdout is not None
    assert started.stdout.readline().strip() == "open"
    return started


def end(process: subprocess.Popen[str]) -> None:
    process.kill()
    process.communicate()


@pytest.mark.parametrize("read_only", [True, False])
def test_a_store_held_by_another_process_is_refused_with_its_number(
    file: Path, read_only: bool
) -> None:
    load(file, report({})).close()
    holder = other_process(HOLD, file, 60, "write")
    try:
        with pytest.raises(StoreBusy, match=f"process {holder.pid} is using the store"):
            Store(file, read_only=read_only, wait=0.3)
    finally:
        end(holder)


@pytest.mark.parametrize("read_only", [True, False])
def test_a_store_that_comes_free_in_time_is_opened(file: Path, read_only: bool) -> None:
    load(file, report({})).close()
    holder = other_process(HOLD, file, 1.0, "write")
    try:
        with Store(file, read_only=read_only, wait=20) as store:
            assert store.reports().height == 1
    finally:
        end(holder)


def test_readers_do_not_hinder_readers(file: Path) -> None:
    load(file, report({})).close()
    holder = other_process(HOLD, file, 60, "read")
    try:
        with Store(file, read_only=True, wait=0) as store:
            assert store.reports().height == 1
    finally:
        end(holder)


LOAD = """
import sys, itertools
from test_store import report, measured
from pipeline.store import Store
rows = [measured(n, sample_id=f"S{n}", cell=f"C{n}") for n in range(2000)]
with Store(sys.argv[1]) as store:
    print("open", flush=True)
    for n in itertools.count():
        store.add_report(report(*rows, held=5, report_no=f"R-{n}"))
        print(f"R-{n}", flush=True)
"""


@pytest.mark.parametrize("delay", [0.0, 0.03, 0.055, 0.11, 0.2])
def test_a_load_that_is_killed_leaves_every_report_whole_or_absent(
    file: Path, delay: float
) -> None:
    loader = other_process(LOAD, file)
    time.sleep(delay)
    os.kill(loader.pid, signal.SIGKILL)
    printed, _ = loader.communicate()
    with Store(file) as store:
        reports = store.reports()
        counted = store.frame(
            "SELECT r.report_no, count(v.value_key) AS n FROM base.report r "
            "LEFT JOIN base.resolved v USING (load_no) GROUP BY ALL"
        )
        assert store.add_report(report({}, report_no="after")) == "new"
    assert set(printed.split()) <= set(reports["report_no"])
    assert set(counted["n"]) <= {2000}
    assert set(reports["n_held"]) <= {5}
    assert "after" not in reports["report_no"]


LIMITED = """
import resource, signal, sys
from test_store import report, measured
from pipeline.errors import StoreBusy
from pipeline.store import Store
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
rows = [measured(n / 7, sample_id=f"S{n}", cell=f"C{n}") for n in range(20000)]
store = Store(sys.argv[1])
print("open", flush=True)
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, resource.RLIM_INFINITY))
try:
    store.add_report(report(*rows, report_no="big"))
except StoreBusy as error:
    print(error, flush=True)
sys.stdout.flush()
import os
os._exit(0)
"""


def test_a_disk_that_is_full_is_said_and_leaves_the_store_as_it_was(file: Path) -> None:
    load(file, report({})).close()
    said, _ = other_process(LIMITED, file).communicate()
    assert "make room" in said
    with Store(file) as store:
        assert column(store.reports(), "report_no") == ["R-1"]


def test_a_store_called_like_the_tables_inside_is_refused_before_it_is_made(tmp_path: Path) -> None:
    with pytest.raises(CinderlotError, match="give the store another name"):
        Store(tmp_path / "Base.duckdb", adding=True)
    assert not list(tmp_path.iterdir())


def test_a_reader_needs_a_store(new_file: Path) -> None:
    with pytest.raises(CinderlotError, match="there is no store yet; load a report first"):
        Store(new_file, read_only=True)


def test_a_file_that_is_no_store_is_left_alone(new_file: Path) -> None:
    new_file.write_text("lot,guaiacol\n" * 500)
    with pytest.raises(CinderlotError, match="not a store"):
        Store(new_file)
    assert new_file.read_text().startswith("lot,guaiacol")


def test_a_store_that_was_copied_in_part_says_what_to_do(file: Path) -> None:
    with Store(file) as store:
        store.add_report(report(*(measured(n, cell=f"C{n}") for n in range(500))))
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    with pytest.raises(
        CinderlotError, match="damaged or was copied only in part; put a whole copy"
    ):
        Store(file)


def test_another_programs_database_is_left_alone(new_file: Path) -> None:
    with duckdb.connect(str(new_file)) as con:
        con.execute("CREATE TABLE cellar (lot VARCHAR)")
    with pytest.raises(CinderlotError, match="another program's database"):
        Store(new_file)


@pytest.mark.parametrize("read_only", [True, False])
def test_a_newer_store_is_refused(file: Path, read_only: bool) -> None:
    load(file).close()
    with duckdb.connect(str(file)) as con:
        con.execute("UPDATE base.version SET schema_version = 99")
    with pytest.raises(CinderlotError, match="newer cinderlot"):
        Store(file, read_only=read_only)


def test_views_are_renewed_when_the_program_defines_them_otherwise(file: Path) -> None:
    load(file, report({})).close()
    with duckdb.connect(str(file)) as con:
        con.execute("CREATE OR REPLACE VIEW lots AS SELECT 1 AS old")
        con.execute("UPDATE base.version SET definitions = 'old'")
    with Store(file) as store:
        assert store.view("lots").columns == CONTRACT["lots"].split()
        assert store.reports().height == 1


@contextmanager
def as_a_plain_user() -> Iterator[None]:
    """Give up root's right to write anywhere for a while, where the tests run as root."""
    nobody, user = 65534, os.geteuid()
    if user == 0:
        os.seteuid(nobody)
    try:
        yield
    finally:
        if user == 0:
            os.seteuid(user)


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with as_a_plain_user(), pytest.raises(StoreBusy, match="cannot be used"):
        Store(tmp_path / "cellar.duckdb")


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(StoreBusy, match="nowhere does not exist; make it first"):
        Store(tmp_path / "nowhere" / "cellar.duckdb")


def test_a_writer_is_told_when_this_process_reads_the_store_already(file: Path) -> None:
    with load(file, report({})), pytest.raises(StoreBusy, match="open already"):
        Store(file, wait=0)


# Uncertainty of each result

HORWITZ = tomllib.loads(
    (ROOT / "tests" / "reference" / "horwitz_thompson.toml").read_text(encoding="utf-8")
)


def weighed(store: Store) -> list[tuple[Any, ...]]:
    query = "SELECT value, standard_uncertainty, uncertainty_source FROM results ORDER BY cell"
    return store.frame(query).rows()


def test_the_view_gives_every_concentration_the_usual_uncertainty(file: Path) -> None:
    # Thompson 2000, worked values; the same table as for pipeline/uncertainty.
    given = [measured(c, cell=f"C{n:02d}") for n, (c, _) in enumerate(HORWITZ["relative"])]
    with load(file, report(*given)) as store:
        for (value, u, source), (_, relative) in zip(
            weighed(store), HORWITZ["relative"], strict=True
        ):
            assert u / value == pytest.approx(relative, abs=HORWITZ["tolerance"])
            assert source == "default (Horwitz-Thompson)"
        assert set(column(store.results(), "standard_uncertainty")) == {None}


def test_the_view_takes_the_best_uncertainty_known(file: Path) -> None:
    given = [
        measured(20.0, cell="C1", standard_uncertainty=0.5, uncertainty_source="report"),
        measured(20.0, cell="C2"),
        measured(20.0, cell="C3", analyte="phenol"),
        measured(20.0, cell="C4", analyte="phenol", uncertainty_source="printed, kind unknown"),
        measured(20.0, cell="C5", analyte="syringol"),
        {"value": None, "lower": 0.0, "upper": 1.0, "censoring": "left", "cell": "C6"},
        measured(0.5, cell="C7", analyte="A420", form=None, unit="AU"),
    ]
    record = pl.DataFrame(
        [
            (
                " north  LABORATORY",
                None,
                "guaiacol",
                "free",
                None,
                0.03,
                0.8,
                "laboratory record",
                None,
            ),
            (LAB, "GC-MS", "guaiacol", "free", "ug/L", 0.5, 0.0, "control chart", None),
            (LAB, "GC-MS", "syringol", "free", "ug/L", 0.1, 0.0, "control chart", None),
        ],
        schema=RECORD_LINES,
        orient="row",
    )
    load(file, report(*given)).close()
    with Store(file) as store:
        store.replace_derived(store.fractions(), store.flags(), record=record)
        assert weighed(store) == [
            (20.0, 0.5, "report"),
            (20.0, pytest.approx(1.0), "laboratory record"),
            (20.0, pytest.approx(4.4), "default (Horwitz-Thompson)"),
            (20.0, pytest.approx(4.4), "printed, kind unknown; default (Horwitz-Thompson)"),
            (20.0, pytest.approx(2.0), "control chart"),
            (None, None, None),
            (0.5, None, None),
        ]


def test_a_store_of_before_gains_the_new_columns(file: Path) -> None:
    load(file, report({})).close()
    with duckdb.connect(str(file)) as con:
        for table in ("flag", "digest_flag"):
            con.execute(f"ALTER TABLE base.{table} DROP COLUMN note")
            con.execute(f"ALTER TABLE base.{table} DROP COLUMN free_change")
            con.execute(f"ALTER TABLE base.{table} DROP COLUMN uncertainty_source")
        con.execute("ALTER TABLE base.settlement DROP COLUMN corrected_dose")
        con.execute("DROP TABLE base.panel CASCADE")
        con.execute("UPDATE base.version SET definitions = 'older'")
    with Store(file, read_only=True) as store:
        assert not store.is_renewed()
    with Store(file) as store:
        assert store.is_renewed()
        assert store.derived_with() is None, "what was derived before lacks the new columns"
        assert dict(store.flags().schema) == FLAGS
        assert dict(store.view("panels").schema) == PANELS
        assert "corrected_dose" in store.settleable().columns
