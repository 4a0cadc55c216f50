"""Read a remark beside a result: what its letter or sign makes of the number."""

from __future__ import annotations

import re

import polars as pl

from pipeline.censoring import Notations
from schemas.layout import ANY_OF
from schemas.vocabulary import fold_notation, squash
from schemas.wordings import words_of

# What a remark of one letter or sign may turn a plain number into.
_JUDGED = {"less", "greater", "estimated", "rejected", "ambiguous", "below_quantification"}
# What a remark says by itself where the result is left empty: "U" beside a blank is not detected.
_ALONE = {
    "not_detected", "below_detection", "below_quantification", "below_reporting", "above_range",
}  # fmt: skip
REJECTION = (
    r"\b(?:reject\w*|invalid|void\w*|do not use|not (?:valid|reliable)|unreliable|unusable)\b"
)
_REJECTED = re.compile(REJECTION, re.I)


def remark_table(texts: pl.Series, notations: Notations) -> pl.DataFrame:
    """Tabulate each distinct raw_qualifier: remark_says beside a number, remark_alone beside none.

    Both are kinds of notations; null where the remark changes nothing.
    """
    rows = [(text, *_read_remark(text, notations)) for text in texts.drop_nulls().unique()]
    schema = dict.fromkeys(("raw_qualifier", "remark_says", "remark_alone"), pl.String())
    return pl.DataFrame(rows, schema=schema, orient="row")


def _read_remark(text: str, notations: Notations) -> tuple[str | None, str | None]:
    """What a remark says beside a number and beside none."""
    answered = _ANSWERED.fullmatch(text.strip())
    question = answered[2] if answered else ""
    several, asked = question.startswith(ANY_OF), squash(question.removeprefix(ANY_OF))
    if answered is None or asked not in _CENSORED | _DETECTED:
        return _read_plain(text, notations)
    said = squash(answered[1])
    if said in _YES | _NO:
        below = (said in _YES) == (asked in _CENSORED)
        if below and several:
            return "ambiguous", None
        return ("less", "not_detected") if below else (None, None)
    plain, alone = _read_plain(answered[1], notations)
    return plain or ("ambiguous" if said else None), alone


def _read_plain(text: str, notations: Notations) -> tuple[str | None, str | None]:
    folded = fold_notation(text)
    said = notations.letters.get(folded) or notations.words.get(folded)
    if said is None and _REJECTED.search(text):
        said = "rejected"
    alone = notations.words.get(folded)
    return said if said in _JUDGED else None, alone if alone in _ALONE else None


# "TRUE (Censored)": the answer, and what the column of remarks asks.
_ANSWERED = re.compile(r"(.*?)\s*\(([^()]+)\)")
_YES, _NO = ({squash(w) for w in words_of("asked", key)} for key in ("yes", "no"))
_CENSORED, _DETECTED = (
    {squash(w) for w in words_of("asked", key)} for key in ("censored", "detected")
)
