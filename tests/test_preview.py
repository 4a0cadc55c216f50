"""The preview: what each cell was read as, in the terminal and as a copy; the original is untouched.

The reports are invented; what their cells mean is read off the lines written here, by hand.
"""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
import zipfile
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import xlwt
from openpyxl import Workbook, load_workbook

from pipeline.cli import run
from pipeline.preview import Sight, draw, write_copy
from pipeline.preview.sight import ROLES

ROOT = Path(__file__).parents[1]
LINES: list[list[Any]] = [
    ["Bench of the Test"],
    ["Report number", "TB-9"],
    [],
    ["Free volatile phenols"],
    ["Sample", "Matrix", "Guaiacol (ug/L)", "4-Methylguaiacol (ug/L)", "Ash marker M7", "pH"],
    ["LOD", None, 0.3, 0.5, None, None],
    ["S-1", "Red wine", 12.3, "<0.5", 3, 3.5],
    ["S-2", "Red wine", "abc", "nd", 4, 3.6],
    ["Blank 1", None, "nd", "nd", None, None],
    ["S-3", "Red wine", 9, "NT", 7, 3.4],
    ["Mean", None, 10, 2, None, None],
]
# Row 10 is hidden. By hand: the role of each cell of rows 5 and 7 to 11.
EXPECTED = {
    "C5": "analyte", "E5": "unknown", "C6": "limit",
    "A7": "sample", "C7": "value", "D7": "value", "E7": "held", "F7": "out of scope",
    "C8": "held", "D8": "value", "C9": "qc", "D9": "qc", "C10": "held", "D10": "absent",
    "C11": "aggregate", "B2": "metadata", "A4": "title",
}  # fmt: skip


def write_report(folder: Path, name: str = "report.xlsx") -> Path:
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "Free"
    for line in LINES:
        sheet.append(line)
    sheet.row_dimensions[10].hidden = True
    other = book.create_sheet("Notes: old".replace(":", ""))
    other.append(["Kept for later", 5])
    other.sheet_state = "hidden"
    book.save(folder / name)
    return folder / name


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_held_cells_show_their_reason_and_what_to_do(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place)
    assert run(["preview", "report.xlsx"]) == 0
    out = capsys.readouterr().out
    told = " ".join(out.split())
    assert "H not_a_number: abc" in out
    assert 'Free!C8 "abc" not_a_number: the cell holds neither a number' in told
    assert "look at the cell and correct it, or ask the laboratory" in told
    assert "Free!E7, E8 (2 values) analyte_unknown: the name of the analyte is in no" in told
    assert 'Free!E5: "Ash marker M7"' in told
    assert 'Free!C9: "Blank 1" is a blank, 2 values' in told
    assert "Free: rows 10" in told
    assert "sheet Notes old" in told
    assert re.search(r"^ *10~ S S-3", out, re.MULTILINE)
    assert "? 5" in out
    assert "\x1b" not in out


def test_the_copy_has_the_same_cells_with_letters_colours_and_comments(place: Path) -> None:
    original = write_report(place)
    before = hashlib.sha256(original.read_bytes()).digest()
    assert run(["preview", "report.xlsx", "--out", "copy.xlsx"]) == 0
    assert hashlib.sha256(original.read_bytes()).digest() == before
    copy = load_workbook(place / "copy.xlsx")
    assert copy.sheetnames == ["legend of roles", "Free", "Notes old"]
    sheet = copy["Free"]
    for row, line in enumerate(LINES, start=1):
        for col, value in enumerate(line, start=1):
            shown = sheet.cell(row, col).value
            assert shown == (None if value is None else str(value))
    for cell, role in EXPECTED.items():
        assert f"[{ROLES[role].letter}" in sheet[cell].number_format, (cell, role)
        assert sheet[cell].fill.fgColor.rgb == f"00{ROLES[role].fill}"
    value, held = sheet["C7"].comment, sheet["C8"].comment
    assert value is not None
    assert held is not None
    for part in ("sample: S-1", "analyte: guaiacol", "form: free", "value: 12.3 ug/L"):
        assert part in value.text
    assert "not_a_number" in held.text
    assert "What to do: look at the cell and correct it" in held.text
    below = sheet["D8"].comment
    assert below is not None
    assert "interval: 0 to 0.5 ug/L" in below.text


def test_the_legend_explains_every_letter_and_names_the_file(place: Path) -> None:
    write_report(place)
    run(["preview", "report.xlsx", "--out", "copy.xlsx"])
    legend = load_workbook(place / "copy.xlsx")["legend of roles"]
    lines = [tuple(cell.value for cell in row) for row in legend.iter_rows(max_col=3)]
    for name, role in ROLES.items():
        assert (role.letter, name, role.meaning) in lines
    assert ("file", "report.xlsx", "recognised as samples_down") in lines
    assert ("sheet", "Free", "report.xlsx, sheet Free") in lines


def test_letters_and_fills_tell_all_roles_apart() -> None:
    letters = [role.letter for role in ROLES.values()]
    assert len(letters) == len(set(letters))
    # Contrast of black text on each fill at least 7:1 (WCAG 2.2, success criterion 1.4.6).
    for role in ROLES.values():
        if role.fill:
            assert (_luminance(role.fill) + 0.05) / 0.05 >= 7


def _luminance(fill: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition)."""
    parts = [int(fill[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("name", ["report.xlsx", "copy.xlsx"])
def test_a_copy_is_never_written_over_a_file(
    name: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place)
    (place / "copy.xlsx").write_bytes(b"mine")
    before = (place / name).read_bytes()
    assert run(["preview", "report.xlsx", "--out", name]) == 2
    assert (place / name).read_bytes() == before
    assert "is there already and is not overwritten" in capsys.readouterr().err


@pytest.mark.parametrize(("option", "name"), [("--out", "copy.csv"), ("--draft", "layout.txt")])
def test_a_name_of_another_ending_is_wrong_use(option: str, name: str, place: Path) -> None:
    write_report(place)
    assert run(["preview", "report.xlsx", option, name]) == 2
    assert not (place / name).exists()


def test_a_text_that_looks_like_a_formula_stays_text(place: Path) -> None:
    (place / "r.csv").write_text('"=1+1",2\n"@x","-3 and more"\n', encoding="utf-8")
    run(["preview", "r.csv", "--out", "copy.xlsx"])
    sheet = load_workbook(place / "copy.xlsx")["r"]
    assert [c.data_type for row in sheet.iter_rows() for c in row] == ["s"] * 4
    assert sheet["A1"].value == "=1+1"
    assert sheet["A1"].quotePrefix


def test_a_refused_file_is_shown_with_what_was_recognised(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Names run across from A2 to C2's column and down from C2, and neither has the better right.
    (place / "cross.csv").write_text(
        "Sheet of pairs,HK-7\nCompound,Amount,Compound,Amount\n"
        "Guaiacol,12.3,o-Cresol,3.1\nSyringol,44,Phenol,9.5\n",
        encoding="utf-8",
    )
    assert run(["preview", "cross.csv", "--out", "copy.xlsx"]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "two readings fit: analytes running across from A2 and running down from C2" in out
    assert "A Guaiacol" in out
    assert "? 12.3" in out
    legend = load_workbook(place / "copy.xlsx")["legend of roles"]
    assert any("two readings fit" in str(c.value) for row in legend.iter_rows() for c in row)


def test_a_file_that_cannot_be_read_leaves_no_copy(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (place / "broken.xlsx").write_bytes(b"PK\x03\x04 and no more")
    args = ["preview", "broken.xlsx", "--out", "copy.xlsx", "--draft", "draft.toml"]
    assert run(args) == 1
    assert not (place / "copy.xlsx").exists()
    assert not (place / "draft.toml").exists()
    assert "broken.xlsx: " in capsys.readouterr().out


def _as_xls(folder: Path) -> str:
    book = xlwt.Workbook()
    sheet = book.add_sheet("Free")
    for row, line in enumerate(LINES):
        for col, value in enumerate(line):
            if value is not None:
                sheet.write(row, col, value)
    sheet.row(9).hidden = True
    book.save(str(folder / "report.xls"))
    return "report.xls"


def _as_csv(folder: Path) -> str:
    lines = (",".join("" if v is None else str(v) for v in line) for line in LINES)
    (folder / "report.csv").write_text("\n".join(lines), encoding="utf-8")
    return "report.csv"


def _as_archive(folder: Path) -> str:
    with zipfile.ZipFile(folder / "sent.zip", "w") as archive:
        archive.write(write_report(folder), "inner/report.xlsx")
    return "sent.zip"


def _as_mail(folder: Path) -> str:
    mail = EmailMessage()
    mail["Subject"] = "Results"
    mail.set_content("attached")
    content = write_report(folder).read_bytes()
    mail.add_attachment(content, maintype="application", subtype="octet-stream", filename="r.xlsx")
    (folder / "sent.eml").write_bytes(bytes(mail))
    return "sent.eml"


@pytest.mark.parametrize("write", [_as_xls, _as_csv, _as_archive, _as_mail])
def test_every_format_is_shown(write: Any, place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["preview", write(place), "--out", "copy.xlsx"]) == 0
    out = capsys.readouterr().out
    for shown in ("V 12.3", "H not_a_number: abc", "Q nd", "X Ash marker M7", "S S-1"):
        assert shown in out
    copied = load_workbook(place / "copy.xlsx").worksheets[1]
    assert copied["C7"].value == "12.3"
    assert "[V" in copied["C7"].number_format


def test_sheets_of_one_name_in_an_archive_stay_apart(place: Path) -> None:
    with zipfile.ZipFile(place / "sent.zip", "w") as archive:
        archive.write(write_report(place), "a.xlsx")
        archive.write(write_report(place), "b/c.xlsx")
        archive.writestr("d.csv", "Sample,Free guaiacol (ug/L)\nS-1,5\n")
    run(["preview", "sent.zip", "--out", "copy.xlsx"])
    names = load_workbook(place / "copy.xlsx").sheetnames
    assert len(names) == len({name.casefold() for name in names}) == 6


@pytest.mark.parametrize("width", [40, 80, 200])
def test_nothing_is_wider_than_the_terminal_and_what_is_cut_is_told(width: int) -> None:
    long = "a name that is far longer than its column may ever become"
    cells = pl.DataFrame(
        [("Sheet", 1, col, f"{long} {col}", "analyte") for col in range(1, 9)],
        schema=["sheet", "row", "col", "text", "role"],
        orient="row",
    )
    sight = Sight("a.xlsx", cells, "samples_down", (f"{long}, {long}, {long}",))
    lines = ["".join(p.text for p in line).rstrip() for line in draw(sight, width)]
    assert max(map(len, lines)) <= width
    assert any("8 texts are cut" in line for line in lines)


def test_sheet_names_that_no_workbook_takes_are_changed(tmp_path: Path) -> None:
    names = ["a/b", "a_b", "x" * 40, "x" * 41, "History?"]
    cells = pl.DataFrame(
        [(name, 1, 1, "text", "unused") for name in names],
        schema=["sheet", "row", "col", "text", "role"],
        orient="row",
    )
    write_copy([Sight("a.csv", cells, "down")], tmp_path / "copy.xlsx")
    written = load_workbook(tmp_path / "copy.xlsx").sheetnames[1:]
    assert len({name.casefold() for name in written}) == len(names)
    assert all(len(name) <= 31 for name in written)


def test_a_wide_copy_is_printed_on_several_pages_and_titles_widen_no_column(tmp_path: Path) -> None:
    wide = [("s", 2, col, "a heading of some length", "field") for col in range(1, 31)]
    cells = pl.DataFrame(
        [("s", 1, 1, "a title " * 9, "title"), *wide],
        schema=["sheet", "row", "col", "text", "role"],
        orient="row",
    )
    write_copy([Sight("a.csv", cells, "down")], tmp_path / "copy.xlsx")
    page = load_workbook(tmp_path / "copy.xlsx").worksheets[1]
    widths = [size.width for size in page.column_dimensions.values()]
    assert widths[0] == widths[1]
    # A4 across holds some 130 characters of the usual size between its margins.
    assert 130 * page.page_setup.fitToWidth / sum(widths) > 0.55
    assert page.print_options.headings


def test_colours_are_for_terminals_only_and_no_colour_is_obeyed(tmp_path: Path) -> None:
    write_report(tmp_path)
    told = {name: _on_terminal(tmp_path, extra) for name, extra in (
        ("coloured", {}), ("plain", {"NO_COLOR": "1"}),
    )}  # fmt: skip
    assert "\x1b[" in told["coloured"]
    assert "\x1b[" not in told["plain"]
    bare = re.sub(r"\x1b\[[0-9;]*m", "", told["coloured"])
    assert re.sub(r" *\r?\n", "\n", bare) == re.sub(r" *\r?\n", "\n", told["plain"])


def _on_terminal(folder: Path, extra: dict[str, str]) -> str:
    """Run the preview in a terminal of its own and give what it printed."""
    import pty

    kept = {k: v for k, v in os.environ.items() if k != "NO_COLOR"}
    environment = {**kept, "PYTHONPATH": str(ROOT), "TERM": "xterm-256color", **extra}
    parent, child = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "pipeline.cli", "preview", "report.xlsx"],
        cwd=folder, env=environment, stdout=child, stdin=child, stderr=subprocess.STDOUT,
    ) as process:  # fmt: skip
        os.close(child)
        printed = b""
        while True:
            try:
                part = os.read(parent, 65536)
            except OSError:  # Linux tells the end of a terminal so
                break
            if not part:
                break
            printed += part
        assert process.wait(300) == 0
    os.close(parent)
    return printed.decode()


def test_a_report_understood_whole_drafts_no_layout(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (place / "r.csv").write_text("Sample,Free guaiacol (ug/L)\nS-1,5\n", encoding="utf-8")
    assert run(["preview", "r.csv", "--draft", "draft.toml"]) == 0
    assert "no layout is drafted" in capsys.readouterr().out
    assert not (place / "draft.toml").exists()
