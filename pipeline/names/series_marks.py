"""Part a sample's name from the letter or number behind it: "W-1a", "W-1 (2)", "W-1/1", "W-1_B"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from schemas.folding import squash_words
from schemas.wordings import any_of, as_whole_words

_PARTED = re.compile(
    r"(?P<base>.*?\d[^\W\d_]?\s*)(?P<lead>[(\[/_-]|(?<=\s)|(?<=\d))"
    r"(?P<mark>[a-z]|(?<![\d])\d{1,3})(?P<close>[)\]])?",
    re.IGNORECASE,
)
_ORDERS = {"letter": "abcd", "number": "1234"}
# A mark behind such a word is the number of a barrel, a block or a picking.
PLACES = as_whole_words(any_of("places", "words"))


@dataclass(frozen=True)
class SeriesMark:
    """A name less its mark; `style` is how the mark is written, and alike in all of a series."""

    base: str
    style: tuple[str, str]
    mark: str


def part_series_mark(name: str) -> SeriesMark | None:
    """Part a name that has a figure before its mark; null where nothing is to be parted."""
    match = _PARTED.fullmatch(name.strip())
    if match is None or (match["lead"] in {"(", "["}) != bool(match["close"]):
        return None
    number, base = match["mark"].isdigit(), match["base"].strip()
    glued = not match["lead"] and base[-1:].isdigit() and match["base"][-1:] == base[-1:]
    if (number and glued) or PLACES.search(squash_words(base)):
        return None
    kind = "number" if number else "capital" if match["mark"].isupper() else "letter"
    return SeriesMark(base, (match["lead"] or ("" if glued else " "), kind), match["mark"])


def is_whole_series(marks: set[str], kind: str) -> bool:
    """Tell a and b, or 1, 2 and 3: two to four marks from the first on."""
    order = _ORDERS["number" if kind == "number" else "letter"]
    return 1 < len(marks) <= len(order) and {m.lower() for m in marks} == set(order[: len(marks)])
