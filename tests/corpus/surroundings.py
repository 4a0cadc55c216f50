"""What stands over, beside and under a table changes what its numbers are."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

_GLYCOSIDES = ["guaiacol rutinoside", "phenol rutinoside"]


def _told(expected: dict, **columns: object) -> dict:  # type: ignore[type-arg]
    for cell in expected:
        expected = more(expected, cell, **columns)
    return expected


@case
def a_letterhead_over_samples_side_by_side() -> Case:
    drawn = """
Client        | Example Estate
Matrix        | Red wine
Sampling date | 2025-09-03
Free volatile phenols
Analyte  | Unit | W1  | W2
Guaiacol | µg/L | 3.1 | 4.2
o-Cresol | µg/L | <1  | 2.2
Syringol | µg/L | 1.1 | 7
"""
    expected = crossing(
        "C6", "guaiacol o-cresol syringol", "free", {"W1": "3.1 [0,1] 1.1", "W2": "4.2 2.2 7"},
        down=True,
    )  # fmt: skip
    return Case(book(("Results", drawn)), _told(expected, matrix="red wine"))


@case
def details_of_each_sample_over_samples_side_by_side() -> Case:
    drawn = """
Client   | Example Estate |
Lab no.  |      | L-1        | L-2
Matrix   |      | Red wine   | White wine
Free volatile phenols
Analyte  | Unit | W1         | W2
Guaiacol | µg/L | 3.1        | 4.2
Syringol | µg/L | 1.1        | 7
"""
    expected = crossing(
        "C6", "guaiacol syringol", "free", {"W1": "3.1 1.1", "W2": "4.2 7"}, down=True
    )
    for cell in ("C6", "C7"):
        expected = more(expected, f"Results!{cell}", matrix="red wine")
    for cell in ("D6", "D7"):
        expected = more(expected, f"Results!{cell}", matrix="white wine")
    return Case(book(("Results", drawn)), expected)


def _glycosides(title: str, note: str, substance: str) -> Case:
    drawn = f"""
Red wine
{title}

Sample | Guaiacol rutinoside | Phenol rutinoside
W1     | 3                   | 4

{note}
"""
    expected = crossing("B5", _GLYCOSIDES, "bound", {"W1": "3 4"})
    return Case(book(("Results", drawn)), _told(expected, expressed_as=substance))


@case
def equivalents_inside_the_brackets_of_a_title() -> Case:
    return _glycosides(
        "Phenolic glycosides (µg/L, expressed as guaiacol equivalents)", "Page 1 of 1", "guaiacol"
    )


@case
def equivalents_before_a_unit() -> Case:
    return _glycosides(
        "Phenol glycosides - syringol gentiobioside equivalents (µg/L)",
        "Page 1 of 1",
        "syringol gentiobioside",
    )


@case
def equivalents_in_a_sentence_below() -> Case:
    return _glycosides(
        "Phenol glycosides, µg/L",
        "All glycosides are reported as syringol gentiobioside equivalents.",
        "syringol gentiobioside",
    )


@case
def a_standard_that_all_glycosides_were_quantified_with() -> Case:
    return _glycosides(
        "Phenol glycosides, µg/L",
        "Glycosides were quantified against syringol gentiobioside.",
        "syringol gentiobioside",
    )


@case
def equivalents_in_french() -> Case:
    return _glycosides(
        "Glycosides de phénols (µg/L)",
        "Les glycosides sont exprimés en équivalents de gaïacol.",
        "guaiacol",
    )


@case
def equivalents_of_something_unknown() -> Case:
    drawn = """
Glycosides (µg/L)
Sample | Guaiacol rutinoside | Phenol rutinoside
W1     | 3                   | 4

All glycosides are given as internal reference 7 equivalents.
"""
    return Case(book(("Results", drawn)), cells("B3 !number_ambiguous\nC3 !number_ambiguous"))


@case
def equivalents_behind_a_mark() -> Case:
    drawn = """
Glycosides (µg/L)
Sample | Guaiacol rutinoside* | Phenol rutinoside
W1     | 3                    | 4

* expressed as syringol gentiobioside equivalents
"""
    expected = cells("B3 !number_ambiguous\nC3 'phenol rutinoside' bound W1 4")
    return Case(book(("Results", drawn)), expected)


@case
def equivalents_of_another_table() -> Case:
    drawn = """
Glycosides (µg/L), own standards
Sample | Guaiacol rutinoside
W1     | 3

Glycosides (µg/L, as syringol gentiobioside equivalents)
Sample | Phenol rutinoside
W1     | 4
"""
    own = crossing("B3", _GLYCOSIDES[:1], "bound", {"W1": "3"})
    other = crossing("B7", _GLYCOSIDES[1:], "bound", {"W1": "4"})
    expected = _told(own, expressed_as="guaiacol rutinoside") | _told(
        other, expressed_as="syringol gentiobioside"
    )
    return Case(book(("Results", drawn)), expected)


@case
def the_form_in_the_heading_of_a_list() -> Case:
    drawn = """
Sample ID: | W1
Analyte (free) | Result | Unit
Guaiacol       | 3      | µg/L
Syringol       | <1     | µg/L
"""
    return Case(book(("Results", drawn)), cells("B3 guaiacol free W1 3\nB4 syringol free W1 [0,1]"))


@case
def the_unit_in_the_heading_for_analytes() -> Case:
    drawn = """
Free volatile phenols
Compound (µg/L) | W1 | W2
Guaiacol        | 3  | 4
Syringol        | 5  | 6
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"W1": "3 5", "W2": "4 6"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def the_unit_behind_each_sample() -> Case:
    drawn = """
Free volatile phenols
Compound | LOQ (mg/L) | W1 (µg/L) | W2 (µg/L)
Guaiacol | 0.001      | 3         | <LOQ
Syringol | 0.002      | 5         | 6
"""
    expected = crossing(
        "C3", "guaiacol syringol", "free", {"W1": "3 5", "W2": "[0,1] 6"}, down=True
    )
    return Case(book(("Results", drawn)), expected)


@case
def headers_on_every_page_under_one_title() -> Case:
    page = "Sample | Guaiacol (µg/L) | Syringol (µg/L)\n{0}1 | 3 | 4\n{0}2 | 5 | 6\n | | Page {1} of 3\n"
    drawn = "\nFree volatile phenols\n" + "Report continued\n".join(
        page.format(letter, number) for number, letter in enumerate("PQR", 1)
    )
    expected = crossing("B3", "guaiacol syringol", "free", {"P1": "3 4", "P2": "5 6"})
    expected |= crossing("B8", "guaiacol syringol", "free", {"Q1": "3 4", "Q2": "5 6"})
    expected |= crossing("B13", "guaiacol syringol", "free", {"R1": "3 4", "R2": "5 6"})
    return Case(book(("Results", drawn)), expected)


@case
def the_form_in_the_method_of_each_line() -> Case:
    drawn = """
Sample | Method                                        | Analyte  | Result | Unit
W1     | Free volatile phenols by GC-MS                | Guaiacol | 3      | µg/L
W1     | Total volatile phenols, acid hydrolysis GC-MS | Guaiacol | 7      | µg/L
W1     | GC-MS/MS                                      | Syringol | 2      | µg/L
"""
    expected = cells("D2 guaiacol free W1 3\nD3 guaiacol total W1 7\nD4 !form_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def a_raised_sign_before_the_unit() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol¹ (µg/L) | Syringol* (µg/L)
W1     | 3                | 4

¹ Accredited
* Under review by the accreditation body
"""
    return Case(
        book(("Results", drawn)), crossing("B3", "guaiacol syringol", "free", {"W1": "3 4"})
    )


@case
def what_was_weighed_and_added_for_the_analysis() -> Case:
    drawn = """
Free volatile phenols
Sample | Sample volume (mL) | Guaiacol (µg/L) | d3-Guaiacol recovery (%) | Sum of volatile phenols (µg/L)
W1     | 10                 | 3               | 97                       | 12
W2     | 10                 | 4               | 95                       | 14
"""
    expected = crossing("C3", "guaiacol", "free", {"W1": "3", "W2": "4"})
    expected |= cells("D3 scope\nE3 scope\nD4 scope\nE4 scope")
    return Case(book(("Results", drawn)), expected)


@case
def tanks_beside_their_volumes() -> Case:
    drawn = """
Free volatile phenols
Tank | Volume (L) | Guaiacol (µg/L) | Syringol (µg/L)
T-1  | 12000      | 3               | 4
T-2  | 8000       | 5               | 6
"""
    expected = crossing("C3", "guaiacol syringol", "free", {"T-1": "3 4", "T-2": "5 6"})
    return Case(book(("Results", drawn)), expected)


@case
def surrogates_below_the_results_of_a_sample() -> Case:
    drawn = """
Client sample ID: | W1
Free volatile phenols
Analyte     | Result    | Qualifier | RL | Unit
Guaiacol    | 3         |           | 1  | µg/L
Syringol    | 5         |           | 1  | µg/L
Surrogate   | %Recovery | Qualifier | Limits
Guaiacol-d3 | 98        |           | 70 - 130
"""
    expected = cells("B4 guaiacol free W1 3\nB5 syringol free W1 5")
    notices = ("outside the recognised tables", "first: B7")
    return Case(book(("Results", drawn)), expected, notices=notices)


@case
def portuguese_headings() -> Case:
    drawn = """
Amostra | Data de colheita | Parâmetro | Fração | Resultado | Unidade | LQ
W1      | 2025-09-03       | Guaiacol  | livre  | 3,5       | µg/L    | 1
W1      | 2025-09-03       | Siringol  | total  | <LQ       | µg/L    | 1
"""
    expected = cells("E2 guaiacol free W1 3.5\nE3 syringol total W1 [0,1]")
    return Case(book(("Results", drawn)), expected)


@case
def less_than_in_spanish() -> Case:
    drawn = """
Fenoles volátiles libres (µg/L)
Muestra | Guayacol | Siringol
W1      | inf. a 1 | 4
"""
    return Case(
        book(("Results", drawn)), crossing("B3", "guaiacol syringol", "free", {"W1": "[0,1] 4"})
    )


@case
def a_matrix_spike_and_its_duplicate() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample                 | Guaiacol
W1                     | 3
Matrix spike           | 13
Matrix spike duplicate | 14
"""
    expected = cells(
        "B3 guaiacol free W1 3\nB4 guaiacol free 'Matrix spike' spike:13\n"
        "B5 guaiacol free 'Matrix spike duplicate' spike:14"
    )
    return Case(book(("Results", drawn)), expected)


@case
def equivalents_on_a_sheet_of_notes() -> Case:
    drawn = """
Phenol glycosides in red wine (µg/L)
Sample | Guaiacol rutinoside | Phenol rutinoside
W1     | 3                   | 4
"""
    notes = """
Notes to the report
1. All glycosides are expressed as syringol gentiobioside equivalents.
"""
    expected = crossing("B3", _GLYCOSIDES, "bound", {"W1": "3 4"})
    expected = _told(expected, expressed_as="syringol gentiobioside")
    return Case(book(("Results", drawn), ("Notes", notes)), expected)


@case
def a_column_that_says_what_each_result_is_expressed_as() -> Case:
    drawn = """
Sample | Compound            | Expressed as                       | Result | Unit
W1     | Guaiacol rutinoside | Syringol gentiobioside equivalents | 3      | µg/L
W1     | Phenol rutinoside   | aglycone                           | 4      | µg/L
W1     | Cresol rutinoside   | house standard B                   | 5      | µg/L
"""
    expected = cells(
        "D2 'guaiacol rutinoside' bound W1 3\nD3 'phenol rutinoside' bound W1 4\nD4 !number_ambiguous"
    )
    expected = more(expected, "Results!D2", expressed_as="syringol gentiobioside")
    expected = more(expected, "Results!D3", expressed_as="phenol")
    return Case(book(("Results", drawn)), expected)


@case
def equivalents_of_acids_are_of_other_measurands() -> Case:
    drawn = """
Glycosides (µg/L)
Sample | Guaiacol rutinoside
W1     | 3

Total phenolics are expressed as gallic acid equivalents (GAE).
"""
    expected = crossing("B3", _GLYCOSIDES[:1], "bound", {"W1": "3"})
    return Case(book(("Results", drawn)), _told(expected, expressed_as="guaiacol rutinoside"))


@case
def a_title_above_a_long_letterhead() -> Case:
    drawn = """
Free volatile phenols in red wine

Client    | Example Estate
Contact   | Cellar office
Condition | good
Carrier   | by hand
Storage   | cool

Sample | Guaiacol (µg/L) | Syringol (µg/L)
W1     | 3               | 4
"""
    return Case(
        book(("Results", drawn)), crossing("B10", "guaiacol syringol", "free", {"W1": "3 4"})
    )


@case
def two_forms_above_a_long_letterhead() -> Case:
    drawn = """
Tests ordered: free volatile phenols
Tests not yet done: total volatile phenols

Client    | Example Estate
Contact   | Cellar office
Condition | good
Carrier   | by hand
Storage   | cool

Sample | Guaiacol (µg/L) | Syringol (µg/L)
W1     | 3               | 4
"""
    return Case(book(("Results", drawn)), cells("B11 !form_unknown\nC11 !form_unknown"))


@case
def samples_named_above_the_heading_for_analytes() -> Case:
    drawn = """
Free volatile phenols
            |      | W1       | W2
Sample type |      | Red wine | White wine
Compound    | Unit |          |
Guaiacol    | µg/L | 3        | 4
Syringol    | µg/L | 5        | 6
"""
    expected = crossing("C5", "guaiacol syringol", "free", {"W1": "3 5", "W2": "4 6"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def a_line_of_units_with_absorbances() -> Case:
    drawn = """
Red wine
Sample | Free guaiacol | Free syringol | A420 | pH
       | µg/L          | µg/L          | AU   |
W1     | 3             | 4             | 2.1  | 3.5
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"W1": "3 4"})
    expected |= cells("D4 A420 none W1 2.1 AU\nE4 scope")
    return Case(book(("Results", drawn)), expected)


@case
def the_panel_as_heading_of_its_analytes() -> Case:
    drawn = """
Sample ID: | W1
Matrix:    | Red wine

Free volatile phenols | Result | Units | LOQ
Guaiacol              | 3      | µg/L  | 1
Syringol              | <LOQ   | µg/L  | 1
"""
    return Case(book(("Results", drawn)), cells("B5 guaiacol free W1 3\nB6 syringol free W1 [0,1]"))


@case
def german_and_portuguese_words_for_the_form() -> Case:
    drawn = """
Probe | Parameter              | Bindungsform | Ergebnis | Einheit
W1    | Guajakol               | frei         | 3        | µg/l
W1    | Guajakol               | gebunden     | 7        | µg/l
W1    | 4-Metilguaiacol        | frei         | 2        | µg/l
"""
    expected = cells("D2 guaiacol free W1 3\nD3 guaiacol bound W1 7\nD4 4-methylguaiacol free W1 2")
    return Case(book(("Results", drawn)), expected)


@case
def a_title_with_two_units() -> Case:
    drawn = """
Free volatile phenols in red wine
Results in mg/L, guaiacol in µg/L
Sample | Guaiacol | Syringol
W1     | 3        | 0.004
"""
    return Case(book(("Results", drawn)), cells("B4 !unit_unknown\nC4 !unit_unknown"))


@case
def samples_named_after_the_press() -> Case:
    drawn = """
Free volatile phenols in red wine (µg/L)
Sample       | Guaiacol | Syringol
Free run     | 3        | 4
Press        | 5        | 6
Tank         | 7        | 8
RT (min)     | 8.2      | 9.1
Max. permitted  | 30    | 60
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"Free run": "3 4", "Press": "5 6"})
    expected |= cells("B5 !number_ambiguous\nC5 !number_ambiguous")
    notices = ('row 6 ("RT (min)")', 'row 7 ("Max. permitted")')
    return Case(book(("Results", drawn)), expected, notices=notices)


@case
def vineyards_called_blank_or_control() -> Case:
    drawn = """
Free volatile phenols in red wine (µg/L)
Sample               | Guaiacol
Blank Hill Shiraz    | 3
Control Road Block 2 | 4
Method blank         | 1
"""
    expected = cells(
        "B3 guaiacol free 'Blank Hill Shiraz' 3\nB4 guaiacol free 'Control Road Block 2' 4\n"
        "B5 guaiacol free 'Method blank' blank:1"
    )
    return Case(book(("Results", drawn)), expected)


@case
def a_column_of_matrices_called_type() -> Case:
    drawn = """
Free volatile phenols in white wine (µg/L)
Sample | Type       | Guaiacol
W1     | Red wine   | 3
W2     | White wine | 4
"""
    expected = cells("C3 guaiacol free W1 3\nC4 guaiacol free W2 4")
    expected = more(expected, "Results!C3", matrix="red wine")
    return Case(book(("Results", drawn)), more(expected, "Results!C4", matrix="white wine"))


@case
def a_letterhead_and_a_line_of_matrices() -> Case:
    drawn = """
Matrix   | Red wine
Free volatile phenols (µg/L)
Analyte  | W1       | W2
Matrix   | Red wine | Rosé wine
Guaiacol | 3        | 4
Syringol | 5        | 6
"""
    expected = crossing("B5", "guaiacol syringol", "free", {"W1": "3 5", "W2": "4 6"}, down=True)
    for cell in ("B5", "B6"):
        expected = more(expected, f"Results!{cell}", matrix="red wine")
    for cell in ("C5", "C6"):
        expected = more(expected, f"Results!{cell}", matrix="rose wine")
    return Case(book(("Results", drawn)), expected)


@case
def a_method_that_contradicts_the_title() -> Case:
    drawn = """
Free volatile phenols
Sample | Method                                 | Analyte  | Result | Unit
W1     | Total volatile phenols, acid hydrolysis | Guaiacol | 3      | µg/L
W1     | Free volatile phenols                   | Syringol | 4      | µg/L
"""
    return Case(book(("Results", drawn)), cells("D3 !number_ambiguous\nD4 syringol free W1 4"))
