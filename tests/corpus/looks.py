"""What a cell shows, hides, strikes out or fails to calculate."""

from __future__ import annotations

from datetime import date

import openpyxl
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from corpus.books import book, fill, rows, saved
from corpus.cases import Case, case, cells, crossing, more

G_S = "guaiacol syringol"
PLAIN = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12       | 13
S2     | 14       | 15
S3     | 16       | 17
"""


@case
def spreadsheet_errors() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | #N/A     | 13
S2     | #DIV/0!  | #VALUE!
"""
    expected = crossing(
        "B3", G_S, "free", {"S1": "!excel_error 13", "S2": "!excel_error !excel_error"}
    )
    return Case(book(("Results", drawn)), expected)


@case
def formulas_never_calculated() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | =6*2     | 13
S2     | 14       | =B4+1
"""
    expected = crossing(
        "B3", G_S, "free",
        {"S1": "!formula_uncalculated 13", "S2": "14 !formula_uncalculated"},
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def number_formats_that_round() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["B3"].value = 12.3456
        sheet["B3"].number_format = "0.0"
        sheet["B4"].value = 1234.5
        sheet["B4"].number_format = "#,##0"

    # What is shown is rounded; the stored number counts at full precision.
    expected = crossing("B3", G_S, "free", {"S1": "12.3456 13", "S2": "1234.5 15", "S3": "16 17"})
    expected = more(expected, "Results!B3", raw_value="12.3")
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def number_formats_that_show_something_else() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["B3"].value = 0.5
        sheet["B3"].number_format = '"<"0.0'
        sheet["B4"].value = -1
        sheet["B4"].number_format = '0.0;"<LOD"'
        sheet["B5"].value = 3.42
        sheet["B5"].number_format = '0.0 "mg/L"'
        sheet["C3"].value = 0.1
        sheet["C3"].number_format = '[<0.5]"n.d.";0.0'

    expected = crossing(
        "B3", G_S, "free",
        {"S1": "[0,0.5] !limit_unknown", "S2": "!limit_unknown 15", "S3": "3400 17"},
    )  # fmt: skip
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def percent_format_among_concentrations() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["B3"].value = 0.12
        sheet["B3"].number_format = "0%"

    # "12%" is no concentration, whatever number is stored.
    expected = crossing("B3", G_S, "free", {"S1": "!not_a_number 13", "S2": "14 15", "S3": "16 17"})
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def numbers_stored_as_text() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | '12.3    | '13
S2     | '<0.5    | '0.75
"""
    return Case(
        book(("Results", drawn)),
        crossing("B3", G_S, "free", {"S1": "12.3 13", "S2": "[0,0.5] 0.75"}),
    )


@case
def range_turned_into_a_date() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["B3"].value = date(2025, 2, 1)
        sheet["B3"].number_format = "d-mmm"

    expected = crossing("B3", G_S, "free", {"S1": "!not_a_number 13", "S2": "14 15", "S3": "16 17"})
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def raised_footnote_mark() -> Case:
    def dress(sheet: Worksheet) -> None:
        raised = TextBlock(InlineFont(vertAlign="superscript"), "1")
        sheet["B3"].value = CellRichText("12", raised)
        sheet["C3"].value = CellRichText("<0.5", raised)

    expected = crossing("B3", G_S, "free", {"S1": "12 [0,0.5]", "S2": "14 15", "S3": "16 17"})
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def raised_power_of_ten() -> Case:
    def dress(sheet: Worksheet) -> None:
        raised = TextBlock(InlineFont(vertAlign="superscript"), "2")
        sheet["B3"].value = CellRichText("1.2 x 10", raised)
        sheet["C3"].value = CellRichText("<1.5 x 10", raised)

    expected = crossing("B3", G_S, "free", {"S1": "120 [0,150]", "S2": "14 15", "S3": "16 17"})
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def cell_comment_is_kept() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["B3"].comment = Comment("re-run\nafter dilution", "lab")

    expected = crossing("B3", G_S, "free", {"S1": "12 13", "S2": "14 15", "S3": "16 17"})
    expected |= more(
        expected, "Results!B3", qualifier='comment: "re-run after dilution"; matrix assumed: wine'
    )
    return Case(book(("Results", PLAIN), dress=dress), expected)


def _commented(drawn: str, merge: tuple[str, ...] = (), **comments: str) -> bytes:
    def dress(sheet: Worksheet) -> None:
        for cell, text in comments.items():
            sheet[cell].comment = Comment(text, "lab")

    return book(("Results", drawn), merge=merge, dress=dress)


@case
def comments_on_headings_and_names_are_kept() -> Case:
    content = _commented(PLAIN, B2="LOD 0.5 ug/L", C2="do not use", A4="received warm", A1="sent")
    expected = crossing(
        "B3", G_S, "free",
        {"S1": "12 !rejected_by_laboratory", "S2": "14 !rejected_by_laboratory",
         "S3": "16 !rejected_by_laboratory"},
    )  # fmt: skip
    kept = 'comment: "A1: sent; B2: LOD 0.5 ug/L{}"; matrix assumed: wine'
    expected |= more(expected, "Results!B3", qualifier=kept.format(""))
    expected |= more(expected, "Results!B4", qualifier=kept.format("; A4: received warm"))
    hints = {"Results!C3": 'its comment says "A1: sent; C2: do not use"'}
    return Case(content, expected, hints=hints)


@case
def comment_on_a_sample_that_is_rejected_among_names_down() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | W-1 | W-2
Guaiacol | 1   | 2
Syringol | 3   | 4
"""
    expected = crossing(
        "B3", G_S, "free",
        {"W-1": "!rejected_by_laboratory !rejected_by_laboratory", "W-2": "2 4"},
        down=True,
    )  # fmt: skip
    content = _commented(drawn, B2="rejected, to be repeated", A4="not accredited")
    return Case(content, expected)


@case
def comment_on_a_title_over_two_columns() -> Case:
    drawn = """
       | Free (µg/L) |          | Bound (µg/L) |
Sample | Guaiacol    | Syringol | Guaiacol     | Syringol
S1     | 1           | 2        | 30           | 40
"""
    expected = crossing("B3", G_S, "free", {"S1": "1 2"})
    expected |= cells("D3 !rejected_by_laboratory\nE3 !rejected_by_laboratory")
    return Case(_commented(drawn, D1="rejected: hydrolysis failed"), expected)


@case
def comments_that_belong_to_no_value_are_told() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2

Approved by | the head of the laboratory
"""
    expected = crossing("B3", G_S, "free", {"S1": "1 2"})
    return Case(_commented(drawn, B5="only by phone"), expected, notices=("only by phone",))


@case
def a_name_that_became_a_day() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["A4"].value = date(2026, 1, 5)
        sheet["A4"].number_format = "yyyy-mm-dd"

    day = {"2026-01-05": "14 15"}
    expected = crossing("B3", G_S, "free", {"S1": "12 13"} | day | {"S3": "16 17"})
    notices = ('Results!A4: the sample is called by a day, "2026-01-05"',)
    return Case(book(("Results", PLAIN), dress=dress), expected, notices=notices)


@case
def merged_sample_names() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Form  | Guaiacol | Syringol
S1     | Free  | 1        | 2
       | Bound | 9        | 8
S2     | Free  | 3        | 4
       | Bound | 7        | 6
"""
    expected = cells("""
C3 guaiacol free  S1 1
D3 syringol free  S1 2
C4 guaiacol bound S1 9
D4 syringol bound S1 8
C5 guaiacol free  S2 3
D5 syringol free  S2 4
C6 guaiacol bound S2 7
D6 syringol bound S2 6
""")
    return Case(book(("Results", drawn), merge=("A3:A4", "A5:A6")), expected)


@case
def sample_named_once_for_several_rows() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Unit
S1     | Guaiacol | free | 1      | µg/L
       | Syringol | free | 2      | µg/L
S2     | Guaiacol | free | 3      | µg/L
       | Syringol | free | 4      | µg/L
"""
    # Each name once, and each group begins with guaiacol and repeats none.
    expected = cells("""
D2 guaiacol free S1 1
D3 syringol free S1 2
D4 guaiacol free S2 3
D5 syringol free S2 4
""")
    return Case(book(("Results", drawn)), expected)


@case
def empty_rows_and_columns_around() -> Case:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "Results"
    fill(sheet, rows(PLAIN), top=7, left=4)
    sheet["A1"].font = Font(bold=True)
    expected = crossing("E9", G_S, "free", {"S1": "12 13", "S2": "14 15", "S3": "16 17"})
    return Case(saved(workbook), expected)
