"""Samples that are named on their first line only."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing


@case
def one_sample_named_once_above_three_results() -> Case:
    drawn = """
Sample | Compound | Free (µg/L)
S1     | Guaiacol | 1
       | Phenol   | <2
       | Syringol | 3
"""
    expected = cells("""
        C2 guaiacol free S1 1
        C3 phenol free S1 [0,2]
        C4 syringol free S1 3
    """)
    return Case(book(("Results", drawn)), expected, notices=("first line",))


@case
def one_sample_named_once_above_two_results() -> Case:
    # Of two samples, the second may have lost its name.
    drawn = """
Sample | Compound | Free (µg/L)
S1     | Guaiacol | 1
       | Phenol   | 2
"""
    return Case(book(("Results", drawn)), cells("C2 guaiacol free S1 1\nC3 !sample_missing"))


@case
def group_that_repeats_an_analyte() -> Case:
    drawn = """
Sample | Compound | Free (µg/L)
S1     | Guaiacol | 1
       | Phenol   | 2
       | Guaiacol | 3
       | Phenol   | 4
S3     | Guaiacol | 5
       | Phenol   | 6
"""
    expected = cells("""
        C2 guaiacol free S1 1
        C3 !sample_missing
        C4 !sample_missing
        C5 !sample_missing
        C6 guaiacol free S3 5
        C7 !sample_missing
    """)
    return Case(book(("Results", drawn)), expected)


@case
def groups_that_begin_with_different_analytes() -> Case:
    # A sample between them could have lost its name: nothing would repeat.
    drawn = """
Sample | Compound | Free (µg/L)
S1     | Guaiacol | 1
       | Phenol   | 2
S2     | Syringol | 3
       | Eugenol  | 4
"""
    expected = cells("""
        C2 guaiacol free S1 1
        C3 !sample_missing
        C4 syringol free S2 3
        C5 !sample_missing
    """)
    return Case(book(("Results", drawn)), expected)


@case
def names_on_every_line_but_one() -> Case:
    drawn = """
Sample | Compound | Free (µg/L)
S1     | Guaiacol | 1
S1     | Phenol   | 2
       | Guaiacol | 3
S2     | Phenol   | 4
"""
    expected = cells("""
        C2 guaiacol free S1 1
        C3 phenol free S1 2
        C4 !sample_missing
        C5 phenol free S2 4
    """)
    return Case(book(("Results", drawn)), expected)


@case
def another_date_on_an_unnamed_line() -> Case:
    drawn = """
Sample | Sampled    | Compound | Free (µg/L)
S1     | 2025-10-01 | Guaiacol | 1
       | 2025-10-01 | Phenol   | 2
S2     | 2025-10-02 | Guaiacol | 3
       | 2025-10-09 | Phenol   | 4
"""
    expected = cells("""
        D2 guaiacol free S1 1
        D3 !sample_missing
        D4 guaiacol free S2 3
        D5 !sample_missing
    """)
    return Case(book(("Results", drawn)), expected)


@case
def empty_line_inside_a_group() -> Case:
    drawn = """
Sample | Compound | Free (µg/L)
S1     | Guaiacol | 1
       | Phenol   | 2

       | Syringol | 3
S2     | Guaiacol | 4
       | Phenol   | 5
"""
    expected = cells("""
        C2 guaiacol free S1 1
        C3 !sample_missing
        C5 !sample_missing
        C6 guaiacol free S2 4
        C7 !sample_missing
    """)
    return Case(book(("Results", drawn)), expected)


@case
def forms_below_each_sample() -> Case:
    drawn = """
Sample | Form  | Guaiacol (µg/L) | Phenol (µg/L)
S1     | free  | 1               | 2
       | total | 3               | 4
S2     | free  | 5               | 6
       | total | 7               | 8
"""
    expected = cells("""
        C2 guaiacol free S1 1
        D2 phenol free S1 2
        C3 guaiacol total S1 3
        D3 phenol total S1 4
        C4 guaiacol free S2 5
        D4 phenol free S2 6
        C5 guaiacol total S2 7
        D5 phenol total S2 8
    """)
    return Case(book(("Results", drawn)), expected)


@case
def forms_beside_each_sample() -> Case:
    drawn = """
Compound        | S1   |       | S2   |
                | free | total | free | total
Guaiacol (µg/L) | 1    | 2     | 3    | 4
Phenol (µg/L)   | 5    | 6     | 7    | 8
"""
    expected = cells("""
        B3 guaiacol free S1 1
        C3 guaiacol total S1 2
        D3 guaiacol free S2 3
        E3 guaiacol total S2 4
        B4 phenol free S1 5
        C4 phenol total S1 6
        D4 phenol free S2 7
        E4 phenol total S2 8
    """)
    return Case(book(("Results", drawn)), expected)


@case
def lines_without_name_or_form_below_each_sample() -> Case:
    # Replicates, perhaps, or other samples.
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Phenol
S1     | 1        | 2
       | 3        | 4
S2     | 5        | 6
       | 7        | 8
"""
    missing = "!sample_missing !sample_missing"
    expected = crossing(
        "B3", "guaiacol phenol", "free", {"S1": "1 2", "a": missing, "S2": "5 6", "b": missing}
    )
    return Case(book(("Results", drawn)), expected)


@case
def number_of_the_laboratory_on_every_line() -> Case:
    drawn = """
Sample | Lab no. | Compound | Free (µg/L)
S1     | 24-1    | Guaiacol | 1
       | 24-1    | Phenol   | 2
S2     | 24-2    | Guaiacol | 3
       | 24-2    | Phenol   | 4
"""
    expected = cells("""
        D2 guaiacol free S1 1
        D3 phenol free S1 2
        D4 guaiacol free S2 3
        D5 phenol free S2 4
    """)
    return Case(book(("Results", drawn)), expected)
