"""Uncertainties and standard deviations: where they are printed and what they belong to."""

from __future__ import annotations

from collections.abc import Mapping

from corpus.books import book
from corpus.cases import Case, Value, case, cells, crossing, more

G_S = "guaiacol syringol"

G_O = "guaiacol o-cresol"


def expanded(expected: Mapping[str, Value], *printed: tuple[str, float, float]) -> dict[str, Value]:
    """Expect of cells a coverage factor and a standard uncertainty that the report gives."""
    told = dict(expected)
    for cell, factor, u in printed:
        told = more(
            told, f"Results!{cell}", coverage_factor=factor, standard_uncertainty=u,
            uncertainty_source="report",
        )  # fmt: skip
    return told


@case
def uncertainty_columns() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | U (k=2) | o-Cresol | U (k=2)
S1     | 12       | 1.2     | 4        | 0.5
S2     | 15       | 1.6     | <0.5     |
"""
    expected = cells("""
B3 guaiacol free S1 12
D3 o-cresol free S1 4
B4 guaiacol free S2 15
D4 o-cresol free S2 [0,0.5]
""")
    expected = more(
        expected, "Results!B3",
        expanded_uncertainty=1.2, coverage_factor=2.0, standard_uncertainty=0.6,
    )  # fmt: skip
    expected = more(expected, "Results!D3", expanded_uncertainty=0.5, standard_uncertainty=0.25)
    return Case(book(("Results", drawn)), expected)


@case
def one_uncertainty_column_after_one_analyte() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L) | Uncertainty (µg/L)
S1     | 12                   | 1.2
S2     | 15                   | 1.6
"""
    expected = crossing("B2", "guaiacol", "free", {"S1": "12", "S2": "15"})
    return Case(book(("Results", drawn)), expected)


@case
def uncertainty_in_the_cell() -> Case:
    drawn = """
Free volatile phenols (µg/L), mean ± expanded uncertainty, k = 2
Sample | Guaiacol   | o-Cresol
S1     | 3.4 ± 0.2  | 12 +/- 1.1
S2     | 3,9 ± 0,3  | <0,5
"""
    expected = crossing("B3", G_O, "free", {"S1": "3.4 12", "S2": "3.9 [0,0.5]"})
    return Case(book(("Results", drawn)), expected)


@case
def standard_deviation_columns() -> Case:
    drawn = """
Free volatile phenols (µg/L), n = 3
Sample | Guaiacol | SD  | o-Cresol | SD
S1     | 12       | 0.4 | 4        | 0.1
"""
    expected = cells("B3 guaiacol free S1 12\nD3 o-cresol free S1 4")
    return Case(book(("Results", drawn)), expected)


@case
def uncertainty_in_percent() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Unit | Uncertainty (%)
A1     | Guaiacol | free | 20     | µg/L | 15
A1     | Syringol | free | 40     | µg/L | 10
"""
    expected = cells("D2 guaiacol free A1 20\nD3 syringol free A1 40")
    expected = more(expected, "Results!D2", expanded_uncertainty=3.0)
    return Case(book(("Results", drawn)), expected)


@case
def expanded_uncertainties_with_factors_of_their_own() -> Case:
    # u = U / k: JCGM 100:2008, 6.2.
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | U (k=3) | o-Cresol | U (%) (k = 1) | Syringol | Expanded uncertainty (k=2.26)
S1     | 12       | 1.2     | 4        | 5             | 9        | 0.5 µg/L
"""
    expected = cells("B3 guaiacol free S1 12\nD3 o-cresol free S1 4\nF3 syringol free S1 9")
    told = expanded(expected, ("B3", 3.0, 0.4), ("D3", 1.0, 0.2), ("F3", 2.26, 0.5 / 2.26))
    return Case(book(("Results", drawn)), told)


@case
def coverage_factor_behind_the_number_or_in_a_note() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Unit | Uncertainty
A1     | Guaiacol | free | 20     | µg/L | 3 (k=2)
A1     | Syringol | free | 40     | µg/L | 6
A1     | o-Cresol | free | 10     | µg/L | 15 %

All uncertainties are expanded with a coverage factor of 3
"""
    expected = cells("D2 guaiacol free A1 20\nD3 syringol free A1 40\nD4 o-cresol free A1 10")
    told = expanded(expected, ("D2", 2.0, 1.5), ("D3", 3.0, 2.0), ("D4", 3.0, 0.5))
    return Case(book(("Results", drawn)), told)


@case
def coverage_factor_that_nobody_says() -> Case:
    # Two factors in the notes, and nobody says which is whose.
    drawn = """
Sample | Analyte  | Form | Result | Unit | Expanded uncertainty
A1     | Guaiacol | free | 20     | µg/L | 3

Volatile phenols: uncertainty with k = 3
Other analyses: uncertainty with k = 2
"""
    expected = more(
        cells("D2 guaiacol free A1 20"), "Results!D2", coverage_factor=2.0,
        standard_uncertainty=1.5, uncertainty_source="report, k = 2 assumed",
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def standard_uncertainty_in_its_own_column() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L) | Standard uncertainty (µg/L) | Free syringol (µg/L) | Incertitude-type (%)
S1     | 12                   | 0.4                         | 9                    | 10
"""
    expected = cells("B2 guaiacol free S1 12\nD2 syringol free S1 9")
    for cell, u in (("B2", 0.4), ("D2", 0.9)):
        expected = more(
            expected, f"Results!{cell}", coverage_factor=None, expanded_uncertainty=None,
            standard_uncertainty=u, uncertainty_source="report",
        )  # fmt: skip
    return Case(book(("Results", drawn)), expected)
