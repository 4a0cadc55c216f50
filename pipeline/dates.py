"""Read printed dates; what the file itself does not decide about them stays undecided."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable
from datetime import date, timedelta
from functools import cache
from importlib.resources import files

import polars as pl

_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?$")
_COMPACT = re.compile(r"^((?:19|20)\d{2})(\d{2})(\d{2})(?:\.0)?$")
_NUMERIC = re.compile(r"^(\d{1,2})([-/. ])\s?(\d{1,2})[-/. ]\s?(\d{4}|\d{2})(?:[T ].*)?$")
_NAMED = re.compile(
    r"^(?:[^\W\d]+,?\s+)?(\d{1,2})(?:st|nd|rd|th|er|º|°|\.)?[\s/.-]*(?:de\s+)?"
    r"([^\W\d]+)\.?,?[\s/.-]*(?:de\s+)?(\d{4}|\d{2})(?:[T ].*)?$"
)
_SERIAL = re.compile(r"^(\d{5})(?:\.\d+)?$")
# The day that the number 0 stands for, for days after February 1900.
_EPOCHS = {"1900": date(1899, 12, 30), "1904": date(1904, 1, 1)}
# The days of a sample in the order in which they happen; a report is issued after all of them.
COURSE = ("sampled_on", "received_on", "analysed_on")
# What a printed date is read by, beside its text.
DATE_KEYS = ("date_order", "date_system")
_NAMED_FIRST = re.compile(r"^([^\W\d]+)\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})$")


@cache
def _months() -> dict[str, int]:
    table = tomllib.loads(files("schemas").joinpath("months.toml").read_text(encoding="utf-8"))
    return {name: int(number) for number, names in table["months"].items() for name in names}


def _month(word: str) -> int | None:
    folded = unicodedata.normalize("NFKD", word)
    return _months().get("".join(c for c in folded if not unicodedata.combining(c)).casefold())


def _make(year: int, month: int, day: int) -> date | None:
    try:
        return date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        return None


def orders_printed(texts: list[str]) -> set[str]:
    """Tell which orders a file's numeric dates can only have: "day" first, "month" first, or both.

    Dots between the parts count as day first (common practice, no source).
    """
    seen = set()
    for text in texts:
        if match := _NUMERIC.match(text.strip()):
            first, mark, second = int(match.group(1)), match.group(2), int(match.group(3))
            if first > 12 or mark == ".":
                seen.add("day")
            if second > 12:
                seen.add("month")
    return seen


def is_serial(text: str) -> bool:
    """Tell a number that may count days, as spreadsheets store dates, from any other text."""
    return bool(_SERIAL.match(text.strip()))


def read_serial(text: str, system: str) -> date | None:
    """Read a number of days from "1900" or "1904"; null unless it falls in the years 2000 to 2099.

    Source: ECMA-376 part 1, 18.17.4.1 (the date systems of 1900 and of 1904).
    """
    match = _SERIAL.match(text.strip())
    day = _EPOCHS[system] + timedelta(days=int(match.group(1))) if match else None
    return day if day and 2000 <= day.year <= 2099 else None


def read_date(text: str, order: str | None, system: str | None = None) -> tuple[date | None, str]:
    """Read a printed date; the second value is "ok", "ambiguous" or "invalid".

    `order` tells whether the day or the month comes first, `system` what a number counts days from.
    """
    printed = re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text)).strip()
    if match := _ISO.match(printed) or _COMPACT.match(printed):
        made = _make(*(int(g) for g in match.groups()))
    elif is_serial(printed):
        made = read_serial(printed, system) if system else None
        return made, "ok" if made else "ambiguous"
    elif match := _NUMERIC.match(printed):
        return _numeric(match, order)
    elif match := _NAMED_FIRST.match(printed):
        made = _named(match.group(3), match.group(1), match.group(2))
    elif match := _NAMED.match(printed):
        made = _named(match.group(3), match.group(2), match.group(1))
    else:
        made = None
    return made, "ok" if made else "invalid"


def _named(year: str, month: str, day: str) -> date | None:
    number = _month(month)
    return _make(int(year), number, int(day)) if number else None


def _numeric(match: re.Match[str], order: str | None) -> tuple[date | None, str]:
    first, second, year = int(match.group(1)), int(match.group(3)), int(match.group(4))
    if match.group(2) == "." or first > 12 or first == second:
        order = "day"
    elif second > 12:
        order = "month"
    if order is None:
        return None, "ambiguous"
    made = _make(year, second, first) if order == "day" else _make(year, first, second)
    return made, "ok" if made else "invalid"


def date_table(printed: pl.DataFrame) -> pl.DataFrame:
    """Tabulate each distinct (text, date_order, date_system) with its date and how it was read."""
    rows = []
    keys = printed.select("text", *DATE_KEYS).drop_nulls("text").unique()
    for text, order, system in keys.iter_rows():
        rows.append((text, order, system, *read_date(text, order, system)))
    schema = {
        "text": pl.String(),
        "date_order": pl.String(),
        "date_system": pl.String(),
        "date": pl.Date(),
        "read": pl.String(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


# How a report says in which order it writes its days, in the six languages.
_PATTERN = re.compile(
    r"\b(?:[djtg]{1,2}[./ -]m{1,2}|m{1,2}[./ -]d{1,2})[./ -](?:[yaj]{4}|[yaj]{2})\b", re.IGNORECASE
)


def date_patterns(texts: Iterable[str]) -> frozenset[str]:
    """Find the patterns of dates that a report prints, such as "dd/mm/yyyy" or "TT.MM.JJJJ"."""
    return frozenset(m.group(0) for text in texts for m in _PATTERN.finditer(text))


def order_of_pattern(pattern: str) -> str:
    """Tell whether a pattern puts the "day" or the "month" first."""
    return "month" if pattern[0] in "mM" else "day"
