"""The demo season: drawn to the same bytes everywhere, honest about its cells, telling its tales.

Expected numbers were read off the rendered sheets and worked by hand with the rules of the
documented contract; molar masses: formula weights of the compounds (IUPAC atomic weights 2021).
"""

import ast
import csv
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import openpyxl
import pytest

FOLDER = Path(__file__).parent.parent / "sample_reports"
EXPECTED = sorted(FOLDER.glob("*.expected.csv"))
NAMES = [path.name.removesuffix(".expected.csv") for path in EXPECTED]
KEPT = {".xlsx", ".csv"}
SUFFIX = {True: ".csv", False: ".xlsx"}
MOLAR_MASS = {
    "guaiacol": 124.139,
    "4-methylguaiacol": 138.166,
    "phenol": 94.113,
    "o-cresol": 108.140,
    "m-cresol": 108.140,
    "p-cresol": 108.140,
    "syringol": 154.165,
    "4-methylsyringol": 168.192,
}
OUTCOMES = {"result", "qc", "held", "not_analysed", "repeated", "out_of_scope"}
# One of each, the two numbers of a contradiction counted singly.
HELD = {
    "analyte_unknown": 1,
    "limit_unknown": 1,
    "unit_missing": 1,
    "unit_basis": 1,
    "sample_missing": 1,
    "struck_out": 1,
    "excel_error": 1,
    "duplicate": 2,
}

Row = dict[str, str]


def rows(name: str) -> list[Row]:
    with (FOLDER / f"{name}.expected.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def report_file(name: str) -> Path:
    return FOLDER / f"{name}{SUFFIX[(FOLDER / f'{name}.csv').exists()]}"


def table(sheet: str) -> list[dict[str, object]]:
    book = openpyxl.load_workbook(FOLDER / "lot_register.xlsx")
    headers, *lines = book[sheet].iter_rows(values_only=True)
    return [dict(zip(map(str, headers), line, strict=True)) for line in lines]


def shown(cell: openpyxl.cell.cell.Cell) -> str:
    """Show a cell as a person sees it; the season uses the formats 0, 0.0, 0.00 ... only."""
    if cell.value is None:
        return ""
    if isinstance(cell.value, str):
        return cell.value
    places = len(cell.number_format.partition(".")[2])
    exact = Decimal(repr(cell.value))
    return f"{exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP):f}"


def cells_as_seen(path: Path) -> dict[tuple[str, str], str]:
    if path.suffix == ".xlsx":
        book = openpyxl.load_workbook(path)
        return {
            (page.title, cell.coordinate): shown(cell)
            for page in book
            for line in page.iter_rows()
            for cell in line
            if not isinstance(cell, openpyxl.cell.cell.MergedCell) and not cell.is_date
        }
    with path.open(encoding="cp1252", newline="") as stream:
        lines = list(csv.reader(stream, delimiter=";"))
    return {
        (path.stem, f"{chr(65 + column)}{row}"): text
        for row, line in enumerate(lines, start=1)
        for column, text in enumerate(line)
    }


def found(name: str, sample_id: str, analyte: str, form: str) -> Row:
    (row,) = [
        row
        for row in rows(name)
        if (row["sample_id"], row["analyte"], row["form"]) == (sample_id, analyte, form)
        and row["outcome"] == "result"
    ]
    return row


def number(name: str, sample_id: str, analyte: str, form: str) -> float:
    return float(found(name, sample_id, analyte, form)["value"])


def bound_fraction(name: str, sample_id: str) -> float:
    """Molar bound over bound and free; every phenol of these samples is quantified."""
    free = {a: number(name, sample_id, a, "free") / m for a, m in MOLAR_MASS.items()}
    total = {a: number(name, sample_id, a, "total") / m for a, m in MOLAR_MASS.items()}
    return 1 - sum(free.values()) / sum(total.values())


def results_of(lot: str) -> Iterator[tuple[str, Row]]:
    known = {(line["lab"], line["sample_id"]) for line in table("samples") if line["lot"] == lot}
    sample_ids = {sample_id for _, sample_id in known}
    for name in NAMES:
        for row in rows(name):
            if row["sample_id"] in sample_ids and row["outcome"] == "result":
                yield name, row


def test_season_is_drawn_to_the_same_bytes(tmp_path: Path) -> None:
    environment = {**os.environ, "TZ": "Pacific/Apia", "PYTHONHASHSEED": "7", "LC_ALL": "C"}
    environment["PYTHONDONTWRITEBYTECODE"] = "1"
    command = [sys.executable, str(FOLDER / "season.py"), "--out", str(tmp_path)]
    subprocess.run(command, check=True, env=environment, capture_output=True, cwd=tmp_path)
    kept = {path.name: path.read_bytes() for path in FOLDER.iterdir() if path.suffix in KEPT}
    drawn = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert kept.keys() == drawn.keys()
    assert [name for name in kept if kept[name] != drawn[name]] == []


def test_season_is_drawn_without_the_program_it_tests() -> None:
    for path in [FOLDER / "season.py", *(FOLDER / "drawing").glob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not {name.split(".")[0] for name in names} & {"pipeline", "schemas"}, path


def test_every_report_has_its_account() -> None:
    reports = {path.stem for path in FOLDER.glob("*.xlsx")} - {"lot_register"}
    reports |= {path.stem for path in FOLDER.glob("*.csv") if ".expected" not in path.name}
    assert reports == set(NAMES)
    assert 14 <= len(reports) <= 20


@pytest.mark.parametrize("name", NAMES)
def test_account_quotes_the_sheet_as_a_person_sees_it(name: str) -> None:
    seen = cells_as_seen(report_file(name))
    quoted = {(row["sheet"], row["cell"]): row["raw_value"] for row in rows(name)}
    assert {cell: seen.get(cell, "") for cell in quoted} == quoted


@pytest.mark.parametrize("name", NAMES)
def test_account_has_each_cell_once_and_whole(name: str) -> None:
    cells = Counter((row["sheet"], row["cell"]) for row in rows(name))
    assert max(cells.values()) == 1
    for row in rows(name):
        assert row["outcome"] in OUTCOMES
        assert bool(row["reason_code"]) == (row["outcome"] == "held")
        assert bool(row["qc_kind"]) == (row["outcome"] == "qc")
        assert bool(row["upper"]) == (row["outcome"] in {"result", "qc", "repeated"})


@pytest.mark.parametrize("name", NAMES)
def test_intervals_follow_the_words_printed(name: str) -> None:
    for row in rows(name):
        if row["outcome"] not in {"result", "qc", "repeated"}:
            continue
        low, high = Decimal(row["lower"]), Decimal(row["upper"])
        match row["raw_value"]:
            case "n.d." | "ND" | "<LOD":
                assert (low, high, row["censoring"]) == (Decimal(0), Decimal(row["lod"]), "left")
            case "<LOQ" | "trace":
                limits = Decimal(row["lod"]), Decimal(row["loq"])
                assert (low, high, row["censoring"]) == (*limits, "interval")
            case text if text.startswith("<"):
                scale = 1000 if row["raw_unit"].startswith("mg/") else 1
                limit = Decimal(text[1:].replace(",", ".")) * scale
                assert (low, high, row["censoring"]) == (Decimal(0), limit, "left")
            case _:
                below = row["loq"] and Decimal(row["value"]) < Decimal(row["loq"])
                assert low == high == Decimal(row["value"])
                assert row["censoring"] == ("estimated" if below else "none")


@pytest.mark.parametrize(
    ("name", "cell", "expected"),
    [
        # a number stored with more places than are shown
        (
            "2025-W49_tressock_TR-25-0631",
            "G15",
            "HK25-0401 guaiacol free red wine 42.1 µg/L 42.07 ug/L",
        ),
        # a row in mg/kg: 0.1141 mg/kg is 114.1 µg/kg
        (
            "2025-W37_ombrelow_25-0418",
            "F24",
            "HK25-0101 syringol gentiobioside bound grape 0.1141 mg/kg 114.1 ug/kg",
        ),
        # parts per billion of a liquid
        (
            "2025-W49_jossamer_JW-212-25",
            "D14",
            "J4394 guaiacol free wine 20.7 ppb 20.7 ug/L",
        ),
        # decimal comma
        (
            "2026-W06_tollimere_TMH-R-2533",
            "I19",
            "HK25-0505 guaiacol free red wine 22,6 µg/L 22.6 ug/L",
        ),
    ],
)
def test_cells_read_by_hand(name: str, cell: str, expected: str) -> None:
    (row,) = [row for row in rows(name) if row["cell"] == cell]
    keys = ["sample_id", "analyte", "form", "matrix", "raw_value", "raw_unit", "value", "unit"]
    assert " ".join(row[key] for key in keys) == expected


def test_held_values_are_few_and_each_for_its_own_reason() -> None:
    held = Counter(row["reason_code"] for name in NAMES for row in rows(name))
    del held[""]
    assert held == HELD


def test_season_is_large_enough_to_be_a_season() -> None:
    counts = Counter(row["outcome"] for name in NAMES for row in rows(name))
    assert sum(counts.values()) > 2000
    assert set(counts) == OUTCOMES


def test_register_has_the_headers_of_the_contract() -> None:
    book = openpyxl.load_workbook(FOLDER / "lot_register.xlsx")
    headers = {page.title: " ".join(str(cell.value) for cell in page[1]) for page in book}
    assert headers == {
        "lots": "lot region grower vineyard block variety colour vintage volume_l "
        "expected_picking_on",
        "samples": "sample_id lab lot sample_kind matrix stage sampled_on bunches brix "
        "treatment dose dose_unit trial",
        "movements": "from_lot to_lot kind volume_l moved_on",
        "interventions": "lot kind agent dose dose_unit done_on permission_note",
        "tastings": "lot attribute score scale_max panel_size tasted_on",
        "decisions": "lot decision decided_on who note retest_due_on",
        "exposures": "block from to growth_stage index source",
    }


def test_register_knows_every_sample_but_the_misprinted_one() -> None:
    known = {line["sample_id"] for line in table("samples")}
    printed = {
        row["sample_id"]
        for name in NAMES
        for row in rows(name)
        if row["qc_kind"] == "" and row["sample_id"]
    }
    assert printed - known == {"HR25-0417"}


def test_samples_belong_to_registered_lots_and_laboratories_as_printed() -> None:
    lots = {line["lot"] for line in table("lots")}
    assert {line["lot"] for line in table("samples")} <= lots
    assert lots - {line["lot"] for line in table("samples")} == {"25-CS-05"}
    texts = {text for name in NAMES for text in cells_as_seen(report_file(name)).values()}
    assert {line["lab"] for line in table("samples")} <= texts


def test_story_guaiacol_over_its_threshold_at_end_of_mlf() -> None:
    assert number("2025-W49_tressock_TR-25-0631", "HK25-0401", "guaiacol", "free") > 1.5 * 23


def test_story_guaiacol_undecided_within_its_uncertainty() -> None:
    name = "2026-W11_tollimere_TMH-R-2608"
    row = found(name, "HK25-0605", "guaiacol", "free")
    page = openpyxl.load_workbook(report_file(name))["Export"]
    expanded = page[f"M{row['cell'][1:]}"].value
    assert page["M7"].value == "± U (k = 2)"
    assert abs(float(row["value"]) - 23) < expanded


def test_story_bound_reserve_without_any_free_phenol() -> None:
    last = [row for row in rows("2026-W11_jossamer_JW-019-26") if row["sample_id"] == "J4502"]
    assert {row["raw_value"] for row in last if row["form"] == "free"} == {"n.d."}
    assert sum(float(row["value"]) for row in last if row["form"] == "bound") > 50


def test_story_bound_fraction_grows_while_free_stands_still() -> None:
    start = bound_fraction("2025-W43_tressock_TR-25-0548", "HK25-0310")
    end = bound_fraction("2026-W11_tressock_TR-26-0119", "HK25-0610")
    assert start == pytest.approx(0.45, abs=0.02)
    assert end == pytest.approx(0.75, abs=0.02)


def test_story_fining_takes_free_phenols_and_colour_only() -> None:
    before, after = ("2025-W49_tressock_TR-25-0631", "2026-W06_tressock_TR-26-0057")
    for analyte in ("guaiacol", "m-cresol", "syringol"):
        free = [
            number(before, "HK25-0404", analyte, "free"),
            number(after, "HK25-0504", analyte, "free"),
        ]
        total = [
            number(before, "HK25-0404", analyte, "total"),
            number(after, "HK25-0504", analyte, "total"),
        ]
        assert free[1] / free[0] == pytest.approx(0.5, abs=0.05)
        assert total[1] - free[1] == pytest.approx(total[0] - free[0], rel=0.08)
    colour = [
        number(before, "HK25-0404", "A520", ""),
        number(after, "HK25-0504", "A520", ""),
    ]
    assert colour[1] < 0.85 * colour[0]


def test_story_only_the_sum_of_odour_activities_exceeds_one() -> None:
    name, sample_id = "2026-W11_tressock_TR-26-0119", "HK25-0616"
    thresholds = {"guaiacol": 23, "o-cresol": 62, "m-cresol": 20, "p-cresol": 64}
    shares = [number(name, sample_id, a, "free") / t for a, t in thresholds.items()]
    assert max(shares) < 1 < sum(shares)


def test_story_total_below_free() -> None:
    name = "2025-W49_tressock_TR-25-0631"
    total = number(name, "HK25-0413", "syringol", "total")
    assert total < number(name, "HK25-0413", "syringol", "free")


def test_story_lot_with_free_phenols_only() -> None:
    forms = {row["form"] for _, row in results_of("25-PN-04")}
    assert forms == {"free"}


def test_story_amended_report_changes_withdraws_and_adds_one_value() -> None:
    first = {r["cell"]: r["raw_value"] for r in rows("2025-W49_tressock_TR-25-0631")}
    second = {r["cell"]: r["raw_value"] for r in rows("2026-W06_tressock_TR-25-0631_rev1")}
    changes = {(first[c] != "", second[c] != "") for c in first if first[c] != second[c]}
    assert first.keys() == second.keys()
    assert sum(first[c] != second[c] for c in first) == 3
    assert changes == {(True, True), (True, False), (False, True)}
