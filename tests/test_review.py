"""Settling what was held: the workbook out, filled in as a person would, and brought back.

The reports are invented; what their cells mean is written here before the program reads them.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from openpyxl import Workbook, load_workbook

from pipeline.cli import run
from pipeline.errors import CinderlotError
from pipeline.review.teach import Lesson, write_lessons
from pipeline.store import Store

ROOT = Path(__file__).parents[1]
# Held: both of zeta (no vocabulary has it), both of phenol (no unit), S-2's guaiacol (no number),
# and "=1+1" of S-1's syringol, which must stay text wherever it goes.
REPORT = """Laboratory,Bench of the Test
Report number,TB-1
,
Sample,Lot,Matrix,Stage,Free guaiacol (ug/L),Free zeta (ug/L),Free phenol,Free syringol (ug/L)
S-1,L-1,Red wine,end of AF,12.3,4.0,0.5,=1+1
S-2,L-2,Red wine,end of AF,about 40,1.1,0.7,3.3
"""
REVISED = REPORT.replace("TB-1\n", "TB-1\nRevision,1\n").replace("about 40", "41")
HELD = {"zeta 1": "F5", "zeta 2": "F6", "phenol 1": "G5", "phenol 2": "G6", "guaiacol": "E6",
        "syringol": "H5"}  # fmt: skip
Fill = dict[str, dict[str, Any]]


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with the report, its store, and a workbook taken out of it."""
    folder = tmp_path_factory.mktemp("loaded")
    (folder / "a.csv").write_text(REPORT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        assert run(["load", "a.csv"]) == 0
        assert run(["held", "--export", "out.xlsx"]) == 0
    return folder


@pytest.fixture
def place(loaded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(loaded, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def ids() -> dict[str, str]:
    """Give the identifiers of the held values by their names in HELD."""
    with Store("cinderlot.duckdb", read_only=True) as store:
        cells = dict(store.held().filter("is_current").select("cell", "held_id").iter_rows())
    return {name: cells[cell] for name, cell in HELD.items() if cell in cells}


def rows(name: str = "results") -> list[dict[str, Any]]:
    with Store("cinderlot.duckdb", read_only=True) as store:
        return store.view(name).to_dicts()


def corrected() -> dict[str, Any]:
    """Give the corrected results as cell -> number or interval."""
    return {r["cell"]: r["value"] if r["value"] is not None else (r["lower"], r["upper"])
            for r in rows() if r["held_id"]}  # fmt: skip


def statuses() -> dict[str, str]:
    return {r["cell"]: r["status"] for r in rows("held") if r["is_current"]}


def fingerprint() -> str:
    with Store("cinderlot.duckdb", read_only=True) as store:
        return store.fingerprint()


def write(fill: Fill, groups: Fill | None = None, source: str = "out.xlsx",
          to: str = "in.xlsx") -> None:  # fmt: skip
    """Fill in lines of the workbook; values by their name in HELD, groups by their analyte."""
    book, known = load_workbook(source), ids()
    for sheet, key, lines in (
        ("held values", "held_id", {known.get(n, n): given for n, given in fill.items()}),
        ("groups", "printed analyte", groups or {}),
    ):
        page = book[sheet]
        head = {cell.value: cell.column for cell in page[1]}
        found = {page.cell(row, head[key]).value: row for row in range(2, page.max_row + 1)}
        for line, given in lines.items():
            for column, value in given.items():
                page.cell(found[line], head[column]).value = value
    book.save(to)


CORRECT = {"decision": "correct", "who": "A. Tester"}
GOOD: Fill = {
    "guaiacol": CORRECT | {"corrected value": 40.5, "note": "by telephone"},
    "syringol": {"decision": "dismiss", "who": "A. Tester"},
    "phenol 2": CORRECT | {"corrected value": "<0.8", "unit": "ug/L"},
    "zeta 1": {"decision": "ask the laboratory", "who": "A. Tester"},
}
GOOD_GROUPS: Fill = {"Free phenol": CORRECT | {"unit": "ng/mL"}}


def test_the_workbook_shows_what_is_needed_and_offers_the_words(place: Path) -> None:
    book = load_workbook("out.xlsx")
    assert book.sheetnames == ["held values", "groups", "read me", "words"]
    page = book["held values"]
    head = [cell.value for cell in page[1]]
    lines = {row[0].value: dict(zip(head, row, strict=True)) for row in page.iter_rows(min_row=2)}
    line = {name: cell.value for name, cell in lines[ids()["guaiacol"]].items()}
    assert line["file"], line["cell"] == ("a.csv", "E6")
    assert (line["printed sample"], line["printed value"]) == ("S-2", "about 40")
    assert line["reason code"] == "not_a_number"
    assert "«about 40»" in line["neighbourhood"]
    assert "12.3" in line["neighbourhood"]
    assert page.freeze_panes == "E2"
    assert page.auto_filter.ref.startswith("A1:")
    # A4 across holds some 130 characters of the usual size between its margins.
    widths = [size.width for size in page.column_dimensions.values()]
    across = page.page_setup.fitToWidth
    assert 130 * across / (sum(widths) + (across - 1) * sum(widths[:4])) > 0.55
    offered = {v.formula1 for v in page.data_validations.dataValidation}
    assert '"correct,confirm,dismiss,ask the laboratory"' in offered
    assert any(f.startswith("words!") for f in offered)
    text = lines[ids()["syringol"]]["printed value"]
    assert (text.value, text.data_type) == ("=1+1", "s")
    fills = {name: cell.fill.fgColor.rgb for name, cell in lines[ids()["guaiacol"]].items()}
    assert fills["decision"] == fills["teach"] != fills["reason"]


def test_groups_hold_values_of_one_reason_and_one_printed_name(place: Path) -> None:
    page = load_workbook("out.xlsx")["groups"]
    head = [cell.value for cell in page[1]]
    found = [
        dict(zip(head, row, strict=True)) for row in page.iter_rows(min_row=2, values_only=True)
    ]
    told = {(r["printed analyte"], r["reason code"], r["values"]) for r in found}
    assert told == {("Free zeta (ug/L)", "analyte_unknown", 2), ("Free phenol", "unit_missing", 2)}


def test_a_filled_workbook_is_never_overwritten(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = Path("out.xlsx").read_bytes()
    assert run(["held", "--export", "out.xlsx"]) == 2
    assert "out.xlsx is there already" in capsys.readouterr().err
    assert Path("out.xlsx").read_bytes() == before


def test_decisions_become_results_that_point_at_their_cell(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    counts = rows("reports")
    write(GOOD, GOOD_GROUPS)
    assert run(["held", "--apply", "in.xlsx"]) == 0
    said = capsys.readouterr().out
    assert "3 corrected, 0 confirmed, 1 dismissed, 1 asked, 0 stored before, 1 left open" in said
    # The group says ng/mL for both phenols; the line of S-2 says <0.8 ug/L and goes first.
    assert corrected() == {"E6": 40.5, "G5": 0.5, "G6": (0.0, 0.8)}
    assert statuses() == {"F5": "asked", "F6": "open", "G5": "corrected", "G6": "corrected",
                          "E6": "corrected", "H5": "dismissed"}  # fmt: skip
    row = next(r for r in rows() if r["held_id"] == ids()["guaiacol"])
    assert (row["raw_value"], row["raw_analyte"], row["sheet"], row["file"]) == (
        "about 40", "Free guaiacol (ug/L)", "a", "a.csv",
    )  # fmt: skip
    assert (row["lot"], row["stage"], row["form"], row["unit"]) == (
        "L-2", "end of AF", "free", "ug/L",
    )  # fmt: skip
    assert row["qualifier"].startswith("corrected by A. Tester on 20")
    assert rows("reports") == counts
    # 40.5 ug/L guaiacol is far above the shipped threshold of red wine, 23 ug/L.
    above = {(f["lot"], f["analyte"]) for f in rows("flags") if f["decision"] == "above"}
    assert ("L-2", "guaiacol") in above


# A laboratory whose usual limit is 0.6 ug/L prints 600 beside two numbers: the unit may have slipped.
SLIPPED = """Laboratory,Bench of the Test
Report number,TB-9
,
Sample,Lot,Matrix,Stage,Parameter,Fraction,Result,Unit,LOQ,Method
S-1,L-1,Red wine,end of AF,Guaiacol,free,8000,ug/L,600,GC
S-1,L-1,Red wine,end of AF,o-Cresol,free,<600,ug/L,600,GC
S-1,L-1,Red wine,end of AF,Syringol,free,about 4,ug/L,,GC
"""
LIMITS = """[laboratory."Bench of the Test".limits]
guaiacol = { loq = 0.6 }
o-cresol = { loq = 0.6 }
"""


def test_a_slip_of_the_unit_is_lifted_by_confirming_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("z.csv").write_text(SLIPPED, encoding="utf-8")
    Path("cinderlot.toml").write_text(LIMITS, encoding="utf-8")
    assert run(["load", "z.csv"]) == 0
    held = {r["raw_analyte"]: r for r in rows("held")}
    assert {n: r["reason_code"] for n, r in held.items()} == {
        "Guaiacol": "unit_slip", "o-Cresol": "unit_slip", "Syringol": "not_a_number",
    }  # fmt: skip
    assert "times 1e-3" in held["Guaiacol"]["hint"]
    counts = rows("reports")
    assert run(["held", "--export", "out.xlsx"]) == 0
    confirm = {"decision": "confirmed", "who": "A. Tester", "note": "by telephone"}
    known = {name: r["held_id"] for name, r in held.items()}
    write({known["Guaiacol"]: confirm, known["o-Cresol"]: confirm, known["Syringol"]: confirm})
    capsys.readouterr()
    assert run(["held", "--apply", "in.xlsx"]) == 1
    told = capsys.readouterr()
    assert "0 corrected, 2 confirmed, 0 dismissed" in told.out
    assert "confirm goes with unit_slip only" in told.err
    found = {r["analyte"]: r for r in rows()}
    assert (found["guaiacol"]["value"], found["guaiacol"]["suspected_factor"]) == (8000, None)
    assert (found["o-cresol"]["lower"], found["o-cresol"]["upper"]) == (0, 600)
    assert "confirmed by A. Tester on 20" in found["guaiacol"]["qualifier"]
    assert {r["status"] for r in rows("held")} == {"confirmed", "open"}
    assert {r["decision"] for r in rows("corrections")} == {"confirm"}
    assert rows("reports") == counts
    # What is confirmed decides, and is not suspected again, although no wine was published with it.
    flags = {(f["kind"], f["analyte"], f["decision"]) for f in rows("flags")}
    assert ("over_threshold", "guaiacol", "above") in flags
    assert not any(kind == "unit_slip" for kind, _, _ in flags)
    assert run(["load", "z.csv"]) == 0
    assert {r["analyte"] for r in rows()} == {"guaiacol", "o-cresol"}
    assert run(["held", "--undo", known["Guaiacol"]]) == 0
    assert "the confirmation was taken back; it is open" in capsys.readouterr().out
    assert {r["analyte"] for r in rows()} == {"o-cresol"}


def test_applying_twice_changes_nothing_and_undo_opens_again(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    untouched = rows()
    write(GOOD, GOOD_GROUPS)
    run(["held", "--apply", "in.xlsx"])
    before = fingerprint()
    capsys.readouterr()
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert (
        "0 corrected, 0 confirmed, 0 dismissed, 0 asked, 5 stored before" in capsys.readouterr().out
    )
    assert fingerprint() == before
    for name in ("guaiacol", "syringol", "phenol 1", "phenol 2", "zeta 1"):
        assert run(["held", "--undo", ids()[name]]) == 0
    assert set(statuses().values()) == {"open"}
    assert rows() == untouched
    assert {r["status"] for r in rows("corrections")} == {"undone"}
    after = fingerprint()
    assert run(["held", "--undo", ids()["guaiacol"]]) == 0
    assert "nothing is decided; it is open" in capsys.readouterr().out
    assert fingerprint() == after
    assert run(["held", "--undo", "0000"]) == 2
    assert 'no held value is called "0000"' in capsys.readouterr().err


def test_the_order_of_two_workbooks_does_not_matter(place: Path) -> None:
    write({"guaiacol": GOOD["guaiacol"]}, to="one.xlsx")
    write({"phenol 2": GOOD["phenol 2"]}, GOOD_GROUPS, to="two.xlsx")
    shutil.copy("cinderlot.duckdb", "other.duckdb")
    for name in ("one.xlsx", "two.xlsx"):
        assert run(["held", "--apply", name]) == 0
    first = fingerprint()
    shutil.move("other.duckdb", "cinderlot.duckdb")
    for name in ("two.xlsx", "one.xlsx"):
        assert run(["held", "--apply", name]) == 0
    assert fingerprint() == first


VALUED = CORRECT | {"corrected value": 4}
# Workbooks of bad lines: held value, what is filled in, the column that is blamed, what is said.
BAD: list[list[tuple[str, dict[str, Any], str, str]]] = [
    [
        ("guaiacol", {"corrected value": 4}, "decision", "half-filled"),
        ("syringol", {"decision": "correct", "corrected value": 4}, "who", "half-filled"),
        ("zeta 1", CORRECT, "decision", "half-filled"),
        ("zeta 2", CORRECT | {"decision": "corect"}, "decision", "did you mean correct?"),
        ("phenol 1", CORRECT | {"analyte": "guaiacoll"}, "analyte", "did you mean guaiacol?"),
        ("phenol 2", CORRECT | {"analyte": "cresol"}, "analyte", "may be more than one"),
    ],
    [
        ("guaiacol", CORRECT | {"unit": "ug/LL"}, "unit", "did you mean"),
        ("syringol", CORRECT | {"form": "fre"}, "form", "did you mean free?"),
        ("zeta 1", CORRECT | {"corrected value": "forty"}, "corrected value", "neither a number"),
        ("zeta 2", CORRECT | {"corrected value": "1,234"}, "corrected value", "in two ways"),
        ("phenol 1", CORRECT | {"corrected value": "n/a"}, "corrected value", "dismiss"),
        ("phenol 2", CORRECT | {"corrected value": "=1+1"}, "corrected value", "formula"),
    ],
    [
        ("guaiacol", CORRECT | {"corrected value": -3}, "held_id", "(negative)"),
        ("syringol", CORRECT | {"corrected value": 4e6}, "held_id", "(impossible)"),
        ("zeta 1", VALUED, "held_id", "(analyte_unknown)"),
        ("zeta 2", VALUED | {"analyte": "phenol", "teach": "yes", "unit": "ug/kg"}, "held_id",
         "(unit_basis)"),
        ("phenol 1", CORRECT | {"corrected value": "n.d.", "unit": "ug/L"}, "held_id",
         "(limit_unknown)"),
        ("phenol 2", VALUED, "held_id", "(unit_missing)"),
    ],
    [
        ("guaiacol", VALUED | {"sample": "S-1"}, "held_id", "a!E5: 12.3 ug/L"),
        ("syringol", VALUED | {"analyte": "guaiacol", "teach": "yes"}, "held_id",
         "known as syringol"),
        ("zeta 1", VALUED | {"teach": "yes"}, "analyte", "half-filled"),
        ("zeta 2", VALUED | {"printed value": "1.2"}, "printed value", "sorted apart"),
        ("phenol 1", VALUED | {"sample": "S-3", "unit": "ug/L"}, "held_id", "did you mean"),
        ("phenol 2", {"decision": "dismiss", "who": "x", "unit": "ug/L"}, "unit",
         "does not go with"),
    ],
]  # fmt: skip


@pytest.mark.parametrize("lines", BAD)
def test_each_bad_line_is_named_with_its_cell_and_nothing_of_it_is_stored(
    place: Path,
    capsys: pytest.CaptureFixture[str],
    lines: list[tuple[str, dict[str, Any], str, str]],
) -> None:
    before = fingerprint()
    write({name: given for name, given, _, _ in lines})
    page = load_workbook("in.xlsx")["held values"]
    head = {cell.value: cell.column_letter for cell in page[1]}
    at = {page.cell(row, 1).value: row for row in range(2, page.max_row + 1)}
    assert run(["held", "--apply", "in.xlsx"]) == 1
    told = capsys.readouterr()
    assert "6 refused" in told.out
    for name, given, column, said in lines:
        place_of = f"in.xlsx: held values!{head[column]}{at[ids()[name]]}: "
        found = [line for line in told.err.splitlines() if line.startswith(place_of)]
        assert len(found) == 1, (given, told.err)
        assert said in found[0], given
    assert fingerprint() == before
    assert not Path("vocabulary.toml").exists()


def test_good_lines_are_stored_beside_bad_ones(place: Path) -> None:
    write({"guaiacol": {"corrected value": 4}, "phenol 1": CORRECT | {"unit": "ug/L"}})
    assert run(["held", "--apply", "in.xlsx"]) == 1
    assert corrected() == {"G5": 0.5}


def test_a_group_of_many_cannot_take_one_sample(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write({}, {"Free phenol": CORRECT | {"unit": "ug/L", "sample": "S-1"}})
    assert run(["held", "--apply", "in.xlsx"]) == 1
    assert "one sample for a whole group" in capsys.readouterr().err
    assert corrected() == {}


def test_what_was_settled_meanwhile_is_stale(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write({"guaiacol": GOOD["guaiacol"]})
    write({"guaiacol": CORRECT | {"corrected value": 44}}, to="late.xlsx")
    run(["held", "--apply", "in.xlsx"])
    assert run(["held", "--apply", "late.xlsx"]) == 1
    told = capsys.readouterr().err
    assert "stale: corrected by A. Tester on 20" in told
    assert f"--undo {ids()['guaiacol']}" in told
    assert corrected() == {"E6": 40.5}
    run(["held", "--undo", ids()["guaiacol"]])
    assert run(["held", "--apply", "late.xlsx"]) == 0
    assert corrected() == {"E6": 44.0}


def test_a_revision_makes_corrections_stale_and_shows_its_differences(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(GOOD, GOOD_GROUPS)
    run(["held", "--apply", "in.xlsx"])
    old = {r["held_id"] for r in rows("held")}
    Path("b.csv").write_text(REVISED.replace("12.3", "n.d."), encoding="utf-8")
    run(["load", "b.csv"])
    assert corrected() == {}
    assert {(r["status"], r["reason"]) for r in rows("corrections")} == {
        ("stale", "a newer report replaces this one")
    }
    told = {(r["sample_id"], r["analyte"]): (r["change"], r["old_upper"], r["raw_now"])
            for r in rows("amendments")}  # fmt: skip
    # S-1's guaiacol is n.d. now, below a limit that stands nowhere: held. The phenols were known by
    # correction only and are held again.
    assert told == {
        ("S-1", "guaiacol"): ("held", 12.3, "n.d."),
        ("S-2", "guaiacol"): ("changed", 40.5, "41"),
        ("S-1", "phenol"): ("held", 0.5, "0.5"),
        ("S-2", "phenol"): ("held", 0.8, "0.7"),
    }
    capsys.readouterr()
    assert run(["held", "--apply", "in.xlsx"]) == 1
    assert capsys.readouterr().err.count("stale: a newer report replaces a.csv") == 5
    assert run(["held", "--csv"]) == 0
    listed = pl.read_csv(capsys.readouterr().out.encode())
    assert not old & set(listed["held_id"])
    assert set(listed["status"]) == {"open"}


def test_a_workbook_of_another_store_is_refused(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(GOOD)
    assert run(["load", "a.csv", "--db", "other.duckdb"]) == 0
    assert run(["held", "--apply", "in.xlsx", "--db", "other.duckdb"]) == 1
    assert "taken out of another store" in capsys.readouterr().err
    with Store("other.duckdb", read_only=True) as store:
        assert store.view("corrections").is_empty()


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda book: book.remove(book["held values"]), 'no sheet is called "held values"'),
        (lambda book: book.remove(book["read me"]), 'the line "store" is missing'),
        (lambda book: book["held values"].delete_cols(1), "no column is headed held_id"),
    ],
)
def test_what_is_no_such_workbook_is_refused(
    place: Path, capsys: pytest.CaptureFixture[str], spoil: Callable[[Workbook], Any], said: str
) -> None:
    book = load_workbook("out.xlsx")
    spoil(book)
    book.save("in.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 1
    assert said in capsys.readouterr().err


def test_moved_columns_and_deleted_lines_are_no_hindrance(place: Path) -> None:
    write({"guaiacol": GOOD["guaiacol"]})
    book = load_workbook("in.xlsx")
    page = book["held values"]
    kept = [[cell.value for cell in row] for row in page.iter_rows()]
    page.delete_rows(1, page.max_row)
    for row in kept:
        if row[0] in ("held_id", ids()["guaiacol"]):
            page.append([None, *reversed(row)])
    book.save("in.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert corrected() == {"E6": 40.5}


def test_a_name_is_taught_and_its_report_judged_anew(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(GOOD, {"Free zeta (ug/L)": CORRECT | {"analyte": "eugenol", "teach": "yes"}})
    assert run(["held", "--apply", "in.xlsx"]) == 0
    said = capsys.readouterr().out
    assert 'vocabulary.toml: "zeta" is a name of eugenol from now on' in said
    assert 'at the top of cinderlot.toml, a new file: vocabulary = "vocabulary.toml"' in said
    assert "load these files again to judge them anew with it: a.csv" in said
    assert Path("vocabulary.toml").read_text() == '[analytes]\n"zeta" = "eugenol"\n'
    # zeta 1 is asked on its own line, which goes before its group.
    assert corrected() == {"E6": 40.5, "F6": 1.1, "G6": (0.0, 0.8)}
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert Path("vocabulary.toml").read_text() == '[analytes]\n"zeta" = "eugenol"\n'
    Path("cinderlot.toml").write_text('vocabulary = "vocabulary.toml"\n')
    assert run(["load", "a.csv"]) == 0
    # Both zetas are results now; the other corrections stand as before.
    assert {r["cell"] for r in rows() if r["analyte"] == "eugenol"} == {"F5", "F6"}
    assert corrected() == {"E6": 40.5, "G6": (0.0, 0.8)}
    stale = {(r["cell"], r["reason"]) for r in rows("corrections") if r["status"] == "stale"}
    assert stale == {(cell, "judged anew: the value is no longer held") for cell in ("F5", "F6")}


def test_lessons_keep_what_stands_in_the_file(tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    text = '# ours\n[analytes]\n"old name" = "phenol"\n\n[other]\nkey = 1\n'
    file.write_text(text)
    assert write_lessons(file, [Lesson("Old Name", "phenol")]) == ()
    assert file.read_text() == text
    new = Lesson('the "new" one', "eugenol")
    assert write_lessons(file, [new, new]) == (new,)
    assert file.read_text() == text.replace(
        "[analytes]\n", '[analytes]\n"the \\"new\\" one" = "eugenol"\n'
    )
    with pytest.raises(CinderlotError, match='gives "old name" to phenol'):
        write_lessons(file, [Lesson("old name", "eugenol")])
    file.write_text('analytes = { "x" = "phenol" }\n')
    with pytest.raises(CinderlotError, match=r'write under \[analytes\]: "y" = "eugenol"'):
        write_lessons(file, [Lesson("y", "eugenol")])
    assert file.read_text() == 'analytes = { "x" = "phenol" }\n'


def test_an_asked_value_can_be_settled_when_the_answer_comes(place: Path) -> None:
    write(GOOD)
    run(["held", "--apply", "in.xlsx"])
    assert run(["held", "--export", "second.xlsx"]) == 0
    write({"zeta 1": CORRECT | {"analyte": "eugenol"}}, source="second.xlsx", to="answer.xlsx")
    assert run(["held", "--apply", "answer.xlsx"]) == 0
    assert corrected()["F5"] == 4.0
    told = [(r["decision"], r["status"]) for r in rows("corrections") if r["cell"] == "F5"]
    assert sorted(told) == [("ask", "replaced"), ("correct", "standing")]


def command(*words: str) -> subprocess.Popen[str]:
    line = [sys.executable, "-m", "pipeline.cli", *words]
    return subprocess.Popen(
        line, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=_env()
    )


def _env() -> dict[str, str]:
    import os

    return os.environ | {"PYTHONPATH": str(ROOT)}


def test_two_processes_apply_one_workbook_once(place: Path) -> None:
    write(GOOD, GOOD_GROUPS)
    both = [command("held", "--apply", "in.xlsx") for _ in range(2)]
    outs = [process.communicate(timeout=600)[0] for process in both]
    assert [process.returncode for process in both] == [0, 0], outs
    assert sorted(("3 corrected" in out, "5 stored before" in out) for out in outs) == [
        (False, True), (True, False),
    ]  # fmt: skip
    assert len(rows("corrections")) == 5
    assert len(corrected()) == 3


def moments() -> Iterator[float]:
    yield from (1.5, 3.0, 4.5)


def test_a_killed_apply_stores_all_or_nothing(place: Path) -> None:
    write(GOOD, GOOD_GROUPS)
    for seconds in moments():
        process = command("held", "--apply", "in.xlsx")
        time.sleep(seconds)
        process.kill()
        process.communicate()
        assert len(rows("corrections")) in (0, 5)
        assert len(corrected()) in (0, 3)
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert len(rows("corrections")) == 5
    assert ("L-2", "guaiacol") in {(f["lot"], f["analyte"]) for f in rows("flags")}


NO_SAMPLE = """Laboratory,Bench of the Test
Report number,TB-2
,
Sample,Lot,Matrix,Stage,Free guaiacol (ug/L)
S-9,,Red wine,bottled,9.9
,L-7,Red wine,bottled,5.5
"""


def test_a_sample_that_was_taken_back_leaves_no_trace(place: Path) -> None:
    Path("c.csv").write_text(NO_SAMPLE, encoding="utf-8")
    run(["load", "c.csv"])
    before = rows()
    with Store("cinderlot.duckdb", read_only=True) as store:
        found = store.held().filter(pl.col("reason_code") == "sample_missing")["held_id"][0]
    assert run(["held", "--export", "second.xlsx"]) == 0
    # S-1 is of report TB-1; S-9 of this one, which says nothing of its lot.
    write({found: CORRECT | {"sample": "S-1"}}, source="second.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 1
    write({found: CORRECT | {"sample": "S-9"}, "phenol 1": {}}, source="second.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 1
    write({found: CORRECT | {"sample": "S-9", "corrected value": 9.9}}, source="second.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 1
    write({found: CORRECT | {"sample": "S-9", "form": "bound"}}, source="second.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert {(r["sample_id"], r["lot"], r["form"]) for r in rows() if r["held_id"]} == {
        ("S-9", "L-7", "bound")
    }
    assert run(["held", "--undo", found]) == 0
    assert rows() == before


# Held: every value of S-1, whose day nobody can tell from its month, and of S-2, whose dose may be
# per mass or per volume.
DATED = """Laboratory,Bench of the Test
Report number,TB-2
,
Sample,Lot,Matrix,Stage,Sampled,Received,Treatment,Dose,Free guaiacol (ug/L),Free phenol (ug/L)
S-1,L-1,Red wine,end of AF,03/04/2026,05/04/2026,,,12.3,4.0
S-2,L-2,Red wine,bottled,2026-04-01,2026-04-02,fining trial,400 ppm,9,3.3
"""


@pytest.fixture(scope="module")
def dated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with a report of unclear dates and doses, loaded, and its workbook."""
    folder = tmp_path_factory.mktemp("dated")
    (folder / "b.csv").write_text(DATED, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        assert run(["load", "b.csv"]) == 0
        assert run(["held", "--export", "out.xlsx"]) == 0
    return folder


def test_a_date_and_a_dose_are_corrected(
    dated: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(dated, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    assert statuses() == dict.fromkeys(["I5", "J5", "I6", "J6"], "open")
    book = load_workbook("out.xlsx")
    page = book["groups"]
    head = {cell.value: cell.column for cell in page[1]}
    [line] = [row[0].row for row in page.iter_rows(min_row=2)
              if row[head["reason code"] - 1].value == "date_ambiguous"]  # fmt: skip
    for column, value in (CORRECT | {"date": "2026-04-03, 2026-04-05"}).items():
        page.cell(line, head[column]).value = value
    page = book["held values"]
    head = {cell.value: cell.column for cell in page[1]}
    lines = {page.cell(row, head["cell"]).value: row for row in range(2, page.max_row + 1)}
    for cell, dose in (("I6", "40 g/hL"), ("J6", "40 ppm")):
        for column, value in (CORRECT | {"dose": dose}).items():
            page.cell(lines[cell], head[column]).value = value
    book.save("in.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 1, "ppm says neither mass nor volume"
    assert statuses() == {"I5": "corrected", "J5": "corrected", "I6": "corrected", "J6": "open"}
    found = {r["cell"]: r for r in rows()}
    days = {(r["sampled_on"], r["received_on"]) for r in (found["I5"], found["J5"])}
    assert days == {(date(2026, 4, 3), date(2026, 4, 5))}
    assert (found["I6"]["dose"], found["I6"]["dose_unit"]) == (40, "g/hL")
    told = {r["cell"]: r for r in rows("corrections")}
    assert told["I5"]["corrected_date"] == "2026-04-03, 2026-04-05"
    assert told["I6"]["corrected_dose"] == "40 g/hL"
    assert run(["load", "b.csv"]) == 0
    assert {r["cell"] for r in rows()} == {"I5", "J5", "I6"}


def test_a_day_that_is_none_and_one_that_leaves_another_open_are_refused(
    dated: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(dated, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    book = load_workbook("out.xlsx")
    page = book["held values"]
    head = {cell.value: cell.column for cell in page[1]}
    lines = {page.cell(row, head["cell"]).value: row for row in range(2, page.max_row + 1)}
    # A date typed into a spreadsheet is one; the day of receipt stays unclear.
    for cell, day in (
        ("I5", "3 April"), ("J5", datetime(2026, 4, 3)), ("I6", datetime(2026, 4, 3)),
    ):  # fmt: skip
        for column, value in (CORRECT | {"date": day}).items():
            page.cell(lines[cell], head[column]).value = value
    book.save("in.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 1
    said = capsys.readouterr().err
    assert "more days are given than dates wait for one" in said
    assert 'date "3 April" is none; write a day such as 2026-03-01' in said
    assert "(date_ambiguous)" in said
    assert set(statuses().values()) == {"open"}


DOUBTED = """Laboratory,Bench of the Test
Report number,TB-9
,
Sample,Free guaiacol (ug/L),Corrected free guaiacol (ug/L),Uncorrected free phenol (ug/L)
S-1,46,47,5
MAX,12,12,3
"""


def test_what_was_doubted_can_be_settled_by_a_number(place: Path) -> None:
    Path("d.csv").write_text(DOUBTED, encoding="utf-8")
    run(["load", "d.csv"])
    with Store("cinderlot.duckdb", read_only=True) as store:
        held = store.held().filter(pl.col("file") == "d.csv")
        found = dict(held.select("cell", "held_id").iter_rows())
    assert sorted(found) == ["B5", "B6", "C5", "C6", "D5", "D6"]
    assert run(["held", "--export", "second.xlsx"]) == 0
    given = {"C5": 47, "D5": 5, "B6": 12}
    fill = {found[cell]: CORRECT | {"corrected value": number} for cell, number in given.items()}
    write(fill, source="second.xlsx")
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert {r["cell"]: r["value"] for r in rows() if r["held_id"]} == given


# Held for what stands beside the number, or for what another place says: in each case a person who
# looked at the report can say what is right, in the one yellow cell the reason calls for.
BESIDE = """Laboratory,Bench of the Test
Report number,TB-{}
,
"""
BESIDES = {
    # A letter between two results may belong to either: "U" is "not detected", "R" is "rejected".
    "letter": ("""Sample,Free guaiacol (ug/L),,Free syringol (ug/L)
S1,5,U,3
S2,6,,2
S3,7,R,4
""", {"B5": {"corrected value": 5}, "D5": {"corrected value": "<3"}, "B7": {"corrected value": 7},
      "D7": {"corrected value": 4}}, {"B5": 5, "D5": (0, 3), "B7": 7, "D7": 4}),
    # The sample's name says total, its title free.
    "form": ("""Free volatile phenols (ug/L)
Sample,Guaiacol,Syringol
S1 (free),1,2
S1 (total),10,20
""", {"B7": {"form": "total"}, "C7": {"form": "total"}}, {"B7": 10, "C7": 20}),
    # No limit of quantification lies below that of detection.
    "limits": ("""Free volatile phenols (ug/L)
Sample,Guaiacol,Syringol
LOD,1,1
LOQ,0.3,0.3
S1,nd,<LOQ
""", {"B8": {"corrected value": "<0.2"}, "C8": {"corrected value": 7.5}}, {"B8": (0, 0.2), "C8": 7.5}),
    # One column is headed per gram; the laboratory meant litres, as everywhere else.
    "mass": ("""Sample,Free guaiacol (ug/L),Free o-cresol (ug/g),Free phenol (ug/L)
S1,46,47,5
S2,40,41,6
""", {"C5": {"unit": "ug/L"}, "C6": {"unit": "ug/L"}}, {"C5": 47, "C6": 41}),
}  # fmt: skip


def test_what_a_value_was_held_for_is_answered_by_its_cell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name, (table, _, _) in BESIDES.items():
        Path(f"{name}.csv").write_text(BESIDE.format(name) + table, encoding="utf-8")
    assert run(["load", *(f"{name}.csv" for name in BESIDES)]) == 0
    assert run(["held", "--export", "out.xlsx"]) == 0
    held = {(r["sheet"], r["cell"]): r["held_id"] for r in rows("held")}
    given = {(name, cell): fill for name, (_, cells, _) in BESIDES.items()
             for cell, fill in cells.items()}  # fmt: skip
    assert held.keys() == given.keys()
    write({held[at]: CORRECT | fill for at, fill in given.items()})
    assert run(["held", "--apply", "in.xlsx"]) == 0
    found = {(r["sheet"], r["cell"]): r["value"] if r["value"] is not None
             else (r["lower"], r["upper"]) for r in rows() if r["held_id"]}  # fmt: skip
    assert found == {(name, c): v for name, (_, _, meant) in BESIDES.items()
                     for c, v in meant.items()}  # fmt: skip
    told = {r["form"] for r in rows() if r["held_id"] and r["sheet"] == "form"}
    assert told == {"total"}


def rearranged(book: Workbook) -> None:
    """Leave a workbook as people do: a title on top, columns of their own, a remark below."""
    page = book["held values"]
    wide, long = page.max_column, page.max_row
    for column in (wide + 1, wide + 2):
        page.cell(1, column).value = "check"
        page.cell(2, column).value = "seen"
    page.cell(long + 3, 2).value = "call the laboratory on Tuesday"
    head = {cell.value: cell.column for cell in page[1]}
    for row in range(2, long + 1):
        cell = page.cell(row, head["printed value"])
        # What a spreadsheet offers to do with numbers that are stored as text.
        if str(cell.value).replace(".", "").isdigit():
            cell.value = float(cell.value)
    page.insert_rows(1)
    page["A1"].value = "Review of November"


def copied(book: Workbook) -> None:
    """Fill in a copy of the sheet instead of the sheet."""
    book.copy_worksheet(book["held values"])
    page = book["held values"]
    for row in page.iter_rows(min_row=2):
        for cell in row[11:22]:
            cell.value = None


def test_a_workbook_that_was_rearranged_is_taken_back(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    dismissed = {"decision": "Dismissed ", "who": "B. Tester"}
    write({"zeta 1": CORRECT | {"analyte": "eugenol"}, "guaiacol": dismissed})
    book = load_workbook("in.xlsx")
    rearranged(book)
    book.save("moved.xlsx")
    capsys.readouterr()
    assert run(["held", "--apply", "moved.xlsx"]) == 0
    assert "1 corrected, 0 confirmed, 1 dismissed, 0 asked, 0 stored before, 4 left open" in (
        capsys.readouterr().out
    )
    assert corrected() == {"F5": 4.0}
    book = load_workbook("in.xlsx")
    copied(book)
    book.save("copy.xlsx")
    assert run(["held", "--apply", "copy.xlsx"]) == 1
    assert "held values copy!L" in (told := capsys.readouterr().err)
    assert "this sheet is not read" in told


# Two lines of one sample, whose second phenol is below its limit; a path without a unit; a matrix
# that no vocabulary has.
DOUBLED = """Laboratory,Bench of the Test
Report number,TB-7
,
Sample,Lot,Matrix,Stage,Free guaiacol (ug/L),Free phenol (ug/L),A420,Path length
S-1,L-1,Red wine,end of AF,12,4.0,,
S-1,L-1,Red wine,end of AF,18,<1,,
S-2,L-2,Barrel seven,end of AF,3,1.1,0.7,5
"""


@pytest.fixture(scope="module")
def doubled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with that report, loaded, and its workbook."""
    folder = tmp_path_factory.mktemp("doubled")
    (folder / "a.csv").write_text(DOUBLED, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        assert run(["load", "a.csv"]) == 0
        assert run(["held", "--export", "out.xlsx"]) == 0
    return folder


def fill_cells(fill: Fill, groups: Fill | None = None) -> None:
    """Fill in lines of out.xlsx by their cells, groups by their printed analyte; saves in.xlsx."""
    book = load_workbook("out.xlsx")
    for sheet, key, given in (
        ("held values", "cell", fill), ("groups", "printed analyte", groups or {}),
    ):  # fmt: skip
        page = book[sheet]
        head = {cell.value: cell.column for cell in page[1]}
        lines = {page.cell(row, head[key]).value: row for row in range(2, page.max_row + 1)}
        for name, entries in given.items():
            for column, value in entries.items():
                page.cell(lines[name], head[column]).value = value
    book.save("in.xlsx")


REPLICATE = CORRECT | {"replicate": "yes"}


def test_two_values_are_settled_as_replicates_and_their_mean_decides(
    doubled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(doubled, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    flags = rows("flags")
    fill_cells(
        {"E5": CORRECT | {"replicate": 1}, "E6": CORRECT | {"replicate": 2}},
        groups={"Free phenol (ug/L)": REPLICATE},
    )
    assert run(["held", "--apply", "in.xlsx"]) == 0
    found = {r["cell"]: r for r in rows()}
    assert {c: r["replicate"] for c, r in found.items()} == {
        "E5": "1", "E6": "2", "F5": "a!F5", "F6": "a!F6"
    }  # fmt: skip
    assert {c: r["raw_value"] for c, r in found.items()} == {
        "E5": "12", "E6": "18", "F5": "4.0", "F6": "<1"
    }  # fmt: skip
    # By hand: guaiacol (12 + 18) / 2; phenol from (4 + 0) / 2 to (4 + 1) / 2.
    means = {r["analyte"]: (r["lower"], r["upper"]) for r in rows("flags")
             if r["kind"] == "over_threshold"}  # fmt: skip
    assert means == {"guaiacol": (15, 15), "phenol": (2, 2.5)}
    told = {r["cell"]: r for r in rows("corrections")}
    assert told["F5"]["corrected_replicate"] == "a!F5"
    assert told["E5"]["who"] == "A. Tester"
    settled = fingerprint()
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert run(["load", "a.csv"]) == 0
    assert fingerprint() == settled
    for held_id in [r["held_id"] for r in rows("corrections")]:
        assert run(["held", "--undo", held_id]) == 0
    assert not rows()
    assert set(statuses().values()) == {"open"}
    assert rows("flags") == flags


def test_a_replicate_is_not_taken_while_its_double_waits(
    doubled: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    shutil.copytree(doubled, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    fill_cells({
        "E5": REPLICATE,
        "E6": {"decision": "ask the laboratory", "who": "A. Tester"},
        "F5": CORRECT | {"replicate": "1"},
        "F6": CORRECT | {"replicate": "1"},
        "G7": CORRECT | {"path length": "5"},
        "E7": CORRECT | {"matrix": "red wines"},
    })  # fmt: skip
    assert run(["held", "--apply", "in.xlsx"]) == 1
    said = capsys.readouterr().err
    assert "half-filled: a!E6 stands beside this value and waits" in said
    assert said.count("(duplicate)") == 2, "one mark for both tells nothing apart"
    assert 'path length "5" is none; write a number and mm or cm, such as 10 mm' in said
    assert 'matrix "red wines" is none; did you mean red wine?' in said
    assert not rows()


def test_a_path_length_and_a_matrix_are_given(
    doubled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(doubled, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    fill_cells({
        "G7": CORRECT | {"path length": "5 mm"},
        "E7": CORRECT | {"matrix": "Red wine"},
        "F7": CORRECT | {"matrix": "red wine"},
    })  # fmt: skip
    assert run(["held", "--apply", "in.xlsx"]) == 0
    found = {r["cell"]: r for r in rows()}
    # Per 1 cm (OIV-MA-AS2-07B): 0.7 over half a centimetre.
    assert (found["G7"]["value"], found["G7"]["path_length"]) == (1.4, 0.5)
    assert (found["E7"]["value"], found["E7"]["unit"], found["E7"]["matrix"]) == (
        3, "ug/L", "red wine"
    )  # fmt: skip
    assert {r["corrected_matrix"] for r in rows("corrections")} == {None, "Red wine".lower()}
