"""Layouts taught from the workbook of held values: shown right on the first file, used on the next.

The forms are invented. Expected numbers are read off the lines written here, by hand.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from workbooks import Lines, write_book

from pipeline.cli import run
from pipeline.store import Store

Fill = Callable[[str, dict[str, Any]], dict[str, str] | None]
Week = dict[str, float]
BY = {"decision": "correct", "who": "A. Tester", "teach": "layout"}
FIRST, SECOND = {"S-1": 12.3, "S-2": 8.5}, {"S-3": 5.5, "S-4": 7.25, "S-5": 9.0}


def headed(number: str, *lines: list[Any]) -> Lines:
    head = [["Laboratory", "Bench of the Test"], ["Report number", number], ["Matrix", "Red wine"]]
    return [*head, [], *lines]


def formless(number: str, week: Week) -> Lines:
    return headed(
        number,
        ["Sample", "Lot", "Guaiacol (ug/L)", "Syringol (ug/L)"],
        *([name, "L-1", value, 2 * value] for name, value in week.items()),
    )


def coded(number: str, week: Week) -> Lines:
    return headed(
        number,
        ["Free phenols (ug/L)"],
        ["Sample", "Lot", "P1", "P2", "Guaiacol"],
        *([name, "L-1", value, 2 * value, 3 * value] for name, value in week.items()),
    )


def doubled(number: str, week: Week) -> Lines:
    return headed(
        number,
        ["Sample", "Guaiacol (ug/L)", "Guaiacol X (ug/L)"],
        *([name, value, value + 5] for name, value in week.items()),
    )


def turned(number: str, week: Week) -> Lines:
    return headed(
        number,
        ["Analyte", "Unit", "LOD", *week],
        ["Guaiacol", "ug/L", 0.5, *week.values()],
        ["Syringol", "ug/L", 1, *(2 * value for value in week.values())],
    )


def listed(number: str, week: Week) -> Lines:
    return headed(
        number,
        ["Sample", "Parameter", "Fraction", "Result", "Unit"],
        *([name, "Guaiacol", part, value * times, "ug/L"]
          for name, value in week.items() for part, times in (("F1", 1), ("F2", 2))),
    )  # fmt: skip


def of_groups(said: dict[str, dict[str, str]]) -> Fill:
    """Fill in the groups by their printed analyte; "" is any."""

    def fill(sheet: str, row: dict[str, Any]) -> dict[str, str] | None:
        return (
            BY | said.get(row["printed analyte"], said.get("", {})) if sheet == "groups" else None
        )

    return fill


def of_columns(said: dict[str, dict[str, str]]) -> Fill:
    """Fill in the values by the letter of their column."""
    return lambda sheet, row: BY | said[row["cell"][0]] if sheet == "held values" else None


def of_parts(sheet: str, row: dict[str, Any]) -> dict[str, str] | None:
    """Fill in a list by what stands left of the value: F1 is free, F2 is bound."""
    part = (row.get("neighbourhood") or "").split(" | «")[0].split(" | ")[-1]
    return BY | {"form": {"F1": "free", "F2": "bound"}[part]} if sheet == "held values" else None


def fill_in(source: str, target: str, fill: Fill) -> None:
    book = load_workbook(source)
    for name in ("held values", "groups"):
        page = book[name]
        columns = {cell.value: cell.column for cell in page[1]}
        for line in range(2, page.max_row + 1):
            row = {head: page.cell(line, at).value for head, at in columns.items()}
            for head, text in (fill(name, row) or {}).items():
                page.cell(line, columns[head]).value = text
    book.save(target)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "layouts").mkdir()
    (tmp_path / "cinderlot.toml").write_text('layouts = "layouts"\n', encoding="utf-8")
    return tmp_path


def rows(view: str = "results") -> list[dict[str, Any]]:
    with Store("cinderlot.duckdb", read_only=True) as store:
        return list(store.view(view).iter_rows(named=True))


def held() -> set[str]:
    return {h["reason_code"] for h in rows("held") if h["is_current"]}


def numbers(report: str) -> set[tuple[Any, ...]]:
    names = ("sample_id", "analyte", "form", "value", "cell")
    return {tuple(r[n] for n in names) for r in rows() if r["report_no"] == report}


CASES: dict[str, tuple[Callable[[str, Week], Lines], str, Fill, set[tuple[Any, ...]]]] = {
    "the form of a sheet": (
        formless, "form_unknown", of_groups({"": {"form": "total"}}),
        {("S-3", "guaiacol", "total", 5.5, "C6"), ("S-3", "syringol", "total", 11.0, "D6"),
         ("S-4", "guaiacol", "total", 7.25, "C7"), ("S-4", "syringol", "total", 14.5, "D7"),
         ("S-5", "guaiacol", "total", 9.0, "C8"), ("S-5", "syringol", "total", 18.0, "D8")},
    ),
    "codes": (
        coded, "analyte_unknown", of_groups({"P1": {"analyte": "o-cresol"}, "P2": {"analyte": "syringol"}}),
        {("S-3", "o-cresol", "free", 5.5, "C7"), ("S-3", "syringol", "free", 11.0, "D7"),
         ("S-3", "guaiacol", "free", 16.5, "E7"), ("S-4", "o-cresol", "free", 7.25, "C8"),
         ("S-4", "syringol", "free", 14.5, "D8"), ("S-4", "guaiacol", "free", 21.75, "E8"),
         ("S-5", "o-cresol", "free", 9.0, "C9"), ("S-5", "syringol", "free", 18.0, "D9"),
         ("S-5", "guaiacol", "free", 27.0, "E9")},
    ),
    "a form for each column": (
        doubled, "form_unknown",
        of_columns({"B": {"form": "free"}, "C": {"form": "bound", "analyte": "guaiacol"}}),
        {("S-3", "guaiacol", "free", 5.5, "B6"), ("S-3", "guaiacol", "bound", 10.5, "C6"),
         ("S-4", "guaiacol", "free", 7.25, "B7"), ("S-4", "guaiacol", "bound", 12.25, "C7"),
         ("S-5", "guaiacol", "free", 9.0, "B8"), ("S-5", "guaiacol", "bound", 14.0, "C8")},
    ),
    "analytes down": (
        turned, "form_unknown", of_groups({"": {"form": "free"}}),
        {("S-3", "guaiacol", "free", 5.5, "D6"), ("S-3", "syringol", "free", 11.0, "D7"),
         ("S-4", "guaiacol", "free", 7.25, "E6"), ("S-4", "syringol", "free", 14.5, "E7"),
         ("S-5", "guaiacol", "free", 9.0, "F6"), ("S-5", "syringol", "free", 18.0, "F7")},
    ),
    "words of a column": (
        listed, "form_unknown", of_parts,
        {("S-3", "guaiacol", "free", 5.5, "D6"), ("S-3", "guaiacol", "bound", 11.0, "D7"),
         ("S-4", "guaiacol", "free", 7.25, "D8"), ("S-4", "guaiacol", "bound", 14.5, "D9"),
         ("S-5", "guaiacol", "free", 9.0, "D10"), ("S-5", "guaiacol", "bound", 18.0, "D11")},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_next_weeks_file_is_read_as_was_decided(name: str, place: Path) -> None:
    make, reason, fill, expected = CASES[name]
    write_book(place / "first.xlsx", make("R-1", FIRST))
    assert run(["load", "first.xlsx"]) == 0
    assert reason in held()
    assert run(["held", "--export", "out.xlsx"]) == 0
    fill_in("out.xlsx", "in.xlsx", fill)
    assert run(["held", "--apply", "in.xlsx"]) == 0
    decided = numbers("R-1")
    assert len(decided) >= 4
    write_book(place / "second.xlsx", make("R-2", SECOND))
    assert run(["load", "first.xlsx", "second.xlsx"]) == 0
    assert numbers("R-2") == expected
    assert held() == set()
    # The first one reads as decided by itself now, so that no correction is needed any more.
    assert numbers("R-1") == decided
    assert {c["status"] for c in rows("corrections")} == {"stale"}
    assert {r["layout"] for r in rows("reports")} == {"bench_of_the_test"}


def refused(capsys: pytest.CaptureFixture[str], fill: Fill, *more: str) -> str:
    fill_in("out.xlsx", "in.xlsx", fill)
    assert run(["held", "--apply", "in.xlsx", *more]) == 1
    assert list(Path("layouts").iterdir()) == []
    assert rows("corrections") == []
    return capsys.readouterr().err


def test_what_is_not_shown_to_be_right_is_not_taught(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = write_book(place / "first.xlsx", formless("R-1", FIRST))
    assert run(["load", "first.xlsx"]) == 0
    assert run(["held", "--export", "out.xlsx"]) == 0
    one = of_groups({"Guaiacol (ug/L)": {"form": "free"}})
    said = refused(capsys, lambda s, r: one(s, r) if "Guai" in r["printed analyte"] else None)
    assert (
        "cannot be taught as a layout: with it Form!D6 would be a result, although it is held"
        in said
    )
    assert "decide it too" in said
    said = refused(capsys, of_columns({c: {"form": "free", "corrected value": "3"} for c in "CD"}))
    assert "corrected value holds for this value alone" in said
    said = refused(capsys, lambda s, _: BY | {"decision": "dismiss"} if s == "groups" else None)
    assert "teach does not go with dismiss" in said
    # Two values of one column that were told apart by hand: no layout can know which is which.
    mixed = of_columns({"C": {"form": "free"}, "D": {"form": "free"}})
    said = refused(capsys, lambda s, r: (mixed(s, r) or {}) | {"form": "bound"} if r.get("cell") == "C7"
                   else mixed(s, r))  # fmt: skip
    assert "cannot be taught as a layout" in said
    whole = of_groups({"": {"form": "free"}})
    (place / "elsewhere").mkdir()
    assert "the file is not under elsewhere; name its folder with cinderlot held --reports" in refused(
        capsys, whole, "--reports", "elsewhere")  # fmt: skip
    write_book(first, formless("R-1", {"S-1": 1.0}))
    assert "is no longer what was loaded" in refused(capsys, whole)


def test_layout_serves_its_laboratory_and_lies_under_what_is_printed(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # The settings name no layouts yet, and a file of the user's own bears the name already.
    (place / "cinderlot.toml").unlink()
    own = place / "layouts" / "bench_of_the_test.toml"
    text = 'name = "own"\n[when]\ntexts = ["Never"]\n[[table]]\nstart = "Never"\n'
    own.write_text(text + '[table.fields]\nanalyte = { axis = "row" }\n', encoding="utf-8")
    before = own.read_bytes()
    write_book(place / "first.xlsx", formless("R-1", FIRST))
    write_book(place / "alike.xlsx", formless("R-2", {"S-6": 4.0, "S-7": 6.0}))
    assert run(["load", "first.xlsx", "alike.xlsx"]) == 0
    assert run(["held", "--export", "out.xlsx"]) == 0
    fill_in("out.xlsx", "in.xlsx", of_groups({"": {"form": "free"}}))
    capsys.readouterr()
    assert run(["held", "--apply", "in.xlsx"]) == 0
    said = capsys.readouterr().out
    assert 'write this line at the top of cinderlot.toml, a new file: layouts = "layouts"' in said
    assert "load these files again to judge them anew with it: " in said
    # Both sheets share one layout; brought back once more, nothing is taught anew.
    assert run(["held", "--apply", "in.xlsx"]) == 0
    assert "8 stored before" in capsys.readouterr().out
    assert sorted(p.name for p in own.parent.iterdir()) == [own.name, "bench_of_the_test_2.toml"]
    assert own.read_bytes() == before
    assert tomllib.loads((own.parent / "bench_of_the_test_2.toml").read_text(encoding="utf-8"))
    (place / "cinderlot.toml").write_text('layouts = "layouts"\n', encoding="utf-8")
    # A unit in a heading goes before; another laboratory's sheet is none of it; a title that says
    # another form refuses the file.
    later = {
        "unit": [[c.replace("ug/L", "mg/L") if isinstance(c, str) else c for c in line]
                 for line in formless("R-3", {"S-8": 0.5})],
        "other": [["Laboratory", "Other Bench"], *formless("R-4", {"S-9": 5.0})[1:]],
        "title": [*formless("R-5", FIRST)[:4], ["Bound phenols"], *formless("R-5", FIRST)[4:]],
    }  # fmt: skip
    for name, lines in later.items():
        write_book(place / f"{name}.xlsx", lines)
    capsys.readouterr()
    assert run(["load", *(f"{name}.xlsx" for name in later)]) == 1
    assert 'says form "free", but A5 says "bound"' in capsys.readouterr().err
    assert numbers("R-3") == {("S-8", "guaiacol", "free", 500.0, "C6"),
                              ("S-8", "syringol", "free", 1000.0, "D6")}  # fmt: skip
    assert numbers("R-4") == set()
    assert held() == {"form_unknown"}


def test_sheet_that_does_not_name_its_laboratory_is_not_taught(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_book(place / "first.xlsx", formless("R-1", FIRST)[1:])
    assert run(["load", "first.xlsx", "--lab", "Bench of the Test"]) == 0
    assert run(["held", "--export", "out.xlsx"]) == 0
    said = refused(capsys, of_groups({"": {"form": "free"}}))
    assert "the sheet does not print its laboratory" in said
