"""Lines of the report, the room or a statistic among the samples, and samples called like one."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_P = "guaiacol phenol"
HEADER = "Sample | Free guaiacol (ug/L) | Free phenol (ug/L)\n"
HELD = "!number_ambiguous !number_ambiguous"


def below(names: list[str]) -> Case:
    """Word-named samples and, below them, lines whose numbers are no results: all are held."""
    lines = "\n".join(f"{name} | {i + 7} | {i + 9}" for i, name in enumerate(names))
    drawn = f"{HEADER}Pinot east | 1 | 2\nPinot west | 3 | 4\n{lines}"
    expected = crossing("B2", G_P, "free", {"Pinot east": "1 2", "Pinot west": "3 4"})
    return Case(
        book(("Results", drawn)),
        expected | crossing("B4", G_P, "free", dict.fromkeys(names, HELD)),
    )


@case
def details_of_the_room_and_the_paper() -> Case:
    return below(
        ["Room pressure", "Instrument temp", "Analyst ID", "Page 1 of 2", "Invoice no. 12345"]
    )


@case
def details_in_other_languages() -> Case:
    return below(
        ["Luftdruck", "Température du four", "Analista", "Fattura n. 12", "Raumtemperatur",
         "Humedad relativa"]
    )  # fmt: skip


@case
def detail_among_samples_across() -> Case:
    drawn = """
Free phenols, ug/L
Compound | W-1 | W-2 | Instrument temp
Guaiacol | 1   | 2   | 20
Phenol   | 3   | 4   | 21
"""
    expected = crossing("B3", G_P, "free", {"W-1": "1 3", "W-2": "2 4"}, down=True)
    return Case(
        book(("Results", drawn)), expected | cells("D3 !number_ambiguous\nD4 !number_ambiguous")
    )


@case
def samples_called_like_statistics_are_held() -> Case:
    names = ["CV", "N", "SD", "R2", "MAX", "MIN"]
    numbers = ["30 8", "12 7", "11 3", "5 4", "7 2", "9 9"]
    lines = "".join(f"{n} | {v.replace(' ', ' | ')}\n" for n, v in zip(names, numbers, strict=True))
    expected = crossing("B2", G_P, "free", {"CS": "46 5"} | dict.fromkeys(names, HELD))
    return Case(book(("Results", f"{HEADER}CS | 46 | 5\n{lines}")), expected)


@case
def sample_called_like_a_statistic_above_the_others() -> Case:
    drawn = f"{HEADER}MAX | 7 | 2\nS1 | 1 | 2\nS2 | 3 | 4"
    expected = crossing("B2", G_P, "free", {"MAX": HELD, "S1": "1 2", "S2": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def samples_across_called_like_statistics_are_held() -> Case:
    drawn = """
Free phenols, ug/L
Compound | CS | CV | SD
Guaiacol | 1  | 2  | 9
Phenol   | 3  | 4  | 8
"""
    expected = crossing("B3", G_P, "free", {"CS": "1 3", "CV": HELD, "SD": HELD}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def statistics_that_agree_with_the_lines_above() -> Case:
    # By hand: 10, 12 and 5, 7 have the standard deviation 1.41; 1.41/11 = 12.9 %, 1.41/6 = 23.6 %.
    drawn = f"{HEADER}S1 | 10 | 5\nS2 | 12 | 7\nSD | 1.41 | 1.41\nCV | 12.9 | 23.6\nN | 2 | 2"
    return Case(
        book(("Results", drawn)),
        crossing("B2", G_P, "free", {"S1": "10 5", "S2": "12 7"}),
    )


@case
def statistics_that_follow_an_average() -> Case:
    drawn = f"{HEADER}S1 | 10 | 5\nS2 | 12 | 7\nMean | 11 | 6\nCV | 3 | 4\nR2 | 0.99 | 0.99"
    return Case(
        book(("Results", drawn)),
        crossing("B2", G_P, "free", {"S1": "10 5", "S2": "12 7"}),
        notices=("Mean", "CV", "R2"),
    )


@case
def samples_called_by_one_letter() -> Case:
    names = [*"ABCDEFGHJUNRTXY"]
    lines = [f"{name} | {n} | {n + 1}" for n, name in enumerate(names, 1)]
    drawn = "\n".join(["Free phenols (ug/L)", "Sample | Guaiacol | Phenol", *lines])
    # U may head uncertainties, N a count: neither is taken for it, nor for a sample.
    doubted = dict.fromkeys("UN", "!number_ambiguous !number_ambiguous")
    samples = {name: doubted.get(name, f"{n} {n + 1}") for n, name in enumerate(names, 1)}
    return Case(book(("Results", drawn)), crossing("B3", "guaiacol phenol", "free", samples))


@case
def sample_numbers_shown_with_zeros_in_front() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["A2"].number_format = sheet["A3"].number_format = "00000"

    drawn = HEADER + "42 | 3 | 4\n43 | 5 | 6"
    samples = {"00042": "3 4", "00043": "5 6"}
    expected = crossing("B2", "guaiacol phenol", "free", samples)
    return Case(book(("Results", drawn), dress=dress), expected)
