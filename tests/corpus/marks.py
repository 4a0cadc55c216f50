"""Signs and letters in columns of their own, under no heading or under one nobody understands."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"
TITLE = "Free volatile phenols (µg/L)\n"


@case
def signs_before_the_results_without_a_heading() -> Case:
    drawn = """
Sample |   | Guaiacol |   | Syringol
S1     | < | 5        |   | 3
S2     |   | 6        | < | 2
"""
    expected = cells("""
        C3 guaiacol free S1 [0,5]
        E3 syringol free S1 3
        C4 guaiacol free S2 6
        E4 syringol free S2 [0,2]
    """)
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def letters_behind_the_results_without_a_heading() -> Case:
    drawn = """
Sample | Guaiacol |   | Syringol |
S1     | 5        | U | 3        |
S2     | 6        |   | 2        | J
S3     | 7        | R | 4        |
"""
    expected = cells("""
        B3 guaiacol free S1 [0,5]
        D3 syringol free S1 3
        B4 guaiacol free S2 6
        D4 syringol free S2 ~2
        B5 !rejected_by_laboratory
        D5 syringol free S3 4
    """)
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def a_letter_between_two_results() -> Case:
    drawn = """
Sample | Guaiacol |   | Syringol
S1     | 5        | U | 3
S2     | 6        |   | 2
"""
    # Nothing tells whose letter it is.
    expected = cells("""
        B3 !number_ambiguous
        D3 !number_ambiguous
        B4 guaiacol free S2 6
        D4 syringol free S2 2
    """)
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def letters_under_headings_nobody_understands() -> Case:
    drawn = """
Sample | Guaiacol | Zq | Syringol | Zq
S1     | 5        | U  | 3        |
S2     | 6        |    | 2        | R
S3     | 7        | ND | 4        |
"""
    expected = cells("""
        B3 !number_ambiguous
        D3 syringol free S1 3
        B4 guaiacol free S2 6
        D4 !number_ambiguous
        B5 !number_ambiguous
        D5 syringol free S3 4
    """)
    notices = ('column C ("Zq")', 'column E ("Zq")')
    return Case(book(("Results", TITLE + drawn.lstrip())), expected, notices=notices)


@case
def an_unknown_analyte_that_was_never_detected() -> Case:
    drawn = """
Sample | Guaiacol | Zingerol | Syringol
S1     | 5        | nd       | 3
S2     | 6        | nd       | 2
"""
    expected = cells("C3 !analyte_unknown\nC4 !analyte_unknown")
    expected |= cells("B3 guaiacol free S1 5\nD3 syringol free S1 3")
    expected |= cells("B4 guaiacol free S2 6\nD4 syringol free S2 2")
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def letters_beside_samples_across() -> Case:
    drawn = """
Analyte  | W-1 |   | W-2 |
Guaiacol | 5   | U | 3   |
Syringol | 6   |   | 2   | R
"""
    expected = cells("""
        B3 guaiacol free W-1 [0,5]
        D3 guaiacol free W-2 3
        B4 syringol free W-1 6
        D4 !rejected_by_laboratory
    """)
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def headed_letters_beside_samples_across() -> Case:
    drawn = """
Analyte  | W-1 | Qual | W-2 | Qual
Guaiacol | 5   | U    | 3   |
Syringol | 6   |      | 2   | J
"""
    expected = cells("""
        B3 guaiacol free W-1 [0,5]
        D3 guaiacol free W-2 3
        B4 syringol free W-1 6
        D4 syringol free W-2 ~2
    """)
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def signs_before_samples_across() -> Case:
    drawn = """
Analyte  |   | W-1 |   | W-2
Guaiacol | < | 5   |   | 3
Syringol |   | 6   | < | 2
"""
    expected = crossing("C3", G_S, "free", {"W-1": "[0,5] 6"}, down=True)
    expected |= crossing("E3", G_S, "free", {"W-2": "3 [0,2]"}, down=True)
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def letters_in_a_list_without_a_heading() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Unit |
S1     | Guaiacol | free | 5      | µg/L | U
S1     | Syringol | free | 6      | µg/L |
S2     | Guaiacol | free | 7      | µg/L | E
"""
    expected = cells("""
        D2 guaiacol free S1 [0,5]
        D3 syringol free S1 6
        D4 !number_ambiguous
    """)
    return Case(book(("Results", drawn)), expected)


@case
def signs_in_a_list_under_an_unknown_heading() -> Case:
    drawn = """
Sample | Analyte  | Form | Zq | Result | Unit
S1     | Guaiacol | free | <  | 5      | µg/L
S1     | Syringol | free |    | 6      | µg/L
"""
    expected = cells("E2 guaiacol free S1 [0,5]\nE3 syringol free S1 6")
    return Case(book(("Results", drawn)), expected)


@case
def a_mark_and_a_remark() -> Case:
    drawn = """
Sample | Analyte  | Form | Zq | Result | Unit | Remark
S1     | Guaiacol | free | <  | 5      | µg/L | see note
S1     | Syringol | free |    | 6      | µg/L |
"""
    return Case(book(("Results", drawn)), cells("E2 !number_ambiguous\nE3 syringol free S1 6"))


@case
def list_with_every_kind_of_column() -> Case:
    drawn = """
Sample | Matrix   | Analyte  | Form  | Sign | Result | Unit | LOD | LOQ | U (k=2) | Qualifier
S1     | Red wine | Guaiacol | free  |      | 5      | µg/L | 0.2 | 0.7 | 1       |
S1     | Red wine | Syringol | free  | <    | 6      | µg/L | 0.3 | 1   |         |
S1     | Red wine | Guaiacol | total |      | 40     | µg/L | 0.2 | 0.7 | 8       | J
S2     | Red wine | Guaiacol | free  |      | 9      | µg/L | 0.2 | 0.7 | 2       | R
"""
    expected = cells("""
        F2 guaiacol free S1 5
        F3 syringol free S1 [0,6]
        F4 guaiacol total S1 ~40
        F5 !rejected_by_laboratory
    """)
    return Case(book(("Results", drawn)), expected)


@case
def every_kind_of_column_beside_one_result() -> Case:
    drawn = """
Free volatile phenols
Sample | Matrix   | Sign | Guaiacol | Unit | LOD | ±   | Qual | Sign | Syringol | Unit | LOD | ±   | Qual
S1     | Red wine | <    | 5        | µg/L | 0.2 |     |      |      | 6        | µg/L | 0.3 | 1.5 | J
S2     | Red wine |      | 7        | µg/L | 0.2 | 2   | R    | <    | 8        | µg/L | 0.3 |     |
S3     | Red wine |      | 9        | µg/L | 0.2 | 3   |      |      | 4        | µg/L | 0.3 | 1   |
"""
    expected = cells("""
        D3 guaiacol free S1 [0,5]
        J3 syringol free S1 ~6
        D4 !rejected_by_laboratory
        J4 syringol free S2 [0,8]
        D5 guaiacol free S3 9
        J5 syringol free S3 4
    """)
    return Case(book(("Results", drawn)), expected)


@case
def every_kind_of_column_beside_names_down() -> Case:
    drawn = """
Free volatile phenols
Analyte  | Unit | LOD | LOQ | S1 | Qual | S2 | Qual
Guaiacol | µg/L | 0.2 | 0.7 | 5  | J    | 7  |
Syringol | µg/L | 0.3 | 1   | 6  |      | 8  | R
o-Cresol | µg/L | 0.4 | 2   | nd |      | 9  |
"""
    expected = cells("""
        E3 guaiacol free S1 ~5
        G3 guaiacol free S2 7
        E4 syringol free S1 6
        G4 !rejected_by_laboratory
        E5 o-cresol free S1 [0,0.4]
        G5 o-cresol free S2 9
    """)
    return Case(book(("Results", drawn)), expected)


@case
def units_between_the_results_without_a_heading() -> Case:
    drawn = """
Sample | Guaiacol |      | Syringol | Unit
S1     | 5        | mg/L | 6        | µg/L
"""
    expected = cells("B3 guaiacol free S1 5000\nD3 syringol free S1 6")
    return Case(book(("Results", "Free volatile phenols\n" + drawn.lstrip())), expected)


@case
def a_limit_whose_neighbour_lost_its_heading() -> Case:
    drawn = """
Sample | Guaiacol |     | Syringol | LOD
S1     | nd       | 0.2 | nd       | 0.3
"""
    # The second limit is syringol's; guaiacol's own stands under no heading.
    expected = cells("B3 !limit_unknown\nC3 !analyte_unknown\nD3 syringol free S1 [0,0.3]")
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def one_remark_for_several_results() -> Case:
    drawn = """
No. | Sample | Guaiacol | Syringol | Remarks
1   | W-1    | 1.5      | 2        | R
2   | W-2    | 3        | 4        |
"""
    # Rejected is the first, the second or both.
    expected = cells("C3 !number_ambiguous\nD3 !number_ambiguous")
    expected |= cells("C4 guaiacol free W-2 3\nD4 syringol free W-2 4")
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)


@case
def signs_and_letters_under_one_heading() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L) | Qual | Total guaiacol (µg/L) | Qual
W-1    | 1.5                  | <    | 20                    | J
W-2    | 2                    |      | 30                    |
"""
    expected = cells("""
        B2 guaiacol free W-1 [0,1.5]
        D2 guaiacol total W-1 ~20
        B3 guaiacol free W-2 2
        D3 guaiacol total W-2 30
    """)
    return Case(book(("Results", drawn)), expected)


@case
def marks_under_the_names_of_their_analytes() -> Case:
    drawn = """
Sample | Guaiacol flag | Guaiacol | Syringol flag | Syringol
W-1    | <             | 1.5      |               | 2
W-2    |               | 3        | J             | 4
"""
    expected = cells("""
        C3 guaiacol free W-1 [0,1.5]
        E3 syringol free W-1 2
        C4 guaiacol free W-2 3
        E4 syringol free W-2 ~4
    """)
    return Case(book(("Results", TITLE + drawn.lstrip())), expected)
