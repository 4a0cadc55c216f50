"""Find the names a misspelled word is near to."""

from __future__ import annotations

from functools import cached_property
from typing import Any

from rapidfuzz.distance import OSA

from pipeline.names.heading import Heading
from schemas.vocabulary import Vocabulary, squash


class Typos:
    """Measure how near a word is to every known name."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary

    def near(self, key: str) -> list[tuple[int, str]]:
        """List (distance, analyte) by distance; "" stands for a name out of scope.

        Digits and the first letter are never taken for typos: they are the positions of groups.
        """
        if not 3 <= len(key) <= 40 or not key[0].isalnum():
            return []
        best: dict[str, int] = {}
        for known, name in self._candidates.get((key[0], _digits(key)), ()):
            distance = OSA.distance(key, known, score_cutoff=3)
            if distance <= 3 and distance < best.get(name, 99):
                best[name] = distance
        if not best:
            return []
        blocked = min(OSA.distance(key, squashed) for squashed in self._vocabulary.ambiguous)
        return sorted((d + 2 * (blocked <= d), n) for n, d in best.items())

    def guess(self, text: str, bare: str, stated: dict[str, Any]) -> Heading:
        """Accept a typo only when one name is near and no second name is nearly as near."""
        key = squash(bare)
        if key in self._vocabulary.ambiguous:
            return Heading(text, **stated, hint=self._vocabulary.ambiguous[key], spelled=bare)
        near = self.near(key)
        if not near:
            return Heading(text, **stated, spelled=bare)
        best, second = near[0], near[1] if len(near) > 1 else (99, "")
        allowed = 0 if len(key) < 6 else 1 if len(key) < 10 else 2
        if best[0] <= allowed and second[0] - best[0] >= best[0]:
            found: dict[str, Any] = (
                {"out_of_scope": True} if best[1] == "" else {"analyte": best[1], "spelled": bare}
            )
            return Heading(text, **(stated | found))
        hint = f'did you mean "{best[1]}"?' if best[1] else None
        return Heading(text, **stated, hint=hint, spelled=bare)

    @cached_property
    def _candidates(self) -> dict[tuple[str, str], list[tuple[str, str]]]:
        known = [*self._vocabulary.names.items(), *((n, "") for n in self._vocabulary.out_of_scope)]
        grouped: dict[tuple[str, str], list[tuple[str, str]]] = {}
        for key, name in known:
            grouped.setdefault((key[0], _digits(key)), []).append((key, name))
        return grouped


def _digits(key: str) -> str:
    return "".join(c for c in key if c.isdigit())
