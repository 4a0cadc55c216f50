"""Read which substance's mass a text says that amounts are given in: "as guaiacol equivalents"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.names.pairs import look_up_equivalent
from schemas.wordings import any_of, words_of

if TYPE_CHECKING:
    from pipeline.names import Names

_EQUAL = re.compile(
    r"[-\s]*\b(?:[eéä]quivalen\w*|äquivalen\w*|equiv\b\.?|eq(?=\.|\s*/))", re.IGNORECASE
)
_AS = re.compile(
    r"\b(?:expressed|calculated|quantified|quantitated|reported|given|stated|determined)\s+"
    r"(?:as|against|in\s+terms\s+of|using|with)\s+(?:an?\s+)?|\b(?:berechnet|angegeben)\s+als\s+"
    r"|\bexprim[ée]e?s?\s+en\s+|\bexpresad[oa]s?\s+como\s+|\bespress[oiae]\s+come\s+",
    re.IGNORECASE,
)
_OTHER = re.compile(rf"{any_of('equivalents', 'others')}|glucose(?!-)|\bd\d+-", re.IGNORECASE)
_LINK = words_of("equivalents", "links")
_MARKED = re.compile(r"\s*(?:\*{1,3}|†|‡|§|[¹²³]|\(?[a-e1-5]\)|\^)")


def substances_meant(text: str, names: Names) -> set[str] | None:
    """Name the substances a text gives amounts of; "" where it names one that nothing knows.

    None where it speaks of no such thing, or of acids and other measurands' standards.
    """
    if _MARKED.match(text) or _OTHER.search(text):
        return None
    plain = names.without_units(text)
    found = {_beside(plain, match.start(), match.end(), names) for match in _EQUAL.finditer(plain)}
    for match in _AS.finditer(plain):
        named = _first_named(_words(plain[match.end() :]), names)
        if named in names.vocabulary.analytes or named == "aglycone":
            found = (found - {""}) | {named}
    return found or None


def _beside(text: str, start: int, end: int, names: Names) -> str:
    """The substance named just before or just behind the word for equivalents, "" when unknown."""
    before = _words(text[:start])[-5:]
    for first in range(len(before)):
        if named := look_up_equivalent(" ".join(before[first:]), names.vocabulary):
            return named
    behind = _words(text[end:])
    while behind and behind[0].lower() in _LINK:
        behind = behind[1:]
    return _first_named(behind, names)


def _first_named(words: Sequence[str], names: Names) -> str:
    for count in range(min(5, len(words)), 0, -1):
        if named := look_up_equivalent(" ".join(words[:count]), names.vocabulary):
            return named
    return ""


def _words(text: str) -> list[str]:
    return [w for w in re.split(r"[\s,;:()\[\].–]+|\bd['’]|/(?=\s|$)|-$|^-", text) if w]


def substance_called(text: str, names: Names) -> str | None:
    """Name the one substance that a cell under "Expressed as" calls; null when it is not known."""
    heading = names.heading(text)
    if named := heading.analyte or heading.expressed_as:
        return named
    if text == "aglycone":
        return text
    meant = substances_meant(text, names) or set()
    return next(iter(meant)) or None if len(meant) == 1 else None
