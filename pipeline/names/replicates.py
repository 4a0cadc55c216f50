"""Tell what stands before the mark of a replicate: "S1" of "S1 rep 2", "S1 (a)" and "S1b"."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

_MARK = re.compile(
    r"(?:[\s_.,:/(#-]*(?:replicates?|rep|repl|réplicat|réplica|replica|dup|run|wdh)[\s.#-]*"
    r"(?:[a-d]|\d{1,2})|[\s_.,/(-]+(?:[a-d]|\d{1,2})|(?<=\d)[a-d])\)?",
    re.IGNORECASE,
)
_ENDS = frozenset("abcdABCD0123456789)")
# The longest mark there is, with signs around it: " (replicates #12)".
_LONGEST = 24


def count_replicated(texts: Mapping[str, int]) -> Counter[str]:
    """Count, in small letters, what stands before the mark of a replicate, in whatever way it may end."""
    found: Counter[str] = Counter()
    for text, times in texts.items():
        if text[-1:] in _ENDS:
            for start in range(max(1, len(text) - _LONGEST), len(text)):
                if _MARK.fullmatch(text, start):
                    found[text[:start].lower()] += times
    return found
