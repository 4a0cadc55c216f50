"""Tell columns of signs and letters, such as "<", "U" or "J", from columns of results."""

from __future__ import annotations

import re

from pipeline.readers import Readers
from pipeline.recognise.grid import Spot
from schemas.folding import fold_notation

_SIGN = re.compile(r"[<>≤≥=~≈]{1,2}")


def is_sign(text: str) -> bool:
    """Tell a sign such as "<", which stands before a number, from a letter."""
    return _SIGN.fullmatch(text.strip()) is not None


def marks_among(spots: list[Spot], headed: bool, lines: int, readers: Readers) -> set[str]:
    """List the marks of a column when it holds nothing else, else none.

    Under an unknown heading, words such as "nd" in every one of the `lines` may be another
    analyte's results; beside signs and single letters, or in some lines only, they are marks.
    """
    texts = [s.text.strip() for s in spots]
    if any(s.kind != "text" or len(s.text) > 10 or re.search(r"\d", s.text) for s in spots):
        return set()
    letters = readers.names.vocabulary.letters
    known = {t for t in texts if fold_notation(t) in letters}
    if headed and not all(is_sign(t) or len(fold_notation(t)) == 1 or t in known for t in texts):
        return set()
    short = any(is_sign(t) or len(fold_notation(t)) == 1 for t in known)
    return known if not headed or short or len(texts) < lines else set()
