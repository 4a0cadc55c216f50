"""Decide by the report itself whether day or month comes first, and what numbers for days mean."""

from __future__ import annotations

import re
from datetime import date
from typing import NamedTuple

import polars as pl

from pipeline.dates import (
    COURSE,
    is_serial,
    order_of_pattern,
    orders_printed,
    read_date,
    read_serial,
)
from pipeline.languages import puts_day_first


class DateEvidence(NamedTuple):
    """What the dates of a report are read by: "day" or "month" first, and the year that numbers for
    days are counted from ("1900" or "1904"). Null where nothing tells. `notices` say what decided.
    """

    order: str | None
    system: str | None
    notices: tuple[str, ...]


def weigh_dates(
    readings: pl.DataFrame,
    issued: str | None,
    language: str | None,
    system: str | None,
    patterns: frozenset[str] = frozenset(),
) -> DateEvidence:
    """Weigh all dates of one report: `raw_<name>` of COURSE, the printed day of issue, its language.

    `system` is the calendar its workbook counts by, null in a text file. A date such as 21/09/2025
    decides the order. Else a pattern that the report prints (`patterns`, "dd/mm/yyyy") does, or the
    days must follow one another in one order only, or the language must be one that always puts the
    day first; nothing may contradict it.
    """
    courses = readings.select(f"raw_{name}" for name in COURSE).unique(maintain_order=True).rows()
    days = [text for course in courses for text in course if text]
    texts = sorted({*days, *([issued] if issued else [])})
    order, why = _order(texts, courses, issued, language, patterns)
    counted = _system(texts, issued, order, system)
    notices = [f"{why}."] if why else []
    if counted and (serial := next((t for t in texts if is_serial(t)), None)):
        notices.append(
            f"numbers under headings of dates were read as days counted from {counted}: "
            f"{serial} is {read_serial(serial, counted)}."
        )
    return DateEvidence(order, counted, tuple(notices))


def _order(
    texts: list[str],
    courses: list[tuple[str | None, ...]],
    issued: str | None,
    language: str | None,
    patterns: frozenset[str],
) -> tuple[str | None, str | None]:
    seen = orders_printed(texts)
    if seen or not any(read_date(text, None)[1] == "ambiguous" for text in texts):
        return (seen.pop() if len(seen) == 1 else None), None
    possible = [o for o in ("day", "month") if all(_follows(c, issued, o) for c in courses)]
    stated = {order_of_pattern(pattern) for pattern in patterns}
    if stated:
        why = f'dates were read by the pattern the report prints: "{min(patterns)}"'
        return (stated.pop(), why) if len(stated) == 1 and stated <= set(possible) else (None, None)
    if puts_day_first(language):
        why = f"dates were read with the day first, since the report is in {language}"
        return ("day", why) if "day" in possible else (None, None)
    if len(possible) == 1:
        why = (
            f"dates were read with the {possible[0]} first: only so do sampling, receipt, analysis"
        )
        return possible[0], f"{why} and report follow one another"
    return None, None


def _follows(course: tuple[str | None, ...], issued: str | None, order: str) -> bool:
    """Tell whether the days of one sample follow one another, all of them read in this order."""
    read = [read_date(text, order)[0] for text in (*course, issued) if text]
    days = [day for day in read if day]
    return days == sorted(days)


def _system(
    texts: list[str], issued: str | None, order: str | None, told: str | None
) -> str | None:
    """Name the calendar of numbers for days; none where one of them is no likely day in it.

    A text file has no calendar: it is the one from 1900 where the day of issue rules out 1904.
    """
    serials = [text for text in texts if is_serial(text)]
    if not serials:
        return None
    on = read_date(issued, order)[0] if issued else None
    system = told or _ruled_out(serials, on)
    days = [read_serial(text, system) for text in serials] if system else [None]
    if any(_ODD.fullmatch(text.strip()) and not is_serial(text) for text in texts):
        return None
    if any(day is None or (on is not None and day > on) for day in days):
        return None
    return system


# A number that is no day in this century, beside numbers that may be.
_ODD = re.compile(r"\d{1,7}(?:\.\d+)?")


def _ruled_out(serials: list[str], issued: date | None) -> str | None:
    later = [day for text in serials if (day := read_serial(text, "1904"))]
    return "1900" if issued and any(day > issued for day in later) else None
