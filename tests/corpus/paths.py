"""Optical paths of absorbances: where they are printed, in mm or in cm, or in neither."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, more


@case
def path_length_with_its_unit_in_the_heading() -> Case:
    drawn = """
Sample | A420 | Path length (mm)
S1     | 1.2  | 10
S2     | 2.4  | 2
"""
    expected = cells("B2 A420 none S1 1.2 AU\nB3 A420 none S2 12 AU")
    expected = more(expected, "Results!B3", path_length=0.2)
    return Case(book(("Results", drawn)), expected)


@case
def path_length_in_a_row_of_its_own() -> Case:
    drawn = """
Sample           | A420 | A520
Path length (mm) | 10   | 2
S1               | 1.2  | 2
"""
    return Case(book(("Results", drawn)), cells("B3 A420 none S1 1.2 AU\nC3 A520 none S1 10 AU"))


@case
def path_length_in_a_row_below_samples_across() -> Case:
    drawn = """
Parameter        | S1  | S2
A420             | 0.4 | 0.5
A520             | 0.6 | 0.7
Path length (mm) | 2   | 10
"""
    read = """
        B2 A420 none S1 2 AU
        C2 A420 none S2 0.5 AU
        B3 A520 none S1 3 AU
        C3 A520 none S2 0.7 AU
    """
    return Case(book(("Results", drawn)), cells(read))


@case
def path_length_above_the_table() -> Case:
    drawn = """
Path length (mm): 2
Sample | A420 | A520
S1     | 1.2  | 2
"""
    return Case(book(("Results", drawn)), cells("B3 A420 none S1 6 AU\nC3 A520 none S1 10 AU"))


@case
def path_length_beside_its_label() -> Case:
    drawn = """
Schichtdicke (mm) | 2
Probe | A420 | A520
S1    | 1.2  | 2
"""
    return Case(book(("Results", drawn)), cells("B3 A420 none S1 6 AU\nC3 A520 none S1 10 AU"))


@case
def path_length_in_a_sentence() -> Case:
    drawn = """
Absorbances were measured in a cuvette of 1 mm.
Sample | A420 | A520
S1     | 0.12 | 0.2
"""
    return Case(book(("Results", drawn)), cells("B3 A420 none S1 1.2 AU\nC3 A520 none S1 2 AU"))


@case
def two_path_lengths_in_a_sentence() -> Case:
    drawn = """
Sample | A420 | A520
S1     | 1.2  | 2
Measured in 1 mm cells (optical path), reported for 10 mm
"""
    held = cells("B2 !unit_missing\nC2 !unit_missing")
    return Case(book(("Results", drawn)), held, facts={"reported_on": None})


@case
def path_length_without_a_unit() -> Case:
    drawn = """
Path length | 2
Sample | A420 | Free guaiacol (µg/L)
S1     | 1.2  | 5
"""
    return Case(book(("Results", drawn)), cells("B3 !unit_missing\nC3 guaiacol free S1 5"))


@case
def path_lengths_of_a_list() -> Case:
    drawn = """
Sample | Parameter | Result | Unit | Path length
S1     | A420      | 1.2    | AU   | 10 mm
S1     | A520      | 0.4    | AU   | 0,2 cm
S1     | A620      | 1.2    | AU   | 1
S2     | A620      | 1.2    | AU   | 1/2 inch
"""
    read = """
        C2 A420 none S1 1.2 AU
        C3 A520 none S1 2 AU
        C4 !unit_missing
        C5 !unit_missing
    """
    return Case(book(("Results", drawn)), cells(read))


@case
def path_length_beside_the_unit() -> Case:
    drawn = """
Sample | A420 (AU, 1 mm) | A520 [2 mm] | A620 (AU/cm)
S1     | 0.12            | 0.4         | 0.3
"""
    read = """
        B2 A420 none S1 1.2 AU
        C2 A520 none S1 2 AU
        D2 A620 none S1 0.3 AU
    """
    return Case(book(("Results", drawn)), cells(read))


@case
def path_length_beside_a_number_for_one_centimetre() -> Case:
    drawn = """
Optical path: 2 mm
Sample | A420 (AU/cm) | A520 (AU)
S1     | 1.2          | 2
"""
    return Case(book(("Results", drawn)), cells("B3 !unit_conflict\nC3 A520 none S1 10 AU"))
