"""Legends that say what a notation stands for: they win over what it usually means."""

from __future__ import annotations

from dataclasses import replace

from corpus.books import book
from corpus.cases import Case, Value, case, crossing

G_S = "guaiacol syringol"


def told(*legend: str, **samples: str) -> bytes:
    """A table of free phenols with lines of a legend below it."""
    lines = [f"{name} | {shown}" for name, shown in samples.items()]
    drawn = ["Free volatile phenols (µg/L)", "Sample | Guaiacol | Syringol", *lines, "", *legend]
    return book(("Results", "\n".join(drawn)))


def expected(**samples: str) -> dict[str, Value]:
    return crossing("B3", G_S, "free", samples)


@case
def letters_for_not_detected_that_a_legend_calls_not_determined() -> Case:
    # Read as "not detected" these would be zero to 0.2.
    content = told("n.d. = not determined", "LOD 0.2 µg/L", S1="n.d. | 3", S2="5 | ND")
    return Case(content, expected(S1="- 3", S2="5 -"))


@case
def not_determined_in_other_languages() -> Case:
    legends = {
        "FR": "n.d. : non déterminé",
        "ES": "n.d. = no determinado; LD = 0,2",
        "IT": "n.d.: non determinato",
        "PT": "n.d. = não determinado",
        "DE": "Legende: n.d. = nicht durchgeführt",
    }
    sheets, found = [], {}
    for name, legend in legends.items():
        drawn = f"""
Free volatile phenols (µg/L), LOD 0.2 µg/L
Sample | Guaiacol | Syringol
{name}1 | n.d. | 3

{legend}
"""
        sheets.append((name, drawn))
        found |= crossing("B3", G_S, "free", {f"{name}1": "- 3"}, name)
    return Case(book(*sheets), found)


@case
def a_legend_that_says_what_is_usual_keeps_the_limits_of_the_table() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
LOD    | 0.2      | 0.4
S1     | nd       | 3
S2     | 5        | nd

nd = not detected
"""
    return Case(
        book(("Results", drawn)),
        crossing("B4", G_S, "free", {"S1": "[0,0.2] 3", "S2": "5 [0,0.4]"}),
    )


@case
def a_known_notation_with_a_meaning_nobody_understands() -> Case:
    content = told("ND = see the covering letter", "LOD 0.2 µg/L", S1="ND | 3", S2="5 | <0.4")
    return Case(content, expected(S1="!number_ambiguous 3", S2="5 [0,0.4]"))


@case
def zero_that_stands_for_not_detected() -> Case:
    content = told("0 = not detected", "LOD 0.2 µg/L", S1="0 | 3", S2="5 | 0")
    return Case(content, expected(S1="[0,0.2] 3", S2="5 [0,0.2]"))


@case
def zero_without_a_legend() -> Case:
    content = told("LOD 0.2 µg/L", S1="0 | 3", S2="5 | 10")
    return Case(content, expected(S1="!number_ambiguous 3", S2="5 10"))


@case
def numbers_that_stand_for_no_number() -> Case:
    content = told("-99 = not analysed", S1="-99 | 3", S2="5 | 99")
    return Case(content, expected(S1="- 3", S2="5 99"))


@case
def numbered_footnotes_are_no_legend() -> Case:
    # The 1 before the note is the sign of a footnote, and S1's guaiacol is one microgram.
    content = told("1: not detected in the repeat", "2 = not analysed", S1="1 | 3", S2="5 | 2")
    return Case(content, expected(S1="1 3", S2="5 2"))


@case
def stroke_for_not_requested() -> Case:
    content = told("/ = not requested", S1="/ | 3", S2="5 | 6")
    return Case(content, expected(S1="- 3", S2="5 6"))


@case
def dash_for_not_determined_in_german() -> Case:
    content = told("- = nicht bestimmt", S1="- | 3", S2="5 | 6")
    return Case(content, expected(S1="- 3", S2="5 6"))


@case
def limit_behind_its_sign() -> Case:
    content = told("<LD=0,1", S1="<LD | 3,5", S2="5 | 6")
    return Case(content, expected(S1="[0,0.1] 3.5", S2="5 6"))


@case
def star_below_quantification() -> Case:
    content = told("* below quantification limit (0.5)", S1="* | 3", S2="5 | 6")
    return Case(content, expected(S1="[0,0.5] 3", S2="5 6"))


@case
def star_below_quantification_behind_a_number() -> Case:
    content = told("* below quantification limit (0.5)", S1="0.5* | 3", S2="5 | 6")
    return Case(content, expected(S1="!number_ambiguous 3", S2="5 6"))


@case
def traces_with_a_limit_in_the_legend() -> Case:
    content = told("tr = <1.0", S1="tr | 3", S2="5 | tr.")
    return Case(content, expected(S1="[0,1] 3", S2="5 [0,1]"))


@case
def traces_with_a_limit_in_brackets() -> Case:
    content = told("tr = traces (<1.0 µg/L)", S1="tr | 3", S2="5 | 6")
    return Case(content, expected(S1="[0,1] 3", S2="5 6"))


@case
def number_with_a_point_behind_it() -> Case:
    return Case(told(S1="'5. | 3", S2="'12. | '7.5"), expected(S1="5 3", S2="12 7.5"))


@case
def legend_on_a_sheet_of_its_own() -> Case:
    drawn = """
Free volatile phenols (µg/L), LOD 0.3 µg/L
Sample | Guaiacol | Syringol
S1     | n.d.     | -
S2     | 5        | 6
"""
    legend = """
Legend
n.d. = not determined
-    | not detected
"""
    found = crossing("B3", G_S, "free", {"S1": "- [0,0.3]", "S2": "5 6"})
    return Case(book(("Results", drawn), ("Legend", legend)), found)


@case
def legend_in_two_columns() -> Case:
    content = told(
        "Abbreviations", "n.d. | not determined", "'- | not detected", "LOD 0.3 µg/L",
        S1="n.d. | -", S2="5 | 6",
    )  # fmt: skip
    return Case(content, expected(S1="- [0,0.3]", S2="5 6"))


@case
def legend_beside_the_table() -> Case:
    drawn = """
Free volatile phenols (µg/L) | | | | Legend
Sample | Guaiacol | Syringol | | n.d. = not determined
S1     | n.d.     | -        | | - = not requested
S2     | 5        | 6        | | tr = traces
"""
    return Case(book(("Results", drawn)), crossing("B3", G_S, "free", {"S1": "- -", "S2": "5 6"}))


@case
def legend_above_the_table() -> Case:
    drawn = """
n.d. = not determined; 0 = not detected (<0.2)
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | n.d.     | 0
S2     | 5        | 6
"""
    return Case(
        book(("Results", drawn)), crossing("B4", G_S, "free", {"S1": "- [0,0.2]", "S2": "5 6"})
    )


@case
def two_legends_that_contradict_each_other() -> Case:
    content = told(
        "n.d. = not determined", "nd: not detected", "LOD 0.2 µg/L", S1="n.d. | 3", S2="5 | nd"
    )
    return Case(content, expected(S1="!number_ambiguous 3", S2="5 !number_ambiguous"))


@case
def labels_that_look_like_a_legend() -> Case:
    content = told(
        "Analyst: nd", "U: expanded uncertainty (k=2)", "LOD: 0.2 µg/L", S1="nd | 3", S2="5 | 6"
    )
    return Case(content, expected(S1="[0,0.2] 3", S2="5 6"))


@case
def legends_that_only_explain_what_is_usual() -> Case:
    content = told(
        "trace = detected, not quantified; n.d. = none detected in the wine", "LOD 0.5; LOQ 1",
        S1="trace | 3", S2="5 | n.d.",
    )  # fmt: skip
    return Case(content, expected(S1="[0.5,1] 3", S2="5 [0,0.5]"))


RESULTS = """
Free volatile phenols (µg/L), LOQ 0.5 µg/L
Sample | Guaiacol | Syringol
S1     | *        | 3
S2     | 5        | 6
"""


def _legends_on_sheets(first: str, second: str, guaiacol: str) -> Case:
    content = book(("Results", RESULTS), ("Legend", f"Legend\n{first}"), ("Notes", second))
    hints = {"Results!B3": "Legend!A2"} if guaiacol.startswith("!") else {}
    return Case(content, expected(S1=f"{guaiacol} 3", S2="5 6"), hints=hints)


@case
def two_sheets_of_legends_that_contradict_each_other() -> Case:
    made = _legends_on_sheets("* = below LOQ", "* = not analysed", "!number_ambiguous")
    return replace(made, hints={"Results!B3": 'Legend!A2 but "not analysed" in Notes!A1'})


@case
def two_sheets_of_legends_in_the_other_order() -> Case:
    made = _legends_on_sheets("* = not analysed", "* = below LOQ", "!number_ambiguous")
    return replace(made, hints={"Results!B3": 'Legend!A2 but "<LOQ" in Notes!A1'})


@case
def two_sheets_of_legends_with_two_limits() -> Case:
    return _legends_on_sheets("* = below LOQ (0.5)", "* = below LOQ (1.5)", "!number_ambiguous")


@case
def two_sheets_of_legends_that_agree() -> Case:
    # The second says the limit too.
    return _legends_on_sheets("* = below LOQ", "* = below the LOQ (0.5)", "[0,0.5]")


@case
def legend_below_the_table_that_contradicts_the_sheet_of_legends() -> Case:
    drawn = f"{RESULTS}\n* = not analysed"
    content = book(("Results", drawn), ("Legend", "Legend\n* = below LOQ"))
    hints = {"Results!B3": "Results!A6"}
    return Case(content, expected(S1="!number_ambiguous 3", S2="5 6"), hints=hints)


@case
def legends_of_two_tables_on_two_sheets_are_each_their_own() -> Case:
    drawn = RESULTS.strip("\n")
    content = book(("A", f"{drawn}\n\n* = not analysed"), ("B", f"{drawn}\n\n* = below LOQ"))
    found = crossing("B3", G_S, "free", {"S1": "- 3", "S2": "5 6"}, "A")
    # The second sheet sends three of its numbers again.
    found |= crossing("B3", G_S, "free", {"S1": "[0,0.5] =3", "S2": "=5 =6"}, "B")
    return Case(content, found)
