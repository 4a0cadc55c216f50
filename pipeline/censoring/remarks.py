"""Read a remark beside a result: what its letter or sign makes of the number."""

from __future__ import annotations

import re

import polars as pl

from pipeline.censoring import Notations
from schemas.vocabulary import fold_notation

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
    rows = []
    for text in texts.drop_nulls().unique().to_list():
        folded = fold_notation(text)
        said = notations.letters.get(folded) or notations.words.get(folded)
        if said is None and _REJECTED.search(text):
            said = "rejected"
        alone = notations.words.get(folded)
        rows.append((text, said if said in _JUDGED else None, alone if alone in _ALONE else None))
    schema = dict.fromkeys(("raw_qualifier", "remark_says", "remark_alone"), pl.String())
    return pl.DataFrame(rows, schema=schema, orient="row")
