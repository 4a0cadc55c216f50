"""Read titles that list what they say between commas: "Bench Laboratory, free, ug/L, red wine"."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from schemas.vocabulary import squash, squash_words

if TYPE_CHECKING:
    from pipeline.names import Names

_PARTS = re.compile(r"\s*[,;:|]\s+|\s+[–-]\s+")
# "Grape samples", "Samples of grapes": words that say nothing of their own beside a matrix.
_OF_SAMPLES = re.compile(
    r"\b(?:(?:samples?|muestras?|amostras?|campion[ei]|echantillons?|proben?)(?: (?:of|de|di|du|von))?)\b"
)


def lists_form(text: str, names: Names) -> bool:
    """Tell whether a form stands alone between commas in a title that lists a unit or matrix too.

    "Sulfur dioxide, free, mg/L" speaks of a measurand that is out of scope, and not of phenols.
    """
    parts = [part for part in _PARTS.split(text) if part.strip()]
    listed = any(names.vocabulary.matrices.get(squash(part)) for part in parts)
    if len(parts) < 2 or not (listed or names.units_in(text)):
        return False
    read = [names.heading(part) for part in parts]
    return any(h.is_form_only for h in read) and not any(h.out_of_scope for h in read)


def matrix_said(text: str, speaks: bool, names: Names) -> str | None:
    """Name the matrix of a title that `speaks` of results, or that is nothing but a matrix.

    A laboratory's name does not tell one ("Grape Analytics"); a wine with its colour behind it does.
    """
    matrix = names.matrix_in(text)
    if matrix is None or speaks:
        return matrix
    known = names.vocabulary.matrices
    folded = squash_words(text)
    bare = _OF_SAMPLES.sub(" ", folded)
    if squash(bare) in known and bare != folded:
        return matrix
    parts = _PARTS.split(text)[1:]
    coloured = {known.get(squash(part)) for part in parts if names.matrix_in(part)}
    return matrix if matrix.endswith(" wine") and matrix in coloured else None
