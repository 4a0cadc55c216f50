"""Headers of forms alone, and what names the only sample of a report."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, Value, case, cells, crossing

FORMS = ("free", "bound", "total")


def block(
    first_row: int, analyte: str, numbers: list[str], sheet: str = "Results"
) -> dict[str, Value]:
    """Expect the samples S1, S2 ... under Free, Bound, Total (columns B, C, D)."""
    told = [
        f"{column}{first_row + i} {analyte} {form} S{i + 1} {number}"
        for i, line in enumerate(numbers)
        for column, form, number in zip("BCD", FORMS, line.split(), strict=True)
    ]
    return cells("\n".join(told), sheet)


@case
def analyte_as_title_over_its_forms() -> Case:
    drawn = """
Guaiacol (ug/L)
Sample | Free | Bound | Total
S1     | 1    | 2     | 3
S2     | 4    | <5    | 9

Syringol (mg/L)
Sample | Free | Bound | Total
S1     | 0.1  | 0.2   | 0.3
S2     | nd   | 0.5   | 0.9
LOD    | 0.05 | 0.05  | 0.05
"""
    expected = block(3, "guaiacol", ["1 2 3", "4 [0,5] 9"])
    expected |= block(8, "syringol", ["100 200 300", "[0,50] 500 900"])
    return Case(book(("Results", drawn)), expected)


@case
def analyte_on_the_tab_over_its_forms() -> Case:
    head = "Échantillon | Libre (µg/L) | Total (µg/L)"
    expected = {}
    for sheet, analyte, start in (("Gaïacol", "guaiacol", 1), ("o-Crésol", "o-cresol", 5)):
        told = f"""
            B2 {analyte} free E-1 {start}
            C2 {analyte} total E-1 {start + 1}
            B3 {analyte} free E-2 [0,0.5]
            C3 {analyte} total E-2 {start + 3}
        """
        expected |= cells(told, sheet)
    sheets = [
        (s, f"{head}\nE-1 | {n} | {n + 1}\nE-2 | <0,5 | {n + 3}")
        for s, n in (("Gaïacol", 1), ("o-Crésol", 5))
    ]
    return Case(book(*sheets), expected)


@case
def forms_without_any_analyte_are_refused() -> Case:
    drawn = "Sample | Free (ug/L) | Total (ug/L)\nS1 | 1 | 2"
    return Case(book(("Results", drawn)), refused=("no table of results",))


@case
def forms_in_a_line_below_the_names_with_nothing_found() -> Case:
    drawn = """
Sample | Guaiacol | Phenol  | Guaiacol
ID     | Free     | Free    | Bound
S1     | <1 ug/L  | <1 ug/L | <2 ug/L
"""
    expected = cells("""
        B3 guaiacol free S1 [0,1]
        C3 phenol free S1 [0,1]
        D3 guaiacol bound S1 [0,2]
    """)
    return Case(book(("Results", drawn)), expected)


@case
def forms_in_a_line_above_the_names_with_nothing_found() -> Case:
    drawn = """
   | Free            | Free          | Bound
ID | Guaiacol (ug/L) | Phenol (ug/L) | Guaiacol (ug/L)
S1 | <1              | <1            | <2
"""
    expected = cells("""
        B3 guaiacol free S1 [0,1]
        C3 phenol free S1 [0,1]
        D3 guaiacol bound S1 [0,2]
    """)
    return Case(book(("Results", drawn.strip("\n"))), expected)


@case
def forms_that_begin_over_the_samples() -> Case:
    # Over ID, guaiacol and phenol, or one column further right: nothing tells.
    drawn = """
Free | Free            | Bound         |
ID   | Guaiacol (ug/L) | Phenol (ug/L) | Guaiacol (ug/L)
S1   | <1              | <1            | <2
"""
    expected = crossing(
        "B3", "guaiacol phenol guaiacol", None, {"S1": " ".join(["!form_unknown"] * 3)}
    )
    return Case(book(("Results", drawn)), expected)


@case
def lot_as_the_only_name_of_the_sample() -> Case:
    drawn = """
Lot: L-1
Analyte  | Result (ug/L) | Form
Guaiacol | 1             | free
Phenol   | <2            | free
"""
    expected = cells("B3 guaiacol free L-1 1\nB4 phenol free L-1 [0,2]")
    return Case(book(("Results", drawn)), expected)


@case
def lot_above_two_lines_without_names() -> Case:
    drawn = """
Lotto: L-1
Guaiacolo libero (µg/L) | Fenolo libero (µg/L)
1                       | 2
3                       | 4
"""
    expected = crossing(
        "A3", "guaiacol phenol", "free",
        {"a": "!duplicate !duplicate", "b": "!duplicate !duplicate"},
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def letters_in_their_column_behind_each_uncertainty() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) | ±   | Q | Free phenol (ug/L) | ±   | Q
S1     | 1                    | 0.1 | J | 2                  | 0.3 | U
S2     | 3                    | 0.1 |   | 4                  | 0.3 |
"""
    expected = cells("""
        B2 guaiacol free S1 ~1
        E2 phenol free S1 [0,2]
        B3 guaiacol free S2 3
        E3 phenol free S2 4
    """)
    return Case(book(("Results", drawn)), expected)
