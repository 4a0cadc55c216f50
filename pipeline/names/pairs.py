"""Read names that stand in pairs: one name twice, or an analyte and what belongs to its column."""

from __future__ import annotations

import re
from typing import Any

from pipeline.names.heading import ATTACHED_FIELDS
from schemas.vocabulary import Vocabulary, squash


def look_up_synonyms(name: str, bracketed: str, vocabulary: Vocabulary) -> dict[str, Any] | None:
    """Read "2-methoxyphenol (guaiacol)": one name given twice; two different names are neither."""
    inside = vocabulary.names.get(squash(bracketed))
    outside = vocabulary.names.get(squash(name))
    if inside and outside in {inside, None} and squash(name) not in vocabulary.ambiguous:
        return {"analyte": inside} if outside else None
    return None


def is_derived(name: str, vocabulary: Vocabulary) -> bool:
    """Tell "OAV", "Guaiacol OAV" or "Peak area (guaiacol)": no concentration, but made of one."""
    if squash(name) in vocabulary.derived:
        return True
    words = re.split(r"[\s()\[\],:/]+", name.strip(" ()[]"))
    return any(
        squash(" ".join(one)) in vocabulary.derived and squash(" ".join(two)) in vocabulary.names
        for at in range(1, len(words))
        for one, two in ((words[:at], words[at:]), (words[at:], words[:at]))
    )


def look_up_pair(name: str, vocabulary: Vocabulary) -> dict[str, Any] | None:
    """Read "guaiacol LOD" or "LOD guaiacol": what belongs to the analyte's own column."""
    words = name.split()
    for split in {1, len(words) - 1} - {0, len(words)}:
        for field, analyte in ((words[split:], words[:split]), (words[:split], words[split:])):
            column = vocabulary.fields.get(squash(" ".join(field)))
            named = vocabulary.names.get(squash(" ".join(analyte)))
            if named and column in ATTACHED_FIELDS:
                return {"analyte": named, "field": column}
            if named and column == "result":
                return {"analyte": named}
    return None
