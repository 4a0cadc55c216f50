"""Where a change of a lot came from: free or bound, by the columns of the growth comparisons."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.digest.lots import QUIET
from pipeline.digest.states import NOTHING_TO_JUDGE_BY
from pipeline.digest.words import change, listed, reason

KIND = "bound_growth"
_PARTS = ("free", "bound")


def _words(row: Mapping[str, Any]) -> str:
    if row["decision"] == "above":
        return "the bound share grew"
    return reason(row["reason"]) or QUIET


def _moved(row: Mapping[str, Any]) -> str:
    if row.get("change_unit") is None:
        return ""
    ends = ((part, row[f"{part}_change_lower"], row[f"{part}_change_upper"]) for part in _PARTS)
    return ", ".join(
        f"{part} {change(lower, upper, row['change_unit'])} ({row[f'{part}_change']})"
        for part, lower, upper in ends
    )


def _compared(rows: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return [r for r in rows if r["kind"] == KIND and r["reason"] not in NOTHING_TO_JUDGE_BY]


def told_apart(rows: Iterable[Mapping[str, Any]]) -> tuple[str, ...]:
    """Say in one line each where a change came from; comparisons without one stand together, and
    name their laboratories unless all say the same.

    Rows are a lot's current flags. A growth, and a loss of free phenols, carry their movement.
    """
    changed, quiet = [], dict[str, list[str]]()
    for row in _compared(rows):
        moved = _moved(row)
        if moved and (row["decision"] == "above" or row["reason"] == "free_removed"):
            changed.append(f"{_words(row)}: {moved}")
        else:
            quiet.setdefault(_words(row), []).append(row["lab"] or "laboratory unknown")
    if not changed and len(quiet) == 1:
        return tuple(quiet)
    same = (f"{words} ({listed(list(dict.fromkeys(labs)))})" for words, labs in quiet.items())
    return (*dict.fromkeys(changed), *same)


def origin(rows: Iterable[Mapping[str, Any]]) -> tuple[tuple[str, str], ...]:
    """Say per laboratory how free and bound moved since fermentation: verdict, and the movement.

    Rows are a lot's current flags; the laboratory stands behind the movement. Empty where nothing
    could be compared.
    """
    told = []
    for row in _compared(rows):
        moved, lab = _moved(row), row["lab"] or ""
        told.append((_words(row), "; ".join(part for part in (moved, lab) if part)))
    return tuple(dict.fromkeys(told))
