"""Lines and columns that look like results of a sample and are none, and the other way round."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"


@case
def average_column_beside_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | T-1 | T-2 | Average
Guaiacol | 1   | 2   | 1.5
Syringol | 3   | 4   | 3.5
"""
    expected = crossing("B3", G_S, "free", {"T-1": "1 3", "T-2": "2 4"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def threshold_column_beside_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | T-1 | T-2 | Sensory threshold
Guaiacol | 1   | 2   | 23
Syringol | 3   | 4   | 570
"""
    expected = crossing("B3", G_S, "free", {"T-1": "1 3", "T-2": "2 4"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def threshold_rows_of_many_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample                       | Guaiacol | Syringol
Sensory threshold (red wine) | 23       | 570
Odor detection threshold     | 23       | 570
ODT                          | 23       | 570
W1                           | 1        | 2
"""
    return Case(book(("Results", drawn)), crossing("B6", G_S, "free", {"W1": "1 2"}))


@case
def recoveries_in_percent() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
W1     | 1        | 2
Recovery (%) | 98 | 102
RSD %  | 4        | 5
"""
    # A recovery is no concentration; it may be left out as a summary or held, never be ug/L.
    return Case(book(("Results", drawn)), crossing("B3", G_S, "free", {"W1": "1 2"}))


@case
def quality_control_with_numbers() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample  | Guaiacol | Syringol
Blank 1 | <0.1     | <0.1
QC-1    | 10       | 10.2
LCS 2   | 20       | 21
W1      | 1        | 2
W1 DUP  | 1.1      | 2.1
Blank 2 | <0.1     | <0.1
"""
    expected = crossing("B6", G_S, "free", {"W1": "1 2"})
    for first, sample, tokens in (
        ("B3", "Blank 1", "blank:[0,0.1] blank:[0,0.1]"),
        ("B4", "QC-1", "control:10 control:10.2"),
        ("B5", "LCS 2", "control:20 control:21"),
        ("B7", "W1 DUP", "duplicate:1.1 duplicate:2.1"),
        ("B8", "Blank 2", "blank:[0,0.1] blank:[0,0.1]"),
    ):
        expected |= crossing(first, G_S, "free", {sample: tokens})
    return Case(book(("Results", drawn)), expected)


@case
def samples_whose_names_look_like_controls() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample              | Guaiacol | Syringol
Sauvignon Blanc 12  | 1        | 2
Blanc de Noirs      | 3        | 4
Blankenhorn block   | 5        | 6
Meanders vineyard   | 7        | 8
Total Wine Tank     | 9        | 10
"""
    expected = crossing(
        "B3", G_S, "free",
        {"Sauvignon Blanc 12": "1 2", "Blanc de Noirs": "3 4", "Blankenhorn block": "5 6",
         "Meanders vineyard": "7 8", "Total Wine Tank": "9 10"},
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def summary_lines_are_told() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
W1     | 1        | 2
Max    | 3        | 4
"""
    expected = crossing("B3", G_S, "free", {"W1": "1 2"})
    return Case(book(("Results", drawn)), expected, notices=("Max",))


@case
def percent_columns() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Guaiacol free | Guaiacol total | Guaiacol bound % | % free syringol
W1     | 1             | 10             | 90               | 30
"""
    expected = cells("""
B3 guaiacol free W1 1
C3 guaiacol total W1 10
D3 !unit_unknown
E3 !unit_unknown
""")
    return Case(book(("Results", drawn)), expected)


@case
def ratios_areas_and_labelled_standards() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Guaiacol/Syringol ratio | Guaiacol area | d3-Guaiacol | Syringol
W1     | 1        | 0.5                     | 100233        | 99          | 2
"""
    expected = cells("""
B3 guaiacol free W1 1
C3 !analyte_unknown
D3 !analyte_unknown
E3 !analyte_unknown
F3 syringol free W1 2
""")
    return Case(book(("Results", drawn)), expected)


@case
def stacked_certificates() -> Case:
    drawn = """
Sample: T-1
Analyte       | Result | Unit
Free guaiacol | 1      | µg/L
Free syringol | 2      | µg/L

Sample: T-2
Analyte       | Result | Unit
Free o-cresol | 3      | µg/L
Free p-cresol | 4      | µg/L
"""
    expected = cells("""
B3 guaiacol free T-1 1
B4 syringol free T-1 2
B8 o-cresol free T-2 3
B9 p-cresol free T-2 4
""")
    return Case(book(("Results", drawn)), expected)


@case
def stacked_forms_per_sample() -> Case:
    drawn = """
Results in µg/L
Sample: T-1
Analyte  | Free | Total
Guaiacol | 1    | 10
Syringol | 2    | 20

Sample: T-2
Analyte  | Free | Total
Guaiacol | 3    | 30
Syringol | 4    | 40
"""
    expected = cells("""
B4 guaiacol free T-1 1
C4 guaiacol total T-1 10
B5 syringol free T-1 2
C5 syringol total T-1 20
B9 guaiacol free T-2 3
C9 guaiacol total T-2 30
B10 syringol free T-2 4
C10 syringol total T-2 40
""")
    return Case(book(("Results", drawn)), expected)


@case
def sample_labels_inside_a_list() -> Case:
    drawn = """
Analyte       | Result | Unit
Sample: T-1
Free guaiacol | 1      | µg/L
Free syringol | 2      | µg/L
Sample: T-2
Free guaiacol | 3      | µg/L
Free syringol | 4      | µg/L
"""
    expected = cells("""
B3 guaiacol free T-1 1
B4 syringol free T-1 2
B6 guaiacol free T-2 3
B7 syringol free T-2 4
""")
    return Case(book(("Results", drawn)), expected)


@case
def page_breaks() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
Page 1 of 2
Report R-1 continued
Sample | Guaiacol | Syringol
S2     | 3        | 4
Page 2 of 2
"""
    expected = crossing("B3", G_S, "free", {"S1": "1 2"})
    expected |= crossing("B7", G_S, "free", {"S2": "3 4"})
    return Case(book(("Results", drawn)), expected, facts={"report_no": "R-1"})


@case
def a_line_without_a_sample() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
W1     | 1        | 2
       | 1.5      | 2.5
W2     | 3        | 4
"""
    expected = crossing("B3", G_S, "free", {"W1": "1 2"})
    expected |= cells("B4 !sample_missing\nC4 !sample_missing")
    expected |= crossing("B5", G_S, "free", {"W2": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def numbers_for_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
No | Lab No. | Your reference | Guaiacol | Syringol
1  | 5001    | 24-118         | 1        | 2
2  | 5002    | 24-119         | 3        | 4
"""
    expected = crossing("D3", G_S, "free", {"24-118": "1 2", "24-119": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def unknown_heading_over_the_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Wine tank | Guaiacol | Syringol
Tank 1    | 1        | 2
Tank 2    | 3        | 4
"""
    expected = crossing("B3", G_S, "free", {"Tank 1": "1 2", "Tank 2": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def samples_on_the_right() -> Case:
    drawn = """
Guaiacol (free, µg/L) | Syringol (free, µg/L) | Sample
1                     | 2                     | W1
3                     | 4                     | W2
"""
    expected = crossing("A2", G_S, "free", {"W1": "1 2", "W2": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def samples_over_units() -> Case:
    drawn = """
Free volatile phenols
         | S1   | S2
         | µg/L | mg/L
Guaiacol | 1    | 0.002
Syringol | 3    | 0.004
"""
    expected = crossing("B4", G_S, "free", {"S1": "1 3", "S2": "2 4"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def replicate_columns() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol rep 1 | Guaiacol rep 2 | Syringol rep 1 | Syringol rep 2
W1     | 1              | 1.2            | 3              | 3.1
"""
    expected = cells("""
B3 guaiacol free W1 1
C3 guaiacol free W1 1.2
D3 syringol free W1 3
E3 syringol free W1 3.1
""")
    return Case(book(("Results", drawn)), expected)


@case
def previous_result_beside_the_result() -> Case:
    drawn = """
Sample: T-1
Analyte       | Previous result (µg/L) | Result (µg/L)
Free guaiacol | 1                      | 2
Free syringol | 3                      | 4
"""
    expected = cells("C3 guaiacol free T-1 2\nC4 syringol free T-1 4")
    return Case(book(("Results", drawn)), expected, notices=("B3",))


@case
def side_by_side_blocks_of_other_samples() -> Case:
    drawn = """
Free (µg/L) |  |  |  | Total (µg/L) |  |
Sample | Guaiacol | Syringol |  | Sample | Guaiacol | Syringol
S1     | 1.5      | 2.5      |  | S7     | 10.5     | 20.5
S2     | 3.5      | 4.5      |  | S8     | 30.5     | 40.5
"""
    expected = crossing("B3", G_S, "free", {"S1": "1.5 2.5", "S2": "3.5 4.5"})
    expected |= crossing("F3", G_S, "total", {"S7": "10.5 20.5", "S8": "30.5 40.5"})
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_a_table_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | nd       | <LOQ

Analyte  | LOD (µg/L) | LOQ (µg/L)
Guaiacol | 0.2        | 0.7
Syringol | 0.3        | 1
"""
    expected = crossing("B3", G_S, "free", {"S1": "[0,0.2] [0.3,1]"})
    return Case(book(("Results", drawn)), expected)


@case
def controls_under_a_quality_control_title() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 4        | 2

Quality control samples, free volatile phenols (µg/L)
Sample  | Guaiacol | Syringol
Blank   | <0.1     | <0.1
Control | 10       | 9
"""
    expected = crossing("B3", G_S, "free", {"S1": "4 2"})
    expected |= crossing("B7", G_S, "free", {"Blank": "blank:[0,0.1] blank:[0,0.1]"})
    expected |= crossing("B8", G_S, "free", {"Control": "control:10 control:9"})
    return Case(book(("Results", drawn)), expected)


@case
def glossary_sheet() -> Case:
    results = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 4        | 2
"""
    glossary = """
Compound | CAS     | Molar mass | Threshold (µg/L)
Guaiacol | 90-05-1 | 124.1      | 23
Syringol | 91-10-1 | 154.2      | 570
"""
    expected = crossing("B3", G_S, "free", {"S1": "4 2"})
    return Case(book(("Results", results), ("Compounds", glossary)), expected)


@case
def table_of_recoveries_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 4        | 2

Analyte  | Expected (µg/L) | Recovery (%)
Guaiacol | 10              | 98
Syringol | 10              | 102
"""
    expected = crossing("B3", G_S, "free", {"S1": "4 2"})
    return Case(book(("Results", drawn)), expected, notices=("not read",))


@case
def cover_sheet_speaks_for_the_others() -> Case:
    cover = """
Laboratory: Bellwether
Report no: R-7
Matrix: Red wine
Unit: µg/L
"""
    results = """
Sample | Free guaiacol | Free syringol
S1     | 4             | 2
"""
    expected = crossing("B2", G_S, "free", {"S1": "4 2"}, "Data")
    facts = {"report_no": "R-7", "lab": "Bellwether"}
    return Case(book(("Cover", cover), ("Data", results)), expected, facts=facts)


@case
def summary_and_detail_sheets() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | {0}      | 2
"""
    expected = cells("B3 !duplicate\nC3 syringol free S1 2", "Summary")
    expected |= cells("B3 !duplicate\nC3 syringol free S1 =2", "Detail")
    sheets = ("Summary", drawn.format("1")), ("Detail", drawn.format("1.04"))
    return Case(book(*sheets), expected)


@case
def only_the_second_certificate_names_its_sample() -> Case:
    drawn = """
Analyte       | Result | Unit
Free guaiacol | 1      | µg/L
Free syringol | 2      | µg/L

Sample: T-2
Analyte       | Result | Unit
Free o-cresol | 3      | µg/L
Free p-cresol | 4      | µg/L
"""
    expected = cells("""
B2 !sample_missing
B3 !sample_missing
B7 o-cresol free T-2 3
B8 p-cresol free T-2 4
""")
    return Case(book(("Results", drawn)), expected)


@case
def one_sample_named_once_for_two_tables() -> Case:
    drawn = """
Sample: T-1
Free volatile phenols (µg/L)
Analyte  | Result
Guaiacol | 1
Syringol | 2

Total volatile phenols (µg/L)
Analyte  | Result
Guaiacol | 10
Syringol | 20
"""
    expected = cells("""
B4 guaiacol free T-1 1
B5 syringol free T-1 2
B9 guaiacol total T-1 10
B10 syringol total T-1 20
""")
    return Case(book(("Results", drawn)), expected)


@case
def the_heading_samples_is_no_label() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample          | Guaiacol | o-Cresol
Odour threshold | 23       | 62
                | 12       | 13
"""
    return Case(book(("Results", drawn)), cells("B4 !sample_missing\nC4 !sample_missing"))


@case
def a_list_without_a_heading_for_results() -> Case:
    drawn = """
Sample | Analyte  | Form | Quux-7 | Unit
LCS-1  | Guaiacol | free | 98     | ug/L
W1     | Guaiacol | free | 12     | ug/L
W1     | Syringol | free | 13     | ug/L
"""
    # The only column of numbers in a list may be read; the heading is never a sample's name.
    expected = cells("""
D2 guaiacol free LCS-1 control:98
D3 guaiacol free W1 12
D4 syringol free W1 13
""")
    return Case(book(("Results", drawn)), expected)


@case
def unrelated_table_right_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | 12       | 13
Instrument log
Vial | Area  | Height
1    | 10233 | 881
2    | 20991 | 902
"""
    return Case(book(("Results", drawn)), crossing("B3", "guaiacol o-cresol", "free", {"S1": "12 13"}))


@case
def limit_row_after_a_gap() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Matrix   | Guaiacol | Syringol

LOD    | Red wine | 0.1      | 0.2
W1     | Red wine | nd       | 5
"""
    expected = crossing("C5", G_S, "free", {"W1": "[0,0.1] 5"})
    return Case(book(("Results", drawn)), expected)
