"""Names with something behind them: replicates' marks, abbreviations, states of the wine."""

from __future__ import annotations

from collections.abc import Mapping

from corpus.books import book
from corpus.cases import Case, Value, case, cells, crossing, more

GG = "guaiacol guaiacol"
GGPP = f"{GG} phenol phenol"


def marked(expected: Mapping[str, Value], places: str, marks: str) -> dict[str, Value]:
    """Expect the mark of a replicate in each of some cells; "-" is none."""
    told = dict(expected)
    for cell, mark in zip(places.split(), marks.split(), strict=True):
        told = more(told, f"Results!{cell}", replicate=None if mark == "-" else mark)
    return told


@case
def letters_behind_every_name() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol-a | Guaiacol-b | Phenol-a | Phenol-b
S1     | 1.1        | 1.3        | 3        | <4
"""
    expected = crossing("B3", GGPP, "free", {"S1": "1.1 1.3 3 [0,4]"})
    return Case(book(("Results", drawn)), marked(expected, "B3 C3 D3 E3", "a b a b"))


@case
def numbers_behind_one_name_and_its_unit() -> Case:
    drawn = """
Sample | Guaiacol, free (µg/L) (1) | Guaiacol, free (µg/L) (2) | Phenol, free (µg/L)
S1     | 1.1                       | 1.3                       | 3
"""
    expected = crossing("B2", f"{GG} phenol", "free", {"S1": "1.1 1.3 3"})
    return Case(book(("Results", drawn)), marked(expected, "B2 C2 D2", "1 2 -"))


@case
def duplicate_behind_a_name() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L) | Free guaiacol duplicate (µg/L) | Free phenol (µg/L)
S1     | 1.1                  | 1.3                            | 3
S2     | 2                    |                                | 4
"""
    expected = crossing("B2", f"{GG} phenol", "free", {"S1": "1.1 1.3 3", "S2": "2 - 4"})
    return Case(book(("Results", drawn)), marked(expected, "B2 C2 D2", "- duplicate -"))


@case
def letters_behind_names_that_run_down() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound     | S1 | S2
Guaiacol (a) | 1  | 2
Guaiacol (b) | 3  | 4
Phenol       | 5  | 6
"""
    names = f"{GG} phenol"
    expected = crossing("B3", names, "free", {"S1": "1 3 5", "S2": "2 4 6"}, down=True)
    return Case(book(("Results", drawn)), marked(expected, "B3 C3 B4 C4 B5", "a a b b -"))


@case
def numbers_behind_the_names_of_a_list() -> Case:
    drawn = """
Sample | Compound          | Form | Result (µg/L)
S1     | Guaiacol 1        | free | 1
S1     | Guaiacol 2        | free | 2
S2     | Guaiacol 1        | free | 3
S2     | Guaiacol 2        | free | 4
S1     | Phenol            | free | 5
S1     | Phenol duplicate  | free | 6
S2     | Syringol rep 1    | free | 7
S2     | Syringol rep 2    | free | 8
"""
    expected = cells("""
        D2 guaiacol free S1 1
        D3 guaiacol free S1 2
        D4 guaiacol free S2 3
        D5 guaiacol free S2 4
        D6 phenol free S1 5
        D7 phenol free S1 6
        D8 syringol free S2 7
        D9 syringol free S2 8
    """)
    places = "D2 D3 D4 D5 D6 D7 D8 D9"
    return Case(book(("Results", drawn)), marked(expected, places, "1 2 1 2 - duplicate 1 2"))


@case
def series_of_a_list_parted_between_samples() -> Case:
    drawn = """
Sample | Compound   | Form | Result (µg/L)
S1     | Guaiacol-1 | free | 1
S2     | Guaiacol-2 | free | 2
S1     | Phenol     | free | 3
"""
    # No sample has both: the numbers may be notes.
    expected = cells("D2 !number_ambiguous\nD3 !number_ambiguous\nD4 phenol free S1 3")
    return Case(book(("Results", drawn)), expected)


@case
def letters_that_a_footnote_explains() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol (a) | Guaiacol (b) | Phenol
S1     | 1            | 2            | 3
(a) by SPME (b) by liquid extraction
"""
    expected = crossing("B3", f"{GG} phenol", "free", {"S1": "!duplicate !duplicate 3"})
    return Case(book(("Results", drawn)), expected)


@case
def letters_that_a_legend_calls_replicates() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol A | Guaiacol B | Phenol
S1     | 1          | 2          | 3
A and B: duplicate determinations
"""
    expected = crossing("B3", f"{GG} phenol", "free", {"S1": "1 2 3"})
    return Case(book(("Results", drawn)), marked(expected, "B3 C3 D3", "A B -"))


@case
def letter_of_a_note_behind_one_more_name() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol (a) | Guaiacol (b) | Phenol (a)
S1     | 1            | 2            | 3
"""
    # Phenol has an "a" and no "b": letters of notes, perhaps.
    expected = crossing("B3", f"{GG} phenol", "free", {"S1": "!duplicate !duplicate 3"})
    return Case(book(("Results", drawn)), expected)


@case
def series_without_its_first() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol-b | Guaiacol-c | Phenol | Syringol
S1     | 1          | 2          | 3      | 4
"""
    expected = crossing(
        "B3", "? ? phenol syringol", "free", {"S1": "!analyte_unknown !analyte_unknown 3 4"}
    )
    return Case(book(("Results", drawn)), expected)


@case
def numbers_that_may_be_isomers() -> Case:
    drawn = """
Free and bound smoke markers (µg/L)
Sample | Guaiacol, free | Guaiacol pentosylglucoside 1 | Guaiacol pentosylglucoside 2 | Cresol 1 | Cresol 2 | Phenol, free
S1     | 1              | 2                            | 3                            | 4        | 5        | 6
"""
    held = " ".join(["!analyte_unknown"] * 4)
    expected = crossing("B3", "guaiacol ? ? ? ? phenol", "free", {"S1": f"1 {held} 6"})
    return Case(book(("Results", drawn)), expected)


@case
def sum_of_two_isomers_in_the_company_of_a_series() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol 1 | Guaiacol 2 | m+p-Cresol 1 | m+p-Cresol 2
S1     | 1          | 2          | 3            | 4
"""
    expected = crossing("B3", f"{GG} m+p-cresol m+p-cresol", "free", {"S1": "1 2 3 4"})
    return Case(book(("Results", drawn)), marked(expected, "B3 C3 D3 E3", "1 2 1 2"))


@case
def letters_of_two_wines_in_their_titles() -> Case:
    drawn = """
Free volatile phenols (µg/L), wine A and wine B
Sample | Guaiacol A | Guaiacol B | Phenol | Syringol
S1     | 1          | 2          | 3      | 4
"""
    expected = crossing(
        "B3", "? ? phenol syringol", "free", {"S1": "!analyte_unknown !analyte_unknown 3 4"}
    )
    return Case(book(("Results", drawn)), expected)


@case
def before_and_after_a_treatment() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol before fining | Guaiacol after fining | Phenol before fining | Phenol after fining
S1     | 5                      | 2                     | 6                    | 3
"""
    expected = crossing("B3", GGPP, "free", {"S1": " ".join(["!sample_conflict"] * 4)})
    return Case(book(("Results", drawn)), expected)


@case
def before_and_after_in_french() -> Case:
    drawn = """
Échantillon | Gaïacol libre (µg/L) avant | Gaïacol libre (µg/L) après | Phénol libre (µg/L)
S1          | '5,5                       | '2,5                       | '6,5
"""
    expected = crossing(
        "B2", f"{GG} phenol", "free", {"S1": "!sample_conflict !sample_conflict 6.5"}
    )
    return Case(book(("Results", drawn)), expected)


@case
def hydrolysis_is_a_form_and_no_treatment() -> Case:
    drawn = """
Sample | Guaiacol before hydrolysis (µg/L) | Guaiacol after hydrolysis (µg/L)
S1     | 5                                 | 20
"""
    expected = cells("B2 guaiacol free S1 5\nC2 guaiacol total S1 20")
    return Case(book(("Results", drawn)), expected)


@case
def abbreviations_behind_glycosides() -> Case:
    drawn = """
Sample | Guaiacol rutinoside (GRG) (µg/L) | 4-Methylguaiacol rutinoside (4MGRG) [µg/L] | Syringol gentiobioside (SyGG), µg/L
S1     | 10                               | 20                                         | 30
"""
    names = ["guaiacol rutinoside", "4-methylguaiacol rutinoside", "syringol gentiobioside"]
    expected = crossing("B2", names, "bound", {"S1": "10 20 30"})
    return Case(book(("Results", drawn)), expected)


@case
def abbreviations_alone_in_the_brackets() -> Case:
    drawn = """
Glycosides (µg/L)
Compound                         | S1 | S2
Guaiacol rutinoside (GRG)        | 1  | 2
4-Methylguaiacol rutinoside (MG) | 3  | 4
Phenol rutinoside (GRG)          | 5  | 6
Cresol rutinoside (furlong)      | 7  | 8
"""
    # "MG" may be milligrams; GRG is no phenol rutinoside.
    expected = cells("""
        B3 "guaiacol rutinoside" bound S1 1
        C3 "guaiacol rutinoside" bound S2 2
        B4 !unit_unknown
        C4 !unit_unknown
        B5 !unit_unknown
        C5 !unit_unknown
        B6 !unit_unknown
        C6 !unit_unknown
    """)
    return Case(book(("Results", drawn)), expected)


@case
def powers_of_ten_before_units() -> Case:
    drawn = """
Sample | Guaiacol, free (10^-3 mg/L) | Phenol, free (10⁻³ mg/L) | Syringol, free [10^3 ng/L]
S1     | 1.5                         | 2.5                      | 3.5
"""
    # A thousandth of a milligram and a thousand nanograms are a microgram (SI Brochure, 9th ed., 5.4).
    expected = crossing("B2", "guaiacol phenol syringol", "free", {"S1": "1.5 2.5 3.5"})
    return Case(book(("Results", drawn)), expected)


@case
def power_of_ten_in_a_title() -> Case:
    drawn = """
Free volatile phenols (10⁻³ mg/L)
Sample | Guaiacol | Phenol
S1     | 1.5      | 2.5
"""
    return Case(
        book(("Results", drawn)), crossing("B3", "guaiacol phenol", "free", {"S1": "1.5 2.5"})
    )


@case
def power_of_ten_in_a_line_of_units() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol  | Phenol
       | 10⁻³ mg/L | ×10⁻³ mg/L
S1     | 1.5       | 2.5
"""
    expected = crossing("B4", "guaiacol phenol", "free", {"S1": "1.5 !unit_unknown"})
    return Case(book(("Results", drawn)), expected)


@case
def factors_that_may_have_been_applied() -> Case:
    drawn = """
Sample | Guaiacol, free (x10-3 mg/L) | Phenol, free (×10⁻³ mg/L) | Eugenol, free (x 1000 ug/L) | p-Cresol, free × 10^3 (ug/L) | Vanillin, free (mg/L × 10^3) | o-Cresol, free (10-3 mg/L) | Syringol, free (ug/L)
S1     | 1                           | 2                         | 3                           | 4                            | 5                            | 6                          | 7
"""
    held = " ".join(["!unit_unknown"] * 6)
    names = "guaiacol phenol eugenol p-cresol vanillin o-cresol syringol"
    return Case(book(("Results", drawn)), crossing("B2", names, "free", {"S1": f"{held} 7"}))


@case
def total_cresols_that_are_no_sum() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | o-Cresol | m+p-Cresol | Total cresols
S1     | 2        | 7          | 9
S2     | 3        | 5          | 31
"""
    # 3 + 5 is not 31: the column holds something else, in both lines.
    expected = cells("""
        B3 o-cresol free S1 2
        C3 m+p-cresol free S1 7
        D3 !form_unknown
        B4 o-cresol free S2 3
        C4 m+p-cresol free S2 5
        D4 !form_unknown
    """)
    return Case(book(("Results", drawn)), expected)


@case
def total_cresols_beside_a_total_of_another() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Total guaiacol | Total cresols
S1     | 2        | 9              | 31
"""
    expected = cells("""
        B3 guaiacol free S1 2
        C3 guaiacol total S1 9
        D3 !form_unknown
    """)
    return Case(book(("Results", drawn)), expected)


@case
def total_cresols_among_totals_and_in_french() -> Case:
    english = """
Sample | Guaiacol, total (µg/L) | Cresols, total (µg/L) | Total free cresols (µg/L)
S1     | 9                      | 31                    | 5
"""
    french = """
Phénols volatils libres (µg/L)
Échantillon | Gaïacol | Crésols totaux
E1          | 2       | 3
"""
    expected = cells(
        "B2 guaiacol total S1 9\nC2 cresols total S1 31\nD2 cresols free S1 5", "English"
    )
    expected |= crossing("B3", "guaiacol cresols", "free", {"E1": "2 3"}, "French")
    return Case(book(("English", english), ("French", french)), expected)


@case
def total_cresols_that_nothing_explains() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L) | Total cresols (µg/L)
S1     | 2                    | 31
"""
    return Case(book(("Results", drawn)), cells("B2 guaiacol free S1 2\nC2 !form_unknown"))


@case
def marks_in_a_line_below_the_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |     | Phenol |   | Syringol
       | a        | b   | a      | b |
S1     | 1.1      | 1.3 | 3      | 5 | 7
"""
    expected = crossing("B4", f"{GGPP} syringol", "free", {"S1": "1.1 1.3 3 5 7"})
    return Case(book(("Results", drawn)), marked(expected, "B4 C4 D4 E4 F4", "a b a b -"))


@case
def numbers_in_a_line_below_merged_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |    | Phenol |
       | 1        | 2  | 1      | 2
S1     | 10       | 20 | 30     | 40
"""
    expected = crossing("B4", GGPP, "free", {"S1": "10 20 30 40"})
    expected = marked(expected, "B4 C4 D4 E4", "1 2 1 2")
    return Case(book(("Results", drawn), merge=["B2:C2", "D2:E2"]), expected)


@case
def before_and_after_in_a_line_below_the_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |       | Phenol |
       | Before   | After | Before | After
S1     | 10       | 10    | 30     | 30
"""
    # Equal numbers of two samples are no repeats of one.
    expected = crossing("B4", GGPP, "free", {"S1": " ".join(["!sample_conflict"] * 4)})
    return Case(book(("Results", drawn), merge=["B2:C2", "D2:E2"]), expected)


@case
def before_and_after_in_titles() -> Case:
    drawn = """
Free volatile phenols (µg/L)
       | Before fining |        | After fining |
Sample | Guaiacol      | Phenol | Guaiacol     | Phenol
S1     | 10            | 20     | 10           | 40
"""
    names = "guaiacol phenol guaiacol phenol"
    expected = crossing("B4", names, "free", {"S1": " ".join(["!sample_conflict"] * 4)})
    return Case(book(("Results", drawn), merge=["B2:C2", "D2:E2"]), expected)


@case
def average_beside_marked_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol_1 | Guaiacol_2 | Guaiacol mean | Phenol_1 | Phenol_2
S1     | 10         | 20         | 15            | 5        | 6
"""
    expected = crossing("B3", f"{GG} - phenol phenol", "free", {"S1": "10 20 - 5 6"})
    expected = {cell: value for cell, value in expected.items() if cell != "Results!D3"}
    return Case(
        book(("Results", drawn)),
        marked(expected, "B3 C3 E3 F3", "1 2 1 2"),
        notices=("not read",),
    )


@case
def states_in_brackets_before_the_form() -> Case:
    drawn = """
Sample | Guaiacol (before) free µg/L | Guaiacol (after) free µg/L | Phenol free µg/L
S1     | 5                           | 2                          | 6
"""
    expected = crossing("B2", f"{GG} phenol", "free", {"S1": "!sample_conflict !sample_conflict 6"})
    return Case(book(("Results", drawn)), expected)


@case
def units_behind_a_preposition() -> Case:
    drawn = """
Échantillon | Gaïacol (forme libre) en µg/L | Gaïacol (forme liée) en µg/L | Syringol total en µg/L
E1          | '1,5                          | '2,5                         | '3,5
"""
    expected = cells("""
        B2 guaiacol free E1 1.5
        C2 guaiacol bound E1 2.5
        D2 syringol total E1 3.5
    """)
    return Case(book(("Results", drawn)), expected)


@case
def units_behind_a_german_preposition() -> Case:
    drawn = """
Probe | Guajakol frei in µg/l | Phenol frei in mg/l
P1    | '1,5                  | '0,5
"""
    return Case(
        book(("Results", drawn)), crossing("B2", "guaiacol phenol", "free", {"P1": "1.5 500"})
    )


@case
def spanish_limit_of_quantification_in_a_heading() -> Case:
    drawn = """
Muestra | Guayacol libre, µg/L (LD 0,3) | Fenol libre µg/L (LC 1,0)
M1      | <LD                           | <LC
"""
    expected = crossing("B2", "guaiacol phenol", "free", {"M1": "[0,0.3] [0,1]"})
    return Case(book(("Results", drawn)), expected)


@case
def figures_glued_to_the_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol1 | Guaiacol2 | 4-Methylguaiacol1 | 4-Methylguaiacol2 | Phenol
S1     | 1.1       | 1.3       | 3                 | 5                 | 7
"""
    names = f"{GG} 4-methylguaiacol 4-methylguaiacol phenol"
    expected = crossing("B3", names, "free", {"S1": "1.1 1.3 3 5 7"})
    return Case(book(("Results", drawn)), marked(expected, "B3 C3 D3 E3 F3", "1 2 1 2 -"))


@case
def figures_glued_to_names_with_units() -> Case:
    drawn = """
Sample | Free guaiacol1 (µg/L) | Free guaiacol2 (µg/L) | Free guaiacol3 (µg/L)
S1     | 1.1                   | 1.3                   | 1.2
"""
    expected = crossing("B2", f"{GG} guaiacol", "free", {"S1": "1.1 1.3 1.2"})
    return Case(book(("Results", drawn)), marked(expected, "B2 C2 D2", "1 2 3"))


@case
def roman_figures_behind_the_names() -> Case:
    drawn = """
Compound    | S1 | S2
Free phenols (µg/L)
Guaiacol I  | 1  | 2
Guaiacol II | 3  | 4
Phenol I    | 5  | 6
Phenol II   | 7  | 8
"""
    samples = {"S1": "1 3 5 7", "S2": "2 4 6 8"}
    expected = crossing("B3", GGPP, "free", samples, down=True)
    return Case(book(("Results", drawn)), marked(expected, "B3 C3 B4 C4", "I I II II"))


@case
def figure_of_a_footnote_glued_to_one_name() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol1 | Phenol | Syringol2
S1     | 1         | 2      | 3
1 Method 12; 2 Method 14
"""
    expected = crossing("B3", "? phenol ?", "free", {"S1": "!analyte_unknown 2 !analyte_unknown"})
    return Case(book(("Results", drawn)), expected)


@case
def figures_glued_to_names_that_a_footnote_explains() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol1 | Guaiacol2 | Phenol
S1     | 1         | 2         | 3
1 = by SPME, 2 = by liquid extraction
"""
    expected = crossing("B3", "? ? phenol", "free", {"S1": "!analyte_unknown !analyte_unknown 3"})
    return Case(book(("Results", drawn)), expected)


@case
def figures_glued_to_what_may_be_isomers() -> Case:
    drawn = """
Free and bound smoke markers (µg/L)
Sample | Guaiacol, free | Cresol1 | Cresol2 | Guaiacol rutinoside I | Guaiacol rutinoside II
S1     | 1              | 2       | 3       | 4                     | 5
"""
    held = "!analyte_unknown !analyte_unknown !duplicate !duplicate"
    return Case(
        book(("Results", drawn)), crossing("B3", "guaiacol ? ? ? ?", "free", {"S1": f"1 {held}"})
    )


@case
def roman_figures_of_methods() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol I | Guaiacol II | Phenol
S1     | 1          | 2           | 3
Method I: SPME. Method II: liquid extraction.
"""
    expected = crossing("B3", "? ? phenol", "free", {"S1": "!analyte_unknown !analyte_unknown 3"})
    return Case(book(("Results", drawn)), expected)
