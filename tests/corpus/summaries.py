"""Lines that are no samples: quality control, replicates, averages, thresholds."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"

FREE3 = "guaiacol o-cresol p-cresol"


@case
def quality_control_rows() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
Method blank | <0.5 | <0.5
S1 | 12 | 13
S2 | 14 | 15
S2 duplicate | 14.4 | 15.5
S1 spike | 62 | 63
QC control | 20 | 21
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"S1": "12 13", "S2": "14 15"})
    names = {
        "Method blank": ("B3", "blank:[0,0.5] blank:[0,0.5]"),
        "S2 duplicate": ("B6", "duplicate:14.4 duplicate:15.5"),
        "S1 spike": ("B7", "spike:62 spike:63"),
        "QC control": ("B8", "control:20 control:21"),
    }
    for sample, (first, tokens) in names.items():
        expected |= crossing(first, "guaiacol syringol", "free", {sample: tokens})
    return Case(book(("Results", drawn)), expected)


@case
def averages_totals_and_footers() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1 | 12 | 13
S2 | 14 | 15
Average | 13 | 14
SD | 1.41 | 1.41
Total | 26 | 28
Minimum | 12 | 13

Approved by: A. Analyst
Page 1 of 1
* results relate only to the items tested
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1": "12 13", "S2": "14 15"})
    return Case(book(("Results", drawn)), expected)


@case
def a_sample_in_a_series_written_as_a_statistic() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
R1 | 12 | 13
R2 | 14 | 15
R3 | 16 | 17
"""
    samples = {"R1": "12 13", "R2": "14 15", "R3": "16 17"}
    return Case(book(("Results", drawn)), crossing("B3", G_S, "free", samples))


@case
def replicate_column() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Replicate | Guaiacol | Syringol
S1     | 1         | 12       | 13
S1     | 2         | 12.4     | 13.6
S2     | 1         | 5        | 6
"""
    expected = crossing("C3", "guaiacol syringol", "free", {"S1": "12 13"})
    expected |= crossing("C4", "guaiacol syringol", "free", {"S1": "12.4 13.6", "S2": "5 6"})
    return Case(book(("Results", drawn)), expected)


@case
def replicates_by_suffix() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1a    | 12       | 13
S1b    | 12.4     | 13.6
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1a": "12 13", "S1b": "12.4 13.6"})
    return Case(book(("Results", drawn)), expected)


@case
def same_sample_twice_without_a_mark() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12       | 13
S1     | 12.4     | 13
"""
    expected = cells("""
B3 !duplicate
B4 !duplicate
C3 syringol free S1 13
C4 syringol free S1 =13
""")
    return Case(book(("Results", drawn)), expected)


@case
def threshold_line_under_the_header() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
Odour threshold | 23 | 62
S1     | 12       | 13
"""
    expected = crossing("B4", "guaiacol o-cresol", "free", {"S1": "12 13"})
    return Case(book(("Results", drawn)), expected)


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
W2     | 3        | 1
Max    | 3        | 2
"""
    expected = crossing("B3", G_S, "free", {"W1": "1 2", "W2": "3 1"})
    return Case(book(("Results", drawn)), expected, notices=("Max",))


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
def deviation_rows_between_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
S1 SD  | 0.1      | 0.3
S2     | 3        | 4
S2 SD  | 0.2      | 0.5
"""
    expected = crossing("B3", G_S, "free", {"S1": "1 2"})
    expected |= crossing("B5", G_S, "free", {"S2": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def replicates_with_their_mean() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Rep  | Guaiacol | Syringol
S1     | 1    | 1        | 2
S1     | 2    | 1.2      | 2.2
S1     | Mean | 1.1      | 2.1
"""
    expected = crossing("C3", G_S, "free", {"S1": "1 2"})
    expected |= crossing("C4", G_S, "free", {"S1": "1.2 2.2"})
    return Case(book(("Results", drawn)), expected)


@case
def standards_among_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample              | Guaiacol | Syringol
S1                  | 1        | 2
Standard 10 µg/L    | 9.9      | 10
CRM-1               | 9.8      | 10.1
Calibration check 5 | 5        | 5.1
"""
    expected = crossing("B3", G_S, "free", {"S1": "1 2"})
    for first, sample, tokens in (
        ("B4", "Standard 10 µg/L", "control:9.9 control:10"),
        ("B5", "CRM-1", "control:9.8 control:10.1"),
        ("B6", "Calibration check 5", "control:5 control:5.1"),
    ):
        expected |= crossing(first, G_S, "free", {sample: tokens})
    return Case(book(("Results", drawn)), expected)


@case
def controls_by_a_name_that_may_be_a_wines() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample         | Guaiacol | Syringol
Blank Thistle  | 1        | 2
Standard Lot 3 | 3        | 4
Method blank   | <0.1     | <0.1
QC red wine    | 5        | 6
W1             | 7        | 8
W1 Dup         | 9        | 10
"""
    expected = crossing("B7", G_S, "free", {"W1": "7 8"})
    for first, sample, tokens in (
        ("B3", "Blank Thistle", "blank:1 blank:2"),
        ("B4", "Standard Lot 3", "control:3 control:4"),
        ("B5", "Method blank", "blank:[0,0.1] blank:[0,0.1]"),
        ("B6", "QC red wine", "control:5 control:6"),
        ("B8", "W1 Dup", "duplicate:9 duplicate:10"),
    ):
        expected |= crossing(first, G_S, "free", {sample: tokens})
    told = 'by the name alone (2 in all): "Blank Thistle", "Standard Lot 3"; if'
    return Case(book(("Results", drawn)), expected, notices=(told,))


@case
def samples_called_like_controls_that_a_column_calls_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample         | Sample type | Guaiacol | Syringol
Blank Thistle  | Sample      | 1        | 2
Standard Lot 3 | Sample      | 3        | 4
Blank 1        | Sample      | <0.1     | <0.1
"""
    expected = crossing("C3", G_S, "free", {"Blank Thistle": "1 2", "Standard Lot 3": "3 4"})
    expected |= crossing("C5", G_S, "free", {"Blank 1": "blank:[0,0.1] blank:[0,0.1]"})
    return Case(book(("Results", drawn)), expected)
