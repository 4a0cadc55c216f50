"""What a unit means depends on what was measured: grapes, wine, colour."""

from __future__ import annotations

from dataclasses import replace

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_O = "guaiacol o-cresol"


@case
def ppb_where_the_matrix_is_told() -> Case:
    drawn = """
Free volatile phenols in ppb
Sample | Matrix   | Guaiacol | o-Cresol
S1     | Red wine | 12       | 4
G1     | Grapes   | 3        | 5
"""
    expected = crossing("C3", G_O, "free", {"S1": "12 4"})
    expected |= crossing("C4", G_O, "free", {"G1": "3 5"}, unit="ug/kg")
    expected = more(expected, "Results!C3", matrix="red wine", qualifier="ppb taken as ug/L")
    return Case(book(("Results", drawn)), expected)


@case
def ppb_where_nothing_tells_the_matrix() -> Case:
    drawn = """
Free volatile phenols (ppb)
Sample | Guaiacol | o-Cresol
S1     | 12       | 4
"""
    return Case(book(("Results", drawn)), cells("B3 !unit_unknown\nC3 !unit_unknown"))


@case
def ppm_and_ppt_in_wine() -> Case:
    drawn = """
Matrix: Red wine
Free volatile phenols
Sample | Guaiacol (ppm) | o-Cresol (ppt)
S1     | 0.012          | 900
"""
    return Case(book(("Results", drawn)), crossing("B4", G_O, "free", {"S1": "12 0.9"}))


@case
def unit_basis_does_not_fit() -> Case:
    drawn = """
Free volatile phenols
Sample | Matrix     | Guaiacol (µg/kg) | o-Cresol (µg/L)
S1     | Red wine   | 12               | 4
G1     | Grapes     | 3                | 5
"""
    expected = cells("""
C3 !unit_basis
D3 o-cresol free S1 4
C4 guaiacol free G1 3 ug/kg
D4 !unit_basis
""")
    return Case(book(("Results", drawn)), expected)


@case
def grapes_and_wine_on_two_sheets() -> Case:
    grapes = """
Grape samples, free volatile phenols (µg/kg)
Sample | Guaiacol | o-Cresol
G1     | 3        | 5
"""
    wines = """
Wine samples, free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
W1     | 12       | 4
"""
    expected = crossing("B3", G_O, "free", {"G1": "3 5"}, "Grapes", unit="ug/kg")
    expected |= crossing("B3", G_O, "free", {"W1": "12 4"}, "Wines")
    return Case(book(("Grapes", grapes), ("Wines", wines)), expected)


@case
def colour_and_phenolics() -> Case:
    drawn = """
Sample | A420 (10 mm) | A520 (AU) | Total phenolics (mg/L) | Anthocyanins (mg/L) | Hue
S1     | 2.1          | 3.4       | 1800                   | 210                 | 0.62
"""
    expected = cells("""
B2 A420 none S1 2.1 AU
C2 A520 none S1 3.4 AU
D2 "total phenolics" none S1 1800 mg/L
E2 anthocyanins none S1 210 mg/L
F2 hue none S1 0.62 1
""")
    return Case(book(("Results", drawn)), expected)


@case
def absorbance_in_a_short_cell() -> Case:
    drawn = """
Path length: 2 mm
Sample | A420 | A520
S1     | 0.42 | 0.68
"""
    read = cells("B3 A420 none S1 2.1 AU\nC3 A520 none S1 3.4 AU")
    expected = {cell: replace(value, more={"path_length": 0.2}) for cell, value in read.items()}
    return Case(book(("Results", drawn)), expected)


@case
def matrices_that_nobody_knows() -> Case:
    drawn = """
Free volatile phenols
Sample | Matrix    | Unit  | Guaiacol | Syringol
S1     | Oak chips | µg/kg | 3        | 4
S2     | Water     | µg/L  | 1        | 2
S3     | Grapes    | µg/kg | 5        | 6
"""
    expected = cells("D3 !unit_basis\nE3 !unit_basis\nD4 !unit_basis\nE4 !unit_basis")
    expected |= crossing("D5", "guaiacol syringol", "free", {"S3": "5 6"}, unit="ug/kg")
    return Case(book(("Results", drawn)), expected)


@case
def matrix_by_row() -> Case:
    drawn = """
Free volatile phenols
Sample | Matrix            | Unit  | Guaiacol | Syringol
S1     | Juice             | µg/L  | 1        | 2
S2     | Grapes            | µg/kg | 3        | 4
S3     | Red Wine (Shiraz) | µg/L  | 5        | 6
"""
    expected = crossing("D3", "guaiacol syringol", "free", {"S1": "1 2"})
    expected |= crossing("D4", "guaiacol syringol", "free", {"S2": "3 4"}, unit="ug/kg")
    expected |= crossing("D5", "guaiacol syringol", "free", {"S3": "5 6"})
    expected = more(expected, "Results!D3", matrix="must")
    expected = more(expected, "Results!D5", matrix="red wine")
    return Case(book(("Results", drawn)), expected)


@case
def dry_weight_in_a_title() -> Case:
    drawn = """
Grapes: free volatile phenols (µg/kg DW)
Sample | Guaiacol | Syringol
G1     | 3        | 4
"""
    return Case(book(("Results", drawn)), cells("B3 !unit_unknown\nC3 !unit_unknown"))


@case
def glycosides_as_equivalents() -> Case:
    drawn = """
Glycosides (µg/L as syringol gentiobioside equivalents)
Sample | GuRG | SyGG
S1     | 5    | 25
"""
    expected = crossing(
        "B3", ["guaiacol rutinoside", "syringol gentiobioside"], "bound", {"S1": "5 25"}
    )
    expected = more(expected, "Results!B3", expressed_as="syringol gentiobioside")
    return Case(book(("Results", drawn)), expected)


@case
def glycosides_in_molar_units() -> Case:
    # C19H28O11 432.42 g/mol, C20H30O13 478.45 g/mol (IUPAC/CIAAW 2021 weights)
    drawn = """
Phenolic glycosides (nmol/L)
Sample | GuRG | SyGG
S1     | 100  | 100
"""
    expected = crossing(
        "B3", ["guaiacol rutinoside", "syringol gentiobioside"], "bound", {"S1": "43.2422 47.8447"}
    )
    return Case(book(("Results", drawn)), expected)
