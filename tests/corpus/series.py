"""Samples in lettered series, merged results, remarks instead of results, and legends."""

from __future__ import annotations

from string import ascii_uppercase

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_P = "guaiacol phenol"


def _lettered(word: str, sign: str) -> Case:
    names = [f"{word}{sign}{letter}" for letter in ascii_uppercase]
    lines = [f"{name} | {n} | {n + 1}" for n, name in enumerate(names, 1)]
    drawn = "\n".join(["Free phenols (ug/L)", "Sample | Guaiacol | Phenol", *lines])
    samples = {name: f"{n} {n + 1}" for n, name in enumerate(names, 1)}
    return Case(book(("Results", drawn)), crossing("B3", G_P, "free", samples))


@case
def samples_from_a_to_z() -> Case:
    return _lettered("Sample", " ")


@case
def lots_from_a_to_z() -> Case:
    return _lettered("Lot", "-")


@case
def tanks_from_a_to_z() -> Case:
    return _lettered("Tank", " ")


@case
def samples_across_from_a_to_z() -> Case:
    names = [f"Sample {letter}" for letter in ascii_uppercase]
    numbers = range(1, len(names) + 1)
    drawn = "\n".join(
        [
            "Free phenols (ug/L)",
            " | ".join(["Compound", *names]),
            " | ".join(["Guaiacol", *map(str, numbers)]),
            " | ".join(["Phenol", *(str(n + 1) for n in numbers)]),
        ]
    )
    samples = {name: f"{n} {n + 1}" for n, name in zip(numbers, names, strict=True)}
    return Case(book(("Results", drawn)), crossing("B3", G_P, "free", samples, down=True))


@case
def tanks_called_vat() -> Case:
    drawn = """
Parameter       | Unit | LOQ | VAT-1 | VAT-2
Free guaiacol   | ug/L | 1   | 12.5  | <LOQ
Free phenol     | ug/L | 2   | 3     | ND
"""
    expected = crossing("D2", G_P, "free", {"VAT-1": "12.5 3", "VAT-2": "[0,1] [0,2]"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def portuguese_samples_called_like_a_notation() -> Case:
    drawn = """
Relatório de ensaio n.º 12/2025
Amostra | Guaiacol livre (µg/kg) | Guaiacol ligado (µg/kg) | Fenol livre (µg/kg)
U1      | '1,2                   | '33,4                   | n.d.
U2      | < 1,0                  | vestígios               | '2,0
LD      | '0,3                   | '1,0                    | '0,4
LQ      | '1,0                   | '3,0                    | '1,2
"""
    expected = cells(
        """
        B3 guaiacol free U1 1.2
        C3 guaiacol bound U1 33.4
        D3 phenol free U1 [0,0.4]
        B4 guaiacol free U2 [0,1]
        C4 guaiacol bound U2 [1,3]
        D4 phenol free U2 2
        """,
        unit="ug/kg",
    )
    return Case(book(("Results", drawn)), expected, facts={"report_no": "12/2025"})


@case
def unknown_corner_over_units_and_limits() -> Case:
    drawn = """
Quux           | Unit | LOQ | Wine A1 | Wine A2
Guaiacol, free | µg/L | 1.5 | 12.4    | <1.5
Phenol, free   | µg/L | 0.5 | 3.1     | nd
"""
    samples = {"Wine A1": "12.4 3.1", "Wine A2": "[0,1.5] [0,0.5]"}
    return Case(book(("Results", drawn)), crossing("D2", G_P, "free", samples, down=True))


@case
def result_merged_over_two_samples() -> Case:
    drawn = """
Free phenols (µg/L)
Sample | Guaiacol   | Phenol | Syringol
M1     | not tested |        |
M2     | 3          | 4      | 5
M3     | 6          | 7      | 8
M4     |            | 9      | 10
"""
    expected = cells("""
        B3 -
        C3 -
        D3 -
        B4 guaiacol free M2 3
        C4 phenol free M2 4
        D4 syringol free M2 5
        B5 !number_ambiguous
        C5 phenol free M3 7
        D5 syringol free M3 8
        B6 !number_ambiguous
        C6 phenol free M4 9
        D6 syringol free M4 10
    """)
    return Case(book(("Results", drawn), merge=["B3:D3", "B5:B6"]), expected)


@case
def not_detected_merged_over_analytes() -> Case:
    drawn = """
Free phenols (µg/L), LOD 0.3
Sample | Guaiacol | Phenol
M1     | ND       |
M2     | 3        | 4
"""
    expected = cells("""
        B3 !number_ambiguous
        C3 !number_ambiguous
        B4 guaiacol free M2 3
        C4 phenol free M2 4
    """)
    return Case(book(("Results", drawn), merge=["B3:C3"]), expected)


@case
def letter_beside_an_empty_result() -> Case:
    text = """sys_sample_code,lab_sample_id,sample_date,sample_matrix,fraction,cas_rn,chemical_name,result_value,result_unit,lab_qualifier,detect_flag,method_detection_limit,reporting_limit
RW-01,24-1,10/25/2025,Red Wine,Free,90-05-1,"Phenol, 2-methoxy-",14.2,ug/L,,Y,0.3,1.0
RW-01,24-1,10/25/2025,Red Wine,Free,95-48-7,"Phenol, 2-methyl-",0.45,ug/L,J,Y,0.3,1.0
RW-01,24-1,10/25/2025,Red Wine,Free,108-95-2,Phenol,,ug/L,U,N,0.3,1.0
RW-01,24-1,10/25/2025,Red Wine,Total,90-05-1,"Phenol, 2-methoxy-",,ug/L,NT,,0.3,1.0
"""
    expected = cells(
        """
        H2 guaiacol free RW-01 14.2
        H3 o-cresol free RW-01 ~0.45
        H4 phenol free RW-01 [0,0.3]
        H5 -
        """,
        sheet="report",
    )
    expected = more(expected, "report!H2", lab_sample_id="24-1")
    return Case(text.encode(), expected, file="report.csv")


@case
def legend_with_the_limit_behind_the_words() -> Case:
    drawn = """
Free phenols (ug/L)
Sample | Guaiacol | Phenol | o-Cresol
L1     | -        | nd     | 3
L2     | 2        | nq     | ND (<0.2 ug/L)
Legend: - = not analysed; nd = not detected (< 0.3); nq = below 0.9 ug/L
"""
    expected = cells("""
        B3 -
        C3 phenol free L1 [0,0.3]
        D3 o-cresol free L1 3
        B4 guaiacol free L2 2
        C4 phenol free L2 [0.3,0.9]
        D4 o-cresol free L2 [0,0.2]
    """)
    return Case(book(("Results", drawn)), expected)


@case
def dash_explained_without_a_sign_between() -> Case:
    drawn = """
Free phenols (ug/L)
Sample | Guaiacol | Phenol
T1     | —        | 3
T2     | 12       | 4
— not tested for this sample
"""
    expected = crossing("B3", G_P, "free", {"T1": "- 3", "T2": "12 4"})
    return Case(book(("Results", drawn)), expected)


@case
def dashes_before_remarks_are_no_legend() -> Case:
    drawn = """
Free phenols (ug/L)
Sample | Guaiacol | Phenol
T1     | -        | 3
T2     | 12       | 4
- not tested
- sampled by the client
"""
    expected = crossing("B3", G_P, "free", {"T1": "!number_ambiguous 3", "T2": "12 4"})
    return Case(book(("Results", drawn)), expected)


@case
def numbers_still_to_be_multiplied() -> Case:
    drawn = """
Free phenols (ug/L)
Sample | Guaiacol | Phenol
X1     | 1.2      | 3
Note: results must be multiplied by 10 (dilution)
"""
    expected = cells("B3 !number_ambiguous\nC3 !number_ambiguous")
    return Case(book(("Results", drawn)), expected)


@case
def percents_as_text_under_an_unknown_name() -> Case:
    drawn = """
Free phenols (ug/L)
Sample | Guaiacol | Ash marker M7 | Phenol
T1     | 12       | '83%          | 3
T2     | 14       | '7 %          | 4
"""
    samples = {"T1": "12 !analyte_unknown 3", "T2": "14 !analyte_unknown 4"}
    return Case(book(("Results", drawn)), crossing("B3", "guaiacol ? phenol", "free", samples))


def _told_by_look(legend: str, held: bool) -> Case:
    drawn = f"""
Free phenols (ug/L)
Sample | Guaiacol | Phenol
X1     | 1.2      | <0.5
{legend}
"""
    expected = crossing("B3", G_P, "free", {"X1": "1.2 [0,0.5]"})
    if held:
        expected = cells("B3 !number_ambiguous\nC3 !number_ambiguous")
    return Case(book(("Results", drawn)), expected)


@case
def colour_that_means_below_a_limit() -> Case:
    return _told_by_look("Yellow = below LOQ", held=True)


@case
def typeface_that_means_estimated() -> Case:
    return _told_by_look("Results in bold type are estimated", held=True)


@case
def colour_that_means_above_a_limit_of_somebody_else() -> Case:
    return _told_by_look("Bold: above the client's action level", held=False)


@case
def colour_of_a_wine_in_a_note() -> Case:
    return _told_by_look(
        "LOD of red wine: 0.3 ug/L. Red wines below pH 3 were diluted.", held=False
    )


@case
def number_of_the_report_behind_its_sign() -> Case:
    drawn = """
Informe de ensayo nº 45-25
Fecha muestreo | 5 octubre 2025
Muestra  | Guayacol libre (µg/L) | Fenol libre (µg/L)
Bodega 1 | '2,5                  | <0,5
"""
    expected = crossing("B4", G_P, "free", {"Bodega 1": "2.5 [0,0.5]"})
    return Case(book(("Results", drawn)), expected, facts={"report_no": "45-25"})


@case
def italian_notation_of_two_meanings_that_a_legend_explains() -> Case:
    drawn = """
Campione        | Guaiacolo libero (µg/L) | Fenolo libero (µg/L)
LOD             | '0,2                    | '0,3
C1              | n.r.                    | '1,5
C1 duplicato    | '2,4                    | '1,6
C2              | '2,5                    | N.A.

Legenda: n.r. = non rilevato (< LOD)
"""
    expected = cells("""
        B3 guaiacol free C1 [0,0.2]
        C3 phenol free C1 1.5
        B4 guaiacol free "C1 duplicato" duplicate:2.4
        C4 phenol free "C1 duplicato" duplicate:1.6
        B5 guaiacol free C2 2.5
        C5 -
    """)
    return Case(book(("Results", drawn)), expected)


@case
def italian_notation_of_two_meanings() -> Case:
    drawn = """
Campione | Guaiacolo libero (µg/L) | Fenolo libero (µg/L)
LOD      | '0,2                    | '0,3
C1       | n.r.                    | '1,5
C2       | '2,5                    | N.A.
"""
    # "Non rilevato" or "non richiesto".
    expected = cells("""
        B3 !number_ambiguous
        C3 phenol free C1 1.5
        B4 guaiacol free C2 2.5
        C4 -
    """)
    return Case(book(("Results", drawn)), expected)
