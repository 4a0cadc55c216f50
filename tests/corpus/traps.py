"""Lines and columns that look like results of a sample and are none, and the other way round."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"


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
E3 scope
F3 syringol free W1 2
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
