"""Where a change of a lot came from: free or bound, as the growth comparisons say it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.digest.states import NOTHING_TO_JUDGE_BY
from pipeline.digest.words import listed, reason

KIND = "bound_growth"
# The part of the sentence that tells free from bound, up to the unit and what was compared.
_SPLIT = re.compile(r"free (?:went|rose|fell) from .+?(?:\(in [^)]*\)|beyond its uncertainty)")


def _words(row: Mapping[str, Any]) -> str:
    if row["decision"] == "above":
        return "the bound share grew"
    return reason(row["reason"]) or "no growth of the bound share"


def told_apart(rows: Iterable[Mapping[str, Any]]) -> tuple[str, ...]:
    """Say in one line each where a change came from; comparisons without one stand together.

    Rows are a lot's current flags. A growth, and a loss of free phenols, carry their movement.
    """
    changed, quiet = [], dict[str, list[str]]()
    for row in rows:
        if row["kind"] != KIND or row["reason"] in NOTHING_TO_JUDGE_BY:
            continue
        split = _SPLIT.search(row["message"] or "")
        if split and (row["decision"] == "above" or row["reason"] == "free_removed"):
            changed.append(f"{_words(row)}; {split.group()}")
        else:
            quiet.setdefault(_words(row), []).append(row["lab"] or "laboratory unknown")
    same = (f"{words} ({listed(list(dict.fromkeys(labs)))})" for words, labs in quiet.items())
    return (*dict.fromkeys(changed), *same)


def origin(rows: Iterable[Mapping[str, Any]]) -> tuple[tuple[str, str], ...]:
    """Say per laboratory how free and bound moved since fermentation: verdict, and the movement.

    Rows are a lot's current flags. The movement is the flag's own wording, numbers and all; the
    laboratory stands behind it. Empty where nothing could be compared.
    """
    told = []
    for row in rows:
        if row["kind"] != KIND or row["reason"] in NOTHING_TO_JUDGE_BY:
            continue
        split = _SPLIT.search(row["message"] or "")
        lab = f" ({row['lab']})" if row["lab"] else ""
        told.append((_words(row), f"{split.group()}{lab}" if split else lab.strip(" ()")))
    return tuple(dict.fromkeys(told))
