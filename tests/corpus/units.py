"""Units: where they are printed, how they are spelled, and what fits which matrix."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_O = "guaiacol o-cresol"


@case
def unit_in_its_own_row() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol | o-Cresol
       | mg/L     | ng/L
S1     | 0.012    | 900
"""
    return Case(book(("Results", drawn)), crossing("B4", G_O, "free", {"S1": "12 0.9"}))


@case
def unit_in_a_labelled_row() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol | o-Cresol
Unit   | µg/L     | mg/L
S1     | 12       | 0.004
"""
    return Case(book(("Results", drawn)), crossing("B4", G_O, "free", {"S1": "12 4"}))


@case
def unit_in_its_own_column_per_row() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Unit
A1     | Guaiacol | free | 0.012  | mg/L
A1     | Syringol | free | 13     | ug/L
A1     | o-Cresol | free | 14     | ng/mL
A1     | p-Cresol | free | 1500   | ng/L
"""
    expected = cells("""
D2 guaiacol free A1 12
D3 syringol free A1 13
D4 o-cresol free A1 14
D5 p-cresol free A1 1.5
""")
    return Case(book(("Results", drawn)), expected)


@case
def unit_in_the_sheet_name() -> Case:
    drawn = """
Sample | Free guaiacol | Free o-cresol
S1     | 12            | 4
"""
    sheet = "Wine ug per L"
    return Case(book((sheet, drawn)), crossing("B2", G_O, "free", {"S1": "12 4"}, sheet))


@case
def unit_in_a_line_of_its_own() -> Case:
    drawn = """
All results in mg/L

Sample | Free guaiacol | Free o-cresol
S1     | 0.012         | 0.004
"""
    return Case(book(("Results", drawn)), crossing("B4", G_O, "free", {"S1": "12 4"}))


@case
def spellings_of_micrograms_per_litre() -> Case:
    spelled = ["µg/L", "μg/L", "ug/l", "µg L-1", "µg·L⁻¹", "mcg/L", "ug/litre", "ng/mL", "µg/dm3",
               "UG/L", "µg / L", "µg per litre", "µg.L-1", "μg l⁻¹"]  # fmt: skip
    lines = "\n".join(f"A1-{n} | Guaiacol | free | {n} | {u}" for n, u in enumerate(spelled, 1))
    expected = cells("\n".join(f"D{n + 1} guaiacol free A1-{n} {n}" for n in range(1, 15)))
    return Case(book(("Results", f"Sample | Analyte | Form | Result | Unit\n{lines}")), expected)


@case
def spellings_of_other_units_in_wine() -> Case:
    spelled = [("mg/L", 1000), ("mg/l", 1000), ("ng/L", 0.001), ("µg/mL", 1000), ("pg/mL", 0.001),
               ("mg L-1", 1000), ("ng·L⁻¹", 0.001), ("g/L", 1e6)]  # fmt: skip
    lines = "\n".join(
        f"A1-{n} | Guaiacol | free | 0.5 | {u}" for n, (u, _) in enumerate(spelled, 1)
    )
    expected = cells(
        "\n".join(f"D{n + 1} guaiacol free A1-{n} {0.5 * f}" for n, (_, f) in enumerate(spelled, 1))
    )
    return Case(book(("Results", f"Sample | Analyte | Form | Result | Unit\n{lines}")), expected)


@case
def spellings_of_units_in_grapes() -> Case:
    spelled = [("µg/kg", 1), ("ug/Kg", 1), ("ng/g", 1), ("mg/kg", 1000), ("µg kg-1", 1),
               ("µg·kg⁻¹", 1), ("ng/kg", 0.001), ("µg/g", 1000), ("ng g-1", 1), ("ppb", 1)]  # fmt: skip
    lines = "\n".join(
        f"A1-{n} | Grapes | Guaiacol | free | 0.5 | {u}" for n, (u, _) in enumerate(spelled, 1)
    )
    expected = cells(
        "\n".join(
            f"E{n + 1} guaiacol free A1-{n} {0.5 * f}" for n, (_, f) in enumerate(spelled, 1)
        ),
        unit="ug/kg",
    )
    head = "Sample | Matrix | Analyte | Form | Result | Unit"
    return Case(book(("Results", f"{head}\n{lines}")), expected)


@case
def molar_units() -> Case:
    # guaiacol C7H8O2 124.139 g/mol, o-cresol C7H8O 108.140 g/mol (IUPAC/CIAAW 2021 weights)
    drawn = """
Free volatile phenols
Sample | Guaiacol (nmol/L) | o-Cresol (µmol/L)
S1     | 100               | 0.2
"""
    return Case(book(("Results", drawn)), crossing("B3", G_O, "free", {"S1": "12.4139 21.628"}))


@case
def unit_missing() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol | o-Cresol (µg/L)
S1     | 12       | 4
"""
    expected = cells("B3 !unit_missing\nC3 o-cresol free S1 4")
    return Case(book(("Results", drawn)), expected, hints={"Results!B3": "gives ug/L elsewhere"})


@case
def unit_unknown() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol (µg/bottle) | o-Cresol (µg/L)
S1     | 12                   | 4
"""
    expected = cells("B3 !unit_unknown\nC3 o-cresol free S1 4")
    return Case(book(("Results", drawn)), expected)


@case
def two_units_in_conflict() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol (µg/L) | o-Cresol (µg/L)
Unit   | mg/L            | µg/L
S1     | 12              | 4
"""
    expected = cells("B4 !unit_conflict\nC4 o-cresol free S1 4")
    return Case(book(("Results", drawn)), expected)


@case
def title_unit_and_other_column_unit() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol (mg/L)
S1     | 12       | 0.004
"""
    # The column's own heading is nearer than the title; either it wins or the value is held.
    expected = cells("B3 guaiacol free S1 12\nC3 o-cresol free S1 4")
    return Case(book(("Results", drawn)), expected)


@case
def units_that_are_more_than_a_unit() -> Case:
    spelled = ["10^-6 g/L", "10-6 g/L", "x10 µg/L", "?g/L", "µg/kg DW", "µg/berry", "µg/100 mL", "µg",
               "Mg/L", "%", "µg/L/kg"]  # fmt: skip
    lines = "\n".join(f"A1-{n} | Guaiacol | free | 0.5 | {u}" for n, u in enumerate(spelled, 1))
    expected = cells("\n".join(f"D{n + 1} !unit_unknown" for n in range(2, len(spelled) + 1)))
    # A power of ten before a unit multiplies it: a millionth of a gram (SI Brochure, 9th ed., 5.4).
    expected |= cells("D2 guaiacol free A1-1 0.5")
    return Case(book(("Results", f"Sample | Analyte | Form | Result | Unit\n{lines}")), expected)


@case
def multiples_of_a_unit_in_a_title() -> Case:
    drawn = """
Free volatile phenols (10-6 g/L)
Sample | Guaiacol | o-Cresol
S1     | 12       | 4
"""
    return Case(book(("Results", drawn)), cells("B3 !unit_unknown\nC3 !unit_unknown"))


@case
def unit_behind_the_word_results() -> Case:
    drawn = """
Results (µg/L)
Sample | Free guaiacol | Free o-cresol
S1     | 12            | 4
"""
    return Case(book(("Results", drawn)), crossing("B3", G_O, "free", {"S1": "12 4"}))


@case
def unknown_units_in_the_headings() -> Case:
    drawn = """
Sample | Free guaiacol (arb. units) | Syringol, free [furlong] | Free o-cresol (µg/L)
S1     | 5                          | 6                        | 7
"""
    expected = cells("B2 !unit_unknown\nC2 !unit_unknown\nD2 o-cresol free S1 7")
    return Case(book(("Results", drawn)), expected)


@case
def unknown_units_in_the_headings_of_names_down() -> Case:
    drawn = """
Free volatile phenols
Analyte             | S1 | S2
Guaiacol (counts)   | 5  | 6
Syringol (µg/L)     | 7  | 8
"""
    expected = cells("B3 !unit_unknown\nC3 !unit_unknown")
    expected |= cells("B4 syringol free S1 7\nC4 syringol free S2 8")
    return Case(book(("Results", drawn)), expected)


@case
def parts_per_billion_of_quality_control_beside_wines() -> Case:
    drawn = """
Free volatile phenols (ppb)
Sample       | Matrix   | Guaiacol | Syringol
S1           | Red wine | 5        | 3
Method blank |          | <0.5     | nd
LCS          |          | 15       | 14
LOD          |          | 0.2      | 0.3
"""
    expected = crossing("C3", "guaiacol syringol", "free", {"S1": "5 3"})
    expected |= crossing(
        "C4", "guaiacol syringol", "free", {"Method blank": "blank:[0,0.5] blank:[0,0.3]"}
    )
    expected |= crossing("C5", "guaiacol syringol", "free", {"LCS": "control:15 control:14"})
    return Case(book(("Results", drawn)), expected)


@case
def parts_per_billion_of_quality_control_beside_wine_and_grapes() -> Case:
    drawn = """
Free volatile phenols (ppb)
Sample       | Matrix   | Guaiacol
S1           | Red wine | 5
S2           | Grapes   | 7
Method blank |          | <0.5
"""
    # A blank of the wines would be per litre, one of the grapes per kilogram.
    expected = cells("C3 guaiacol free S1 5\nC4 guaiacol free S2 7 ug/kg\nC5 !unit_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def molar_unit_in_the_sheet_name() -> Case:
    # guaiacol C7H8O2 124.139 g/mol, o-cresol C7H8O 108.140 g/mol (IUPAC/CIAAW 2021 weights)
    drawn = """
Sample | Free guaiacol | Free o-cresol
S1     | 100           | 200
"""
    sheet = "Wine nmol per L"
    return Case(book((sheet, drawn)), crossing("B2", G_O, "free", {"S1": "12.4139 21.628"}, sheet))


@case
def units_in_the_cells_of_stacked_tables() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol  | o-Cresol
S1     | 1.5 µg/L  | <LOD (0.2 µg/L)

Total volatile phenols
Sample | o-Cresol  | Guaiacol
S1     | 0.02 mg/L | 30 µg/L
"""
    expected = crossing("B3", G_O, "free", {"S1": "1.5 [0,0.2]"})
    expected |= crossing("B7", "o-cresol guaiacol", "total", {"S1": "20 30"})
    return Case(book(("Results", drawn)), expected)


def _inside_the_unit(unit: str) -> bytes:
    drawn = f"""
Glycosides
Sample | Guaiacol rutinoside ({unit})
W-1    | 4
"""
    return book(("Results", drawn))


@case
def equivalents_inside_the_unit() -> Case:
    expected = cells('B3 "guaiacol rutinoside" bound W-1 4')
    expected = more(expected, "Results!B3", expressed_as="syringol gentiobioside")
    return Case(_inside_the_unit("µg SyGG eq./L"), expected)


@case
def equivalents_of_something_unknown_inside_the_unit() -> Case:
    return Case(_inside_the_unit("µg internal standard eq./L"), cells("B3 !unit_unknown"))


@case
def a_substance_inside_the_unit_without_a_word() -> Case:
    # Nothing says that it is the mass of the other substance.
    return Case(_inside_the_unit("µg SyGG/L"), cells("B3 !unit_unknown"))
