"""What a sheet hides, filters away or strikes out."""

from __future__ import annotations

import openpyxl
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from corpus.books import book, fill, rows, saved
from corpus.cases import Case, case, crossing

G_S = "guaiacol syringol"
PLAIN = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12       | 13
S2     | 14       | 15
S3     | 16       | 17
"""


@case
def hidden_row() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet.row_dimensions[4].hidden = True

    expected = crossing("B3", G_S, "free", {"S1": "12 13", "S2": "!hidden !hidden", "S3": "16 17"})
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def hidden_column() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet.column_dimensions["C"].hidden = True

    expected = crossing(
        "B3", G_S, "free", {"S1": "12 !hidden", "S2": "14 !hidden", "S3": "16 !hidden"}
    )
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def hidden_sheet() -> Case:
    workbook = openpyxl.Workbook()
    for title, first in (("Results", 1), ("Old", 5)):
        fill(workbook.create_sheet(title), rows(PLAIN.replace("S1", f"S{first}")))
    workbook.remove(workbook.worksheets[0])
    workbook["Old"].sheet_state = "hidden"
    expected = crossing("B3", G_S, "free", {"S1": "12 13", "S2": "14 15", "S3": "16 17"})
    expected |= crossing(
        "B3", G_S, None,
        {"S5": "!hidden !hidden", "S2": "!hidden !hidden", "S3": "!hidden !hidden"}, "Old",
    )  # fmt: skip
    return Case(saved(workbook), expected)


@case
def filtered_rows_are_hidden_rows() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet.auto_filter.ref = "A2:C5"
        sheet.auto_filter.add_filter_column(0, ["S1", "S3"])
        sheet.row_dimensions[4].hidden = True
        sheet.freeze_panes = "B3"

    expected = crossing("B3", G_S, "free", {"S1": "12 13", "S2": "!hidden !hidden", "S3": "16 17"})
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def struck_out_cell() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["B4"].font = Font(strike=True)

    expected = crossing("B3", G_S, "free", {"S1": "12 13", "S2": "!struck_out 15", "S3": "16 17"})
    return Case(book(("Results", PLAIN), dress=dress), expected)


@case
def struck_out_sample() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["A4"].font = Font(strike=True)

    # A sample whose name is struck out is withdrawn as plainly as a struck-out number.
    expected = crossing(
        "B3", G_S, "free", {"S1": "12 13", "S2": "!struck_out !struck_out", "S3": "16 17"}
    )
    return Case(book(("Results", PLAIN), dress=dress), expected)
