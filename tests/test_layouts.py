"""A user's own layouts: drafted, completed, loaded; and what is wrong with one is told.

The forms are invented. Expected numbers are read off the lines written here, by hand.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from openpyxl import load_workbook
from openpyxl.styles import Font
from workbooks import Lines, write_book

from pipeline.cli import run
from pipeline.errors import BadSettings, FileRefused
from pipeline.find import find
from pipeline.flows.order import Workplace, prepare
from pipeline.settings import judging_key, load_settings
from pipeline.store import Store
from schemas.report import Report

TITLED: Lines = [
    ["Panel of seven, Bench of the Test"],
    [],
    ["North slope, tank 4"],
    ["Code", "Value"],
    ["P1", 12.3],
    ["P2", "<0.5"],
    ["P3", 7],
    [],
    ["South slope, tank 9"],
    ["Code", "Value"],
    ["P1", 3.5],
    ["P2", 1.25],
    ["P3", "<2"],
]
CODES: Lines = [
    ["Panel seven"],
    [],
    ["Vat", "P1", "P2", "P7"],
    ["T-1", 12.3, 1.5, 7],
    ["T-2", 8, "<0.5", 7.5],
    ["Mean", 10.15, None, 7.25],
]
PAIRS: Lines = [
    ["Form for two readings"],
    ["Red wine"],
    ["Name", "T-1", None, "T-2", None],
    ["Guaiacol", 12.3, 0.5, 8.1, 0.4],
    ["Syringol", 44, 2, 31, 1.5],
    ["o-Cresol", 3, 0.25, "<0.5", None],
]
FOREIGN: Lines = [
    ["Vzorek", "Skupina", "Gvajakol", "4-Metylgvajakol", "Poznamka"],
    ["V-1", "A", 12.3, 1.5, 3],
    ["V-2", "B", 80, "<0,5", 4],
]
SIDEWAYS: Lines = [
    ["Sheet of pairs", "HK-7"],
    ["Compound", "Amount", "Compound", "Amount"],
    ["Guaiacol", 12.3, "o-Cresol", 3.1],
    ["Syringol", 44, "Phenol", 9.5],
]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "layouts").mkdir()
    (tmp_path / "cinderlot.toml").write_text('layouts = "layouts"\n', encoding="utf-8")
    return tmp_path


def complete(place: Path, answers: dict[str, str]) -> str:
    """Answer a draft as a user would: each pattern is a line, or a part of one, and its answer."""
    text = (place / "draft.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)
    for pattern, answer in answers.items():
        text, count = re.subn(pattern, answer, text, flags=re.MULTILINE)
        assert count == 1, f"{pattern}: {count} places\n{text}"
    (place / "layouts" / "own.toml").write_text(text, encoding="utf-8")
    return text


FREE_RED = {
    r'^form = "\?"': 'form = "free"',
    r'^unit = "\?"': 'unit = "ug/L"',
    r'^matrix = "\?"': 'matrix = "red wine"',
}
DRAFTED: dict[str, tuple[Lines, dict[str, str], list[tuple[Any, ...]]]] = {
    # sample only in a title above each small block; analytes as codes that nothing explains
    "titled_blocks": (
        TITLED,
        {
            **FREE_RED,
            r'^name = "form"': 'name = "titled_blocks"',
            r'^"P1" = "\?"': '"P1" = "guaiacol"',
            r'^"P2" = "\?"': '"P2" = "4-methylguaiacol"',
            r'^"P3" = "\?"': '"P3" = "syringol"',
            r'^sample = \{ axis = "sheet", up = 1 \}': (
                'sample = { axis = "sheet", up = 1, after = "slope," }'
            ),
        },
        [
            ("B11", "tank 9", "P1", "guaiacol", "free", 3.5, 3.5),
            ("B12", "tank 9", "P2", "4-methylguaiacol", "free", 1.25, 1.25),
            ("B13", "tank 9", "P3", "syringol", "free", 0.0, 2.0),
            ("B5", "tank 4", "P1", "guaiacol", "free", 12.3, 12.3),
            ("B6", "tank 4", "P2", "4-methylguaiacol", "free", 0.0, 0.5),
            ("B7", "tank 4", "P3", "syringol", "free", 7.0, 7.0),
        ],
    ),
    # neither line nor column of names is known, so the draft asks which one names the analytes
    "codes": (
        CODES,
        {
            **FREE_RED,
            r'^name = "form"': 'name = "codes"',
            r'^"P1" = "\?"': '"P1" = "guaiacol"',
            r'^"P2" = "\?"': '"P2" = "4-methylguaiacol"',
            r'^"P7" = "\?".*$': "",
            r'^"T-1" = .*$': "",
            r'^"T-2" = .*$': "",
            r'^results = "\?"': 'results = "crossing"',
            r'^analyte = \{ axis = "\?" \}': 'analyte = { axis = "row" }',
            r'^sample = \{ axis = "\?" \}': 'sample = { axis = "column" }',
        },
        [
            ("B4", "T-1", "P1", "guaiacol", "free", 12.3, 12.3),
            ("B5", "T-2", "P1", "guaiacol", "free", 8.0, 8.0),
            ("C4", "T-1", "P2", "4-methylguaiacol", "free", 1.5, 1.5),
            ("C5", "T-2", "P2", "4-methylguaiacol", "free", 0.0, 0.5),
        ],
    ),
    # names down, samples across, and beside each value its uncertainty without a heading
    "pairs": (
        PAIRS,
        {
            r'^form = "\?"': 'form = "free"',
            r'^unit = "\?"': 'unit = "ug/L"',
            r'^name = "form"': 'name = "pairs"',
            r"^sample = (.*)$": r'sample = \1\nuncertainty = { axis = "value", right = 1 }',
        },
        [
            ("B4", "T-1", "Guaiacol", "guaiacol", "free", 12.3, 12.3),
            ("B5", "T-1", "Syringol", "syringol", "free", 44.0, 44.0),
            ("B6", "T-1", "o-Cresol", "o-cresol", "free", 3.0, 3.0),
            ("D4", "T-2", "Guaiacol", "guaiacol", "free", 8.1, 8.1),
            ("D5", "T-2", "Syringol", "syringol", "free", 31.0, 31.0),
            ("D6", "T-2", "o-Cresol", "o-cresol", "free", 0.0, 0.5),
        ],
    ),
    # a language that no vocabulary knows, with a column of forms as letters
    "foreign": (
        FOREIGN,
        {
            r'^form = "\?".*$': "",
            r'^unit = "\?"': 'unit = "ug/L"',
            r'^matrix = "\?"': 'matrix = "red wine"',
            r'^name = "form"': 'name = "foreign"',
            r'^# ignore = \["Mean", "Remarks"\]': 'ignore = ["Poznamka"]',
            r'^"4-Metylgvajakol" = "\?"': '"4-Metylgvajakol" = "4-methylguaiacol"',
            r'^"Poznamka" = .*$': "",
            r"^# \[meanings.form\]": "[meanings.form]",
            r'^# "A" = "free"': '"A" = "free"\n"B" = "total"',
            r'^# FIELD = (\{ axis = "column", heading = "Skupina" \}).*$': r"form = \1",
        },
        [
            ("C2", "V-1", "Gvajakol", "guaiacol", "free", 12.3, 12.3),
            ("C3", "V-2", "Gvajakol", "guaiacol", "total", 80.0, 80.0),
            ("D2", "V-1", "4-Metylgvajakol", "4-methylguaiacol", "free", 1.5, 1.5),
            ("D3", "V-2", "4-Metylgvajakol", "4-methylguaiacol", "total", 0.0, 0.5),
        ],
    ),
    # two lists side by side under the same headings
    "sideways": (
        SIDEWAYS,
        {
            **FREE_RED,
            r'^name = "form"': 'name = "sideways"',
            r'^sample = \{ axis = "sheet", up = 1 \}': (
                'sample = { axis = "sheet", heading = "Sheet of pairs", right = 1 }'
            ),
        },
        [
            ("B3", "HK-7", "Guaiacol", "guaiacol", "free", 12.3, 12.3),
            ("B4", "HK-7", "Syringol", "syringol", "free", 44.0, 44.0),
            ("D3", "HK-7", "o-Cresol", "o-cresol", "free", 3.1, 3.1),
            ("D4", "HK-7", "Phenol", "phenol", "free", 9.5, 9.5),
        ],
    ),
}
SHOWN = ["cell", "sample_id", "raw_analyte", "analyte", "form", "lower", "upper"]


def loaded(place: Path, file: str) -> Report | FileRefused:
    """Prepare one file with the settings of the folder, as a load does."""
    settings = load_settings(place / "cinderlot.toml")
    made = prepare(find([place / file]).sources, Workplace(place / "s.duckdb", settings))[0]
    assert isinstance(made, Report | FileRefused)
    return made


def refusal(place: Path, file: str = "form.xlsx") -> str:
    made = loaded(place, file)
    assert isinstance(made, FileRefused), made
    return str(made)


def report(place: Path, file: str = "form.xlsx") -> Report:
    made = loaded(place, file)
    assert isinstance(made, Report), made
    return made


@pytest.mark.parametrize("name", DRAFTED)
def test_a_drafted_and_completed_layout_reads_the_right_numbers_from_the_right_cells(
    name: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines, answers, expected = DRAFTED[name]
    write_book(place / "form.xlsx", lines)
    before = loaded(place, "form.xlsx")
    assert isinstance(before, FileRefused) or before.stored.is_empty()
    run(["preview", "form.xlsx", "--draft", "draft.toml"])
    complete(place, answers)
    made = report(place)
    found = made.stored.select(SHOWN).sort("cell")
    assert found.rows() == sorted(expected)
    assert made.layout == name
    assert made.n_values == made.stored.height + made.held.height + made.unused.height


def test_the_layout_is_named_in_reports_and_a_held_code_stays_printed(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_book(place / "form.xlsx", CODES)
    run(["preview", "form.xlsx", "--draft", "draft.toml"])
    complete(place, DRAFTED["codes"][1])
    assert run(["load", "form.xlsx"]) == 0
    told = capsys.readouterr().out
    assert 'layout "codes" leaves out A6' in told
    with Store(place / "cinderlot.duckdb", read_only=True) as store:
        assert store.frame("SELECT layout FROM reports")["layout"].to_list() == ["codes"]
        held = store.frame("SELECT cell, raw_analyte, reason_code FROM held ORDER BY cell")
    # P7 was left unanswered: its two values are held under the printed code.
    assert held.rows() == [("D4", "P7", "analyte_unknown"), ("D5", "P7", "analyte_unknown")]


def test_the_uncertainty_beside_a_value_belongs_to_it(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_book(place / "form.xlsx", PAIRS)
    run(["preview", "form.xlsx", "--draft", "draft.toml"])
    complete(place, DRAFTED["pairs"][1])
    found = report(place).stored.select("cell", "expanded_uncertainty").sort("cell").rows()
    assert found == [
        ("B4", 0.5), ("B5", 2.0), ("B6", 0.25), ("D4", 0.4), ("D5", 1.5), ("D6", None),
    ]  # fmt: skip


def test_a_draft_of_headings_that_nothing_knows_is_toml(place: Path) -> None:
    lines = [
        ["Free volatile phenols (µg/L), red wine"],
        ["Sample", "Guaiacol 2024", "Guaiacol 2025"],
        ["A1", 3.5, 9.5],
    ]
    write_book(place / "form.xlsx", lines)
    run(["preview", "form.xlsx", "--draft", "draft.toml"])
    drafted = tomllib.loads((place / "draft.toml").read_text(encoding="utf-8"))
    assert {"sample", "analyte"} <= drafted["table"][0]["fields"].keys()


def test_a_draft_is_never_written_over_a_file(place: Path) -> None:
    write_book(place / "form.xlsx", CODES)
    (place / "draft.toml").write_text("mine", encoding="utf-8")
    assert run(["preview", "form.xlsx", "--draft", "draft.toml"]) == 2
    assert (place / "draft.toml").read_text(encoding="utf-8") == "mine"


def test_an_unanswered_draft_is_refused_question_by_question(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_book(place / "form.xlsx", CODES)
    run(["preview", "form.xlsx", "--draft", "layouts/own.toml"])
    with pytest.raises(BadSettings) as raised:
        load_settings(place / "cinderlot.toml")
    told = str(raised.value)
    assert 'own.toml: fixed.form is still "?"; answer it' in told
    assert 'own.toml: meanings.analyte.P1 is still "?"; answer it' in told
    assert 'own.toml: table 1.fields.analyte.axis is still "?"; answer it' in told


LAYOUT = """
name = "NAME"
[when]
texts = ["Panel seven"]
[fixed]
form = "free"
unit = "ug/L"
matrix = "red wine"
[meanings.analyte]
P1 = "guaiacol"
P2 = "4-methylguaiacol"
P7 = "syringol"
[[table]]
start = "Vat"
[table.fields]
analyte = { axis = "row" }
sample = { axis = "column", heading = "Vat" }
"""


def put_layout(place: Path, name: str = "own", text: str = LAYOUT, file: str | None = None) -> None:
    path = place / "layouts" / f"{file or name}.toml"
    path.write_text(text.replace("NAME", name), encoding="utf-8")


def test_two_layouts_that_fit_one_sheet_are_refused_naming_both(place: Path) -> None:
    write_book(place / "form.xlsx", CODES)
    put_layout(place, "one")
    put_layout(place, "two", LAYOUT.replace('"Panel seven"', '"Vat"'))
    told = refusal(place)
    assert '"one" (one.toml, by A1)' in told
    assert '"two" (two.toml, by A3)' in told


def test_a_layout_for_sheets_of_another_name_is_not_used(place: Path) -> None:
    write_book(place / "form.xlsx", CODES)
    put_layout(place, "one")
    put_layout(place, "two", LAYOUT.replace("[when]", '[when]\nsheet = "Results*"'))
    assert report(place).layout == "one"


def test_a_start_that_stands_twice_is_refused_naming_both_cells(place: Path) -> None:
    write_book(place / "form.xlsx", [*CODES, [], ["Vat", "P1", "P2"], ["T-3", 1, 2]])
    put_layout(place)
    told = refusal(place)
    assert '"Vat" (start) stands in A3 and in A8' in told
    assert "repeats = true" in told


def test_a_heading_that_stands_twice_is_refused_naming_both_cells(place: Path) -> None:
    lines: Lines = [["Panel seven"], ["Vat", "Test", "Value", "Value"], ["T-1", "Guaiacol", 1, 2]]
    write_book(place / "form.xlsx", lines)
    listed = LAYOUT.replace('start = "Vat"', 'start = "Vat"\nresults = "column"').replace(
        'analyte = { axis = "row" }',
        'analyte = { axis = "column", heading = "Test" }\n'
        'result = { axis = "column", heading = "Value" }',
    )
    put_layout(place, text=listed)
    assert '"Value" (result) stands in C2 and in D2' in refusal(place)


def test_a_heading_that_stands_nowhere_is_refused(place: Path) -> None:
    write_book(place / "form.xlsx", CODES)
    put_layout(place, text=LAYOUT.replace('heading = "Vat"', 'heading = "Tank no."'))
    assert 'no cell says "Tank no." (sample)' in refusal(place)


def test_a_title_is_never_taken_from_inside_another_table(place: Path) -> None:
    # Without the line that names the second sample, the cell above its header is a code of the first.
    lines = [*TITLED[:7], *TITLED[9:]]
    write_book(place / "form.xlsx", lines)
    text = """
name = "titled"
[when]
texts = ["Panel of seven*"]
[fixed]
form = "free"
unit = "ug/L"
matrix = "red wine"
[meanings.analyte]
P1 = "guaiacol"
P2 = "4-methylguaiacol"
P3 = "syringol"
[[table]]
start = "Code"
repeats = true
results = "column"
[table.fields]
analyte = { axis = "column", heading = "Code" }
result = { axis = "column", heading = "Value" }
sample = { axis = "sheet", up = 1 }
"""
    put_layout(place, text=text)
    told = refusal(place)
    assert "A4 and A8 both claim A7" in told


@pytest.mark.parametrize(
    ("printed", "told"),
    [
        ("Unit: mg/L", 'says unit "ug/L", but A2 says "mg/L"'),
        ("Total volatile phenols", 'says form "free", but A2 says "total"'),
        ("Matrix: white wine", 'says matrix "red wine", but A2 says "white wine"'),
    ],
)
def test_a_sheet_that_says_otherwise_than_its_layout_is_refused(
    place: Path, printed: str, told: str
) -> None:
    write_book(place / "form.xlsx", [CODES[0], [printed], *CODES[2:]])
    put_layout(place)
    assert told in refusal(place)


def test_a_moved_table_gives_the_same_numbers_in_its_new_cells(place: Path) -> None:
    put_layout(place)
    write_book(place / "form.xlsx", CODES)
    write_book(place / "moved.xlsx", [[], *([None, *line] for line in CODES)])
    kept = ["sample_id", "analyte", "lower", "upper"]
    plain, moved = (report(place, f"{name}.xlsx").stored for name in ("form", "moved"))
    assert plain.select(kept).equals(moved.select(kept))
    assert moved.filter(sample_id="T-1", analyte="guaiacol")["cell"].item() == "C5"


def test_a_number_outside_the_layout_is_told(place: Path) -> None:
    write_book(place / "form.xlsx", [*CODES[:5], [], ["Total", 99]])
    put_layout(place)
    assert (
        'Form: layout "own" does not read 1 number (first: B7); see cinderlot preview'
        in report(place).notices
    )


MISTAKES = [
    (LAYOUT.replace("start =", "begin ="), "unknown key [[table]] 1: begin"),
    (LAYOUT.replace("start =", "strat ="), "unknown key [[table]] 1: strat; did you mean start?"),
    (LAYOUT.replace("start =", "strat ="), "[[table]] 1: start is missing"),
    (LAYOUT.replace("heading =", "headng ="), "sample headng; did you mean heading?"),
    (LAYOUT.replace('"guaiacol"', '"guajacol"'), "did you mean guaiacol?"),
    (LAYOUT.replace("P1 =", "Phenol ="), "but the vocabulary knows it as phenol"),
    (LAYOUT.replace('unit = "ug/L"', 'unit = "foot"'), "unit is 'foot'; expected a unit"),
    (LAYOUT.replace('form = "free"', 'form = "loose"'), "form is 'loose'; expected one of free"),
    (LAYOUT.replace('"red wine"', '"beer"'), "matrix is 'beer'; expected a known one"),
    (LAYOUT.replace('texts = ["Panel seven"]', ""), "[when] texts is missing"),
    (LAYOUT.replace('axis = "row"', 'axis = "column"'), "expected them to cross"),
    (LAYOUT.replace('axis = "row"', 'axis = "line"'), "axis is 'line'; expected one of row"),
    (LAYOUT.replace("sample = {", "sampel = {"), "sampel; did you mean sample?"),
    (LAYOUT.replace('"NAME"', '"samples_down"'), "which a shipped layout has already"),
    (LAYOUT + 'lod = { axis = "value" }\n', "lod axis is 'value'; expected one step"),
    ("name = ", "not readable as TOML"),
]


@pytest.mark.parametrize(("text", "told"), MISTAKES)
def test_a_mistake_in_a_layout_is_told_with_file_and_key(place: Path, text: str, told: str) -> None:
    put_layout(place, text=text)
    with pytest.raises(BadSettings) as raised:
        load_settings(place / "cinderlot.toml")
    assert any("own.toml: " in line and told in line for line in str(raised.value).splitlines())


def test_mistakes_of_all_layouts_are_told_at_once(place: Path) -> None:
    put_layout(place, "one", LAYOUT.replace("[when]", "[whem]"))
    put_layout(place, "two", LAYOUT.replace("start =", "strat =").replace("P2 =", "Syringol ="))
    with pytest.raises(BadSettings) as raised:
        load_settings(place / "cinderlot.toml")
    lines = str(raised.value).splitlines()
    assert sum("one.toml: " in line for line in lines) == 2
    assert sum("two.toml: " in line for line in lines) == 3


def test_two_files_with_one_name_are_refused(place: Path) -> None:
    put_layout(place, "same", file="a")
    put_layout(place, "same", file="b")
    with pytest.raises(BadSettings, match=r"b\.toml: name is 'same', which a\.toml has already"):
        load_settings(place / "cinderlot.toml")


def test_layouts_that_are_a_file_are_refused(place: Path) -> None:
    (place / "cinderlot.toml").write_text('layouts = "form.toml"\n', encoding="utf-8")
    (place / "form.toml").write_text("", encoding="utf-8")
    with pytest.raises(BadSettings, match="expected a folder"):
        load_settings(place / "cinderlot.toml")


def test_a_changed_layout_judges_known_reports_anew(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_book(place / "form.xlsx", CODES)
    put_layout(place)
    before = judging_key(load_settings(place / "cinderlot.toml"))
    assert run(["load", "form.xlsx"]) == 0
    assert "6 results" in capsys.readouterr().out
    assert run(["load", "form.xlsx"]) == 0
    assert "nothing new" in capsys.readouterr().out
    put_layout(place, text=LAYOUT.replace('P7 = "syringol"', 'P7 = "phenol"'))
    assert judging_key(load_settings(place / "cinderlot.toml")) != before
    assert run(["load", "form.xlsx"]) == 0
    assert "judged anew" in capsys.readouterr().out
    with Store(place / "cinderlot.duckdb", read_only=True) as store:
        found = store.frame("SELECT DISTINCT analyte FROM results ORDER BY analyte")
    assert found["analyte"].to_list() == ["4-methylguaiacol", "guaiacol", "phenol"]


def test_the_laboratory_of_a_layout_stands_behind_the_reports_own(place: Path) -> None:
    named = LAYOUT.replace("[fixed]", '[fixed]\nlaboratory = "Layout Bench"')
    put_layout(place, text=named)
    write_book(place / "form.xlsx", CODES)
    write_book(place / "own.xlsx", [CODES[0], ["Laboratory:", "Own Bench"], *CODES[2:]])
    assert report(place, "form.xlsx").lab == "Layout Bench"
    assert report(place, "own.xlsx").lab == "Own Bench"


def test_quality_control_and_struck_out_cells_are_kept_apart(place: Path) -> None:
    path = write_book(place / "form.xlsx", [*CODES[:5], ["Blank 1", 0.1, 0.1, 0.1]])
    book = load_workbook(path)
    book["Form"]["B4"].font = Font(strike=True)
    book.save(path)
    put_layout(place)
    made = report(place)
    assert made.outcomes == {"result": 5, "qc": 3}
    assert made.held.select("cell", "reason_code").rows() == [("B4", "struck_out")]


def test_units_and_limits_may_stand_in_lines_of_their_own(place: Path) -> None:
    lines: Lines = [
        ["Panel seven"],
        ["Vat", "P1", "P2"],
        ["Eenheid", "mg/L", "ug/L"],
        ["T-1", 0.0123, "nd"],
        ["Grens", 0.001, 0.5],
    ]
    write_book(place / "form.xlsx", lines)
    text = LAYOUT.replace('unit = "ug/L"\n', "")
    text += (
        'unit = { axis = "row", heading = "Eenheid" }\nlod = { axis = "row", heading = "Grens" }\n'
    )
    put_layout(place, text=text)
    found = report(place).stored.select("cell", "lower", "upper", "raw_unit").sort("cell").rows()
    # 0.0123 mg/L is 12.3 ug/L; "nd" lies between 0 and its limit of 0.5.
    assert found == [
        ("B4", pytest.approx(12.3), pytest.approx(12.3), "mg/L"),
        ("C4", 0.0, 0.5, "ug/L"),
    ]


def test_two_columns_of_results_may_have_forms_of_their_own(place: Path) -> None:
    lines: Lines = [["Panel seven"], ["Vat", "Stof", "Vrij", "Alles"], ["T-1", "P1", 3, 9]]
    write_book(place / "form.xlsx", lines)
    head = LAYOUT.split("[[table]]")[0].replace('form = "free"\n', "")
    text = (
        head
        + """
[[table]]
start = "Vat"
results = "column"
[table.fields]
analyte = { axis = "column", heading = "Stof" }
sample = { axis = "column", heading = "Vat" }
[[table.result]]
heading = "Vrij"
form = "free"
[[table.result]]
heading = "Alles"
form = "total"
"""
    )
    put_layout(place, text=text)
    found = report(place).stored.select("cell", "analyte", "form", "value").sort("cell")
    assert found.rows() == [("C3", "guaiacol", "free", 3.0), ("D3", "guaiacol", "total", 9.0)]


def test_a_list_on_its_side_is_read(place: Path) -> None:
    lines: Lines = [["Panel seven"], ["Stof", "P1", "P2"], ["Uitslag", 3, 9], ["Vat", "T-1", "T-2"]]
    write_book(place / "form.xlsx", lines)
    text = (
        LAYOUT.split("[[table]]")[0]
        + """
[[table]]
start = "Stof"
results = "row"
[table.fields]
analyte = { axis = "row" }
sample = { axis = "row", heading = "Vat" }
result = { axis = "row", heading = "Uitslag" }
"""
    )
    put_layout(place, text=text)
    found = report(place).stored.select("cell", "sample_id", "analyte", "value").sort("cell")
    assert found.rows() == [("B3", "T-1", "guaiacol", 3.0), ("C3", "T-2", "4-methylguaiacol", 9.0)]


def test_a_layout_serves_its_sheet_and_the_vocabulary_the_others(place: Path) -> None:
    path = write_book(place / "form.xlsx", CODES[:5])
    book = load_workbook(path)
    other = book.create_sheet("Other")
    for line in (["Sample", "Matrix", "Free guaiacol (ug/L)"], ["S-9", "Red wine", 5]):
        other.append(line)
    book.save(path)
    put_layout(place)
    made = report(place)
    assert made.layout == "own + samples_down"
    assert made.stored.filter(pl.col("sheet") == "Other")["cell"].to_list() == ["C2"]
    assert made.stored.height == 7


def test_a_unit_in_a_heading_counts_and_an_unknown_one_is_held(place: Path) -> None:
    lines: Lines = [
        ["Panel seven"],
        ["Vat", "P1 (mg/L)", "P2 (ug/100 mL)"],
        ["T-1", 0.0123, 4],
    ]
    write_book(place / "form.xlsx", lines)
    meanings = LAYOUT.replace("P2 =", '"P2 (ug/100 mL)" =')
    put_layout(place, text=meanings)
    made = report(place)
    # 0.0123 mg/L is 12.3 ug/L, whatever the layout says of the rest of the table.
    assert made.stored.select("cell", "lower").rows() == [("B3", pytest.approx(12.3))]
    assert made.held.select("cell", "raw_analyte").rows() == [("C3", "P2 (ug/100 mL)")]


def test_a_unit_over_a_column_of_results_counts(place: Path) -> None:
    lines: Lines = [["Panel seven"], ["Vat", "Stof", "Value (mg/L)"], ["T-1", "P1", 0.003]]
    write_book(place / "form.xlsx", lines)
    head = LAYOUT.split("[[table]]")[0]
    put_layout(
        place,
        text=head
        + """
[[table]]
start = "Vat"
results = "column"
[table.fields]
analyte = { axis = "column", heading = "Stof" }
sample = { axis = "column", heading = "Vat" }
result = { axis = "column", heading = "Value*" }
""",
    )
    assert report(place).stored.select("cell", "lower").rows() == [("C3", pytest.approx(3.0))]


@pytest.mark.parametrize("place_of_line", [1, 3, 4, 5])
def test_a_line_more_gives_the_same_numbers_or_holds_or_refuses(
    place: Path, place_of_line: int
) -> None:
    put_layout(place)
    write_book(place / "form.xlsx", CODES)
    lines = [*CODES[:place_of_line], ["New words"], *CODES[place_of_line:]]
    write_book(place / "more.xlsx", lines)
    kept = ["sample_id", "analyte", "lower", "upper"]
    whole = set(report(place).stored.select(kept).rows())
    other = loaded(place, "more.xlsx")
    assert isinstance(other, FileRefused) or set(other.stored.select(kept).rows()) <= whole


@pytest.mark.parametrize("column", [0, 1, 2, 3])
def test_a_column_more_gives_the_same_numbers_and_holds_its_own(place: Path, column: int) -> None:
    put_layout(place)
    write_book(place / "form.xlsx", CODES)
    wider = [CODES[0], [], *([*line[:column], cell, *line[column:]] for line, cell in zip(
        CODES[2:], ["P8", 77, 78, None], strict=True
    ))]  # fmt: skip
    write_book(place / "more.xlsx", wider)
    kept = ["sample_id", "analyte", "lower", "upper"]
    made = report(place, "more.xlsx")
    assert set(made.stored.select(kept).rows()) == set(report(place).stored.select(kept).rows())
    assert set(made.held["raw_analyte"]) == {"P8"}
