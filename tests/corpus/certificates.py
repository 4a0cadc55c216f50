"""Several certificates under each other: which sample each of them is about."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells

G_S = "guaiacol syringol"

FREE3 = "guaiacol o-cresol p-cresol"


@case
def stacked_certificates() -> Case:
    drawn = """
Sample: T-1
Analyte       | Result | Unit
Free guaiacol | 1      | µg/L
Free syringol | 2      | µg/L

Sample: T-2
Analyte       | Result | Unit
Free o-cresol | 3      | µg/L
Free p-cresol | 4      | µg/L
"""
    expected = cells("""
B3 guaiacol free T-1 1
B4 syringol free T-1 2
B8 o-cresol free T-2 3
B9 p-cresol free T-2 4
""")
    return Case(book(("Results", drawn)), expected)


@case
def stacked_forms_per_sample() -> Case:
    drawn = """
Results in µg/L
Sample: T-1
Analyte  | Free | Total
Guaiacol | 1    | 10
Syringol | 2    | 20

Sample: T-2
Analyte  | Free | Total
Guaiacol | 3    | 30
Syringol | 4    | 40
"""
    expected = cells("""
B4 guaiacol free T-1 1
C4 guaiacol total T-1 10
B5 syringol free T-1 2
C5 syringol total T-1 20
B9 guaiacol free T-2 3
C9 guaiacol total T-2 30
B10 syringol free T-2 4
C10 syringol total T-2 40
""")
    return Case(book(("Results", drawn)), expected)


@case
def only_the_second_certificate_names_its_sample() -> Case:
    drawn = """
Analyte       | Result | Unit
Free guaiacol | 1      | µg/L
Free syringol | 2      | µg/L

Sample: T-2
Analyte       | Result | Unit
Free o-cresol | 3      | µg/L
Free p-cresol | 4      | µg/L
"""
    expected = cells("""
B2 !sample_missing
B3 !sample_missing
B7 o-cresol free T-2 3
B8 p-cresol free T-2 4
""")
    return Case(book(("Results", drawn)), expected)


@case
def one_sample_named_once_for_two_tables() -> Case:
    drawn = """
Sample: T-1
Free volatile phenols (µg/L)
Analyte  | Result
Guaiacol | 1
Syringol | 2

Total volatile phenols (µg/L)
Analyte  | Result
Guaiacol | 10
Syringol | 20
"""
    expected = cells("""
B4 guaiacol free T-1 1
B5 syringol free T-1 2
B9 guaiacol total T-1 10
B10 syringol total T-1 20
""")
    return Case(book(("Results", drawn)), expected)


@case
def label_inside_a_list_speaks_downwards() -> Case:
    drawn = """
Analyte       | Result | Unit
Free guaiacol | 1      | µg/L
Free syringol | 2      | µg/L
Sample: T-2
Free o-cresol | 3      | µg/L
Free p-cresol | 4      | µg/L
"""
    expected = cells("""
B2 !sample_missing
B3 !sample_missing
B5 o-cresol free T-2 3
B6 p-cresol free T-2 4
""")
    return Case(book(("Results", drawn)), expected)


@case
def heading_that_became_a_sample() -> Case:
    drawn = """
Sample: S1
Parameter        | Result | Unit
Alcohol          | 13.5   | % v/v
Volatile acidity | 0.4    | g/L

Free volatile phenols
Parameter | Quux-7 | Unit
Guaiacol  | 5      | µg/L
Syringol  | 2      | µg/L
"""
    # The unknown heading could name a sample beside S1; no reading may settle that by itself.
    expected = cells("B3 scope\nB4 scope\nB8 !sample_conflict\nB9 !sample_conflict")
    return Case(book(("Results", drawn)), expected)
