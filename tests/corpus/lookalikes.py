"""Names that are near an analyte and are another one, or none; and what is out of scope."""

from __future__ import annotations

from corpus.analytes import listed
from corpus.books import book
from corpus.cases import Case, case, cells


@case
def creosol_is_not_cresol() -> Case:
    return listed(
        {
            "Creosol": "4-methylguaiacol",
            "Cresol": "!analyte_unknown",
            "Creasol": "!analyte_unknown",
            "Methylphenol": "!analyte_unknown",
            "4-methoxyphenol": "!analyte_unknown",
            "3-methylguaiacol": "!analyte_unknown",
            "o-cresol": "o-cresol",
        }
    )


@case
def measurands_out_of_scope() -> Case:
    drawn = """
Sample | pH   | Alcohol (% v/v) | Free SO2 (mg/L) | Total acidity (g/L) | Free guaiacol (µg/L) | Copper (mg/L)
S1     | 3.55 | 14.1            | 28              | 6.1                 | 7                    | 0.2
"""
    expected = cells("""
B2 scope
C2 scope
D2 scope
E2 scope
F2 guaiacol free S1 7
G2 scope
""")
    return Case(book(("Results", drawn)), expected)


@case
def unknown_names_are_held_in_each_cell() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Smokeol-7 | Syringol
S1     | 1        | 2         | 3
S2     | 4        | <0.5      | 6
"""
    expected = cells("""
B3 guaiacol free S1 1
C3 !analyte_unknown
D3 syringol free S1 3
B4 guaiacol free S2 4
C4 !analyte_unknown
D4 syringol free S2 6
""")
    hints = {"Results!C3": '"Smokeol-7"', "Results!C4": '"Smokeol-7"'}
    return Case(book(("Results", drawn)), expected, hints=hints)


@case
def unknown_name_down() -> Case:
    drawn = """
Results in µg/L, free forms
Analyte   | T-1 | T-2
Guaiacol  | 1   | 2
Smokeol-7 | 3   | 4
Syringol  | 5   | 6
"""
    expected = cells("""
B3 guaiacol free T-1 1
C3 guaiacol free T-2 2
B4 !analyte_unknown
C4 !analyte_unknown
B5 syringol free T-1 5
C5 syringol free T-2 6
""")
    return Case(book(("Results", drawn)), expected)


@case
def unknown_name_at_either_end() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Smokeol-7 | Guaiacol | Syringol | Smokeol-8
S1     | 1         | 2        | 3        | 4
"""
    expected = cells("""
B3 !analyte_unknown
C3 guaiacol free S1 2
D3 syringol free S1 3
E3 !analyte_unknown
""")
    return Case(book(("Results", drawn)), expected)


@case
def names_that_contradict_themselves() -> Case:
    return listed(
        {
            "p-Cresol (95-48-7)": "!analyte_unknown",
            "Guaiacol (syringol)": "!analyte_unknown",
            "p-Creosol": "4-methylguaiacol",
            "m-Cresol (108-39-4)": "m-cresol",
            "Syringol 91-10-1": "syringol",
        }
    )


@case
def names_with_footnote_marks() -> Case:
    return listed(
        {
            "Guaiacol*": "guaiacol",
            "Syringol¹": "syringol",
            "o-Cresol †": "o-cresol",
            "m-Cresol (1)": "m-cresol",
            "p-Cresol **": "p-cresol",
        }
    )


@case
def total_phenols_among_smoke_markers() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Free guaiacol | Free syringol | Total phenols
S1     | 1             | 2             | 40
"""
    # In ug/L this is a sum of volatile phenols, which is not stored; total phenolics are in mg/L.
    expected = cells("B3 guaiacol free S1 1\nC3 syringol free S1 2\nD3 !unit_basis")
    return Case(book(("Results", drawn)), expected)


@case
def lookalikes_are_held() -> Case:
    return listed(
        {
            "2-ethylphenol": "!analyte_unknown",
            "2,4-dimethylphenol": "!analyte_unknown",
            "4-ethylcatechol": "!analyte_unknown",
            "4-MeEG": "!analyte_unknown",
            "d3-guaiacol": "scope",
            "Guaiacol recovery": "scope",
            "Guaiacol + 4-methylguaiacol": "!analyte_unknown",
            "Guaiacol/Syringol": "!analyte_unknown",
            "Guaiacol": "guaiacol",
        }
    )
