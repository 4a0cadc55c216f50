"""Read labels and their values from one cell."""

from __future__ import annotations

import re
from itertools import pairwise

from pipeline.names import Names
from pipeline.recognise.amendments import amendment_in
from schemas.vocabulary import squash

_PARTS = re.compile(r"\s*(?:[;|\n]|,\s+(?=[A-Za-z]))\s*")
_IDENTITY = {"report_no", "revision", "replaces"}
_PREFIXED = {"report_no", "revision", "replaces", "reported_on"}
_DIGIT = re.compile(r"\d")
_DAY = re.compile(r"\d{4}|\d[./-]\d")


def pairs_in_text(text: str, names: Names) -> list[tuple[str, str]]:
    """Read "Label: value" pairs from one cell."""
    told = amendment_in(text)
    pairs = list(told.items())
    for part in _parts(text, names):
        label, colon, value = part.partition(":")
        if not colon:
            label, colon, value = part.partition(" = ")
        name = label_field(f"{label}:", names) if colon and value.strip() else None
        if name and not _PARTS.search(value):
            pairs.append((name, value))
        elif prefixed := _prefixed(part, names):
            pairs.append(prefixed)
    rest = [p for p in pairs if not told or p[0] not in _IDENTITY or p in told.items()]
    return list(dict.fromkeys(rest))


def label_field(label: str, names: Names) -> str | None:
    """The field a label is for; "Sample 1:" is a sample's like "Sample:"."""
    bare = label.rstrip(" :")
    plain = re.sub(r"\s*\d{1,2}$", "", bare)
    numbered = names.heading(plain).field if plain != bare and label != bare else None
    return names.heading(bare).field or (numbered if numbered in NUMBERED else None)


def is_numbered(text: str, names: Names) -> bool:
    """Tell "Sample 1: W-7" or "Sample 1:", one of several samples, from "Sample: W-7"."""
    label = text.partition(":")[0]
    return (
        label != text
        and names.heading(label).field is None
        and bool(label_field(f"{label}:", names))
    )


NUMBERED = {"sample", "client_sample", "sample_name", "lab_sample"}


def _prefixed(text: str, names: Names) -> tuple[str, str] | None:
    """Read "Report no. 2025-114" or "Revision 1": a label and a value without a colon."""
    words = text.split()
    if not 2 <= len(words) <= 9:
        return None
    for count in range(min(4, len(words) - 1), 0, -1):
        name = names.vocabulary.fields.get(squash(" ".join(words[:count])))
        value = " ".join(words[count:]).lstrip("#:.- ")
        telling = _DAY if name == "reported_on" else _DIGIT
        if name in _PREFIXED and telling.search(value) and len(value) <= 40:
            return name, value
    return None


def _parts(text: str, names: Names) -> list[str]:
    """List a cell's text and what its signs part it into, cut before each known label too."""
    signed = _PARTS.split(text)
    pieces = [piece for part in signed for piece in _cut_at_labels(part, names)]
    return [text, *pieces] if len(signed) > 1 else pieces


def _cut_at_labels(text: str, names: Names) -> list[str]:
    """Cut "Report no: B-4   Date: 5 March" before each label that another label's value precedes."""
    cuts = [0]
    for number, colon in enumerate(_COLON.finditer(text)):
        words = list(_WORD.finditer(text, cuts[-1], colon.start()))
        for first in (words[-n].start() for n in (3, 2, 1) if len(words) > n):
            before = text[cuts[-1] : first].strip(" –-")
            follows = number > 0 or _prefixed(before, names) is not None
            known = names.heading(text[first : colon.start()]).field
            if follows and known and not before.endswith(":"):
                cuts.append(first)
                break
    if len(cuts) == 1:
        return [text]
    return [text[a:b].strip(" –-") for a, b in pairwise([*cuts, len(text)])]


_COLON = re.compile(r"\s*:\s")
_WORD = re.compile(r"\S+")
