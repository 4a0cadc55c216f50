"""Lines and blocks under labels of their own: matrices, samples, forms, and labels nobody explains."""

from __future__ import annotations

from datetime import date

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_P = "guaiacol phenol"
PPB = "Free volatile phenols (ppb)\n"


def drawn(text: str, title: str = PPB) -> bytes:
    return book(("Results", title + text.lstrip()))


@case
def label_of_a_matrix_that_nobody_knows() -> Case:
    # What was said of the grapes holds no longer.
    text = """
Sample   | Guaiacol | Phenol
Grapes   |          |
G1       | 1.5      | 2.5
Pomace   |          |
P1       | 3.5      | 4.5
Red wine |          |
R1       | 5.5      | 6.5
"""
    expected = crossing("B4", G_P, "free", {"G1": "1.5 2.5"}, unit="ug/kg")
    expected |= cells("B6 !unit_unknown\nC6 !unit_unknown")
    return Case(drawn(text), expected | crossing("B8", G_P, "free", {"R1": "5.5 6.5"}))


@case
def labels_that_part_the_lines_of_one_matrix() -> Case:
    text = """
Sample       | Guaiacol | Phenol
Grapes       |          |
Upper slope  |          |
G1           | 1.5      | 2.5
Lower slope  |          |
G2           | 3.5      | 4.5
"""
    return Case(
        drawn(text),
        crossing("B5", G_P, "free", {"G1": "1.5 2.5"}, unit="ug/kg")
        | crossing("B7", G_P, "free", {"G2": "3.5 4.5"}, unit="ug/kg"),
    )


@case
def remark_between_the_lines_of_one_matrix() -> Case:
    text = """
Sample                          | Guaiacol | Phenol
Grapes                          |          |
G1                              | 1.5      | 2.5
Page 2 of 3                     |          |
G2                              | 3.5      | 4.5
Frozen on arrival, see annex.   |          |
G3                              | 5.5      | 6.5
"""
    expected = crossing("B4", G_P, "free", {"G1": "1.5 2.5"}, unit="ug/kg")
    expected |= crossing("B6", G_P, "free", {"G2": "3.5 4.5"}, unit="ug/kg")
    return Case(
        drawn(text), expected | crossing("B8", G_P, "free", {"G3": "5.5 6.5"}, unit="ug/kg")
    )


@case
def label_of_a_form_that_nobody_knows() -> Case:
    text = """
Sample        | Guaiacol | Phenol
Free          |          |
S1            | 1.5      | 2.5
After enzymes |          |
S2            | 3.5      | 4.5
"""
    expected = crossing("B4", G_P, "free", {"S1": "1.5 2.5"})
    held = cells("B6 !form_unknown\nC6 !form_unknown")
    return Case(drawn(text, "Smoke phenols (µg/L)\n"), expected | held)


def _plurals(grapes: str, musts: str, wines: str, matrix: str) -> Case:
    text = f"""
Sample   | Guaiacol | Phenol
{grapes} |          |
G1       | 1.5      | 2.5
{musts}  |          |
M1       | 3.5      | 4.5
{wines}  |          |
W1       | 5.5      | 6.5
"""
    expected = crossing("B4", G_P, "free", {"G1": "1.5 2.5"}, unit="ug/kg")
    expected |= crossing("B6", G_P, "free", {"M1": "3.5 4.5"})
    expected |= crossing("B8", G_P, "free", {"W1": "5.5 6.5"})
    expected = more(expected, "Results!B6", matrix="must")
    return Case(drawn(text), more(expected, "Results!B8", matrix=matrix))


@case
def labels_of_matrices_in_the_plural() -> Case:
    return _plurals("GRAPES", "MUSTS", "RED WINES", "red wine")


@case
def german_labels_of_matrices_in_the_plural() -> Case:
    return _plurals("Trauben", "Moste", "Rotweine", "red wine")


@case
def italian_labels_of_matrices_in_the_plural() -> Case:
    return _plurals("Uve", "Mosti", "Vini bianchi", "white wine")


BLOCKS = """
Sample ID: | T-1
Matrix:    | Red wine
Panel:     | Free volatile phenols
Analyte    | Result | Unit | LOD | U (k=2)
Guaiacol   | 12.5   | µg/L | 0.5 | 2.5
Phenol     | ND     | µg/L | 0.5 |

Sample ID: | T-2
Matrix:    | Red wine
Panel:     | Total volatile phenols
Analyte    | Result | Unit | LOD | U (k=2)
Guaiacol   | 42.5   | µg/L | 0.5 | 8.5
Phenol     | 7.5    | µg/L | 0.5 | 1.5
"""


@case
def list_for_each_sample_with_its_panel_above() -> Case:
    expected = cells("""
        B5 guaiacol free T-1 12.5
        B6 phenol free T-1 [0,0.5]
        B12 guaiacol total T-2 42.5
        B13 phenol total T-2 7.5
    """)
    return Case(book(("Results", BLOCKS)), more(expected, "Results!B12", expanded_uncertainty=8.5))


@case
def forms_beside_the_heading_for_the_names() -> Case:
    # The samples stand above, each over its free and its total.
    text = """
Sample   | S1   |       | S2   |
Compound | Free | Total | Free | Total
Guaiacol | 1.5  | 4.5   | 2.5  | 6.5
Phenol   | 3.5  | 5.5   | 3.25 | 7.5
"""
    expected = cells("""
        B4 guaiacol free S1 1.5
        C4 guaiacol total S1 4.5
        D4 guaiacol free S2 2.5
        E4 guaiacol total S2 6.5
        B5 phenol free S1 3.5
        C5 phenol total S1 5.5
        D5 phenol free S2 3.25
        E5 phenol total S2 7.5
    """)
    return Case(drawn(text, "Results in µg/L\n"), expected)


@case
def forms_beside_the_unit_below_merged_names() -> Case:
    text = """
Sample   | S1    |       | S2    |
Matrix   | Grape |       | Grape |
µg/kg    | Free  | Total | Free  | Ratio
Guaiacol | 1.5   | 4.5   | 2.5   | 6.5
"""
    expected = cells("""
        B4 guaiacol free S1 1.5 ug/kg
        C4 guaiacol total S1 4.5 ug/kg
        D4 guaiacol free S2 2.5 ug/kg
        E4 !form_unknown
    """)
    return Case(book(("Results", text.lstrip()), merge=["B1:C1", "D1:E1"]), expected)


@case
def names_centred_over_their_forms() -> Case:
    # Without a merged cell, nothing says over which columns a name stands.
    text = """
Sample   |      | S1    |       |      | S2    |
Compound | Free | Bound | Total | Free | Bound | Total
Guaiacol | 1    | 2     | 3     | 4    | 5     | 6
"""
    expected = cells("""
        B4 !sample_missing
        C4 guaiacol bound S1 2
        D4 !sample_missing
        E4 !sample_missing
        F4 guaiacol bound S2 5
        G4 !sample_missing
    """)
    return Case(drawn(text, "Results in µg/L\n"), expected)


EXPORT = """
N.º informe;Versión;Fecha emisión;Cliente;Referencia cliente;Código muestra;Fecha toma;Parámetro;Fracción;Resultado;Unidad
PE-1;2;20/03/2026;Bodega;DEP-1;26/001;17/02/2026;Guayacol;Libre;12,5;µg/L
PE-1;2;20/03/2026;Bodega;DEP-1;26/001;17/02/2026;Fenol;Libre;7,5;µg/L
"""


@case
def export_that_names_report_and_revision_on_each_line() -> Case:
    sheet = "report"
    expected = cells("J2 guaiacol free DEP-1 12.5\nJ3 phenol free DEP-1 7.5", sheet=sheet)
    expected = more(expected, f"{sheet}!J2", lab_sample_id="26/001")
    facts = {"report_no": "PE-1", "revision": "2"}
    return Case(EXPORT.lstrip().encode(), expected, "report.csv", facts=facts)


@case
def export_with_headings_that_nobody_knows_beside_labels() -> Case:
    # "Version" is a column here; the heading behind it is not what it says.
    text = """
Report no. | Version | Zulu | Sample | Compound | Free (µg/L) | Yankee | Issued
R-7        | 3       | a    | S1     | Guaiacol | 1.5         | b      | 2026-03-04
R-7        | 3       | a    | S1     | Phenol   | 2.5         | b      | 2026-03-04
"""
    expected = cells("F2 guaiacol free S1 1.5\nF3 phenol free S1 2.5")
    facts = {"report_no": "R-7", "revision": "3"}
    return Case(book(("Results", text.lstrip())), expected, facts=facts)


@case
def german_client_name_beside_the_number() -> Case:
    text = """
Proben-Nr. | Kundenbezeichnung | Guajakol | Phenol
26-770     | Lage Nord         | 1.5      | 2.5
"""
    expected = crossing("C3", G_P, "free", {"Lage Nord": "1.5 2.5"})
    return Case(
        drawn(text, "Freie flüchtige Phenole (µg/l)\n"),
        more(expected, "Results!C3", lab_sample_id="26-770"),
    )


@case
def portuguese_limits_in_the_newer_spelling() -> Case:
    text = """
Amostra                 | Guaiacol | Fenol
Limite de deteção       | 0.2      | 0.2
Limite de quantificação | 0.5      | 0.5
A1                      | N.D.     | 2.5
"""
    expected = crossing("B5", G_P, "free", {"A1": "[0,0.2] 2.5"})
    return Case(drawn(text, "Fenóis voláteis livres (µg/L)\n"), expected)


@case
def wines_bound_for_somewhere() -> Case:
    text = """
Sample | Guaiacol | Phenol
S1     | 1.5      | 2.5
"""
    expected = cells("B3 !form_unknown\nC3 !form_unknown")
    return Case(drawn(text, "Smoke phenols (µg/L), wines bound for export\n"), expected)


@case
def number_of_the_registry_after_its_name() -> Case:
    text = """
Sample | CAS 90-05-1 | CAS-Nr. 106-44-5
S1     | 1.5         | 2.5
"""
    expected = crossing("B3", "guaiacol p-cresol", "free", {"S1": "1.5 2.5"})
    return Case(drawn(text, "Free volatile phenols (µg/L)\n"), expected)


@case
def line_of_units_that_nobody_knows() -> Case:
    text = """
Sample | Guaiacol       | Phenol
       | µg/kg of stems | ng/g f.w.
S1     | 1.5            | 2.5
"""
    expected = cells("B4 !unit_unknown\nC4 phenol free S1 2.5 ug/kg")
    return Case(drawn(text, "Free volatile phenols\n"), expected)


@case
def units_above_the_headings_of_each_block() -> Case:
    text = """
Free volatile phenols
       | µg/L     | µg/L
Sample | Guaiacol | Phenol
S1     | 1.5      | 2.5

Total volatile phenols
       | mg/L     | mg/L
Sample | Guaiacol | Phenol
S1     | 0.0045   | 0.0075
"""
    expected = crossing("B4", G_P, "free", {"S1": "1.5 2.5"})
    expected |= crossing("B9", G_P, "total", {"S1": "4.5 7.5"})
    return Case(book(("Results", text.lstrip())), expected)


@case
def heading_that_may_be_phenol_or_ph() -> Case:
    text = """
Sample | Gu  | Ph  | pH
S1     | 1.5 | 4.2 | 3.5
"""
    expected = cells("B3 guaiacol free S1 1.5\nC3 !analyte_unknown\nD3 scope")
    return Case(drawn(text, "Free volatile phenols (µg/L)\n"), expected)


def _dated(heading: str, *days: str) -> bytes:
    lines = "\n".join(f"S{i} | {day} | {i}.5" for i, day in enumerate(days, start=1))
    return drawn(f"Sample | {heading} | Guaiacol\n{lines}\n", "Free volatile phenols (µg/L)\n")


@case
def order_of_days_in_the_heading() -> Case:
    expected = cells("C3 guaiacol free S1 1.5\nC4 guaiacol free S2 2.5")
    expected = more(expected, "Results!C3", sampled_on=date(2026, 4, 3))
    content = _dated("Sampled (dd/mm/yyyy)", "03/04/2026", "05/04/2026")
    return Case(content, more(expected, "Results!C4", sampled_on=date(2026, 4, 5)))


@case
def month_first_in_the_heading() -> Case:
    expected = cells("C3 guaiacol free S1 1.5")
    expected = more(expected, "Results!C3", sampled_on=date(2026, 3, 4))
    return Case(_dated("Date sampled [MM/DD/YYYY]", "03/04/2026"), expected)


@case
def order_of_days_that_the_days_deny() -> Case:
    # 03/24 has the month first, whatever the heading says.
    expected = cells("C3 guaiacol free S1 1.5\nC4 guaiacol free S2 2.5")
    expected = more(expected, "Results!C3", sampled_on=date(2026, 3, 24))
    content = _dated("Sampled (dd/mm/yyyy)", "03/24/2026", "03/04/2026")
    return Case(content, more(expected, "Results!C4", sampled_on=date(2026, 3, 4)))


@case
def two_orders_of_days_are_stated() -> Case:
    text = """
Free volatile phenols (µg/L)
Sample | Sampled (dd/mm/yyyy) | Received (mm/dd/yyyy) | Guaiacol
S1     | 03/04/2026           | 05/06/2026            | 1.5
"""
    return Case(book(("Results", text.lstrip())), cells("D3 !date_ambiguous"))


@case
def text_encoded_twice() -> Case:
    text = "Phénols volatils libres (µg/L);;\nÉchantillon;Gaïacol;Phénol\nCuve à 3;1,5;2,5\n"
    content = text.encode().decode("cp1252").encode()
    expected = crossing("B3", G_P, "free", {"Cuve à 3": "1.5 2.5"}, sheet="report")
    return Case(content, expected, "report.csv", notices=("twice",))


@case
def text_that_only_looks_encoded_twice() -> Case:
    # A name such as "SÃO" is what it is; so is all the rest.
    text = "Fenóis voláteis livres (µg/L);;\nAmostra;Guaiacol;Fenol\nSÃO MARÇAL;1,5;2,5\n"
    expected = crossing("B3", G_P, "free", {"SÃO MARÇAL": "1.5 2.5"}, sheet="report")
    return Case(text.encode(), expected, "report.csv")


@case
def forms_that_are_denied() -> Case:
    text = """
Sample | Guaiacol, nicht gebunden (µg/l) | Phenol, non-conjugated (µg/L) | Syringol, gebunden (µg/l)
S1     | 1.5                             | 2.5                           | 3.5
"""
    expected = cells("""
        B2 guaiacol free S1 1.5
        C2 phenol free S1 2.5
        D2 syringol bound S1 3.5
    """)
    return Case(book(("Results", text.lstrip())), expected)


@case
def more_samples_below_under_the_same_title() -> Case:
    text = """
Free volatile phenols (µg/L)
Compound | S1  | S2
Guaiacol | 1.5 | 2.5
Phenol   | 3.5 | 4.5

Compound | S3  | S4
Guaiacol | 5.5 | 6.5
Phenol   | 7.5 | 8.5
"""
    expected = crossing("B3", G_P, "free", {"S1": "1.5 3.5", "S2": "2.5 4.5"}, down=True)
    expected |= crossing("B7", G_P, "free", {"S3": "5.5 7.5", "S4": "6.5 8.5"}, down=True)
    return Case(book(("Results", text.lstrip())), expected)


@case
def more_samples_under_a_title_that_nobody_knows() -> Case:
    text = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Phenol
S1     | 1.5      | 2.5

After enzyme treatment
Sample | Guaiacol | Phenol
S2     | 3.5      | 4.5
"""
    expected = crossing("B3", G_P, "free", {"S1": "1.5 2.5"})
    held = cells("B7 !form_unknown\nC7 !form_unknown")
    return Case(book(("Results", text.lstrip())), expected | held)


@case
def more_samples_on_the_next_page() -> Case:
    text = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Phenol
S1     | 1.5      | 2.5
Page 1 of 2
Results continued
Sample | Guaiacol | Phenol
S2     | 3.5      | 4.5
"""
    expected = crossing("B3", G_P, "free", {"S1": "1.5 2.5"})
    return Case(
        book(("Results", text.lstrip())), expected | crossing("B7", G_P, "free", {"S2": "3.5 4.5"})
    )


@case
def sums_in_six_languages() -> Case:
    text = """
Sample | Guaiacol | Sum of analytes | Suma de fenoles | Somma fenoli volatili | Summe der Phenole
S1     | 1.5      | 9.5             | 9.5             | 9.5                   | 9.5
"""
    expected = cells("B3 guaiacol free S1 1.5\nC3 scope\nD3 scope\nE3 scope\nF3 scope")
    return Case(drawn(text, "Free volatile phenols (µg/L)\n"), expected)


@case
def label_in_a_list_that_nobody_knows() -> Case:
    text = """
Sample  | S1     |
Analyte | Result | Unit
Free volatile phenols
Guaiacol | 1.5   | µg/L
(continued)
Phenol   | 2.5   | µg/L
Enzyme released
Syringol | 3.5   | µg/L
"""
    expected = cells("B4 guaiacol free S1 1.5\nB6 phenol free S1 2.5\nB8 !form_unknown")
    return Case(book(("Results", text.lstrip())), expected)


@case
def groups_of_analytes_under_one_form() -> Case:
    text = """
Sample  | S1     |
Analyte | Result | Unit
Free volatile phenols
Guaiacol group
Guaiacol | 1.5   | µg/L
Others
Phenol   | 2.5   | µg/L
Total volatile phenols
Cresols
o-Cresol | 3.5   | µg/L
"""
    expected = cells("""
        B5 guaiacol free S1 1.5
        B7 phenol free S1 2.5
        B10 o-cresol total S1 3.5
    """)
    return Case(book(("Results", text.lstrip())), expected)


@case
def blocks_under_one_title_each_below_its_sample() -> Case:
    text = """
Free volatile phenols (µg/L)
Sample ID: | T-1
Analyte    | Result | LOD
Guaiacol   | 1.5    | 0.5
Phenol     | 2.5    | 0.5

Sample ID: | T-2
Analyte    | Result | LOD
Guaiacol   | 3.5    | 0.5
Phenol     | ND     | 0.5
"""
    expected = cells("""
        B4 guaiacol free T-1 1.5
        B5 phenol free T-1 2.5
        B9 guaiacol free T-2 3.5
        B10 phenol free T-2 [0,0.5]
    """)
    return Case(book(("Results", text.lstrip())), expected)
