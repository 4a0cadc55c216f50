"""Limits and uncertainties: where they are printed and which results they hold for."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_S = "guaiacol syringol"

G_O = "guaiacol o-cresol"


@case
def limits_in_own_rows() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
LOD    | 0.2      | 0.3
LOQ    | 0.7      | 1
S1     | ND       | <LOQ
S2     | 0.5      | 4
"""
    expected = crossing("B5", G_O, "free", {"S1": "[0,0.2] [0.3,1]", "S2": "~0.5 4"})
    expected = more(expected, "Results!B6", lod=0.2, loq=0.7)
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_own_rows_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | ND       | <LOQ
S2     | 6        | 4
Limit of detection | 0.2 | 0.3
Limit of quantification | 0.7 | 1
"""
    expected = crossing("B3", G_O, "free", {"S1": "[0,0.2] [0.3,1]", "S2": "6 4"})
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_own_columns() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | LOD | LOQ | T-1  | T-2
Guaiacol | 0.2 | 0.7 | ND   | 3
o-Cresol | 0.3 | 1   | <LOQ | 0.6
"""
    expected = crossing("D3", G_O, "free", {"T-1": "[0,0.2] [0.3,1]", "T-2": "3 ~0.6"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_the_headings() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L), LOD 0.2, LOQ 0.7 | Free o-cresol [µg/L] (LOQ = 1)
S1     | nd                                    | <LOQ
S2     | BLQ                                   | 4
"""
    expected = crossing("B2", G_O, "free", {"S1": "[0,0.2] [0,1]", "S2": "[0.2,0.7] 4"})
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_the_cell() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol       | o-Cresol    | p-Cresol
S1     | nd (LOD 1)     | ND (<0.4)   | < LOQ (1.5)
S2     | <0.5           | not detected (LOD = 0.25) | <LOD (0.3)
"""
    expected = crossing(
        "B3", "guaiacol o-cresol p-cresol", "free",
        {"S1": "[0,1] [0,0.4] [0,1.5]", "S2": "[0,0.5] [0,0.25] [0,0.3]"},
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_a_footnote() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol (µg/L) | o-Cresol (µg/L)
S1     | n.d.            | tr.
S2     | 5               | 4

n.d. = not detected (LOD 0.3 µg/L); tr. = trace, below LOQ (LOQ 1.2 µg/L)
"""
    expected = crossing("B3", G_O, "free", {"S1": "[0,0.3] [0.3,1.2]", "S2": "5 4"})
    return Case(book(("Results", drawn)), expected)


@case
def limit_of_one_analyte_in_a_footnote() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | nd       | nd

LOD guaiacol 0.2 µg/L, o-cresol 0.5 µg/L
"""
    # Either the right limit for each, or both held; here no reading is asked for.
    expected = cells("B3 !limit_unknown\nC3 !limit_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_another_unit() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample     | Guaiacol | o-Cresol
LOD (ng/L) | 200      | 300
S1         | ND       | nd
"""
    expected = crossing("B4", G_O, "free", {"S1": "[0,0.2] [0,0.3]"})
    return Case(book(("Results", drawn)), expected)


@case
def limits_nowhere() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | nd       | <LOQ
S2     | 5        | trace
"""
    expected = cells("""
B3 !limit_unknown
C3 !limit_unknown
B4 guaiacol free S2 5
C4 !limit_unknown
""")
    return Case(book(("Results", drawn)), expected)


@case
def limits_of_two_panels_stay_apart() -> Case:
    drawn = """
Free volatile phenols (µg/L), LOD 0.2
Sample | Guaiacol | o-Cresol
S1     | nd       | 2

Total volatile phenols (µg/L), LOD 0.9
Sample | Guaiacol | o-Cresol
S1     | 12       | nd
"""
    expected = crossing("B3", G_O, "free", {"S1": "[0,0.2] 2"})
    expected |= crossing("B7", G_O, "total", {"S1": "12 [0,0.9]"})
    return Case(book(("Results", drawn)), expected)


@case
def reporting_limit_column() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Unit | Reporting limit
A1     | Guaiacol | free | <RL    | µg/L | 1.5
A1     | Syringol | free | 12     | µg/L | 2
A2     | Guaiacol | free | ND     | µg/L | 1.5
"""
    expected = cells("""
D2 guaiacol free A1 [0,1.5]
D3 syringol free A1 12
D4 guaiacol free A2 [0,1.5]
""")
    return Case(book(("Results", drawn)), expected)


@case
def limit_rows_per_panel_in_one_table() -> Case:
    drawn = """
 | Free (µg/L) |  | Total (µg/L) |
Sample | Guaiacol | Syringol | Guaiacol | Syringol
LOD    | 0.1      | 0.2      | 0.5      | 0.6
S1     | nd       | 2        | nd       | 40
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"S1": "[0,0.1] 2"})
    expected |= crossing("D4", "guaiacol syringol", "total", {"S1": "[0,0.5] 40"})
    return Case(book(("Results", drawn), merge=("B1:C1", "D1:E1")), expected)


@case
def limit_rows_for_two_matrices() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Matrix   | Guaiacol | Syringol
LOD    | Red wine | 0.1      | 0.2
LOD    | Must     | 0.5      | 0.6
W1     | Red wine | nd       | 5
M1     | Must     | nd       | 6
"""
    # A limit of one matrix must not reach a sample of another; no line of limits is a sample.
    expected = cells("""
C5 guaiacol free W1 [0,0.1]
D5 syringol free W1 5
C6 guaiacol free M1 [0,0.5]
D6 syringol free M1 6
""")
    return Case(book(("Results", drawn)), expected)


@case
def limits_of_two_analytes_after_a_colon() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | nd       | nd

LOQ: 1 µg/L for guaiacol, 2 µg/L for o-cresol
"""
    expected = cells("B3 !limit_unknown\nC3 !limit_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def limits_of_two_matrices_in_a_footnote() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | nd       | 3

LOD = 0.1 (wine), 0.5 (grapes)
"""
    expected = cells("B3 !limit_unknown\nC3 o-cresol free S1 3")
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
    expected = cells("B3 guaiacol free S1 [0,0.2]\nC3 syringol free S1 [0.3,1]")
    return Case(book(("Results", drawn)), expected)


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


@case
def limit_row_in_words() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol  | Syringol
       | (LOD 0.1) | (LOD 0.2)
S1     | nd        | nd
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"S1": "[0,0.1] [0,0.2]"})
    return Case(book(("Results", drawn)), expected)


@case
def limits_in_a_sentence() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | nd       | <LOQ
The LOD is 0.1 µg/L and the LOQ is 0.3 µg/L for all compounds.
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1": "[0,0.1] [0.1,0.3]"})
    return Case(book(("Results", drawn)), expected)


@case
def limits_that_cannot_be() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
LOD    | 1        | 1
LOQ    | 0.3      | 0.3
S1     | nd       | <LOQ
"""
    expected = cells("B5 !impossible\nC5 !impossible")
    return Case(book(("Results", drawn)), expected)


@case
def limits_with_a_unit_of_the_table_above() -> Case:
    drawn = """
Bound volatile phenols
Analyte  | Unit | LOD  | W-1
Guaiacol | mg/L | 0.25 | 0.5
Syringol | mg/L | 0.25 | 0.6

Free volatile phenols (ng/L)
Analyte  | LOD  | W-1
Guaiacol | 0.25 | 500
Syringol | 0.25 | nd
"""
    expected = cells("""
D3 guaiacol bound W-1 500
D4 syringol bound W-1 600
C8 guaiacol free W-1 0.5
C9 syringol free W-1 [0,0.00025]
""")
    return Case(book(("Results", drawn)), expected)
