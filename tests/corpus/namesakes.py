"""Samples whose names differ by a letter or number alone: replicates, or samples called so."""

from __future__ import annotations

from collections.abc import Mapping

from corpus.books import book
from corpus.cases import Case, Value, case, crossing, more
from corpus.places import moved

G_P = "guaiacol phenol"
OPEN = "may be replicates"


def _drawn(
    *lines: str, title: str = "Free volatile phenols (µg/L)", heading: str = "Sample"
) -> str:
    return "\n".join([title, f"{heading} | Guaiacol | Phenol", *lines])


def _numbered(names: str) -> list[str]:
    """Lines with numbers of their own: the first prints 1 and 2, the second 3 and 4."""
    return [f"{n.strip()} | {2 * i + 1} | {2 * i + 2}" for i, n in enumerate(names.split(","))]


def _apart(names: str, first: str = "B3") -> dict[str, Value]:
    """Expect each name to be a sample of its own, and no replicate."""
    samples = {n.strip(): f"{2 * i + 1} {2 * i + 2}" for i, n in enumerate(names.split(","))}
    found = crossing(first, G_P, "free", samples)
    for cell in list(found):
        found = more(found, cell, replicate=None)
    return found


def _together(told: str, first: str = "B3") -> dict[str, Value]:
    """Expect the replicates "W-1:a, W-1:b" on one line after the other."""
    found: dict[str, Value] = {}
    for i, (name, mark) in enumerate(part.strip().split(":") for part in told.split(",")):
        line = crossing(moved(first, i, 0), G_P, "free", {name: f"{2 * i + 1} {2 * i + 2}"})
        for cell in line:
            found |= {cell: more(line, cell, replicate=mark)[cell]}
    return found


def _case(drawn: str, expected: Mapping[str, Value], *notices: str) -> Case:
    return Case(book(("Results", drawn)), expected, notices=notices)


@case
def letters_that_a_note_calls_duplicates() -> Case:
    drawn = _drawn(*_numbered("W-1a, W-1b, W-2a, W-2b, W-3"), "", "a, b = duplicate analyses")
    expected = _together("W-1:a, W-1:b, W-2:a, W-2:b") | crossing(
        "B7", G_P, "free", {"W-3": "9 10"}
    )
    return _case(drawn, expected)


@case
def numbers_in_brackets_that_a_note_calls_replicates() -> Case:
    drawn = _drawn(*_numbered("W-1 (1), W-1 (2)"), "", "(1) and (2): replicate determinations")
    return _case(drawn, _together("W-1:1, W-1:2"))


@case
def replicates_in_six_languages() -> Case:
    notes = {
        "EN": "All samples were analysed in duplicate.",
        "FR": "Tous les échantillons ont été analysés en double.",
        "ES": "Todas las muestras se analizaron por duplicado.",
        "IT": "Tutti i campioni sono stati analizzati in doppio.",
        "DE": "Alle Proben: Doppelbestimmung.",
        "PT": "Todas as amostras foram analisadas em duplicado.",
    }
    sheets, expected = [], {}
    for language, note in notes.items():
        drawn = _drawn(*_numbered(f"{language}-1/1, {language}-1/2"), "", note)
        sheets.append((language, drawn))
        told = _together(f"{language}-1:1, {language}-1:2")
        expected |= {cell.replace("Results", language): value for cell, value in told.items()}
    return Case(book(*sheets), expected)


@case
def capital_letters_with_a_heading_that_says_replicate() -> Case:
    drawn = _drawn(*_numbered("W-1-A, W-1-B"), heading="Sample (replicate)")
    return _case(drawn, _together("W-1:A, W-1:B"))


@case
def mean_of_one_name_beside_its_letters() -> Case:
    lines = [*_numbered("W-1a, W-1b"), "W-1 mean | 2 | 3", "W-2 | 7 | 8"]
    expected = _together("W-1:a, W-1:b") | crossing("B6", G_P, "free", {"W-2": "7 8"})
    return _case(_drawn(*lines), expected)


@case
def mean_below_each_of_two_pairs() -> Case:
    lines = [
        "W-1_1 | 1 | 2",
        "W-1_2 | 3 | 4",
        "Mean | 2 | 3",
        "W-2_1 | 5 | 6",
        "W-2_2 | 7 | 8",
        "Mean | 6 | 7",
    ]
    expected = _together("W-1:1, W-1:2")
    second = crossing("B6", G_P, "free", {"W-2": "5 6"}) | crossing(
        "B7", G_P, "free", {"W-2": "7 8"}
    )
    return _case(_drawn(*lines), expected | second)


@case
def relative_difference_below_a_pair() -> Case:
    lines = [*_numbered("W-1 a, W-1 b"), "RPD | 100 | 67"]
    return _case(_drawn(*lines), _together("W-1:a, W-1:b"))


@case
def letters_with_one_number_of_the_laboratory() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Lab no. | Guaiacol | Phenol
W-1-A  | 24-17   | 1        | 2
W-1-B  | 24-17   | 3        | 4
W-2    | 24-18   | 5        | 6
"""
    expected = _together("W-1:A, W-1:B", "C3") | crossing("C5", G_P, "free", {"W-2": "5 6"})
    return _case(drawn, expected)


@case
def pairs_that_nothing_explains() -> Case:
    names = "W-1a, W-1b, W-2a, W-2b"
    return _case(
        _drawn(*_numbered(names)), _apart(names), OPEN, "W-1a, W-1b; W-2a, W-2b", 'sample "W-1"'
    )


@case
def mean_of_all_samples_below_one_pair() -> Case:
    lines = [*_numbered("W-1a, W-1b"), "Mean | 2 | 3"]
    return _case(_drawn(*lines), _apart("W-1a, W-1b"), OPEN)


@case
def barrels_and_blocks_and_pickings_with_letters_and_numbers() -> Case:
    names = "Barrel 1A, Barrel 1B, Block 3a, Block 3b, Pick 2/1, Pick 2/2"
    note = "All samples were analysed in duplicate."
    return _case(_drawn(*_numbered(names), "", note), _apart(names))


@case
def mean_of_two_blocks() -> Case:
    lines = [*_numbered("Block 3a, Block 3b"), "Block 3 mean | 2 | 3"]
    return _case(_drawn(*lines), _apart("Block 3a, Block 3b"))


@case
def letters_that_a_note_gives_another_meaning() -> Case:
    lines = [*_numbered("W-1a, W-1b"), "", "a = free run, b = press", "Duplicates on request"]
    return _case(_drawn(*lines), _apart("W-1a, W-1b"), OPEN)


@case
def letters_of_field_duplicates_and_of_means() -> Case:
    lines = [
        *_numbered("W-1a, W-1b"),
        "",
        "a, b = field duplicates",
        "Results are means of duplicates",
    ]
    return _case(_drawn(*lines), _apart("W-1a, W-1b"), OPEN)


@case
def letters_on_two_days() -> Case:
    drawn = """
Free volatile phenols (µg/L); all samples in duplicate
Sample | Sampled    | Guaiacol | Phenol
W-1a   | 2025-10-01 | 1        | 2
W-1b   | 2025-10-08 | 3        | 4
"""
    return _case(drawn, _apart("W-1a, W-1b", "C3"))


@case
def letters_with_two_numbers_of_the_laboratory() -> Case:
    drawn = """
Free volatile phenols (µg/L); all samples in duplicate
Sample | Lab no. | Guaiacol | Phenol
W-1a   | 24-17   | 1        | 2
W-1b   | 24-18   | 3        | 4
"""
    return _case(drawn, _apart("W-1a, W-1b", "C3"))


@case
def in_duplicate_with_a_sample_without_a_pair() -> Case:
    names = "W-1a, W-1b, W-2"
    lines = [*_numbered(names), "", "All samples were analysed in duplicate."]
    return _case(_drawn(*lines), _apart(names), OPEN)


@case
def in_triplicate_with_pairs_of_letters() -> Case:
    names = "W-1a, W-1b"
    lines = [*_numbered(names), "", "Each sample was analysed in triplicate."]
    return _case(_drawn(*lines), _apart(names), OPEN)


@case
def numbers_of_samples_that_run_on() -> Case:
    names = "25-1, 25-2, 25-3, 25-4, 25-5"
    lines = [*_numbered(names), "", "All samples were analysed in duplicate."]
    return _case(_drawn(*lines), _apart(names))


@case
def a_mean_on_one_sheet_counts_on_the_other() -> Case:
    free = _drawn(*_numbered("W-1a, W-1b"), "W-1 mean | 2 | 3")
    total = _drawn(*_numbered("W-1a, W-1b"), title="Total volatile phenols after hydrolysis (µg/L)")
    told = _together("W-1:a, W-1:b")
    expected = {cell.replace("Results", "Free"): value for cell, value in told.items()}
    for row, mark in ((3, "a"), (4, "b")):
        line = crossing(f"B{row}", G_P, "total", {"W-1": f"{2 * row - 5} {2 * row - 4}"}, "Total")
        for cell in line:
            expected |= {cell: more(line, cell, replicate=mark)[cell]}
    return Case(book(("Free", free), ("Total", total)), expected)
