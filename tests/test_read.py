"""Cells are what a person sees; a file that cannot be read is refused in one sentence."""

import datetime as dt
import io
import re
import struct
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest
import xlwt
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.comments import Comment
from openpyxl.formatting.rule import Rule
from openpyxl.styles import Font
from openpyxl.styles.differential import DifferentialStyle
from polars.testing import assert_frame_equal

from pipeline.errors import FileRefused
from pipeline.read import read_cells, read_with_calamine, read_with_openpyxl
from schemas.frames import CELLS

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def saved(workbook: Any) -> bytes:
    buffer = io.BytesIO()
    workbook.save(buffer)
    return buffer.getvalue()


def workbook_of(*rows: list[Any]) -> tuple[Any, Any]:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    for row in rows:
        sheet.append(row)
    return workbook, sheet


def changed(content: bytes, edit: Callable[[str, bytes], bytes | None]) -> bytes:
    """Write an archive anew, each part edited; a part that becomes None is left out."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(buffer, "w") as new:
        for name in old.namelist():
            part = edit(name, old.read(name))
            if part is not None:
                new.writestr(name, part)
    return buffer.getvalue()


def with_sheet(xml: str, content: bytes | None = None) -> bytes:
    """A workbook whose only sheet has these rows, as written."""
    whole = f'<worksheet xmlns="{MAIN}"><sheetData>{xml}</sheetData></worksheet>'
    base = content or saved(workbook_of(["x"])[0])
    return changed(base, lambda n, part: whole.encode() if "sheet1.xml" in n else part)


def with_strings(rows: str, items: str | None) -> bytes:
    """A workbook with a table of shared texts."""
    rels = "xl/_rels/workbook.xml.rels"
    relation = (
        '<Relationship Id="rId99" Target="sharedStrings.xml" Type="http://schemas.'
        'openxmlformats.org/officeDocument/2006/relationships/sharedStrings"/></Relationships>'
    )
    content = changed(
        with_sheet(rows),
        lambda n, p: p.replace(b"</Relationships>", relation.encode()) if n == rels else p,
    )
    override = (
        '<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-'
        'officedocument.spreadsheetml.sharedStrings+xml"/></Types>'
    )
    content = changed(
        content,
        lambda n, p: p.replace(b"</Types>", override.encode()) if n.startswith("[Content") else p,
    )
    if items is None:
        return content
    buffer = io.BytesIO(content)
    with zipfile.ZipFile(buffer, "a") as archive:
        archive.writestr("xl/sharedStrings.xml", f'<sst xmlns="{MAIN}">{items}</sst>')
    return buffer.getvalue()


def one(content: bytes, row: int = 1, col: int = 1, file: str = "a.xlsx") -> dict[str, Any]:
    found = read_cells(content, file).cells.filter(pl.col("row") == row, pl.col("col") == col)
    assert found.height == 1
    return found.row(0, named=True)


def formatted(value: Any, code: str) -> bytes:
    workbook, sheet = workbook_of([value])
    sheet["A1"].number_format = code
    return saved(workbook)


# --- what a cell is


def test_every_column_has_its_type_and_the_first_cell_its_values() -> None:
    cells = read_cells(saved(workbook_of(["Guaiacol", 0.53])[0]), "a.xlsx").cells
    assert dict(cells.schema) == CELLS
    assert cells.row(1, named=True) == {
        "sheet": "Sheet",
        "row": 1,
        "col": 2,
        "text": "0.53",
        "number": 0.53,
        "date": None,
        "kind": "number",
        "shown_wins": False,
        "hidden": False,
        "struck": False,
        "note": None,
        "raised": None,
        "row_span": 1,
        "col_span": 1,
    }


@pytest.mark.parametrize(
    ("value", "code", "text", "kind", "number", "date", "wins"),
    [
        ("0,53", "General", "0,53", "text", None, None, False),
        ("00123", "@", "00123", "text", None, None, False),
        (True, "General", "TRUE", "boolean", None, None, False),
        (0.3, '[<0.5]"<0.5";0.00', "<0.5", "number", 0.3, None, True),
        (3.2345, '[<0.5]"<0.5";0.00', "3.23", "number", 3.2345, None, False),
        (0.3, "0.0%", "30.0%", "number", 0.3, None, True),
        (3.25, '0.0 "ug/L"', "3.3 ug/L", "number", 3.25, None, True),
        (20261003001, "General", "20261003001", "number", 20261003001, None, False),
        (1234.5, "_-* #,##0.00_-", "1,234.50", "number", 1234.5, None, False),
        (dt.date(2026, 10, 3), "d/m/yy", "3/10/26", "date", None, dt.date(2026, 10, 3), False),
        (46298, "mm-dd-yy", "2026-10-03", "date", None, dt.date(2026, 10, 3), False),
        (dt.datetime(2026, 10, 3, 14, 5), "d/m/yyyy h:mm", "3/10/2026 14:05", "date", None,
         dt.date(2026, 10, 3), False),
        (dt.time(12, 30), "h:mm", "12:30", "text", None, None, False),
        (-5, "yyyy-mm-dd", "########", "error", None, None, False),
        (9_999_999, "yyyy-mm-dd", "########", "error", None, None, False),
    ],
)  # fmt: skip
def test_a_cell_is_what_a_person_sees(
    value: Any, code: str, text: str, kind: str, number: Any, date: Any, wins: bool
) -> None:
    cell = one(formatted(value, code))
    seen = tuple(cell[key] for key in ("text", "kind", "number", "date", "shown_wins"))
    assert seen == (text, kind, number, date, wins)


def test_a_number_hidden_by_its_own_format_is_kept_and_marked() -> None:
    cell = one(formatted(4.2, ";;;"))
    assert (cell["text"], cell["number"], cell["hidden"]) == ("4.2", 4.2, True)


@pytest.mark.parametrize("error", ["#N/A", "#DIV/0!", "#VALUE!"])
def test_error_cells_do_not_vanish(error: str) -> None:
    cell = one(saved(workbook_of([error, 1])[0]))
    assert (cell["text"], cell["kind"], cell["number"]) == (error, "error", None)


def test_a_formula_without_a_result_is_told_by_its_text() -> None:
    cell = one(saved(workbook_of(["=1+2"])[0]))
    assert (cell["text"], cell["kind"]) == ("=1+2", "formula")


@pytest.mark.parametrize(
    ("xml", "text", "kind"),
    [
        ('<c r="A1"><f>1+2</f><v>3</v></c>', "3", "number"),
        ('<c r="A1" t="str"><f>"a"</f><v>a</v></c>', "a", "text"),
        ('<c r="A1" t="e"><f>1/0</f><v>#DIV/0!</v></c>', "#DIV/0!", "error"),
        ('<c r="A1"><f>1+2</f><v>0</v></c>', "=1+2", "formula"),
    ],
)
def test_results_stored_with_formulas_are_used(xml: str, text: str, kind: str) -> None:
    """The last: a 0 in a workbook that asks to be calculated on opening was never calculated."""
    cell = one(with_sheet(f'<row r="1">{xml}<c r="B1"><v>1</v></c></row>'))
    assert (cell["text"], cell["kind"]) == (text, kind)


def test_a_formula_that_gives_an_empty_text_is_an_empty_cell() -> None:
    content = with_sheet(
        '<row r="1"><c r="A1" t="str"><f>""</f><v></v></c><c r="B1"><v>1</v></c></row>'
    )
    assert read_cells(content, "a.xlsx").cells["col"].to_list() == [2]


def test_merged_ranges_keep_their_anchor_with_its_spans() -> None:
    workbook, sheet = workbook_of(["Free", None, "x"])
    sheet.merge_cells("A1:B2")
    cells = read_cells(saved(workbook), "a.xlsx").cells
    assert cells.select("col", "row_span", "col_span").rows() == [(1, 2, 2), (3, 1, 1)]


def test_what_is_hidden_struck_out_or_noted_is_marked() -> None:
    workbook, sheet = workbook_of(["row", 1], ["struck", 2], ["noted", 3], ["col", 4])
    sheet.row_dimensions[1].hidden = True
    sheet["A2"].font = Font(strike=True)
    sheet["A3"].comment = Comment("re-analysed", "analyst")
    sheet.column_dimensions["B"].hidden = True
    secret = workbook.create_sheet("Old")
    secret["A1"] = "secret"
    secret.sheet_state = "veryHidden"
    document = read_cells(saved(workbook), "a.xlsx")
    by_text = {row["text"]: row for row in document.cells.iter_rows(named=True)}
    assert {text for text, row in by_text.items() if row["hidden"]} == {
        "row", "1", "2", "3", "4", "secret",
    }  # fmt: skip
    assert {text for text, row in by_text.items() if row["struck"]} == {"struck"}
    assert by_text["noted"]["note"] == "re-analysed"
    assert any('"Old" is hidden' in notice for notice in document.notices)


def test_raised_marks_are_parted_from_the_number_they_follow() -> None:
    raised = TextBlock(InlineFont(vertAlign="superscript"), "1")
    struck = TextBlock(InlineFont(strike=True), "0.3")
    workbook, _ = workbook_of([CellRichText("12", raised), CellRichText(struck, " 0.4")])
    content = saved(workbook)
    first, second = one(content), one(content, col=2)
    assert (first["text"], first["raised"], first["struck"]) == ("12", "1", False)
    assert (second["text"], second["raised"], second["struck"]) == ("0.3 0.4", None, True)


def test_dates_counted_from_1904_are_read_so() -> None:
    workbook, sheet = workbook_of([44836])
    workbook.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    sheet["A1"].number_format = "yyyy-mm-dd"
    document = read_cells(saved(workbook), "a.xlsx")
    assert document.cells.row(0, named=True)["date"] == dt.date(2026, 10, 3)
    assert any("1904" in notice for notice in document.notices)


def test_dates_stored_as_dates_need_no_format() -> None:
    xml = '<row r="1"><c r="A1" t="d"><v>2026-10-03T00:00:00</v></c></row>'
    cell = one(with_sheet(xml))
    assert (cell["text"], cell["date"]) == ("2026-10-03", dt.date(2026, 10, 3))


def test_conditions_that_change_looks_are_told() -> None:
    workbook, sheet = workbook_of([0.3])
    struck = DifferentialStyle(font=Font(strike=True))
    rule = Rule(type="cellIs", operator="lessThan", formula=["0.5"], dxf=struck)
    sheet.conditional_formatting.add("A1", rule)
    notices = read_cells(saved(workbook), "a.xlsx").notices
    assert any("conditional formats" in notice for notice in notices)


def test_a_strict_workbook_is_read_like_any_other() -> None:
    workbook, sheet = workbook_of(["a", 0.3])
    sheet["B1"].number_format = '"<"0.0'
    strict = changed(
        saved(workbook),
        lambda _, part: part.replace(
            MAIN.encode(), b"http://purl.oclc.org/ooxml/spreadsheetml/main"
        ).replace(
            b"http://schemas.openxmlformats.org/officeDocument/2006/relationships",
            b"http://purl.oclc.org/ooxml/officeDocument/relationships",
        ),
    )
    assert read_cells(strict, "a.xlsx").cells["text"].to_list() == ["a", "<0.3"]


def test_a_workbook_with_prefixed_names_is_read_like_any_other() -> None:
    def prefix(name: str, part: bytes) -> bytes:
        if "sheet1.xml" not in name:
            return part
        return re.sub(rb"<(/?)(\w)", rb"<\1x:\2", part).replace(b"xmlns=", b"xmlns:x=")

    content = changed(saved(workbook_of(["a", 0.3, "#N/A"])[0]), prefix)
    assert read_cells(content, "a.xlsx").cells["text"].to_list() == ["a", "0.3", "#N/A"]


def test_a_wrong_dimension_tag_loses_nothing() -> None:
    content = changed(
        saved(workbook_of(["a"], ["b"], ["c"])[0]),
        lambda _, part: part.replace(b'<dimension ref="A1:A3"', b'<dimension ref="A1"'),
    )
    assert read_cells(content, "a.xlsx").cells["text"].to_list() == ["a", "b", "c"]


def test_cells_stay_at_their_address_whatever_is_empty_before_them() -> None:
    workbook, sheet = workbook_of()
    sheet["C7"] = "x"
    assert read_cells(saved(workbook), "a.xlsx").cells.select("row", "col").row(0) == (7, 3)


def test_a_far_cell_does_not_cost_the_memory_of_all_before_it() -> None:
    workbook, sheet = workbook_of(["a", 1.5])
    sheet["XFD1048576"] = "stray"
    started = time.monotonic()
    document = read_cells(saved(workbook), "a.xlsx")
    assert time.monotonic() - started < 60
    assert document.cells["text"].to_list() == ["a", "1.5", "stray"]
    assert any("XFD1048576" in notice for notice in document.notices)


# --- both readers agree


def plain_general() -> Any:
    return workbook_of(
        ["Sample", "Guaiacol"], ["S1", 0.53], ["S2", 1 / 3], [None, 1e-7], [2**40, 1e22]
    )


def plain_types() -> Any:
    return workbook_of(
        [" lead ", "line\nbreak", "0,53", True, False, "", "é µ β", "=a".lstrip("=")]
    )


def plain_escapes() -> Any:
    return workbook_of(["a & b", "<0.5", ">100", '"q"', "it's", "\t tab", "end "])


def plain_codes(*codes: str) -> Callable[[], Any]:
    def build() -> Any:
        values = [
            0,
            1,
            0.3,
            0.5,
            -1.5,
            1.005,
            2.675,
            0.125,
            99.995,
            1234567.891,
            46298.586875,
            -0.04,
        ]
        workbook, sheet = workbook_of(*[["x", *values] for _ in codes])
        for row, code in enumerate(codes, start=1):
            for cell in sheet[row][1:]:
                cell.number_format = code
        return workbook, sheet

    return build


def plain_dates() -> Any:
    workbook, sheet = workbook_of(
        [dt.date(2026, 10, 3), dt.datetime(2026, 10, 3, 14, 5, 6), dt.time(12, 30), 5.5],
        [dt.timedelta(hours=36), dt.date(1900, 1, 15), dt.date(1999, 12, 31), "x"],
        [9_999_999, -5, 0, 59, 61, 0.75],
    )
    for cell in sheet[3]:
        cell.number_format = "d/m/yyyy"
    return workbook, sheet


def plain_merged() -> Any:
    workbook, sheet = workbook_of(["Title", None, None], ["a", "b", "c"], [1, 2, 3])
    sheet.merge_cells("A1:C1")
    sheet.merge_cells("A2:A3")
    return workbook, sheet


def plain_sheets() -> Any:
    workbook, _ = workbook_of(["a"])
    workbook.create_sheet("Empty")
    workbook.create_sheet("Second & third").append(["b", 2.5])
    return workbook, None


def plain_gaps() -> Any:
    workbook, sheet = workbook_of()
    for place in ("C3", "AA9", "B20"):
        sheet[place] = 1.25
        sheet[place].number_format = "0.0"
    sheet["D3"] = "text"
    return workbook, sheet


def plain_styled_empties() -> Any:
    workbook, sheet = workbook_of([1.25, None, 2.5])
    for cell in sheet[1]:
        cell.number_format = "0.00"
        cell.font = Font(bold=True)
    return workbook, sheet


PLAIN = {
    "general": plain_general,
    "types": plain_types,
    "escapes": plain_escapes,
    "dates": plain_dates,
    "merged": plain_merged,
    "sheets": plain_sheets,
    "gaps": plain_gaps,
    "styled empties": plain_styled_empties,
    "whole": plain_codes("0"),
    "one decimal": plain_codes("0.0"),
    "two decimals": plain_codes("0.00", "General", "0.00"),
    "six decimals": plain_codes("0.000000"),
    "thousands": plain_codes("#,##0", "#,##0.00", "#,##0_);(#,##0)"),
    "percent": plain_codes("0%", "0.00%"),
    "scientific": plain_codes("0.00E+00", "##0.0E+0"),
    "censored": plain_codes('[<0.5]"<0.5";0.00', '"<"0.0', '[>100]">100";0.0'),
    "units": plain_codes('0.0 "ug/L"', "0.0\\ \\µ\\g"),
    "locale": plain_codes("[$-409]d\\-mmm\\-yy;@", "mm-dd-yy", "m/d/yy h:mm"),
    "times": plain_codes("h:mm", "[h]:mm", "mm:ss.0", "h:mm AM/PM"),
    "hidden zero": plain_codes("0.0;-0.0;", ";;;"),
    "text format": plain_codes("@"),
    "fractions": plain_codes("# ?/?", "# ??/16"),
}


@pytest.mark.parametrize("name", PLAIN)
def test_both_readers_give_the_same_cells(name: str) -> None:
    content = saved(PLAIN[name]()[0])
    document = read_cells(content, "a.xlsx")
    assert document.reader == "calamine"
    assert_frame_equal(document.cells, read_with_calamine(content, "a.xlsx").cells)
    assert_frame_equal(document.cells, read_with_openpyxl(content, "a.xlsx").cells)


@pytest.mark.parametrize(
    "items",
    ["<si><t>plain</t></si>", "<si><r><t>two</t></r><r><t xml:space='preserve'> runs </t></r></si>",
     "<si><t xml:space='preserve'> a&amp;b&#10;c </t></si>", "<si><t> bare </t></si>"],
)  # fmt: skip
def test_both_readers_give_the_same_shared_texts(items: str) -> None:
    content = with_strings('<row r="1"><c r="A1" t="s"><v>0</v></c></row>', items)
    document = read_cells(content, "a.xlsx")
    assert document.reader == "calamine"
    assert_frame_equal(document.cells, read_with_openpyxl(content, "a.xlsx").cells)


REPORTS = Path(__file__).parents[1] / "sample_reports"


@pytest.mark.parametrize("path", sorted(REPORTS.glob("*.xlsx")), ids=lambda path: path.name)
def test_both_readers_give_the_same_cells_of_each_sample_report(path: Path) -> None:
    content = path.read_bytes()
    cells = read_cells(content, path.name).cells
    assert_frame_equal(cells, read_with_openpyxl(content, path.name).cells)


# --- other forms


def test_an_older_workbook_shows_formats_errors_and_what_is_hidden() -> None:
    workbook = xlwt.Workbook()
    sheet = workbook.add_sheet("A")
    sheet.write(0, 0, 0.3, xlwt.easyxf(num_format_str='[<0.5]"<0.5";0.00'))
    sheet.write(0, 1, "x", xlwt.easyxf("font: struck_out on"))
    sheet.row(0).set_cell_error(2, 0x2A)
    sheet.write(0, 3, dt.date(2026, 10, 3), xlwt.easyxf(num_format_str="d/m/yyyy"))
    sheet.write(1, 0, "hidden")
    sheet.row(1).hidden = True
    sheet.write_merge(2, 3, 0, 1, "merged")
    sheet.write_rich_text(4, 0, ["12", ("1", xlwt.easyfont("escapement superscript"))])
    cells = read_cells(saved(workbook), "a.xlsx").cells
    assert cells["text"].to_list() == ["<0.5", "x", "#N/A", "3/10/2026", "hidden", "merged", "12"]
    assert cells["kind"].to_list() == ["number", "text", "error", "date", "text", "text", "text"]
    assert cells["shown_wins"].to_list() == [True] + [False] * 6
    assert cells["struck"].to_list() == [False, True] + [False] * 5
    assert cells["hidden"].to_list() == [False] * 4 + [True, False, False]
    assert cells["date"][3] == dt.date(2026, 10, 3)
    assert cells.select("row_span", "col_span").row(5) == (2, 2)
    assert cells["raised"][6] == "1"


EMPTY_RESULT = bytes([3, 0, 0, 0, 0, 0, 0xFF, 0xFF])  # [MS-XLS] 2.5.133: an empty text


def older_workbook_with_formulas(*results: float) -> bytes:
    """Formulas in A2 and A3 without results; `results` are put in their places, in order."""
    workbook = xlwt.Workbook()
    sheet = workbook.add_sheet("A")
    sheet.write(0, 0, 4.0)
    sheet.write(1, 0, xlwt.Formula("A1*2"))
    sheet.write(2, 0, xlwt.Formula('IF(A1>9,A1,"")'))
    content = saved(workbook)
    assert content.count(EMPTY_RESULT) == 2
    for result in results:
        content = content.replace(EMPTY_RESULT, struct.pack("<d", result), 1)
    return content


def test_formulas_of_an_older_workbook_that_saved_no_results_are_told() -> None:
    document = read_cells(older_workbook_with_formulas(), "a.xls")
    assert document.cells["kind"].to_list() == ["number", "formula", "formula"]
    assert any("no formula has a saved result" in notice for notice in document.notices)


def test_a_formula_that_gives_nothing_among_others_is_an_empty_cell() -> None:
    document = read_cells(older_workbook_with_formulas(8.0), "a.xls")
    assert document.cells.select("row", "text").rows() == [(1, "4"), (2, "8")]
    assert any("count as empty cells" in notice for notice in document.notices)


def test_a_number_nought_is_no_sign_of_saved_results() -> None:
    document = read_cells(older_workbook_with_formulas(0.0), "a.xls")
    assert document.cells.select("row", "kind").rows() == [
        (1, "number"), (2, "number"), (3, "formula"),
    ]  # fmt: skip


def open_document(rows: str, styles: str = "") -> bytes:
    ns = "urn:oasis:names:tc:opendocument:xmlns:"
    names = "".join(f' xmlns:{n}="{ns}{n}:1.0"' for n in ("office", "table", "text", "style"))
    body = (
        f"<office:document-content{names}><office:automatic-styles>{styles}"
        "</office:automatic-styles><office:body><office:spreadsheet>"
        f'<table:table table:name="A"><table:table-column/>{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", body)
    return buffer.getvalue()


def test_an_open_document_shows_what_a_person_sees() -> None:
    rows = (
        '<table:table-row><table:table-cell office:value-type="float" office:value="0.3">'
        "<text:p>&lt;0.5</text:p></table:table-cell>"
        '<table:table-cell table:number-columns-repeated="2"/>'
        '<table:table-cell table:formula="of:=1/0" office:value-type="string">'
        "<text:p>#DIV/0!</text:p></table:table-cell>"
        '<table:table-cell table:style-name="s" office:value-type="float" office:value="4.25">'
        "<office:annotation><text:p>why</text:p></office:annotation>"
        "<text:p>4.3</text:p></table:table-cell></table:table-row>"
        '<table:table-row table:visibility="filter" table:number-rows-repeated="2">'
        '<table:table-cell table:number-columns-spanned="2" office:value-type="string">'
        '<text:p>12<text:span text:style-name="up">1</text:span></text:p></table:table-cell>'
        "<table:covered-table-cell/>"
        '<table:table-cell office:value-type="date" office:date-value="2026-10-03">'
        "<text:p>3/10/26</text:p></table:table-cell></table:table-row>"
    )
    styles = (
        '<style:style style:name="s"><style:text-properties style:text-line-through-style="solid"/>'
        '</style:style><style:style style:name="up"><style:text-properties '
        'style:text-position="super 58%"/></style:style>'
    )
    cells = read_cells(open_document(rows, styles), "a.csv").cells
    assert cells.select("row", "col", "text", "kind").rows() == [
        (1, 1, "<0.5", "number"),
        (1, 4, "#DIV/0!", "error"),
        (1, 5, "4.3", "number"),
        (2, 1, "12", "text"),
        (2, 3, "3/10/26", "date"),
        (3, 1, "12", "text"),
        (3, 3, "3/10/26", "date"),
    ]
    assert cells["shown_wins"].to_list() == [True] + [False] * 6
    assert cells["struck"].to_list() == [False, False, True] + [False] * 4
    assert cells["hidden"].to_list() == [False] * 3 + [True] * 4
    assert (cells["number"][2], cells["note"][2], cells["raised"][3]) == (4.25, "why", "1")
    assert cells["col_span"][3] == 2


def binary_workbook() -> bytes:
    """A minimal .xlsb: records of [MS-XLSB] 2.3, a text, a number and an error in one row."""

    def record(kind: int, body: bytes = b"") -> bytes:
        head = bytes([kind]) if kind < 128 else bytes([kind & 0x7F | 0x80, kind >> 7])
        return head + bytes([len(body)]) + body

    def wide(text: str) -> bytes:
        return len(text).to_bytes(4, "little") + text.encode("utf-16-le")

    def cell(col: int, body: bytes) -> bytes:
        return col.to_bytes(4, "little") + bytes(4) + body

    rels = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006/relationships"
    sheet = b"".join(
        [
            record(129), record(148, bytes(4) + bytes(4) + bytes(4) + (2).to_bytes(4, "little")),
            record(145), record(0, bytes(25)), record(6, cell(0, wide("Guaiacol"))),
            record(5, cell(1, bytes.fromhex("000000000000e03f"))), record(3, cell(2, b"\x2a")),
            record(146), record(130),
        ]
    )  # fmt: skip
    book = b"".join(
        [
            record(131), record(143),
            record(156, bytes(4) + (1).to_bytes(4, "little") + wide("rId1") + wide("A")),
            record(144), record(132),
        ]
    )  # fmt: skip
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.bin", book)
        archive.writestr("xl/worksheets/sheet1.bin", sheet)
        archive.writestr(
            "xl/_rels/workbook.bin.rels",
            f'<Relationships xmlns="{package}"><Relationship Id="rId1" Type="{rels}/worksheet" '
            'Target="worksheets/sheet1.bin"/></Relationships>',
        )
    return buffer.getvalue()


def test_a_binary_workbook_keeps_its_errors_and_says_what_it_hides() -> None:
    document = read_cells(binary_workbook(), "a.xlsb")
    assert document.cells.select("col", "text", "kind").rows() == [
        (1, "Guaiacol", "text"),
        (2, "0.5", "number"),
        (3, "#N/A", "error"),
    ]
    assert any(".xlsb" in notice for notice in document.notices)


@pytest.mark.parametrize(
    ("content", "rows"),
    [
        (b"a,b\n1,<0.5\n", [["a", "b"], ["1", "<0.5"]]),
        (b"a;b\n1,5;2,5\n3,5;4,5\n", [["a", "b"], ["1,5", "2,5"], ["3,5", "4,5"]]),
        (b"a\tb\n1,5\t2\n", [["a", "b"], ["1,5", "2"]]),
        (b"a|b\n1|2\n", [["a", "b"], ["1", "2"]]),
        (
            b"Report 12, red\nx;y\n1;2\n3;4\n",
            [["Report 12, red"], ["x", "y"], ["1", "2"], ["3", "4"]],
        ),
        (b'a,"line\nbreak"\n1,2\n', [["a", "line\nbreak"], ["1", "2"]]),
        ("\ufeffa,µg/L\n".encode(), [["a", "µg/L"]]),
        ("a;µg/L\n1;2\n".encode("utf-16"), [["a", "µg/L"], ["1", "2"]]),
        ("a;µg/L\n1;2\n".encode("utf-16-le"), [["a", "µg/L"], ["1", "2"]]),
        ("a;µg/L\n1;2\n".encode("cp1252"), [["a", "µg/L"], ["1", "2"]]),
        (b"alone\n", [["alone"]]),
        (b"<0.5,1\n<0.5,2\n", [["<0.5", "1"], ["<0.5", "2"]]),
        (b"sep=;\na,b;c\n", [["a,b", "c"]]),
        (b'5" probe,1\n"a" b,2\n', [['5" probe', "1"], ["a b", "2"]]),
    ],
)
def test_text_files_are_parted_and_decoded(content: bytes, rows: list[list[str]]) -> None:
    cells = read_cells(content, "folder/batch 7.csv").cells
    assert [
        group["text"].to_list() for _, group in cells.group_by("row", maintain_order=True)
    ] == rows
    assert cells["sheet"].unique().to_list() == ["batch 7"]
    assert cells["kind"].unique().to_list() == ["text"]


CELL = st.text("ab1<.", min_size=1, max_size=6)


@given(data=st.data())
def test_a_text_aligned_by_spaces_gives_back_what_was_written(data: st.DataObject) -> None:
    width = data.draw(st.integers(2, 4))
    header = data.draw(st.lists(CELL, min_size=width, max_size=width))
    line = st.tuples(CELL, CELL, *[st.one_of(CELL, st.just(""))] * (width - 2))
    rows = [header, *data.draw(st.lists(line, min_size=1, max_size=4))]
    right = data.draw(st.lists(st.booleans(), min_size=width, max_size=width))
    gap = " " * data.draw(st.integers(2, 5))
    wide = [max(len(row[n]) for row in rows) for n in range(width)]
    text = "\n".join(
        gap.join(c.rjust(w) if r else c.ljust(w) for c, w, r in zip(row, wide, right, strict=True))
        for row in rows
    )
    cells = read_cells(text.encode(), "a.txt").cells
    written = [(r, c, t) for r, row in enumerate(rows, 1) for c, t in enumerate(row, 1) if t]
    assert cells.select("row", "col", "text").rows() == written


# --- what is refused


def bomb() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("_rels/.rels", "<Relationships/>")
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 400_000_000)
    return buffer.getvalue()


def without(part: str) -> bytes:
    return changed(styled(), lambda name, body: None if name == part else body)


def styled() -> bytes:
    return formatted(0.3, '"<"0.0')


def undefined_format() -> bytes:
    defined, other = b'numFmtId="164" formatCode', b'numFmtId="170" formatCode'
    return changed(styled(), lambda _, part: part.replace(defined, other))


def cut_inside(part: str) -> bytes:
    return changed(styled(), lambda name, body: body[: len(body) // 2] if name == part else body)


def shortened(content: bytes) -> bytes:
    """Take the address out of the records of a binary sheet."""
    empty = bytes([5, 0])
    return changed(content, lambda name, body: empty if "sheet1.bin" in name else body)


def laughing() -> bytes:
    entities = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    doctype = f'<!DOCTYPE x [<!ENTITY e0 "ha">{entities}]>'
    row = '<row r="1"><c r="A1" t="inlineStr"><is><t>&e9;</t></is></c></row>'
    xml = f'{doctype}<worksheet xmlns="{MAIN}"><sheetData>{row}</sheetData></worksheet>'
    return changed(styled(), lambda n, part: xml.encode() if "sheet1.xml" in n else part)


def charts_only() -> bytes:
    workbook = openpyxl.Workbook()
    workbook.remove(workbook.active)
    workbook.create_chartsheet("Chart")
    return saved(workbook)


def with_macros(content: bytes) -> bytes:
    """Add a part of macros to a workbook."""
    buffer = io.BytesIO(content)
    with zipfile.ZipFile(buffer, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0")
    return buffer.getvalue()


def macro_sheet_only() -> bytes:
    kind = (b"relationships/worksheet", b"relationships/xlMacrosheet")
    return changed(saved(openpyxl.Workbook()), lambda _, part: part.replace(*kind))


PAGE = "<style>td {}</style><table><tr><td>1</td></tr></table>"
SPREADSHEET_2003 = (
    '<?xml version="1.0"?><Workbook xmlns="urn:schemas-microsoft-com:office:spreadsheet">'
    "</Workbook>"
)


def archive_of(**parts: str) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return buffer.getvalue()


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ONE_TEXT = '<row r="1"><c r="A1" t="s"><v>{}</v></c></row>'

HOSTILE: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "empty"),
    "blank": (lambda: b" \n\n ", "empty"),
    "cut zip": (lambda: styled()[:-200], "cut off or damaged"),
    "cut sheet": (lambda: cut_inside("xl/worksheets/sheet1.xml"), "cut off"),
    "cut styles": (lambda: cut_inside("xl/styles.xml"), "cut off or damaged"),
    "cut workbook": (lambda: cut_inside("xl/workbook.xml"), "cut off or damaged"),
    "no styles": (lambda: without("xl/styles.xml"), "number formats"),
    "undefined format": (undefined_format, "number formats"),
    "no sheet part": (lambda: without("xl/worksheets/sheet1.xml"), "missing"),
    "no workbook": (lambda: without("xl/workbook.xml"), "missing"),
    "no relations": (lambda: without("xl/_rels/workbook.xml.rels"), "missing"),
    "no texts": (lambda: with_strings(ONE_TEXT.format(0), None), "texts"),
    "bad text number": (lambda: with_strings(ONE_TEXT.format(7), "<si><t>a</t></si>"), "texts"),
    "shortened binary": (lambda: shortened(binary_workbook()), "inner"),
    "no cell": (lambda: saved(openpyxl.Workbook()), "no cell"),
    "charts only": (charts_only, "charts only"),
    "zip without parts": (lambda: archive_of(), "archive"),
    "zip of notes": (lambda: archive_of(readme="hello"), "archive"),
    "bomb": (bomb, "too much"),
    "laughs": (laughing, "entities"),
    "bad address": (lambda: with_sheet('<row r="1"><c r="1A"><v>1</v></c></row>'), '"1A"'),
    "row nought": (lambda: with_sheet('<row r="1"><c r="A0"><v>1</v></c></row>'), '"A0"'),
    "beyond the last column": (
        lambda: with_sheet('<row r="1"><c r="XFE1"><v>1</v></c></row>'), '"XFE1"',
    ),
    "beyond the last row": (
        lambda: with_sheet('<row r="1"><c r="A1048577"><v>1</v></c></row>'), '"A1048577"',
    ),
    "no number": (
        lambda: with_sheet('<row r="1"><c r="A1" s="1"><v>1.2.3</v></c></row>', styled()), "inner",
    ),
    "open quote": (lambda: b'a,b\n1,"2\n3,4\n', "quotation mark"),
    "web page": (lambda: b"<html><table><tr><td>1</td></tr></table></html>", "web page"),
    "page of a style": (lambda: PAGE.encode(), "web page"),
    "page in UTF-16": (lambda: PAGE.encode("utf-16"), "open it in a spreadsheet"),
    "page in an archive": (
        lambda: b"MIME-Version: 1.0\nContent-Type: multipart/related\n\n<table></table>", "web page",
    ),
    "spreadsheet of 2003": (lambda: SPREADSHEET_2003.encode("utf-16"), "spreadsheets of 2003"),
    "page behind a line of text": (
        lambda: b"Results\n<table><tr><td>Sample</td><td>1</td></tr></table>", "web page",
    ),
    "symbolic links": (
        lambda: b'ID;PWXL;N;E\r\nB;Y3;X3\r\nC;Y1;X1;K"Sample"\r\nE\r\n', "open it in a spreadsheet",
    ),
    "too many cells": (lambda: b"1," * 3_000_001, "more than 3,000,000 cells"),
    "document": (lambda: b"%PDF-1.7 ...", "PDF"),
    "document behind an empty line": (lambda: b"\r\n%PDF-1.7 ...", "PDF"),
    "presentation": (
        lambda: archive_of(**{"[Content_Types].xml": "", "ppt/presentation.xml": ""}),
        "presentation",
    ),
    "byte order mark": (lambda: b"\xef\xbb\xbf", "empty"),
    "macro sheet": (macro_sheet_only, "macros are never run"),
    "macros and blank sheets": (
        lambda: with_macros(saved(openpyxl.Workbook())), "macros are never run",
    ),
    "mail of a program": (
        lambda: OLE + "__properties_version1.0".encode("utf-16-le") + bytes(600), ".eml",
    ),
    "image": (lambda: b"\x89PNG\r\n\x1a\n....", "image"),
    "rubbish": (lambda: bytes(range(256)) * 20, "not a table"),
    "locked": (lambda: OLE + "EncryptedPackage".encode("utf-16-le") * 2, "password"),
    "cut older workbook": (lambda: OLE + "Workbook".encode("utf-16-le") + bytes(900), "damaged"),
    "other container": (lambda: OLE + bytes(600), "no workbook"),
    "locked zip": (
        lambda: re.sub(rb"(?s)(PK\x01\x02.{4}).", lambda m: m[1] + b"\1", styled()), "password",
    ),
    "giant merge": (
        lambda: changed(styled(), lambda n, p: p.replace(
            b"</sheetData>",
            b'</sheetData><mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>',
        )), "merge",
    ),
    "open document without content": (
        lambda: archive_of(mimetype="application/vnd.oasis.opendocument.spreadsheet"), "missing",
    ),
}  # fmt: skip


def test_a_text_that_begins_like_symbolic_links_is_a_table() -> None:
    cells = read_cells(b"ID;PH\nB1;3.2\nE\n", "a.csv").cells
    assert cells["text"].to_list() == ["ID", "PH", "B1", "3.2", "E"]


@pytest.mark.parametrize("name", HOSTILE)
def test_what_cannot_be_read_is_refused_in_one_sentence(name: str) -> None:
    build, expected = HOSTILE[name]
    content = build()
    started = time.monotonic()
    with pytest.raises(FileRefused, match=r"a\.xlsx: ") as caught:
        read_cells(content, "a.xlsx")
    assert time.monotonic() - started < 60
    assert expected in caught.value.message
    assert "\n" not in caught.value.message
    assert caught.value.message.endswith(".")


def test_a_file_is_known_by_its_content_not_its_name(tmp_path: Path) -> None:
    assert read_cells(styled(), "report.csv").cells["text"].to_list() == ["<0.3"]
    assert read_cells(b"a,b\n", "report.xlsx").cells["text"].to_list() == ["a", "b"]
