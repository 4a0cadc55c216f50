"""Tell an abbreviation of a name from a unit or another substance in the brackets behind it."""

from __future__ import annotations

import re

from schemas.folding import fold_case
from schemas.vocabulary import Vocabulary, squash

_PARTS = re.compile(
    r"\d+|methyl|ethyl|vinyl|allyl|methoxy|rhamnosyl|glucosyl|glucose|pentosyl|pentose|apiosyl|mono|di"
    r"|[^\W\d_]+"
)
_LONGEST = 4
# A mass, an amount or a volume; "(MG)" may be one of either.
_MEASURE = re.compile(r"[munpkµc]{0,2}(?:g|l|mol)|ph", re.IGNORECASE)


def abbreviates(text: str, analyte: str, vocabulary: Vocabulary) -> bool:
    """Tell whether letters abbreviate a name part by part: GRG, GuRG for guaiacol rutinoside.

    The numbers and letters of positions may be left out, nothing else. What could be a measure is
    no abbreviation.
    """
    key = squash(text)
    if not 2 <= len(key) <= 9 or not key.isalnum() or _MEASURE.fullmatch(key):
        return False
    if key in vocabulary.names or key in vocabulary.out_of_scope or key in vocabulary.ambiguous:
        return False
    facts = vocabulary.analytes[analyte]
    return any(_fits(key, _parts(name)) for name in (analyte, *facts.spellings))


def _parts(name: str) -> list[str]:
    return _PARTS.findall(fold_case(name))


def _fits(key: str, parts: list[str]) -> bool:
    """Tell whether a word is made of the beginnings of all parts, one behind the other."""
    if not parts:
        return not key
    part, rest = parts[0], parts[1:]
    if (part.isdigit() or len(part) == 1) and _fits(key, rest):
        return True
    longest = len(part) if part.isdigit() else min(_LONGEST, len(part))
    sizes = [longest] if part.isdigit() else range(1, longest + 1)
    return any(key.startswith(part[:n]) and _fits(key[n:], rest) for n in sizes)
