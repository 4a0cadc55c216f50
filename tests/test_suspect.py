"""Slips of the unit: held at loading by the report's own evidence, suspected from the store."""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from pipeline.cli import run
from pipeline.find import find
from pipeline.flows import Workplace, prepare, refresh
from pipeline.settings import load_settings
from pipeline.store import Store
from schemas.report import Report

HEAD = """Laboratory,Bench of the Test
Report number,{number}
,
Sample,Lot,Variety,Matrix,Stage,Parameter,Fraction,Result,Unit,LOD,LOQ,Method,Analysed
"""
SUBSTANCES = {"Guaiacol": 8.0, "4-Methylguaiacol": 2.0, "o-Cresol": 4.0, "Syringol": 12.0}
LINE = "{sample},{lot},Shiraz,Red wine,ageing,{name},free,{value:g},{unit},{lod},{loq},GC,{day}\n"


def report(
    number: int,
    *,
    lots: tuple[str, ...] = ("L-1", "L-2"),
    factor: float = 1.0,
    limits: float | None = 1.0,
    only: str | None = None,
    unit: str = "ug/L",
) -> str:
    """Write a report; `factor` is by how much its numbers (or `only` one substance's) slipped."""
    lines = [HEAD.format(number=f"TB-{number}")]
    for place, lot in enumerate(lots):
        for name, usual in SUBSTANCES.items():
            slip = factor if only in (None, name) else 1.0
            reach = "" if limits is None else f"{0.2 * (slip if limits != 1.0 else 1.0):g}"
            lines.append(
                LINE.format(
                    sample=f"{number}{place}", lot=lot, name=name, unit=unit, lod=reach,
                    loq=reach and f"{3 * float(reach):g}",
                    value=usual * slip * (1 + 0.05 * ((number + place) % 5)),
                    day=f"2026-01-{number:02d}",
                )
            )  # fmt: skip
    return "".join(lines)


def load(paths: list[Path], work: Workplace) -> None:
    """Take files through every stage in this process and store them."""
    prepared = prepare(find(paths).sources, work)
    assert all(isinstance(made, Report) for made in prepared), prepared
    with Store(work.store) as store:
        for made in prepared:
            assert isinstance(made, Report)
            store.add_report(made)
    refresh(work)


def place(folder: Path, settings: str = "", *, store: Path | None = None) -> Workplace:
    """Give a folder with settings, and with a copy of a store."""
    folder.mkdir(exist_ok=True)
    file = folder / "cinderlot.toml"
    file.write_text(settings, encoding="utf-8")
    if store:
        shutil.copy(store, folder / "store.duckdb")
    return Workplace(folder / "store.duckdb", load_settings(file))


def write(folder: Path, reports: dict[str, str]) -> list[Path]:
    folder.mkdir(exist_ok=True)
    for name, text in reports.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder / name for name in reports]


def held_of(work: Workplace) -> list[tuple[str, str, str]]:
    with Store(work.store, read_only=True) as store:
        rows = store.held().select("raw_analyte", "reason", "hint", "reason_code")
    assert set(rows["reason_code"]) <= {"unit_slip"}
    return [row[:3] for row in rows.iter_rows()]


def suspected(work: Workplace) -> set[tuple[str, str, str]]:
    with Store(work.store, read_only=True) as store:
        flags = store.flags()
    assert set(flags.columns) >= {"kind", "lot", "analyte", "decision"}
    rows = flags.filter(flags["kind"] == "unit_slip").select("sample_id", "analyte", "decision")
    return set(rows.iter_rows())


RECORD = """[laboratory."Bench of the Test"]
[laboratory."Bench of the Test".limits]
guaiacol = { lod = 0.2, loq = 0.6 }
o-cresol = { lod = 0.2, loq = 0.6 }
"""


def test_sheet_whose_limits_left_the_record_is_held_whole(tmp_path: Path) -> None:
    # Numbers and limits a thousand times too great, as when ng/L was printed as ug/L.
    work = place(tmp_path / "store", RECORD)
    load(write(tmp_path / "in", {"a.csv": report(1, factor=1000.0, limits=1000.0)}), work)
    held = held_of(work)
    assert len(held) == 8
    assert {hint.split(";")[0] for _, _, hint in held} == {
        "if the unit slipped, the number is to be taken times 1e-3"
    }
    assert any("record says 0.6" in reason or "record says 0.2" in reason for _, reason, _ in held)


def test_record_that_agrees_holds_nothing(tmp_path: Path) -> None:
    work = place(tmp_path / "store", RECORD)
    load(write(tmp_path / "in", {"a.csv": report(1)}), work)
    assert held_of(work) == []


def test_substance_whose_limit_left_the_others_is_held(tmp_path: Path) -> None:
    work = place(tmp_path / "store")
    one = report(1, factor=1000.0, limits=1000.0, only="Syringol")
    load(write(tmp_path / "in", {"a.csv": one}), work)
    held = held_of(work)
    assert [name for name, _, _ in held] == ["Syringol", "Syringol"]
    assert "the report's other substances have about 0.2" in held[0][1]


def test_hundredfold_limit_of_a_diluted_run_is_not_held(tmp_path: Path) -> None:
    work = place(tmp_path / "store")
    one = report(1, factor=100.0, limits=100.0, only="Syringol")
    load(write(tmp_path / "in", {"a.csv": one}), work)
    assert held_of(work) == []


def test_right_unit_printed_for_one_column_is_not_held(tmp_path: Path) -> None:
    # The same amounts in mg/L, with limits in mg/L: nothing slipped.
    work = place(tmp_path / "store")
    load(write(tmp_path / "in", {"a.csv": report(1, factor=0.001, limits=0.001, unit="mg/L"),
                                 "b.csv": report(2)}), work)  # fmt: skip
    assert held_of(work) == []
    assert suspected(work) == set()


HISTORY = {f"h{n}.csv": report(n) for n in range(1, 7)}
ALL = {(f"9{k}", name, "undecided") for k in (0, 1)
       for name in ("guaiacol", "4-methylguaiacol", "o-cresol", "syringol")}  # fmt: skip


WHOLE = {**HISTORY, "z.csv": report(9, factor=1000.0, limits=None)}


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store of the reports of HISTORY."""
    folder = tmp_path_factory.mktemp("history")
    work = place(folder / "store")
    load(write(folder / "in", HISTORY), work)
    return work.store


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store of the reports of WHOLE, loaded at once."""
    folder = tmp_path_factory.mktemp("whole")
    work = place(folder / "store")
    load(write(folder / "in", WHOLE), work)
    return work.store


@pytest.mark.parametrize("limits", [1000.0, None], ids=["by the limits", "by the amounts"])
def test_report_that_slipped_as_a_whole_is_suspected(
    tmp_path: Path, history: Path, limits: float | None
) -> None:
    work = place(tmp_path / "store", store=history)
    slipped = report(9, factor=1000.0, limits=limits)
    load(write(tmp_path / "in", {"z.csv": slipped}), work)
    assert held_of(work) == []
    assert suspected(work) == ALL
    with Store(work.store, read_only=True) as store:
        flags, fractions = store.flags(), store.fractions()
        assert store.results().filter(store.results()["report_no"] == "TB-9").height == 8
    judged = flags.filter(flags["kind"].is_in(["over_threshold", "odour_activity"]))
    assert not judged["sample_id"].is_in(["90", "91"]).any()
    assert fractions.is_empty() or not fractions["sample_id"].is_in(["90", "91"]).any()
    message = flags.filter(flags["kind"] == "unit_slip")["message"][0]
    assert "as if the unit had slipped" in message
    assert "1e3 above" in message


def test_smoke_year_a_hundred_times_a_normal_one_is_not_suspected(
    tmp_path: Path, history: Path
) -> None:
    work = place(tmp_path / "store", store=history)
    smoky = report(9, factor=100.0, lots=("L-8", "L-9"), limits=None)
    load(write(tmp_path / "in", {"z.csv": smoky}), work)
    assert suspected(work) == set()


def test_limit_that_is_the_usual_one_clears_the_amount(tmp_path: Path, history: Path) -> None:
    work = place(tmp_path / "store", store=history)
    high = report(9, factor=1000.0, limits=1.0)
    load(write(tmp_path / "in", {"z.csv": high}), work)
    assert suspected(work) == set()


def test_confirmed_report_is_suspected_no_more(tmp_path: Path, whole: Path) -> None:
    settings = '[laboratory."Bench of the Test"]\nconfirmed = ["TB-9"]\n'
    confirmed = place(tmp_path / "store", settings, store=whole)
    assert suspected(confirmed) == ALL
    refresh(confirmed)
    assert suspected(confirmed) == set()


@pytest.mark.parametrize("seed", [1, 2])
def test_suspicion_does_not_depend_on_the_order_of_loading(
    tmp_path: Path, whole: Path, seed: int
) -> None:
    files, other = write(tmp_path / "in", WHOLE), place(tmp_path / "other")
    random.Random(seed).shuffle(files)
    for some in (files[:1], files[1:4], files[4:]):
        load(some, other)
    with Store(whole, read_only=True) as a, Store(other.store, read_only=True) as b:
        assert a.fingerprint() == b.fingerprint()
    assert suspected(other) == ALL


def test_value_first_loaded_is_suspected_once_a_history_exists(tmp_path: Path) -> None:
    # A thousandth is below what any laboratory quantifies, but too far for the published amounts.
    work = place(tmp_path / "store")
    low = report(9, factor=0.001, limits=None, lots=("L-1",), only="Guaiacol")
    load(write(tmp_path / "in", {"z.csv": low}), work)
    assert suspected(work) == set()
    load(write(tmp_path / "more", HISTORY), work)
    assert suspected(work) == {("90", "guaiacol", "undecided")}


def test_young_lots_are_suspected_by_the_published_amounts(tmp_path: Path) -> None:
    # AJGWR 2023, article 4964850, Table 2, and Kennison et al. 2008: no wine has milligrams of them.
    lots = ("Y-1", "Y-2", "Y-3")
    work = place(tmp_path / "store")
    young = report(9, factor=1000.0, limits=None, lots=lots)
    load(write(tmp_path / "in", {"z.csv": young}), work)
    assert {sample for sample, _, _ in suspected(work)} == {"90", "91", "92"}
    assert len(suspected(work)) == 12
    with Store(work.store, read_only=True) as store:
        flags, results = store.flags(), store.view("results")
    message = flags.filter(flags["kind"] == "unit_slip", flags["analyte"] == "guaiacol")["message"]
    assert "the highest published amount is 388 ug/L" in message[0]
    assert "with the unit corrected it would be" in message[0]
    assert set(results["suspected_factor"]) == {0.001}
    assert results["qualifier"].str.ends_with("unit suspected of a slip: factor 1e-3").all()
    # A normal report of the same lots clears nothing and raises nothing of its own.
    load(write(tmp_path / "more", {"a.csv": report(1, limits=None, lots=lots)}), work)
    assert {sample for sample, _, _ in suspected(work)} == {"90", "91", "92"}


def test_right_numbers_beside_slipped_ones_are_not_meant(tmp_path: Path) -> None:
    # Two samples in the wrong unit outvote the third of their sheet and columns, which is right.
    work = place(tmp_path / "store")
    lines = report(9, factor=1000.0, limits=None, lots=("Y-1", "Y-2")).splitlines()
    right = report(9, limits=None, lots=("Y-1", "Y-2", "Y-3")).splitlines()[-4:]
    (tmp_path / "z.csv").write_text("\n".join([*lines, *right]) + "\n", encoding="utf-8")
    load([tmp_path / "z.csv"], work)
    assert {sample for sample, _, _ in suspected(work)} == {"90", "91"}
    assert len(suspected(work)) == 8


def test_substance_of_which_nothing_is_published_goes_with_its_sample(tmp_path: Path) -> None:
    # Nothing is published of free phenol here. 5000 stands among numbers a thousand times too great,
    # 5 would be 0.005 without the slip, and in Y-2 not all of the others slipped.
    def phenol(place: int, value: float) -> str:
        return LINE.format(sample=f"9{place}", lot=f"Y-{place + 1}", name="Phenol", unit="ug/L",
                           lod="", loq="", value=value, day="2026-01-09")  # fmt: skip

    work = place(tmp_path / "store")
    slipped = report(9, factor=1000.0, limits=None, lots=("Y-1", "Y-2", "Y-3"))
    slipped = slipped.replace("91,Y-2,Shiraz,Red wine,ageing,Guaiacol,free,8000,",
                              "91,Y-2,Shiraz,Red wine,ageing,Guaiacol,free,8,")  # fmt: skip
    text = slipped + phenol(0, 5000.0) + phenol(1, 5000.0) + phenol(2, 5.0)
    load(write(tmp_path / "in", {"z.csv": text}), work)
    assert {s for s, analyte, _ in suspected(work) if analyte == "phenol"} == {"90"}
    assert ("91", "guaiacol", "undecided") not in suspected(work)
    assert len(suspected(work)) == 3 * 4 - 1 + 1
    with Store(work.store, read_only=True) as store:
        flags = store.flags()
    [message] = flags.filter(flags["kind"] == "unit_slip", flags["analyte"] == "phenol")["message"]
    assert "all 4 amounts beside it" in message


@pytest.mark.parametrize("factor", [1.0, 10.0, 50.0])
def test_heavy_smoke_in_young_lots_is_not_suspected(tmp_path: Path, factor: float) -> None:
    # Guaiacol of 400 ug/L is what Kennison et al. (2008) found after smoke in the vineyard.
    work = place(tmp_path / "store")
    heavy = report(9, factor=factor, limits=None, lots=("Y-1", "Y-2", "Y-3"))
    load(write(tmp_path / "in", {"z.csv": heavy}), work)
    assert suspected(work) == set()


def test_suspected_number_stays_out_of_trends_and_is_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    work = place(tmp_path / "store")
    slipped = report(9, factor=1000.0, limits=None, lots=("L-1",))
    load(write(tmp_path / "in", {"a.csv": report(1, lots=("L-1",)), "z.csv": slipped}), work)
    assert run(["trend", "guaiacol", "--by", "lot", "--json", "--db", str(work.store)]) == 0
    printed = capsys.readouterr()
    [row] = json.loads(printed.out)
    assert (row["n"], row["maximum_upper"]) == (1, 8.4)
    assert "1 result is left out, for the unit may have slipped" in printed.err


def fill(source: Path, target: Path, decisions: dict[str, dict[str, str]]) -> None:
    """Fill a review workbook in: held_id -> heading -> text."""
    book = load_workbook(source)
    page = book["held values"]
    headings = {cell.value: cell.column for cell in page[1]}
    for line in range(2, page.max_row + 1):
        for heading, text in decisions.get(page.cell(line, 1).value, {}).items():
            page.cell(line, headings[heading]).value = text
    book.save(target)


def told(work: Workplace, view: str) -> list[dict[str, Any]]:
    with Store(work.store, read_only=True) as store:
        return list(store.view(view).iter_rows(named=True))


def test_suspected_number_is_confirmed_by_itself_and_taken_back(
    tmp_path: Path, whole: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    work = place(tmp_path / "store", store=whole)
    held = ["held", "--db", str(work.store)]
    before = told(work, "suspects")
    assert {(s["sample_id"], s["analyte"], "undecided") for s in before} == ALL
    assert {(s["status"], s["suspected_factor"]) for s in before} == {("open", 1e-3)}
    counts, printed = told(work, "reports"), told(work, "results")
    ids = {(s["sample_id"], s["analyte"]): s["suspect_id"] for s in before}
    mine, other, asked = (ids["90", a] for a in ("guaiacol", "o-cresol", "syringol"))
    out, back = tmp_path / "out.xlsx", tmp_path / "in.xlsx"
    assert run([*held, "--export", str(out)]) == 0
    assert "0 held values and 8 suspected numbers; fill in" in capsys.readouterr().out
    by = {"who": "A. Tester", "note": "by telephone"}
    fill(out, back, {mine: {"decision": "confirm", **by}, asked: {"decision": "ask the laboratory", **by},
                     other: {"decision": "dismiss", **by}})  # fmt: skip
    capsys.readouterr()
    assert run([*held, "--apply", str(back)]) == 1
    said = capsys.readouterr()
    assert "0 corrected, 1 confirmed, 0 dismissed, 1 asked" in said.out
    assert "only suspected; confirm or correct it, or ask the laboratory" in said.err
    assert suspected(work) == ALL - {("90", "guaiacol", "undecided")}
    after = {s["suspect_id"]: s for s in told(work, "suspects")}
    assert (after[mine]["status"], after[mine]["who"]) == ("confirmed", "A. Tester")
    assert after[mine]["settled_at"] is not None
    assert (after[asked]["status"], after[other]["status"]) == ("asked", "open")
    [kept] = [c for c in told(work, "corrections") if c["decision"] == "confirm"]
    assert (kept["held_id"], kept["status"], kept["who"]) == (mine, "standing", "A. Tester")
    # The printed text, the number and the counts of the report stay; the number decides again.
    assert told(work, "reports") == counts
    text = ("report_id", "cell", "value", "raw_value", "raw_unit")
    assert [[r[n] for n in text] for r in told(work, "results")] == [
        [r[n] for n in text] for r in printed
    ]
    flags = [f for f in told(work, "flags") if (f["sample_id"], f["analyte"]) == ("90", "guaiacol")]
    assert ("over_threshold", "above") in {(f["kind"], f["decision"]) for f in flags}
    # Taken in once more nothing changes; another decision is refused until this one is taken back.
    assert run([*held, "--apply", str(back)]) == 1
    assert "2 stored before" in capsys.readouterr().out
    assert run([*held, "--undo", mine]) == 0
    assert "the confirmation was taken back" in capsys.readouterr().out
    assert suspected(work) == ALL
    assert [c["status"] for c in told(work, "corrections") if c["held_id"] == mine] == ["undone"]


def test_confirmed_number_stays_so_whatever_is_loaded_later(tmp_path: Path) -> None:
    # Confirmed while two reports made it suspicious, then a third comes: not suspected again.
    files = write(tmp_path / "in", WHOLE)
    work = place(tmp_path / "store")
    load(files[:-1], work)
    load(files[-1:], work)
    [mine] = [s["suspect_id"] for s in told(work, "suspects")
              if (s["sample_id"], s["analyte"]) == ("90", "guaiacol")]  # fmt: skip
    out, back = tmp_path / "out.xlsx", tmp_path / "in.xlsx"
    held = ["held", "--db", str(work.store)]
    assert run([*held, "--export", str(out)]) == 0
    fill(out, back, {mine: {"decision": "confirm", "who": "A. Tester"}})
    assert run([*held, "--apply", str(back)]) == 0
    load(write(tmp_path / "more", {"y.csv": report(11), "z2.csv": report(12)}), work)
    left = ALL - {("90", "guaiacol", "undecided")}
    assert suspected(work) == left
    refresh(work)
    assert suspected(work) == left


@pytest.fixture(scope="module")
def slipped(tmp_path_factory: pytest.TempPathFactory, history: Path) -> Path:
    """A store with a report whose numbers and limits are a thousand times too great."""
    folder = tmp_path_factory.mktemp("slipped")
    work = place(folder / "store", store=history)
    load(write(folder / "in", {"z.csv": SLIPPED}), work)
    return work.store


SLIPPED = report(9, factor=1000.0, limits=1000.0)
BY = {"decision": "correct", "who": "A. Tester"}


def decide(work: Workplace, decisions: dict[tuple[str, str], dict[str, str]]) -> dict[Any, str]:
    """Take the workbook out, fill it in by sample and analyte, bring it back; give the names."""
    ids = {(s["sample_id"], s["analyte"]): s["suspect_id"] for s in told(work, "suspects")}
    out, back = work.store.parent / "out.xlsx", work.store.parent / "in.xlsx"
    held = ["held", "--db", str(work.store)]
    out.unlink(missing_ok=True)
    assert run([*held, "--export", str(out)]) == 0
    fill(out, back, {ids[key]: BY | given for key, given in decisions.items()})
    run([*held, "--apply", str(back)])
    return ids


def results_of(work: Workplace, sample: str, analyte: str) -> list[dict[str, Any]]:
    return [r for r in told(work, "results") if (r["sample_id"], r["analyte"]) == (sample, analyte)]


def test_suspected_numbers_are_corrected_with_their_limits(
    tmp_path: Path, slipped: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    work = place(tmp_path / "store", store=slipped)
    counts, before = told(work, "reports"), told(work, "results")
    ids = decide(work, {
        ("90", "guaiacol"): {"factor": "0.001"},
        ("90", "o-cresol"): {"unit": "ng/L"},
        ("90", "syringol"): {"corrected value": "14.4"},
        ("90", "4-methylguaiacol"): {"unit": "ug/kg"},
        ("91", "guaiacol"): {"factor": "0.01"},
        ("91", "o-cresol"): {"factor": "0.001", "unit": "ng/L"},
        ("91", "syringol"): {"unit": "ug/L"},
        ("91", "4-methylguaiacol"): {"analyte": "guaiacol"},
    })  # fmt: skip
    said = capsys.readouterr()
    assert (
        "2 corrected, 0 confirmed, 0 dismissed, 0 asked, 0 stored before, 0 left open, 6"
        in said.out
    )
    for why in (
        "its limit of 200 ug/L lies above it; give unit or factor",
        'unit "ug/kg" does not fit a number stored in ug/L',
        "the factor suggested of this number is 0.001",
        "factor goes with neither a corrected value nor a unit",
        "the number is the same in ug/L; confirm it",
        "analyte does not go with a number that is stored and suspected",
    ):
        assert why in said.err
    # 8 x 1.2 and 4 x 1.2 were printed a thousand times too great, limits of 0.2 and 0.6 likewise.
    for analyte, right, printed in (("guaiacol", 9.6, "9600"), ("o-cresol", 4.8, "4800")):
        [row] = results_of(work, "90", analyte)
        assert (row["value"], row["lower"], row["upper"]) == (right, right, right)
        assert (row["lod"], row["loq"], row["unit"], row["suspected_factor"]) == (
            0.2,
            0.6,
            "ug/L",
            None,
        )
        assert (row["raw_value"], row["raw_unit"]) == (printed, "ug/L")
        assert row["held_id"] == ids["90", analyte]
        assert "corrected by A. Tester on " in row["qualifier"]
        [was] = [r for r in before if (r["sample_id"], r["analyte"]) == ("90", analyte)]
        assert [was[n] for n in ("file", "sheet", "cell")] == [
            row[n] for n in ("file", "sheet", "cell")
        ]
    assert told(work, "reports") == counts
    assert len(told(work, "results")) == len(before)
    right = {("90", "guaiacol", "undecided"), ("90", "o-cresol", "undecided")}
    assert suspected(work) == ALL - right
    kept = {c["held_id"]: c for c in told(work, "corrections")}
    assert kept[ids["90", "guaiacol"]]["corrected_factor"] == 0.001
    assert kept[ids["90", "o-cresol"]]["corrected_unit"] == "ng/L"
    assert {(c["status"], c["who"]) for c in kept.values()} == {("standing", "A. Tester")}
    shown = {s["suspect_id"]: s for s in told(work, "suspects")}
    assert (shown[ids["90", "guaiacol"]]["status"], shown[ids["90", "guaiacol"]]["value"]) == (
        "corrected", 9600.0)  # fmt: skip
    # The pages count the corrected number alone, and show both in their cell.
    [row] = results_of(work, "90", "guaiacol")
    with Store(work.store, read_only=True) as store:
        browser = store.browse()
        assert browser.count({}) == (len(before), 0)
        trend = browser.for_trend({"analyte": ("guaiacol",), "lot": (row["lot"],)}, "lot")
        assert trend["upper"].max() == 9.6
        number = store.frame("SELECT load_no FROM base.report WHERE report_no = 'TB-9'").item()
        shown_there = browser.in_cell(number, row["sheet"], row["cell"])["values"]
    assert shown_there.select("value", "is_replaced").rows() == [(9600.0, True), (9.6, False)]
    # A whole rebuild gives the same, and so does the workbook once more.
    with Store(work.store) as store:
        state = store.fingerprint()
    refresh(work)
    held = ["held", "--db", str(work.store)]
    assert run([*held, "--apply", str(work.store.parent / "in.xlsx")]) == 1
    assert (
        "0 corrected, 0 confirmed, 0 dismissed, 0 asked, 2 stored before" in capsys.readouterr().out
    )
    with Store(work.store) as store:
        assert store.fingerprint() == state
    # Another decision on it is stale until this one is taken back; then it is suspected again.
    mine = ids["90", "guaiacol"]
    fill(work.store.parent / "out.xlsx", work.store.parent / "in.xlsx",
         {mine: {"decision": "confirm", "who": "B. Tester"}})  # fmt: skip
    assert run([*held, "--apply", str(work.store.parent / "in.xlsx")]) == 1
    assert "stale: corrected by A. Tester on" in capsys.readouterr().err
    assert run([*held, "--undo", mine]) == 0
    assert "the correction was taken back" in capsys.readouterr().out
    assert suspected(work) == ALL - {("90", "o-cresol", "undecided")}
    [row] = results_of(work, "90", "guaiacol")
    assert (row["value"], row["suspected_factor"], row["held_id"]) == (9600.0, 1e-3, None)


def test_corrected_value_decides_and_is_looked_at_like_any_other(
    tmp_path: Path, whole: Path
) -> None:
    work = place(tmp_path / "store", store=whole)
    # The second is mistyped: as far off as the printed one.
    ids = decide(work, {("90", "guaiacol"): {"corrected value": "<5"},
                        ("90", "o-cresol"): {"corrected value": "5200"}})  # fmt: skip
    [row] = results_of(work, "90", "guaiacol")
    assert (row["value"], row["lower"], row["upper"], row["censoring"]) == (None, 0.0, 5.0, "left")
    flags = [f for f in told(work, "flags") if (f["sample_id"], f["analyte"]) == ("90", "guaiacol")]
    assert ("over_threshold", "below") in {(f["kind"], f["decision"]) for f in flags}
    [row] = results_of(work, "90", "o-cresol")
    assert (row["value"], row["suspected_factor"]) == (5200.0, 1e-3)
    again = [s for s in told(work, "suspects") if s["held_id"]]
    assert [(s["held_id"], s["value"], s["status"]) for s in again] == [
        (ids["90", "o-cresol"], 5200.0, "open")
    ]
    # What is confirmed is the given number; the printed one stays suspected when that is taken back.
    out, back = work.store.parent / "out.xlsx", work.store.parent / "in.xlsx"
    held = ["held", "--db", str(work.store)]
    out.unlink()
    assert run([*held, "--export", str(out)]) == 0
    fill(out, back, {again[0]["suspect_id"]: {"decision": "confirm", "who": "A. Tester"}})
    assert run([*held, "--apply", str(back)]) == 0
    [row] = results_of(work, "90", "o-cresol")
    assert (row["value"], row["suspected_factor"]) == (5200.0, None)
    assert run([*held, "--undo", ids["90", "o-cresol"]]) == 0
    [row] = results_of(work, "90", "o-cresol")
    assert (row["value"], row["suspected_factor"]) == (4800.0, 1e-3)


def test_correction_of_a_suspected_number_outlives_what_is_loaded(tmp_path: Path) -> None:
    wrong = {("90", "guaiacol"): {"factor": "0.001"}, ("91", "syringol"): {"unit": "ng/L"}}
    files = write(tmp_path / "in", {**HISTORY, "z.csv": SLIPPED})
    states = []
    for name, order in (("a", files), ("b", files[::-1])):
        work = place(tmp_path / name)
        load(order[:4], work)
        load(order[4:], work)
        decide(work, wrong)
        load(write(tmp_path / "more", {"y.csv": report(11)}), work)
        with Store(work.store, read_only=True) as store:
            states.append(store.fingerprint())
    assert states[0] == states[1]
    # Sent in again it changes nothing; judged anew by other settings its row is made anew.
    load(files[-1:], work)
    with Store(work.store, read_only=True) as store:
        assert store.fingerprint() == states[0]
    anew = place(tmp_path / "b", '[laboratory."Bench of the Test"]\nplus_minus = "U"\n')
    load(files[-1:], anew)
    assert [r["value"] for r in results_of(anew, "90", "guaiacol")] == [9.6]
    # By this record the report's own limits hold the values: what was decided no longer fits.
    anew = place(tmp_path / "b", RECORD)
    load(files[-1:], anew)
    assert results_of(anew, "90", "guaiacol") == []
    assert {(c["status"], c["reason"]) for c in told(anew, "corrections")} == {
        ("stale", "judged anew: the number is no longer stored as it was, or the correction no "
         "longer passes the rules")}  # fmt: skip
    anew = place(tmp_path / "b", "")
    load(files[-1:], anew)
    assert [r["value"] for r in results_of(anew, "90", "guaiacol")] == [9.6]
    # A revision replaces report and correction.
    revised = report(9).replace("Report number,TB-9", "Report number,TB-9\nRevision,1")
    load(write(tmp_path / "more", {"r.csv": revised}), anew)
    [row] = results_of(anew, "90", "guaiacol")
    assert (row["value"], row["held_id"], row["file"]) == (9.6, None, "r.csv")
    assert {c["reason"] for c in told(anew, "corrections")} == {"a newer report replaces this one"}
    assert told(anew, "suspects") == []
    changed = [a for a in told(anew, "amendments") if a["sample_id"] == "90"]
    assert {a["analyte"] for a in changed} == {"4-methylguaiacol", "o-cresol", "syringol"}


def test_held_value_is_taken_times_the_suggested_factor(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    work = place(tmp_path / "store", RECORD)
    load(
        write(tmp_path / "in", {"a.csv": report(1, factor=1000.0, limits=1000.0, lots=("L-1",))}),
        work,
    )
    held = {h["raw_analyte"]: h["held_id"] for h in told(work, "held")}
    out, back = tmp_path / "out.xlsx", tmp_path / "in.xlsx"
    command = [
        "held",
        "--db",
        str(work.store),
        "--settings",
        str(work.store.parent / "cinderlot.toml"),
    ]
    assert run([*command, "--export", str(out)]) == 0
    fill(out, back, {held["Guaiacol"]: BY | {"factor": "0.001"},
                     held["Syringol"]: BY | {"factor": "1000"}})  # fmt: skip
    assert run([*command, "--apply", str(back)]) == 1
    assert "the factor suggested of this number is 0.001" in capsys.readouterr().err
    [row] = results_of(work, "10", "guaiacol")
    # 8 x 1.05, printed as 8400 beside limits of 200 and 600.
    assert (row["value"], row["lod"], row["loq"], row["raw_value"]) == (8.4, 0.2, 0.6, "8400")
