"""The register workbook: read by its headings, refused with every bad row named."""

from __future__ import annotations

import pickle
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest

from pipeline.errors import FileRefused, WrongUse
from pipeline.register import RegisterRefused, is_register, read_register, register_template
from pipeline.register.parse import column_letters
from pipeline.register.sheets import SHEETS
from schemas.frames import CELLS

Line = Sequence[Any]
LOTS: list[Line] = [
    ("lot", "vineyard", "variety", "colour", "vintage", "volume_l"),
    ("26-SH-01", "East", "Shiraz", "red", 2026, 5400),
    ("26-CH-01", "West", "Chardonnay", "white", 2026, None),
]
SAMPLES: list[Line] = [
    ("sample_id", "lab", "lot", "stage", "sampled_on"),
    ("S1", "North Laboratory", "26-SH-01", "end of AF", date(2026, 3, 2)),
    (1002, None, "26-CH-01", "harvest", "2026-02-11"),
]


def cell(sheet: str, row: int, col: int, content: Any) -> dict[str, Any]:
    number = float(content) if isinstance(content, int | float) else None
    day = content if isinstance(content, date) else None
    kind = "number" if number is not None else "date" if day else "text"
    return {
        "sheet": sheet,
        "row": row,
        "col": col,
        "text": str(content),
        "number": number,
        "date": day,
        "kind": "error" if str(content).startswith("#") else kind,
    }


def cells(first_row: int = 1, **sheets: list[Line]) -> pl.DataFrame:
    filled = [
        cell(sheet, row, col, content)
        for sheet, lines in sheets.items()
        for row, line in enumerate(lines, start=first_row)
        for col, content in enumerate(line, start=1)
        if content is not None
    ]
    return pl.DataFrame(filled, schema=CELLS)


def faults(**sheets: list[Line]) -> list[str]:
    with pytest.raises(RegisterRefused) as raised:
        read_register(cells(**{"lots": LOTS, "samples": SAMPLES, **sheets}), "register.xlsx")
    return list(raised.value.faults)


def test_a_register_comes_back_typed() -> None:
    register = read_register(cells(lots=LOTS, samples=SAMPLES), "register.xlsx")
    assert register.lots.select("lot", "colour", "vintage", "volume_l", "block").rows() == [
        ("26-SH-01", "red", 2026, 5400.0, None),
        ("26-CH-01", "white", 2026, None, None),
    ]
    assert register.samples.select("sample_id", "lab", "lot", "stage", "sampled_on").rows() == [
        ("S1", "North Laboratory", "26-SH-01", "end of AF", date(2026, 3, 2)),
        ("1002", None, "26-CH-01", "harvest", date(2026, 2, 11)),
    ]
    assert register.notices == ()


def test_a_register_says_which_columns_it_has() -> None:
    lots = [("lot", "colour", "price"), ("26-SH-01", "red", 3), ("26-CH-01", None, None)]
    register = read_register(cells(lots=lots, samples=SAMPLES), "register.xlsx")
    assert register.columns["lots"] == ("lot", "colour")
    assert register.columns["samples"] == ("sample_id", "lab", "lot", "stage", "sampled_on")
    assert register.columns["movements"] == ()


def test_every_sheet_has_the_promised_columns() -> None:
    register = read_register(cells(lots=LOTS, samples=SAMPLES), "register.xlsx")
    for sheet in SHEETS:
        assert dict(getattr(register, sheet.name).schema) == sheet.schema
    # Design section 2, "the register".
    assert register.interventions.columns == [
        "lot", "kind", "agent", "dose", "dose_unit", "done_on", "permission_note",
    ]  # fmt: skip
    assert register.exposures.columns == [
        "block", "from", "to", "growth_stage", "index", "source",
    ]  # fmt: skip


def test_headings_stand_anywhere_in_any_order_and_case() -> None:
    lots = [("Lots of 2026",), (), ("VARIETY ", "Volume-L", "Lot", "price"),
            ("Shiraz", "5400", "26-SH-01", 3)]  # fmt: skip
    moved = [tuple(reversed(line)) for line in SAMPLES[:2]]
    register = read_register(cells(Lots=lots, SAMPLES=moved, first_row=4), "register.xlsx")
    assert register.lots.select("lot", "variety", "volume_l").row(0) == (
        "26-SH-01", "Shiraz", 5400.0,
    )  # fmt: skip
    assert register.samples["sample_id"].to_list() == ["S1"]
    assert register.notices == ("lots!D6: the column 'price' is not used",)


def test_events_are_read() -> None:
    sheets = {
        "movements": [("from_lot", "to_lot", "kind", "volume_l", "moved_on"),
                      ("26-SH-01", "26-CH-01", "Blend", 120.5, date(2026, 4, 1))],
        "interventions": [("lot", "kind", "agent", "dose", "dose_unit"),
                          ("26-SH-01", "fining", "activated carbon", 40, "g/hL")],
        "tastings": [("lot", "attribute", "score", "panel_size"),
                     ("26-SH-01", "ash aftertaste", "4,5", 8)],
        "decisions": [("lot", "decision", "who"), ("26-SH-01", "hold", "winemaker")],
        "exposures": [("block", "from", "to", "index"),
                      ("E1", date(2026, 1, 3), date(2026, 1, 5), 0.4)],
    }  # fmt: skip
    register = read_register(cells(lots=LOTS, samples=SAMPLES, **sheets), "register.xlsx")
    assert register.movements.row(0) == (
        "26-SH-01", "26-CH-01", "blend", 120.5, date(2026, 4, 1),
    )  # fmt: skip
    assert register.interventions["dose"].to_list() == [40.0]
    assert register.tastings.select("score", "panel_size").row(0) == (4.5, 8)
    assert register.decisions["decision"].to_list() == ["hold"]
    assert register.exposures.select("to", "index").row(0) == (date(2026, 1, 5), 0.4)


@pytest.mark.parametrize(
    ("column", "written", "kept"),
    [
        ("stage", "Post-AF", "end of AF"),
        ("stage", "veraison", "vineyard"),
        ("sample_kind", "mini ferment", "mini-ferment"),
        ("matrix", "Rosé", "rose wine"),
        ("matrix", "juice", "must"),
    ],
)
def test_words_of_the_trade_are_understood(column: str, written: str, kept: str) -> None:
    samples = [("sample_id", "lot", column), ("S1", "26-SH-01", written)]
    register = read_register(cells(lots=LOTS, samples=samples), "register.xlsx")
    assert register.samples[column].to_list() == [kept]


def with_sample(**values: Any) -> list[Line]:
    line = {"sample_id": "S1", "lot": "26-SH-01", **values}
    return [tuple(line), tuple(line.values())]


@pytest.mark.parametrize(
    ("values", "fault"),
    [
        (
            {"stage": "bottling day"},
            'samples!C2: stage "bottling day" cannot be used; write one of',
        ),
        ({"matrix": "beer"}, 'samples!C2: matrix "beer" cannot be used; write one of grape'),
        ({"sample_kind": "odd"}, 'samples!C2: sample_kind "odd" cannot be used'),
        ({"sampled_on": "3/4/2026"}, "write a date such as 2026-03-14"),
        ({"sampled_on": "2026-02-30"}, 'samples!C2: sampled_on "2026-02-30" cannot be used'),
        ({"sampled_on": 46000}, 'samples!C2: sampled_on "46000" cannot be used'),
        ({"brix": "ripe"}, "write a number such as 1250.5"),
        ({"brix": "1,250"}, 'samples!C2: brix "1,250" cannot be used'),
        ({"bunches": 2.5}, "write a whole number"),
        ({"dose": -3}, 'samples!C2: dose "-3" cannot be used'),
        ({"dose": "#REF!"}, 'samples!C2: dose "#REF!" cannot be used'),
        ({"trial": "#N/A"}, 'samples!C2: trial "#N/A" cannot be used'),
        ({"lot": None}, "samples!B2: lot is missing; fill it in or clear the row"),
        ({"sample_id": None}, "samples!A2: sample_id is missing"),
    ],
)
def test_a_bad_row_is_named_with_its_cell(values: dict[str, Any], fault: str) -> None:
    told = faults(samples=with_sample(**values))
    assert len(told) == 1
    assert fault in told[0]


# By hand: 1 hL = 100 L, so 0.5 g/L = 50 g/hL, 200 mg/L = 20 g/hL and 2 mL/L = 200 mL/hL.
@pytest.mark.parametrize(
    ("dose", "unit", "kept"),
    [
        (0.5, "g/L", (50.0, "g/hL")),
        (200, "mg / l", (20.0, "g/hL")),
        (30, "g/hl", (30.0, "g/hL")),
        (2, "mL/L", (200.0, "mL/hL")),
        (3, "chips per barrel", (3.0, "chips per barrel")),
        (3, None, (3.0, None)),
        (None, "g/L", (None, "g/hL")),
    ],
)
def test_doses_are_kept_as_those_of_reports(
    dose: float | None, unit: str | None, kept: tuple[float | None, str | None]
) -> None:
    done = [("lot", "kind", "dose", "dose_unit"), ("26-SH-01", "fining", dose, unit)]
    samples = with_sample(dose=dose, dose_unit=unit)
    register = read_register(cells(lots=LOTS, samples=samples, interventions=done), "r.xlsx")
    for frame in (register.samples, register.interventions):
        assert frame.select("dose", "dose_unit").row(0) == pytest.approx(kept)


def test_a_dose_in_ppm_is_a_bad_row() -> None:
    told = faults(samples=with_sample(dose=20, dose_unit="ppm"))
    assert told == [
        'samples!D2: dose_unit "ppm" tells neither mass nor volume; write g/hL, mg/L or mL/hL'
    ]


def test_all_bad_rows_are_told_at_once() -> None:
    lots = [*LOTS, ("26-SH-01", "West", "Shiraz", "red", 2026, 1), (None, "East")]
    samples = [*SAMPLES, ("S3", None, "26-XX-01", "someday", "soon")]
    told = faults(lots=lots, samples=samples)
    assert [fault.split(":")[0] for fault in told] == [
        "lots!A5", "lots!A4", "samples!D4", "samples!E4",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "again",
    [
        ("s1", "North Laboratory", "26-SH-01", None, None),
        ("S1", "north  laboratory", "26-CH-01", None, None),
    ],
)
def test_keys_are_compared_as_results_are(again: Line) -> None:
    lines = [*SAMPLES[:2], again]
    if again[0] == "s1":
        register = read_register(cells(lots=LOTS, samples=lines), "register.xlsx")
        assert register.samples.height == 2
    else:
        assert "differs from row 2 with the same lab and sample_id" in faults(samples=lines)[0]


def test_rows_that_say_the_same_count_once() -> None:
    register = read_register(cells(lots=[*LOTS, LOTS[1]], samples=SAMPLES), "register.xlsx")
    assert register.lots["lot"].to_list() == ["26-SH-01", "26-CH-01"]


def test_a_heading_that_stands_twice_is_a_fault() -> None:
    lots = [(*LOTS[0], "vineyard"), *LOTS[1:]]
    assert faults(lots=lots) == ["lots!G1: the heading vineyard stands twice; keep one of them"]


def test_a_sheet_without_its_headings_is_a_fault() -> None:
    told = faults(movements=[("from_lot", "volume_l"), ("26-SH-01", 3)])
    assert told == ["movements!A1: no row holds the headings from_lot, to_lot, kind; add them"]


def test_a_workbook_without_the_needed_sheets_says_which() -> None:
    with pytest.raises(FileRefused, match="no filled sheet samples;"):
        read_register(cells(lots=LOTS), "lots_only.xlsx")


def test_a_heading_nearly_right_is_named_with_the_right_one() -> None:
    few = [("lot", "color"), ("26-SH-01", "red")]
    assert '("color"; did you mean "colour"?)' in faults(lots=few)[0]
    more = [("lot", "variety", "color"), ("26-SH-01", "Shiraz", "red")]
    register = read_register(cells(lots=more, samples=with_sample()), "register.xlsx")
    assert register.notices == (
        "lots!C1: the column 'color' is not used; did you mean \"colour\"?",
    )


def test_an_exposure_that_ends_before_it_begins_is_a_fault() -> None:
    lines = [("block", "from", "to"), ("E1", date(2026, 1, 5), date(2026, 1, 3))]
    assert faults(exposures=lines) == ["exposures!C2: to lies before from; correct one of them"]


def test_lots_that_the_sheet_lots_does_not_have_are_left_to_the_store() -> None:
    decisions = [("lot", "decision"), ("25-OLD-1", "release"), (" 26-sh-01", "hold")]
    samples = with_sample(lot="25-OLD-2")
    register = read_register(cells(lots=LOTS, samples=samples, decisions=decisions), "r.xlsx")
    assert [(s.sheet, s.lot) for s in register.strays] == [
        ("samples", "25-OLD-2"), ("decisions", "25-OLD-1"),
    ]  # fmt: skip
    assert register.strays[0].line.startswith('samples!B2: the lot "25-OLD-2" is not known')


def test_a_refusal_is_a_refused_file_and_travels_between_processes() -> None:
    error = RegisterRefused("register.xlsx", ("samples!A2: sample_id is missing",))
    back = pickle.loads(pickle.dumps(error))
    assert isinstance(back, FileRefused)
    assert (str(back), back.faults) == (str(error), error.faults)
    assert str(error).startswith("register.xlsx: 1 fault, nothing of it was stored")


@pytest.mark.parametrize(
    ("sheets", "answer"),
    [
        ({"lots": LOTS, "samples": SAMPLES}, True),
        ({"LOTS": LOTS, "Samples ": SAMPLES}, True),
        ({"lots": LOTS[:1], "samples": SAMPLES[:1]}, True),
        ({"lots": LOTS}, False),
        ({"samples": SAMPLES}, False),
        ({"lots": [("lot",), ("26-SH-01",)], "samples": SAMPLES}, False),
        ({"lots": LOTS, "samples": [("sample", "guaiacol"), ("S1", 4.1)]}, False),
        ({"Results": [("sample_id", "lot"), ("S1", "26-SH-01")]}, False),
        ({}, False),
    ],
)
def test_a_register_is_told_from_a_report(sheets: dict[str, list[Line]], answer: bool) -> None:
    assert is_register(cells(**sheets)) is answer


def test_column_letters_go_on_after_z() -> None:
    assert [column_letters(n) for n in (1, 26, 27, 52, 703)] == ["A", "Z", "AA", "AZ", "AAA"]


def read_workbook(path: Path) -> pl.DataFrame:
    book = openpyxl.load_workbook(path)
    return pl.DataFrame(
        [
            cell(page.title, one.row, one.column, one.value)
            for page in book
            for line in page.iter_rows()
            for one in line
            if one.value is not None
        ],
        schema=CELLS,
    )


def test_the_template_is_an_empty_register(tmp_path: Path) -> None:
    register_template(tmp_path / "register.xlsx")
    given = read_workbook(tmp_path / "register.xlsx")
    assert is_register(given)
    register = read_register(given, "register.xlsx")
    assert register.lots.is_empty()
    assert register.samples.is_empty()
    assert register.notices == ()


def test_the_template_offers_the_accepted_words(tmp_path: Path) -> None:
    register_template(tmp_path / "register.xlsx")
    book = openpyxl.load_workbook(tmp_path / "register.xlsx")
    assert book.sheetnames[:7] == [sheet.name for sheet in SHEETS]
    for sheet in SHEETS:
        page = book[sheet.name]
        assert page.freeze_panes == "A2"
        offered = {v.formula1 for v in page.data_validations.dataValidation}
        wanted = {f'"{",".join(c.words)}"' for c in sheet.columns if c.words}
        assert wanted <= offered
        # Longer lists are not accepted by spreadsheet programs (ECMA-376, 18.3.1.32).
        assert all(len(formula) <= 255 for formula in offered)


def test_a_filled_register_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "register.xlsx"
    path.write_text("mine")
    with pytest.raises(WrongUse, match="a file already"):
        register_template(path)
    assert path.read_text() == "mine"
