"""Lists of samples and tables of limits beside the results, on the same sheet or another one."""

from __future__ import annotations

from datetime import date

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_S = "guaiacol syringol"


@case
def limits_on_another_sheet() -> Case:
    results = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | nd       | <LOQ
"""
    method = """
Compound | LOD | LOQ | Unit
Guaiacol | 200 | 700 | ng/L
Syringol | 0.3 | 1   | µg/L
"""
    expected = crossing("B3", G_S, "free", {"S1": "[0,0.2] [0.3,1]"})
    return Case(book(("Results", results), ("Method", method)), expected)


@case
def limits_of_each_form_on_another_sheet() -> Case:
    results = """
Sample | Free guaiacol (µg/L) | Total guaiacol (µg/L) | Total syringol (µg/L)
S1     | nd                   | <LOQ                  | nd
"""
    method = """
Compound | Form  | LOD (µg/L) | LOQ (µg/L)
Guaiacol | free  | 0.2        | 0.7
Guaiacol | total | 2          | 5
Syringol | free  | 0.1        | 0.3
"""
    expected = cells("""
        B2 guaiacol free S1 [0,0.2]
        C2 guaiacol total S1 [2,5]
        D2 !limit_unknown
    """)
    return Case(book(("Results", results), ("Method", method)), expected)


@case
def two_tables_of_limits_that_differ() -> Case:
    results = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | nd       | nd
"""
    one = """
Compound | LOD (µg/L)
Guaiacol | 0.2
Syringol | 0.3
"""
    two = """
Compound | LOD (µg/L)
Guaiacol | 0.4
Syringol | 0.3
"""
    expected = cells("B3 !limit_unknown\nC3 syringol free S1 [0,0.3]")
    return Case(book(("Results", results), ("Method A", one), ("Method B", two)), expected)


@case
def sample_list_on_another_sheet() -> Case:
    listed = """
Lab no | Client reference | Lot | Matrix     | Stage     | Date sampled
1001   | HK-1             | L-1 | Red wine   | end of AF | d:2025-10-01
1002   | HK-2             | L-2 | White wine | bottled   | d:2025-10-02
"""
    results = """
Free volatile phenols (µg/L)
Lab no | Guaiacol | Syringol
1001   | 5        | 6
1002   | 7        | 8
"""
    expected = crossing("B3", G_S, "free", {"HK-1": "5 6", "HK-2": "7 8"})
    expected = more(
        expected, "Results!C4", lab_sample_id="1002", lot="L-2", matrix="white wine",
        stage="bottled", sampled_on=date(2025, 10, 2),
    )  # fmt: skip
    return Case(book(("Samples", listed), ("Results", results)), expected)


@case
def sample_list_above_the_results() -> Case:
    drawn = """
Lab no | Client reference | Lot
1001   | HK-1             | L-1
1002   | HK-2             | L-2

Free volatile phenols (µg/L)
Analyte  | 1001 | 1002
Guaiacol | 5    | 6
Syringol | 7    | 8
"""
    expected = crossing("B7", G_S, "free", {"HK-1": "5 7", "HK-2": "6 8"}, down=True)
    return Case(book(("Results", drawn)), more(expected, "Results!C8", lot="L-2"))


@case
def sample_list_that_names_one_sample_twice() -> Case:
    listed = """
Sample ID | Lot | Matrix
S1        | L-1 | Red wine
S1        | L-9 | Red wine
S2        | L-2 | White wine
"""
    results = """
Free volatile phenols (µg/L)
Sample ID | Guaiacol | Syringol
S1        | 5        | 6
S2        | 7        | 8
"""
    # Two lots are given for S1, so none is taken.
    expected = crossing("B3", G_S, "free", {"S1": "5 6", "S2": "7 8"})
    expected = more(expected, "Results!B3", lot=None)
    expected = more(expected, "Results!B4", lot="L-2", matrix="white wine")
    return Case(book(("Samples", listed), ("Results", results)), expected)


@case
def replicates_behind_the_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample   | Guaiacol | Syringol
S1 rep 1 | 5        | 6
S1 rep 2 | 5.2      | 6.1
"""
    expected = cells("""
        B3 guaiacol free S1 5
        C3 syringol free S1 6
        B4 guaiacol free S1 5.2
        C4 syringol free S1 6.1
    """)
    return Case(book(("Results", drawn)), more(expected, "Results!B4", replicate="2"))


@case
def letters_behind_the_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Lab no | Sample | Guaiacol | Syringol
9001   | S1a    | 5        | 6
9001   | S1b    | 5.2      | 6.1
9003   | S3a    | 7        | 8
9004   | S3b    | 9        | 10
"""
    # One number for S1a and S1b: one sample twice. S3a and S3b have their own, and are two.
    expected = cells("""
        C3 guaiacol free S1 5
        D3 syringol free S1 6
        C4 guaiacol free S1 5.2
        D4 syringol free S1 6.1
        C5 guaiacol free S3a 7
        D5 syringol free S3a 8
        C6 guaiacol free S3b 9
        D6 syringol free S3b 10
    """)
    return Case(book(("Results", drawn)), more(expected, "Results!C4", replicate="b"))


@case
def headings_that_stand_where_the_samples_should() -> Case:
    drawn = """
Lab no | Client reference | Lot
1001   | HK-1             | L-1

Free volatile phenols (µg/L)
Analyte  | 1001 | 1002
Guaiacol | 5    | 6
Syringol | 7    | 8
"""
    # Read across, the headings would name the samples; no result may go under them.
    held = "\n".join(f"{cell} !sample_conflict" for cell in ("B6", "C6", "B7", "C7"))
    return Case(book(("Results", drawn)), cells(held))
