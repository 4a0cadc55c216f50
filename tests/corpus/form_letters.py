"""Letters for forms that the sheet's legend explains."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

_READ = cells("""
B3 guaiacol free  W-1 1
C3 guaiacol total W-1 2
D3 syringol free  W-1 3
E3 syringol total W-1 4
""")


def _explained(legend: str, names: str = "Gu F | Gu T | Syringol F | Syringol T") -> bytes:
    drawn = f"""
Volatile phenols (µg/L)
Sample | {names}
W-1    | 1 | 2 | 3 | 4

{legend}
"""
    return book(("Results", drawn))


@case
def letters_for_forms_behind_names() -> Case:
    return Case(_explained("F = free, T = total, B = bound"), _READ)


@case
def letters_for_forms_in_brackets_explained_in_french() -> Case:
    names = "Gaïacol (L) | Gaïacol (T) | Syringol (L) | Syringol (T)"
    return Case(_explained("L : formes libres ; T : total", names), _READ)


@case
def letters_for_forms_explained_line_by_line_in_two_cells() -> Case:
    return Case(_explained("Abbreviations\nF | free\nT | total"), _READ)


@case
def letters_for_forms_explained_on_a_sheet_of_notes() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Gu F | Gu T | Syringol F | Syringol T
W-1    | 1    | 2    | 3          | 4
"""
    return Case(book(("Notes", "F = free form\nT = total form"), ("Results", drawn)), _READ)


@case
def letters_that_are_no_forms() -> Case:
    return Case(_explained("F = filtered, T = tank"), refused=("no table of results",))


@case
def letter_that_means_two_things() -> Case:
    legend = "F = free, T = total; samples: T = tank, W = barrel"
    expected = cells("""
    B3 guaiacol free W-1 1
    C3 !analyte_unknown
    D3 syringol free W-1 3
    E3 !analyte_unknown
    """)
    return Case(_explained(legend), expected)


@case
def letters_for_forms_below_the_names() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Guaiacol |   | Syringol |
       | F        | T | F        | T
W-1    | 1        | 2 | 3        | 4

F = free; T = total
"""
    expected = {f"Results!{k[-2]}4": v for k, v in _READ.items()}
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def letters_for_forms_in_a_list() -> Case:
    drawn = """
Sample | Analyte    | Form | Result (µg/L)
W-1    | Guaiacol   | F    | 3
W-1    | Guaiacol   | T    | 4
W-1    | Syringol   | F    | 5

F = free; T = total
"""
    expected = cells("""
    D2 guaiacol free  W-1 3
    D3 guaiacol total W-1 4
    D4 syringol free  W-1 5
    """)
    return Case(book(("Results", drawn)), expected)


@case
def samples_called_by_the_letters_of_forms() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Guaiacol F | Phenol F
F      | 3          | 4
T      | 5          | 6

F = free; T = total
"""
    expected = crossing("B3", "guaiacol phenol", "free", {"F": "3 4", "T": "5 6"})
    return Case(book(("Results", drawn)), expected)
