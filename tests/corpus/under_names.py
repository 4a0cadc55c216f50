"""What stands beneath a name: forms, isomers, states, and headings below those of analytes."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_S = "guaiacol syringol"


@case
def forms_on_lines_beneath_the_names() -> Case:
    drawn = """
Wine, µg/L
Analyte | W-1 | W-2
Guaiacol
free | 3 | <1
total | 30 | 20
Syringol
free | 4 | 5
total | 40 | 50
"""
    expected = crossing("B4", ["guaiacol"], "free", {"W-1": "3", "W-2": "[0,1]"}, down=True)
    expected |= crossing("B5", ["guaiacol"], "total", {"W-1": "30", "W-2": "20"}, down=True)
    expected |= crossing("B7", ["syringol"], "free", {"W-1": "4", "W-2": "5"}, down=True)
    expected |= crossing("B8", ["syringol"], "total", {"W-1": "40", "W-2": "50"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def a_total_of_all_below_forms_of_the_last_name() -> Case:
    drawn = """
Wine, µg/L
Analyte | W-1
Guaiacol
Free | 3
Bound | 30
Syringol
Free | 4
Bound | 40
Total | 77
"""
    expected = crossing("B4", ["guaiacol"], "free", {"W-1": "3"})
    expected |= crossing("B5", ["guaiacol"], "bound", {"W-1": "30"})
    expected |= crossing("B7", ["syringol"], "free", {"W-1": "4"})
    expected |= crossing("B8", ["syringol"], "bound", {"W-1": "40"})
    return Case(book(("Results", drawn)), expected)


@case
def a_total_below_a_name_without_results_is_a_sum() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte | W-1 | W-2
Guaiacol | 3 | 4
Syringol
Total | 3 | 4
"""
    expected = crossing("B3", G_S, "free", {"W-1": "3 -", "W-2": "4 -"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def isomers_below_one_heading_of_cresols() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Cresols | | | Syringol
| | o- | m- | p-
W-1 | 3 | 1 | 2 | <0.5 | 4
W-2 | 5 | 6 | 7 | 8 | 9
"""
    expected = crossing(
        "B4",
        "guaiacol o-cresol m-cresol p-cresol syringol",
        "free",
        {"W-1": "3 1 2 [0,0.5] 4", "W-2": "5 6 7 8 9"},
    )
    return Case(book(("Results", drawn), merge=("C2:E2",)), expected)


@case
def letters_below_cresols_that_are_no_isomers() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Cresols | | | Syringol
| | o- | z- | p-
W-1 | 3 | 1 | 2 | 5 | 4
"""
    return Case(
        book(("Results", drawn), merge=("C2:E2",)), refused=("no table of results", "Results")
    )


@case
def one_name_over_two_columns_of_results() -> Case:
    # Which of the two is the result, or whether both are, nobody can tell.
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | | Syringol
W-1 | 3 | 1 | 4
W-2 | 5 | 2 | 6
"""
    expected = cells("""
    B3 !duplicate
    C3 !duplicate
    D3 syringol free W-1 4
    B4 !duplicate
    C4 !duplicate
    D4 syringol free W-2 6
    """)
    return Case(book(("Results", drawn), merge=("B2:C2",)), expected)


@case
def before_and_after_below_a_heading_of_samples() -> Case:
    # Two samples of one name in each line: which lot they are is for a person to say.
    drawn = """
Free volatile phenols (µg/L)
 | Guaiacol | | Syringol |
Sample | Before | After | Before | After
W-1 | 3 | 2 | 5 | 4
"""
    expected = cells("""
    B4 !sample_conflict
    C4 !sample_conflict
    D4 !sample_conflict
    E4 !sample_conflict
    """)
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def samples_headed_below_the_units_and_limits() -> Case:
    drawn = """
Wine | | Free | Free | Bound
 | | Guaiacol | Syringol | Guaiacol
 | | ug/L | ug/L | ug/L
 | | LOQ 1 | LOQ 2 | LOQ 3
Tank | Sample ID
T-1 | W-1 | <LOQ | 4 | 30
T-2 | W-2 | 5 | <LOQ | 40
"""
    expected = cells("""
    C6 guaiacol free W-1 [0,1]
    D6 syringol free W-1 4
    E6 guaiacol bound W-1 30
    C7 guaiacol free W-2 5
    D7 syringol free W-2 [0,2]
    E7 guaiacol bound W-2 40
    """)
    return Case(book(("Results", drawn)), expected)


@case
def names_over_results_and_uncertainties_without_a_heading() -> Case:
    drawn = """
 | W-1 | | W-2 |
Free phenols (µg/L) | Result | U | Result | U
Guaiacol | 5.5 | 0.6 | 7.7 | 0.8
Syringol | <1 | | 2.2 | 0.3
"""
    expected = cells("""
    B3 guaiacol free W-1 5.5
    D3 guaiacol free W-2 7.7
    B4 syringol free W-1 [0,1]
    D4 syringol free W-2 2.2
    """)
    return Case(book(("Results", drawn), merge=("B1:C1", "D1:E1")), expected)


@case
def sums_of_phenols_are_no_analyte() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol | Total volatile phenols | Total free VPs (µg/L) | Total phenols
W-1 | 3 | 4 | 7 | 7 | 9
"""
    expected = cells("""
    B3 guaiacol free W-1 3
    C3 syringol free W-1 4
    D3 scope
    E3 scope
    F3 !unit_basis
    """)
    return Case(book(("Results", drawn)), expected)


@case
def cas_numbers_far_from_the_names() -> Case:
    drawn = """
Sample: W-1
Compound | Free (µg/L) | LOQ (µg/L) | Recovery (%) | Method | Remarks | CAS No.
Guaiacol | 12 | 1 | 98 | M-1 | | 90-05-1
o-Cresol | <1 | 1 | 95 | M-1 | | 95-48-7
"""
    expected = cells("B3 guaiacol free W-1 12\nB4 o-cresol free W-1 [0,1]")
    return Case(book(("Results", drawn)), expected)


@case
def a_column_of_forms_under_an_unknown_heading() -> Case:
    drawn = """
Sample | Compound | Conc. | Unit | State
W-1 | Guaiacol | 12 | ug/L | free
W-1 | Guaiacol | 0.1 | mg/L | bound
"""
    expected = cells("C2 guaiacol free W-1 12\nC3 guaiacol bound W-1 100")
    return Case(book(("Results", drawn)), expected)


@case
def a_column_of_forms_with_other_words_tells_none() -> Case:
    drawn = """
Sample | Compound | Conc. | Unit | Tag
W-1 | Guaiacol | 12 | ug/L | free
W-1 | Syringol | 4 | ug/L | pending
"""
    expected = cells("C2 !form_unknown\nC3 !form_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def a_unit_beside_the_title_it_belongs_to() -> Case:
    drawn = """
Free volatile phenols | | µg/L

Sample | Guaiacol | Syringol
W-1 | 3 | 4
"""
    return Case(book(("Results", drawn)), crossing("B4", G_S, "free", {"W-1": "3 4"}))


@case
def vineyards_between_the_lines() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
Vineyard: North Bench
W-1 | 3 | 4
Vineyard: South Bench
W-2 | 5 | 6
"""
    expected = crossing("B4", G_S, "free", {"W-1": "3 4"})
    expected |= crossing("B6", G_S, "free", {"W-2": "5 6"})
    expected = more(expected, "Results!B4", vineyard="North Bench")
    return Case(book(("Results", drawn)), more(expected, "Results!B6", vineyard="South Bench"))
