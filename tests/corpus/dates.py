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
