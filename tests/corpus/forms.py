"""Free, bound and total: told by title, heading, column, sheet name, or by nothing."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"


@case
def form_in_the_headings() -> Case:
    drawn = """
Volatile phenols, all results in µg/L
Sample | Guaiacol (free) | Guaiacol (bound) | total guaiacol | Syringol, free | Syringol - total
S1     | 1               | 9                | 10             | 2              | 20
"""
    expected = cells("""
B3 guaiacol free S1 1
C3 guaiacol bound S1 9
D3 guaiacol total S1 10
E3 syringol free S1 2
F3 syringol total S1 20
""")
    return Case(book(("Results", drawn)), expected)


@case
def form_unknown() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
"""
    return Case(book(("Results", drawn)), cells("B3 !form_unknown\nC3 !form_unknown"))


@case
def form_told_for_some_columns_only() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Free guaiacol | Guaiacol | Total syringol
S1     | 1             | 9        | 20
"""
    expected = cells("""
B3 guaiacol free S1 1
C3 !form_unknown
D3 syringol total S1 20
""")
    return Case(book(("Results", drawn)), expected)


@case
def glycosides_are_bound() -> Case:
    drawn = """
Phenolic glycosides by LC-MS/MS (µg/L)
Sample | SyGG | Guaiacol rutinoside | CrRG | MGuRG | PhRG
S1     | 40.7 | 12                  | 5    | <1    | 3
"""
    expected = crossing(
        "B3",
        ["syringol gentiobioside", "guaiacol rutinoside", "cresol rutinoside",
         "4-methylguaiacol rutinoside", "phenol rutinoside"],
        "bound",
        {"S1": "40.7 12 5 [0,1] 3"},
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def a_column_of_forms() -> Case:
    drawn = """
Sample | Form  | Guaiacol (µg/L) | Syringol (µg/L)
S1     | Free  | 1               | 2
S1     | Bound | 9               | 8
S1     | Total | 10              | 11
"""
    expected = cells("""
C2 guaiacol free S1 1
D2 syringol free S1 2
C3 guaiacol bound S1 9
D3 syringol bound S1 8
C4 guaiacol total S1 10
D4 syringol total S1 11
""")
    return Case(book(("Results", drawn)), expected)


@case
def columns_of_forms_beside_analytes_down() -> Case:
    drawn = """
Sample: TK-9
Results in µg/L
Analyte  | Free | Bound | Total
Guaiacol | 1    | 9     | 10
Syringol | 2    | 8     | 10
"""
    expected = cells("""
B4 guaiacol free TK-9 1
C4 guaiacol bound TK-9 9
D4 guaiacol total TK-9 10
B5 syringol free TK-9 2
C5 syringol bound TK-9 8
D5 syringol total TK-9 10
""")
    return Case(book(("Results", drawn)), expected)


@case
def samples_across_each_with_free_and_total() -> Case:
    drawn = """
Volatile phenols (µg/L)
Analyte  | T-1  |       | T-2  |
         | Free | Total | Free | Total
Guaiacol | 1    | 10    | 2    | 20
Syringol | 3    | 30    | 4    | 40
"""
    expected = cells("""
B4 guaiacol free  T-1 1
C4 guaiacol total T-1 10
D4 guaiacol free  T-2 2
E4 guaiacol total T-2 20
B5 syringol free  T-1 3
C5 syringol total T-1 30
D5 syringol free  T-2 4
E5 syringol total T-2 40
""")
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def unmerged_centred_titles() -> Case:
    drawn = """
       |          | Free (µg/L) |          | | Total (µg/L) |
Sample | Guaiacol | o-Cresol    | Syringol | Guaiacol | o-Cresol | Syringol
S1     | 1        | 2           | 3        | 10       | 20       | 30
"""
    # The titles stand over the middle of their panels; nothing tells where each one ends.
    expected = cells("""
B3 !form_unknown
C3 o-cresol free S1 2
D3 !form_unknown
E3 !form_unknown
F3 o-cresol total S1 20
G3 !form_unknown
""")
    return Case(book(("Results", drawn)), expected)


@case
def unmerged_titles_over_the_first_column() -> Case:
    drawn = """
       | Free (µg/L) |          | Total (µg/L) |
Sample | Guaiacol    | Syringol | Guaiacol     | Syringol
S1     | 1           | 2        | 10           | 20
"""
    expected = crossing("B3", G_S, "free", {"S1": "1 2"})
    expected |= crossing("D3", G_S, "total", {"S1": "10 20"})
    return Case(book(("Results", drawn)), expected)


@case
def a_column_of_forms_without_samples() -> Case:
    drawn = """
Sample: S1
Volatile phenols in µg/L
Form  | Guaiacol | Syringol
Free  | 1        | 2
Bound | 9        | 18
Total | 10       | 20
"""
    expected = cells("""
B4 guaiacol free S1 1
C4 syringol free S1 2
B5 guaiacol bound S1 9
C5 syringol bound S1 18
B6 guaiacol total S1 10
C6 syringol total S1 20
""")
    return Case(book(("Results", drawn)), expected)


@case
def forms_behind_the_sample_names() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample     | Guaiacol | Syringol
S1 (free)  | 1        | 2
S1 (total) | 10       | 20
S2 (free)  | 3        | 4
S2 (total) | 30       | 40
"""
    expected = cells("""
        B3 guaiacol free S1 1
        C3 syringol free S1 2
        B4 guaiacol total S1 10
        C4 syringol total S1 20
        B5 guaiacol free S2 3
        C5 syringol free S2 4
        B6 guaiacol total S2 30
        C6 syringol total S2 40
    """)
    return Case(book(("Results", drawn)), expected)


@case
def a_form_behind_the_name_against_the_title() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample     | Guaiacol | Syringol
S1 (free)  | 1        | 2
S1 (total) | 10       | 20
"""
    expected = cells("B3 guaiacol free S1 1\nC3 syringol free S1 2")
    expected |= cells("B4 !form_unknown\nC4 !form_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def a_name_that_ends_like_a_form() -> Case:
    drawn = """
Total volatile phenols (µg/L)
Sample     | Guaiacol | Syringol
Smoke free | 1        | 2
"""
    expected = cells('B3 guaiacol total "Smoke free" 1\nC3 syringol total "Smoke free" 2')
    return Case(book(("Results", drawn)), expected)
