"""What a trend runs over, and what its rows are kept apart by."""

from __future__ import annotations

from difflib import get_close_matches

import polars as pl

from pipeline.errors import WrongUse
from schemas.vocabulary import Vocabulary, squash

DIMENSIONS = (
    "region", "grower", "vineyard", "block", "variety", "lot", "lab", "vintage", "stage",
)  # fmt: skip
# What rows are kept apart by: laboratories are not interchangeable (Molecules 27 (2022) 4892).
APART = ("lab", "method", "matrix", "unit", "form", "expressed_as")
# What may be pooled when asked for; a matrix, a unit, a form or a basis never is.
POOLABLE = ("lab", "method")
# The name in the place of what was pooled.
POOLED = "pooled"


def resolve_analyte(printed: str, vocabulary: Vocabulary) -> str:
    """Turn a spelling such as "4-MG" into the stored name.

    Raises WrongUse for a name that could be several analytes, and for an unknown one with the
    nearest known name.
    """
    key = squash(printed)
    if printed in vocabulary.analytes:
        return printed
    if key in vocabulary.ambiguous:
        raise WrongUse(f'"{printed}": {vocabulary.ambiguous[key]}')
    if key in vocabulary.names:
        return vocabulary.names[key]
    near = get_close_matches(key, vocabulary.names, n=1, cutoff=0.6)
    hint = f"; did you mean {vocabulary.names[near[0]]}?" if near else ""
    raise WrongUse(f'no analyte is called "{printed}"{hint}')


def check_word(name: str, value: str, allowed: tuple[str, ...]) -> None:
    """Raise WrongUse, with the nearest allowed word, for a word that is none of those allowed."""
    if value not in allowed:
        near = get_close_matches(value, allowed, n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise WrongUse(f'{name} "{value}" is none of {", ".join(allowed)}{hint}')


def mixes_laboratories(table: pl.DataFrame) -> bool:
    """Tell whether rows of several laboratories, or of an unknown one, stand in a trend.

    Their rows are not comparable with each other: Favell et al., Molecules 27 (2022) 4892.
    """
    return table["lab"].n_unique() > 1


def pools(table: pl.DataFrame) -> bool:
    """Tell whether the rows of a trend pool laboratories or methods."""
    return table["pooled"].count() > 0
