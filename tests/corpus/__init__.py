"""Files as laboratories write them, each with what a careful reader finds in it.

Expectations are worked by hand from the drawn sheets and the documented contract, never from the
pipeline. One function per case; a case is found by being decorated.
"""

from corpus import (
    analytes,
    blocks,
    certificates,
    dates,
    exports,
    form_words,
    forms,
    geometry,
    hidden,
    letterheads,
    limits,
    lookalikes,
    looks,
    marks,
    matrices,
    notations,
    numerals,
    paths,
    sheets,
    summaries,
    texts,
    traps,
    uncertainties,
    units,
)
from corpus.cases import MADE, Case, Value

__all__ = [
    "MADE",
    "Case",
    "Value",
    "analytes",
    "blocks",
    "certificates",
    "dates",
    "exports",
    "form_words",
    "forms",
    "geometry",
    "hidden",
    "letterheads",
    "limits",
    "lookalikes",
    "looks",
    "marks",
    "matrices",
    "notations",
    "numerals",
    "paths",
    "sheets",
    "summaries",
    "texts",
    "traps",
    "uncertainties",
    "units",
]
