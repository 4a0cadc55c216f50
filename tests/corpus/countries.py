"""Reports in several languages: notations, units and geometry mixed as laboratories mix them."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more


@case
def french_bulletin_with_a_line_for_each_result() -> Case:
    drawn = """
Bulletin d'analyse n° BA-77
Échantillon : Cuve 4 Syrah | | | Référence client : C4-25
Matrice : vin rouge
Paramètre                       | Résultat    | Unité  | LQ  | LD  | Incertitude
Gaïacol libre                   | 12,4        | µg.L-1 | 1,0 | 0,3 | ± 1,2
4-méthylgaïacol libre           | <LQ (1,0)   | µg.L-1 | 1,0 | 0,3 |
o-crésol libre                  | < LD        | µg.L-1 | 1,0 | 0,3 |
Phénol libre                    | non détecté | µg.L-1 | 1,0 | 0,3 |
Syringol libre                  | traces      | µg.L-1 | 1,0 | 0,3 |
Gaïacol total (après hydrolyse) | 1 234,5     | µg.L-1 | 5   | 2   | ± 100
"""
    read = """
        B5 guaiacol free C4-25 12.4
        B6 4-methylguaiacol free C4-25 [0.3,1]
        B7 o-cresol free C4-25 [0,0.3]
        B8 phenol free C4-25 [0,0.3]
        B9 syringol free C4-25 [0.3,1]
        B10 guaiacol total C4-25 1234.5
    """
    expected = more(cells(read), "Results!B5", expanded_uncertainty=1.2, matrix="red wine")
    return Case(book(("Results", drawn)), expected)


@case
def spanish_panels_side_by_side() -> Case:
    drawn = """
Fenoles volátiles libres (µg/L) | | | | Fenoles volátiles totales (µg/L)
Muestra | Guayacol     | Siringol                | | Muestra | Guayacol | Siringol
M-1     | 5,2          | menor que 0,5           | | M-1     | 55,1     | 1.250,5
M-2     | inferior a 1 | no detectado (LOD 0,2)  | | M-2     | 44       | trazas
LD      | 0,2          | 0,2                     | | LD      | 1        | 1
LC      | 0,5          | 0,5                     | | LC      | 3        | 3
"""
    g_s = "guaiacol syringol"
    expected = crossing("B3", g_s, "free", {"M-1": "5.2 [0,0.5]", "M-2": "[0,1] [0,0.2]"})
    expected |= crossing("F3", g_s, "total", {"M-1": "55.1 1250.5", "M-2": "44 [1,3]"})
    return Case(book(("Results", drawn)), expected)


@case
def italian_forms_one_below_the_other() -> Case:
    drawn = """
Fenoli volatili - forma libera (µg/L)
Campione                    | Guaiacolo  | 4-metilguaiacolo | o-cresolo | m+p-cresolo
C-1                         | 1,5 (±0,3) | non rilevato     | < 0,5     | '2.1E+01
C-2                         | 12,3       | tracce           | n.r.      | 0,9
Limite di rilevabilità      | 0,1        | 0,1              | 0,1       | 0,1
Limite di quantificazione   | 0,5        | 0,5              | 0,5       | 0,5

Fenoli volatili legati (µg/L)
Campione | Guaiacolo | 4-metilguaiacolo | o-cresolo | m+p-cresolo
C-1      | 15,5      | 3,1              | 4         | 5
"""
    names = "guaiacol 4-methylguaiacol o-cresol m+p-cresol"
    # "n.r." may be "non rilevato" or "non richiesto".
    free = {"C-1": "1.5 [0,0.1] [0,0.5] 21", "C-2": "12.3 [0.1,0.5] !number_ambiguous 0.9"}
    expected = crossing("B3", names, "free", free)
    expected |= crossing("B10", names, "bound", {"C-1": "15.5 3.1 4 5"})
    return Case(book(("Results", drawn)), expected)


@case
def german_notations() -> Case:
    drawn = """
Flüchtige Phenole, frei, in µg/L
Probe | Guajakol          | 4-Methylguajakol | o-Kresol | Syringol
P1    | 3,4               | n.n.             | < BG     | '12*
P2    | nicht nachweisbar | n.q.             | n.b.     | kleiner als 1
NWG   | 0,2               | 0,2              | 0,2      | 0,2
BG    | 0,6               | 0,6              | 0,6      | 0,6
* außerhalb des akkreditierten Bereichs
"""
    names = "guaiacol 4-methylguaiacol o-cresol syringol"
    lines = {"P1": "3.4 [0,0.2] [0.2,0.6] 12", "P2": "[0,0.2] [0.2,0.6] - [0,1]"}
    return Case(book(("Results", drawn)), crossing("B3", names, "free", lines))


@case
def portuguese_notations() -> Case:
    drawn = """
Fenóis voláteis livres (µg/L)
Amostra | Guaiacol | 4-metilguaiacol | Siringol | Fenol
A1      | 3,4      | não detetado    | ausente  | < LQ
A2      | 5,5      | vestígios       | 0,4      | n.d.
LD      | 0,1      | 0,1             | 0,1      | 0,1
LQ      | 0,5      | 0,5             | 0,5      | 0,5
"""
    names = "guaiacol 4-methylguaiacol syringol phenol"
    lines = {"A1": "3.4 [0,0.1] [0,0.1] [0.1,0.5]", "A2": "5.5 [0.1,0.5] ~0.4 [0,0.1]"}
    return Case(book(("Results", drawn)), crossing("B3", names, "free", lines))


@case
def portuguese_forms_without_a_second_header() -> Case:
    drawn = """
Fenóis voláteis totais (µg/L)
Amostra | Guaiacol | Siringol
A1      | 30,4     | 44
Fenóis voláteis ligados
A1      | 28       | 40
"""
    g_s = "guaiacol syringol"
    expected = crossing("B3", g_s, "total", {"A1": "30.4 44"})
    return Case(book(("Results", drawn)), expected | crossing("B5", g_s, "bound", {"A1": "28 40"}))


@case
def rare_spellings_of_units() -> Case:
    drawn = """
Sample | Free guaiacol µg.L-1 | Free syringol µg·L⁻¹ | Free o-cresol ug/l (ppb) | Free p-cresol mg/hL | Free phenol [μg L–1]
S1     | 1                    | 2                    | 3                        | 4                   | 5
"""
    read = """
        B2 guaiacol free S1 1
        C2 syringol free S1 2
        D2 o-cresol free S1 3
        E2 p-cresol free S1 40
        F2 phenol free S1 5
    """
    return Case(book(("Results", drawn)), cells(read))


@case
def label_of_another_form_between_the_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
Bound volatile phenols (µg/L)
S2     | 10       | 20
"""
    g_s = "guaiacol syringol"
    expected = crossing("B3", g_s, "free", {"S1": "1 2"})
    return Case(book(("Results", drawn)), expected | crossing("B5", g_s, "bound", {"S2": "10 20"}))


@case
def label_of_another_unit_between_the_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
Results in mg/L
S2     | 0.01     | 0.02
"""
    g_s = "guaiacol syringol"
    expected = crossing("B3", g_s, "free", {"S1": "1 2"})
    return Case(book(("Results", drawn)), expected | crossing("B5", g_s, "free", {"S2": "10 20"}))


@case
def label_against_the_headings_between_the_samples() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L) | Free syringol (µg/L)
S1     | 1                    | 2
Total forms (mg/L)
S2     | 10                   | 20
"""
    expected = cells("B2 guaiacol free S1 1\nC2 syringol free S1 2")
    return Case(
        book(("Results", drawn)), expected | cells("B4 !number_ambiguous\nC4 !number_ambiguous")
    )


@case
def label_of_grapes_over_numbers_per_litre() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
Red wines
S1     | 1        | 2
Grapes
S2     | 3        | 4
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"S1": "1 2"})
    expected = more(expected, "Results!B4", matrix="red wine")
    return Case(book(("Results", drawn)), expected | cells("B6 !unit_basis\nC6 !unit_basis"))


@case
def deviation_beside_an_average_of_samples_across() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | S1 | S2 | Mean | SD
Guaiacol | 5  | 1  | 3    | 2
Syringol | 7  | 1  | 4    | 3
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1": "5 7", "S2": "1 1"}, down=True)
    return Case(book(("Results", drawn)), more(expected, "Results!C3", standard_uncertainty=None))


@case
def footnote_that_gives_another_unit() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol* | Syringol
S1     | 1         | '2a
S2     | 3         | 4
* in mg/L
a above calibration range
"""
    expected = cells("B3 !number_ambiguous\nC3 !number_ambiguous\nB4 !number_ambiguous")
    return Case(book(("Results", drawn)), expected | cells("C4 syringol free S2 4"))


@case
def title_of_two_forms() -> Case:
    drawn = """
Free and bound volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
"""
    return Case(book(("Results", drawn)), cells("B3 !form_unknown\nC3 !form_unknown"))


@case
def words_among_the_results() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
S2     | broken   | lost
S3     | '12..3   | '1,2,3
S4     | > LOQ    | 10^2
S5     | 5        | 6
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1": "1 2"})
    expected |= crossing("B7", "guaiacol syringol", "free", {"S5": "5 6"})
    held = ["B4", "B5", "B6", "C4", "C5"]
    expected |= cells("\n".join(f"{cell} !not_a_number" for cell in held))
    return Case(book(("Results", drawn)), expected | cells("C6 !number_ambiguous"))


@case
def heading_with_two_units() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L or mg/L) | Free syringol (µg/L)
S1     | 1                            | 2
"""
    return Case(book(("Results", drawn)), cells("B2 !analyte_unknown\nC2 syringol free S1 2"))


@case
def title_against_a_sentence_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2

All results in mg/L.
"""
    return Case(book(("Results", drawn)), cells("B3 !unit_unknown\nC3 !unit_unknown"))


@case
def title_against_the_name_of_the_sheet() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
"""
    expected = cells("B3 !form_unknown\nC3 !form_unknown", sheet="Total")
    return Case(book(("Total", drawn)), expected)


@case
def title_against_the_method() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Method: GC-MS after acid hydrolysis
Sample | Guaiacol | Syringol
S1     | 1        | 2
"""
    return Case(book(("Results", drawn)), cells("B4 !form_unknown\nC4 !form_unknown"))
