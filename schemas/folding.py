"""Fold printed text for look-up: what does not change the meaning goes, the rest stays."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_KEPT = re.compile(r"[^\w+*#±]|_")
# A word for "and" stands between two others: the Y of "Tank Y" is a letter.
_PLUS = re.compile(r"\s*[/&,+]\s*|\s(?:and|und|y|et)\s+(?=\S)")


@lru_cache(maxsize=65536)
def squash(text: str) -> str:
    """Fold a printed name for comparison: case, accents, spaces and punctuation go.

    `/`, `&` and `,` count as `+`, so that "m/p-cresol", "m,p-cresol" and "m+p-cresol" are one.
    """
    folded = fold_case(text.replace("µ", "u").replace("μ", "u").replace("Σ", "sum"))
    return _KEPT.sub("", _PLUS.sub("+", folded)).strip("+")


def fold_case(text: str) -> str:
    """Fold case, accents and compatible signs; most text has only the first to fold."""
    if text.isascii():
        return text.lower()
    folded = unicodedata.normalize("NFKD", text)
    return "".join(c for c in folded if not unicodedata.combining(c)).casefold()


def squash_words(text: str) -> str:
    """Fold a phrase word by word: case and accents go, every run of other signs is one space."""
    return " ".join(re.findall(r"[a-z0-9]+|\+", fold_case(text)))


def fold_unit(text: str) -> str:
    """Fold a printed unit for look-up: NFKC, both micro signs to u, inner spaces single, case kept."""
    folded = (
        unicodedata.normalize("NFKC", text).replace("μ", "u").replace("µ", "u").replace("−", "-")
    )
    folded = folded.replace("–1", "-1").replace("⁻¹", "-1")
    folded = re.sub(r"\s*/\s*", "/", folded.replace("⁻¹", "-1"))
    return re.sub(r"\s+", " ", folded).strip(" []()")


def fold_notation(text: str) -> str:
    """Fold a notation for look-up: case, accents, spaces and dots go; `<`, `>` and `/` stay."""
    return re.sub(r"[\s.\u200b_-]+", "", fold_case(text))


def notation_key(text: str) -> str:
    """Fold a whole cell for look-up in a legend: numbers by their value, signs as they are."""
    bare = text.strip().lstrip("'")
    if re.fullmatch(r"[-\u2212]?\d+(?:[.,]\d+)?", bare):
        return f"={float(bare.replace(chr(0x2212), '-').replace(',', '.'))}"
    return fold_notation(bare) or bare
