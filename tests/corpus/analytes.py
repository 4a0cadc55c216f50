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
def sums_stay_sums() -> Case:
    return listed(
        {
            "m+p-cresol": "m+p-cresol",
            "tricresol": "cresols",
            "o-cresol": "o-cresol",
            "4-EP + 4-EG": "!analyte_unknown",
            "Sum of volatile phenols": "scope",
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
def form_of_heading_and_column_in_conflict() -> Case:
    drawn = """
Sample | Analyte        | Form | Result (µg/L)
S1     | Guaiacol       | free | 1
S1     | Bound syringol | free | 2
S1     | Total o-cresol | total | 3
"""
    expected = cells("""
D2 guaiacol free S1 1
D3 !form_unknown
D4 o-cresol total S1 3
""")
    return Case(book(("Results", drawn)), expected)


@case
def cas_numbers_with_units_and_limits() -> Case:
    drawn = """
Sample | 90-05-1, free (µg/L) | 95-48-7, free (µg/L), LOD 0.2
S1     | 4                    | nd
"""
    expected = cells("B2 guaiacol free S1 4\nC2 o-cresol free S1 [0,0.2]")
    return Case(book(("Results", drawn)), expected)
