"""Dates of sampling, receipt and analysis, as people write them."""

from __future__ import annotations

from datetime import date

import openpyxl
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from corpus.books import book, fill, rows, saved
from corpus.cases import Case, Value, case, cells, crossing, more

G_S = "guaiacol syringol"


def dated(texts: list[str], wanted: list[date | str], heading: str = "Sampled") -> Case:
    """One sample per line with a printed date; `wanted` is the date or "!reason"."""
    head = ["Sample", heading, "Free guaiacol (µg/L)"]
    workbook = openpyxl.Workbook()
    workbook.active.title = "Results"
    fill(workbook.active, [head, *[[f"S{n}", t, n] for n, t in enumerate(texts, 1)]])
    expected: dict[str, Value] = {}
    for n, on in enumerate(wanted, 1):
        told = on if isinstance(on, str) else f"guaiacol free S{n} {n}"
        expected |= cells(f"C{n + 1} {told}")
        if isinstance(on, date):
            expected = more(expected, f"Results!C{n + 1}", sampled_on=on)
    return Case(saved(workbook), expected)


@case
def typed_and_iso_dates() -> Case:
    drawn = """
Sample | Date sampled | Date analysed | Free guaiacol (µg/L)
S1     | d:2025-09-03 | 2025-10-04    | 5
"""
    expected = more(
        cells("D2 guaiacol free S1 5"), "Results!D2",
        sampled_on=date(2025, 9, 3), analysed_on=date(2025, 10, 4),
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def day_first_by_evidence() -> Case:
    return dated(["03/09/2025", "21/09/2025"], [date(2025, 9, 3), date(2025, 9, 21)])


@case
def month_first_by_evidence() -> Case:
    return dated(["09/03/2025", "09/21/2025"], [date(2025, 9, 3), date(2025, 9, 21)])


@case
def order_of_day_and_month_unknown() -> Case:
    return dated(["03/09/2025", "04/09/2025"], ["!date_ambiguous", "!date_ambiguous"])


@case
def order_of_day_and_month_contradicts_itself() -> Case:
    return dated(
        ["03/09/2025", "21/09/2025", "09/22/2025"],
        ["!date_ambiguous", date(2025, 9, 21), date(2025, 9, 22)],
    )


@case
def month_names_in_six_languages() -> Case:
    texts = ["3 September 2025", "Sep 3, 2025", "03-Sep-25", "3 septembre 2025", "1er août 2025",
             "3 de septiembre de 2025", "3 settembre 2025", "3. März 2026", "3 de setembro de 2025",
             "12 février 2026", "5 dic 2025", "7. Oktober 2025"]  # fmt: skip
    wanted = [date(2025, 9, 3)] * 4 + [
        date(2025, 8, 1), date(2025, 9, 3), date(2025, 9, 3), date(2026, 3, 3), date(2025, 9, 3),
        date(2026, 2, 12), date(2025, 12, 5), date(2025, 10, 7),
    ]  # fmt: skip
    return dated(texts, list(wanted))


@case
def impossible_dates() -> Case:
    return dated(["31/02/2025", "spring"], ["!date_invalid", "!date_invalid"])


@case
def dates_with_points() -> Case:
    return dated(["3.9.2025", "04.10.25"], [date(2025, 9, 3), date(2025, 10, 4)])


@case
def ordinals_behind_the_month() -> Case:
    return dated(["Oct 3rd, 2025", "October 4, 2025"], [date(2025, 10, 3), date(2025, 10, 4)])


@case
def day_and_time() -> Case:
    return dated(["2025-09-03 14:30", "2025-09-04T08:00:00"], [date(2025, 9, 3), date(2025, 9, 4)])


@case
def dates_counted_from_1904() -> Case:
    workbook = openpyxl.Workbook()
    workbook.epoch = CALENDAR_MAC_1904
    sheet = workbook.active
    sheet.title = "Results"
    fill(sheet, rows("Sample | Sampled | Free guaiacol (µg/L)\nS1 | d:2025-09-03 | 5"))
    expected = more(cells("C2 guaiacol free S1 5"), "Results!C2", sampled_on=date(2025, 9, 3))
    return Case(saved(workbook), expected)


@case
def date_of_sampling_for_the_whole_sheet() -> Case:
    drawn = """
Date sampled: 14 September 2025
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12       | 13
"""
    expected = crossing("B4", G_S, "free", {"S1": "12 13"})
    expected = more(expected, "Results!B4", sampled_on=date(2025, 9, 14))
    return Case(book(("Results", drawn)), expected)


def led(head: str, *lines: str, value: str = "Free guaiacol (µg/L)", **wanted: date | str) -> Case:
    """Lines of sample, days and a result of 5, under lines of a head; `wanted` is sampled_on."""
    drawn = [*filter(None, head.splitlines()), *(f"{line} | 5" for line in lines)]
    first = len(drawn) - len(wanted) + 1
    column = "ABCDEF"[drawn[first - 1].count("|")]
    expected: dict[str, Value] = {}
    for row, (name, on) in enumerate(wanted.items(), first):
        told = on if isinstance(on, str) else f"guaiacol free {name} 5"
        expected |= cells(f"{column}{row} {told}")
        if isinstance(on, date):
            expected = more(expected, f"Results!{column}{row}", sampled_on=on)
    drawn[first - 2] = drawn[first - 2].removesuffix(" | 5") + f" | {value}"
    return Case(book(("Results", "\n".join(drawn))), expected)


# The serial numbers are those of ECMA-376 part 1, 18.17.4: 45658 is 1 January 2025 in the system of
# 1900, and 1462 less in that of 1904; 45945 is 287 days later, 15 October 2025.
@case
def days_as_numbers_in_a_workbook() -> Case:
    return led(
        "", "Sample | Date sampled", "S1 | 45945", "S2 | 45946.5",
        S1=date(2025, 10, 15), S2=date(2025, 10, 16),
    )  # fmt: skip


@case
def days_as_numbers_counted_from_1904() -> Case:
    workbook = openpyxl.Workbook()
    workbook.epoch = CALENDAR_MAC_1904
    workbook.active.title = "Results"
    fill(workbook.active, rows("Sample | Sampled | Free guaiacol (µg/L)\nS1 | 44483 | 5"))
    expected = more(cells("C2 guaiacol free S1 5"), "Results!C2", sampled_on=date(2025, 10, 15))
    return Case(saved(workbook), expected, notices=("counted from 1904: 44483 is 2025-10-15",))


@case
def numbers_that_are_no_days_beside_some_that_may_be() -> Case:
    return led(
        "", "Sample | Date sampled", "S1 | 45945", "S2 | 7",
        S1="!date_ambiguous", S2="!date_invalid",
    )  # fmt: skip


@case
def days_as_numbers_after_the_day_of_issue() -> Case:
    return led(
        "Issue date | d:2025-10-01\n", "Sample | Date sampled", "S1 | 45945", S1="!date_ambiguous"
    )


@case
def days_as_numbers_in_a_text_file() -> Case:
    # By the other calendar these would be four years and a day later; nothing tells.
    text = "Sample,Date sampled,Free guaiacol (ug/L)\nS1,45945,5\n"
    return Case(text.encode(), cells("C2 !date_ambiguous", "report"), "report.csv")


@case
def days_as_numbers_in_a_text_file_with_a_day_of_issue() -> Case:
    text = "Issue date,2025-11-02,\nSample,Date sampled,Free guaiacol (ug/L)\nS1,45945,5\n"
    expected = more(
        cells("C3 guaiacol free S1 5", "report"), "report!C3", sampled_on=date(2025, 10, 15)
    )
    return Case(text.encode(), expected, "report.csv", notices=("counted from 1900",))


LANGUAGES = {
    "French": ("Échantillon", "Date de prélèvement", "Gaïacol libre (µg/L)"),
    "Spanish": ("Muestra", "Fecha de muestreo", "Guayacol libre (µg/L)"),
    "Italian": ("Campione", "Data prelievo", "Guaiacolo libero (µg/L)"),
    "German": ("Probe", "Probenahme", "Guajakol, frei (µg/L)"),
    "Portuguese": ("Amostra", "Data da amostragem", "Guaiacol livre (µg/L)"),
}


def in_language(name: str) -> Case:
    """Days up to the twelfth in a language that puts the day first (source: languages.toml)."""
    sample, sampled, analyte = LANGUAGES[name]
    made = led(
        "", f"{sample} | {sampled}", "S1 | 03/09/2025", "S2 | 04/09/2025",
        value=analyte, S1=date(2025, 9, 3), S2=date(2025, 9, 4),
    )  # fmt: skip
    return Case(made.content, made.expected, notices=(f"since the report is in {name}",))


@case
def day_first_in_a_french_report() -> Case:
    return in_language("French")


@case
def day_first_in_a_spanish_report() -> Case:
    return in_language("Spanish")


@case
def day_first_in_an_italian_report() -> Case:
    return in_language("Italian")


@case
def day_first_in_a_german_report() -> Case:
    return in_language("German")


@case
def day_first_in_a_portuguese_report() -> Case:
    return in_language("Portuguese")


@case
def order_unknown_in_a_report_in_two_languages() -> Case:
    return led(
        "Test report / Rapport d'essai", "Sample / Échantillon | Date de prélèvement",
        "S1 | 03/09/2025", S1="!date_ambiguous",
    )  # fmt: skip


@case
def french_days_that_speak_against_the_day_first() -> Case:
    # Day first, the sample would have come half a year before it was taken.
    return led(
        "", "Échantillon | Date de prélèvement | Date de réception", "S1 | 03/09/2025 | 09/04/2025",
        value="Gaïacol libre (µg/L)", S1="!date_ambiguous",
    )  # fmt: skip


@case
def month_first_since_samples_come_after_they_are_taken() -> Case:
    made = led(
        "", "Sample | Date sampled | Date received", "S1 | 03/09/2025 | 09/04/2025",
        "S2 | 03/10/2025 | 09/04/2025", S1=date(2025, 3, 9), S2=date(2025, 3, 10),
    )  # fmt: skip
    return Case(made.content, made.expected, notices=("the month first: only so",))


@case
def day_first_since_reports_are_issued_last() -> Case:
    return led(
        "Issue date | d:2025-05-01\n", "Sample | Date sampled", "S1 | 11/03/2025",
        S1=date(2025, 3, 11),
    )  # fmt: skip


@case
def order_unknown_where_days_follow_one_another_both_ways() -> Case:
    return led(
        "Issue date | d:2025-09-30\n", "Sample | Date sampled | Date received",
        "S1 | 03/09/2025 | 04/09/2025", S1="!date_ambiguous",
    )  # fmt: skip
