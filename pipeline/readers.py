"""The two readers of printed text, built once for a vocabulary and handed to every stage."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.censoring import Notations
from pipeline.names import Names
from schemas.vocabulary import Vocabulary

_RESULTS = {
    "number", "less", "greater", "not_detected", "below_detection", "below_quantification",
    "below_reporting", "above_range", "range", "ambiguous", "error",
}  # fmt: skip


@dataclass(frozen=True)
class Readers:
    """The two vocabularies a sheet is read with."""

    names: Names
    notations: Notations

    def is_result(self, text: str, kind: str) -> bool:
        """Tell whether a cell reads as a result: a number or a notation for one."""
        if kind in {"number", "error", "formula"}:
            return True
        if kind != "text":
            return False
        return self.notations.read(text, ".").kind in _RESULTS


def make_readers(vocabulary: Vocabulary) -> Readers:
    """Build the readers of names and notations for one vocabulary."""
    names = Names(vocabulary)
    return Readers(names, Notations(names))
