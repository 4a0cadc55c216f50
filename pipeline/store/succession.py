"""What a report prints of its number, its revision and the report it replaces, made comparable."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

import polars as pl

from pipeline.register.keys import name_key

_FILLERS = {
    "revision", "revisione", "rev", "version", "ver", "v", "r", "issue", "amendment", "amd",
    "edition", "no", "nr", "n", "number",
}  # fmt: skip
_ORDER_WORDS = {
    **dict.fromkeys(("draft", "preliminary", "interim", "provisional"), -1),
    **dict.fromkeys(("original", "initial", "first", "final"), 0),
    **dict.fromkeys(("revised", "corrected", "amended", "reissue", "reissued"), 1),
}
_REVISION = re.compile(r"\b(?:rev(?:ision)?|version|issue)[ .:]*(?:no[ .:]*)?[a-z0-9]+\b")
_BETWEEN = re.compile(r"[\s,;()&]+")
ORIGINAL = [0]
REVISED = [1]


@lru_cache(maxsize=1024)
def lab_key(lab: str | None) -> str | None:
    """Fold a laboratory's name; null when unknown, which is no laboratory's name."""
    return pl.select(name_key(pl.lit(lab, pl.String))).item()  # type: ignore[no-any-return]


def number_key(report_no: str | None) -> str | None:
    """Fold a report's number: case and every space go; null when blank."""
    return re.sub(r"\s+", "", report_no or "").lower() or None


def _word_rank(word: str) -> int | None:
    if word.isdigit():
        return int(word[:18])
    return ord(word) - 96 if len(word) == 1 else _ORDER_WORDS.get(word)


def revision_rank(revision: str | None) -> list[int] | None:
    """Give a printed revision's place: [0] for none, [2] for "Rev. 2" or "B", [1, 2] for "1.2".

    Null when its words tell no order.
    """
    if not (revision or "").strip():
        return ORIGINAL
    plain = unicodedata.normalize("NFKD", revision or "").encode("ascii", "ignore").decode().lower()
    words = re.findall(r"[0-9]+|[a-z]+", plain)
    ranks = [_word_rank(word) for word in words if word not in _FILLERS]
    known = [rank for rank in ranks if rank is not None]
    if len(known) < len(ranks) or not words:
        return None
    return known or REVISED


def named_numbers(replaces: str | None) -> list[str]:
    """List the folded numbers a line such as "AB-123 Rev. 1, AB-124" may name, and the whole."""
    if not (replaces or "").strip():
        return []
    plain = _REVISION.sub(" ", (replaces or "").lower())
    return sorted({*filter(None, _BETWEEN.split(plain)), number_key(replaces) or ""})


def printed_rank(
    report_no: str | None, revision: str | None, replaces: str | None
) -> list[int] | None:
    """Give a report's place among those of its number.

    One that prints no revision but replaces its own number comes after the original.
    """
    if not (revision or "").strip() and number_key(report_no) in named_numbers(replaces):
        return REVISED
    return revision_rank(revision)
