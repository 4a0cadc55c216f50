"""Names of analytes: languages, IUPAC, CAS, abbreviations, typos, sums, and what is none of ours."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells


def listed(names: dict[str, str], form: str = "free") -> Case:
    """One result per row: each printed name with the stored analyte, "!reason" or "scope"."""
    head = "Sample | Compound | Form | Result (µg/L)"
    lines = [f"A1 | {n} | {form} | {i}" for i, n in enumerate(names, 1)]
    expected = "\n".join(
        f"D{i + 1} {stored}" if stored[0] == "!" or stored == "scope"
        else f'D{i + 1} "{stored}" {form} A1 {i}'
        for i, stored in enumerate(names.values(), 1)
    )  # fmt: skip
    return Case(book(("Results", "\n".join([head, *lines]))), cells(expected))


@case
def names_in_french() -> Case:
    return listed(
        {
            "Gaïacol": "guaiacol",
            "4-Méthylgaïacol": "4-methylguaiacol",
            "o-Crésol": "o-cresol",
            "Phénol": "phenol",
            "4-Éthylphénol": "4-ethylphenol",
            "4-Éthylgaïacol": "4-ethylguaiacol",
            "4-Méthylsyringol": "4-methylsyringol",
            "Eugénol": "eugenol",
            "Vanilline": "vanillin",
        }
    )


@case
def names_in_spanish() -> Case:
    return listed(
        {
            "Guayacol": "guaiacol",
            "4-Metilguayacol": "4-methylguaiacol",
            "4-Etilguayacol": "4-ethylguaiacol",
            "Siringol": "syringol",
            "4-Metilsiringol": "4-methylsyringol",
            "4-Etilfenol": "4-ethylphenol",
            "Fenol": "phenol",
            "p-Cresol": "p-cresol",
            "Vainillina": "vanillin",
        }
    )


@case
def names_in_italian_and_german() -> Case:
    return listed(
        {
            "Guaiacolo": "guaiacol",
            "4-Metilguaiacolo": "4-methylguaiacol",
            "o-Cresolo": "o-cresol",
            "Siringolo": "syringol",
            "4-Etilfenolo": "4-ethylphenol",
            "Fenolo": "phenol",
            "m-Kresol": "m-cresol",
            "p-Kresol": "p-cresol",
            "4-Ethylguajakol": "4-ethylguaiacol",
        }
    )


@case
def iupac_names_and_cas_numbers() -> Case:
    return listed(
        {
            "2-Methoxyphenol": "guaiacol",
            "2-Methoxy-4-methylphenol": "4-methylguaiacol",
            "2-methylphenol": "o-cresol",
            "3-methylphenol": "m-cresol",
            "4-methylphenol": "p-cresol",
            "2,6-Dimethoxyphenol": "syringol",
            "2,6-dimethoxy-4-methylphenol": "4-methylsyringol",
            "123-07-9": "4-ethylphenol",
            "2785-89-9": "4-ethylguaiacol",
            "Phenol (CAS 108-95-2)": "phenol",
            "97-53-0": "eugenol",
        }
    )


@case
def abbreviations_and_typos() -> Case:
    return listed(
        {
            "4-MG": "4-methylguaiacol",
            "4-EG": "4-ethylguaiacol",
            "4-EP": "4-ethylphenol",
            "Guiacol": "guaiacol",
            "Sirringol": "syringol",
            "4-methylsyringool": "4-methylsyringol",
            "ortho-cresol": "o-cresol",
            "meta cresol": "m-cresol",
            "p -cresol": "p-cresol",
            "Eugenoll": "eugenol",
        }
    )


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
def sums_stay_sums() -> Case:
    return listed(
        {
            "m+p-cresol": "m+p-cresol",
            "tricresol": "cresols",
            "o-cresol": "o-cresol",
            "4-EP + 4-EG": "!analyte_unknown",
            "Sum of volatile phenols": "!analyte_unknown",
        }
    )


@case
def more_spellings_of_the_sum_of_two_cresols() -> Case:
    drawn = """
Sample | Free p/m-cresol (µg/L) | Guaiacol, free (µg/L)
S1     | 4                      | 1
"""
    others = """
Sample | m-/p-Cresol (free), µg/L | Free guaiacol (µg/L)
S2     | 5                        | 1
"""
    expected = cells("B2 m+p-cresol free S1 4\nC2 guaiacol free S1 1")
    expected |= cells("B2 m+p-cresol free S2 5\nC2 guaiacol free S2 1", "More")
    return Case(book(("Results", drawn), ("More", others)), expected)


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
    return Case(book(("Results", drawn)), expected)


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
