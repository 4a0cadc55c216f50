"""Lines beside the results that are none, and what says whose results follow."""

from __future__ import annotations

from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.worksheet.worksheet import Worksheet

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_P = "guaiacol phenol"
TABLE = """
Sample | Free guaiacol (ug/L) | Free phenol (ug/L)
S1     | 1                    | 2
S2     | 3                    | 4
"""
READ = crossing("B2", G_P, "free", {"S1": "1 2", "S2": "3 4"})


@case
def known_details_below_the_samples() -> Case:
    drawn = (
        TABLE
        + "- | - | -\nDilution factor | 10 |\nInjection volume | | 2\nCalibration R2 | 0.999 | 0.998"
    )
    drawn = drawn.replace("- | - | -", "")
    return Case(book(("Results", drawn)), READ, notices=("Dilution factor", "Calibration R2"))


@case
def unknown_detail_below_numbered_samples_is_held() -> Case:
    expected = {**READ, **cells("B4 !number_ambiguous\nC4 -")}
    return Case(book(("Results", TABLE + "Room pressure | 55 |")), expected)


@case
def date_of_the_analysis_below_the_samples_is_held() -> Case:
    expected = {**READ, **cells("B4 !number_ambiguous\nC4 -")}
    return Case(book(("Results", TABLE + "Analysis date | 45965 |")), expected)


@case
def added_amount_is_no_result_of_the_spike() -> Case:
    drawn = """
Free phenols ug/L | S1 | Spike added | S1 spiked
Guaiacol          | 2  | 10          | 12
Phenol            | 3  | 10          | 13
"""
    expected = cells("""
        B2 guaiacol free S1 2
        D2 guaiacol free "S1 spiked" spike:12
        B3 phenol free S1 3
        D3 phenol free "S1 spiked" spike:13
    """)
    return Case(book(("Results", drawn)), expected)


@case
def each_sample_names_the_results_below_it() -> Case:
    drawn = """
Sample: W-1   |
Free guaiacol | 12.3 ug/L
Free o-cresol | <0.5 ug/L
Sample: W-2   |
Free phenol   | 1.3 ug/L
Free o-cresol | <0.5 ug/L
"""
    expected = cells("""
        B2 guaiacol free W-1 12.3
        B3 o-cresol free W-1 [0,0.5]
        B5 phenol free W-2 1.3
        B6 o-cresol free W-2 [0,0.5]
    """)
    return Case(book(("Results", drawn)), expected)


@case
def each_sample_names_the_list_below_it() -> Case:
    drawn = """
All results in ug/L |
Sample              | W-1
Compound            | Result
Free guaiacol       | 1
Sample              | W-2
Compound            | Result
Free phenol         | 3
Free o-cresol       | 4
"""
    expected = cells("""
        B4 guaiacol free W-1 1
        B7 phenol free W-2 3
        B8 o-cresol free W-2 4
    """)
    return Case(book(("Results", drawn)), expected)


@case
def another_sample_is_named_between_lines_without_names() -> Case:
    drawn = """
Free forms, ug/L |
Sample: W-1      |
Guaiacol         | o-Cresol
1                | 2
Sample: W-2      |
1                | 4
"""
    expected = cells("""
        A4 guaiacol free W-1 1
        B4 o-cresol free W-1 2
        A6 !number_ambiguous
        B6 !number_ambiguous
    """)
    return Case(book(("Results", drawn)), expected)


@case
def lowered_figure_is_no_digit_of_the_number() -> Case:
    def dress(sheet: Worksheet) -> None:
        lowered = TextBlock(InlineFont(vertAlign="subscript"), "2")
        raised = TextBlock(InlineFont(vertAlign="superscript"), "-1")
        sheet["B2"].value = CellRichText("12", lowered)
        sheet["C2"].value = CellRichText("<0.5", lowered)
        sheet["B1"].value = CellRichText("Free guaiacol (ug L", raised, ")")

    expected = crossing("B2", G_P, "free", {"S1": "12 [0,0.5]", "S2": "3 4"})
    return Case(book(("Results", TABLE), dress=dress), expected)


@case
def legend_says_that_blank_is_below_the_limit() -> Case:
    drawn = TABLE.replace("| 1 ", "|   ").replace("| 4", "| NA")
    drawn += "Blank cells: below LOD (0.5 ug/L); NA = not above the limit"
    expected = cells("""
        B2 !number_ambiguous
        C2 phenol free S1 2
        B3 guaiacol free S2 3
        C3 !number_ambiguous
    """)
    return Case(book(("Results", drawn)), expected)


@case
def second_footnote_of_a_line_rejects() -> Case:
    drawn = TABLE.replace("| 3 ", "| 3*")
    drawn += "A = outside calibration; * = rejected, contaminated |"
    expected = {**READ, **cells("B3 !number_ambiguous")}
    return Case(book(("Results", drawn)), expected)


@case
def creosol_with_a_place_is_no_cresol() -> Case:
    drawn = """
Free phenols, ug/L
Sample | o-Creosol | Guaiacol
S1     | 5         | 6
"""
    expected = cells("B3 !analyte_unknown\nC3 guaiacol free S1 6")
    return Case(book(("Results", drawn)), expected)


@case
def numbers_beside_names_where_one_measurand_has_none() -> Case:
    drawn = """
Compound | CAS      | S1  | S2
Guaiacol | 90-05-1  | 1   | 2
Phenol   | 108-95-2 | 3   | 4
pH-Wert  |          | 3.5 | 3.6
"""
    expected = crossing("C3", G_P, "free", {"S1": "1 3", "S2": "2 4"}, down=True)
    expected |= cells("C5 scope\nD5 scope")
    return Case(book(("Results", "Free phenols, ug/L" + drawn)), expected)


@case
def units_stand_in_the_headings_below_the_names() -> Case:
    drawn = """
          | Guaiacol (mg/L) |              | Phenol      |
Client ID | Free (ug/L)     | Bound (ug/L) | Free (mg/L) | Bound (ug/L)
C-1       | 1.5             | <2           | 3           | 4
"""
    expected = cells("""
        B3 !unit_conflict
        C3 !unit_conflict
        D3 phenol free C-1 3000
        E3 phenol bound C-1 4
    """)
    return Case(book(("Results", drawn)), expected)


@case
def footnote_marks_behind_the_units_of_headings() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L)* | Free phenol (ug/L)**
S1     | 1.5                   | 2
* by GC-MS
"""
    return Case(book(("Results", drawn)), crossing("B2", G_P, "free", {"S1": "1.5 2"}))
