"""Read printed dates; day and month are told apart by evidence inside the same file, or not at all."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from datetime import date
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


def date_order(texts: list[str]) -> str | None:
    """Tell from a file's numeric dates whether the day or the month comes first.

    Dots between the parts count as day first (common practice, no source). Returns "day", "month",
    or None when nothing tells or the dates contradict each other.
    """
    seen = set()
    for text in texts:
        if match := _NUMERIC.match(text.strip()):
            first, mark, second = int(match.group(1)), match.group(2), int(match.group(3))
            if first > 12 or mark == ".":
                seen.add("day")
            if second > 12:
                seen.add("month")
    return next(iter(seen)) if len(seen) == 1 else None


def read_date(text: str, order: str | None) -> tuple[date | None, str]:
    """Read a printed date; the second value is "ok", "ambiguous" or "invalid"."""
    printed = re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text)).strip()
    if match := _ISO.match(printed) or _COMPACT.match(printed):
        made = _make(*(int(g) for g in match.groups()))
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
    """Tabulate each distinct (text, date_order) with its date and how it was read."""
    rows = []
    for text, order in printed.select("text", "date_order").drop_nulls("text").unique().iter_rows():
        rows.append((text, order, *read_date(text, order)))
    schema = {
        "text": pl.String(),
        "date_order": pl.String(),
        "date": pl.Date(),
        "read": pl.String(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")
