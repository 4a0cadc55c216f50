"""Find where a sheet prints the samples that a person named, so that a layout can say it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Cell = tuple[int, int]
# Row and column of a value, and the sample that a person gave for it.
Named = tuple[int, int, str]


def find_samples(
    samples: Sequence[Named], texts: Mapping[Cell, str], starts: Sequence[Cell]
) -> dict[str, Any] | None:
    """Place the samples: a column, a row, or a cell above each table; null where none has them all.

    `starts` are the cells in which the sheet's tables begin.
    """
    return _in_column(samples, texts, starts[0]) or _in_row(samples, texts, starts[0]) or _in_title(
        samples, texts, starts
    )  # fmt: skip


def _is(text: str | None, sample: str) -> bool:
    return " ".join((text or "").split()) == sample


def _in_column(
    samples: Sequence[Named], texts: Mapping[Cell, str], start: Cell
) -> dict[str, Any] | None:
    for col in sorted({c for _, c in texts}):
        if all(_is(texts.get((row, col)), name) for row, _, name in samples):
            heading = texts.get((start[0], col))
            alike = [place for place, text in texts.items() if text == heading]
            way = "right" if col > start[1] else "left"
            steps = {way: abs(col - start[1])} if col != start[1] else {}
            return {"axis": "column"} | ({"heading": heading} if len(alike) == 1 else steps)
    return None


def _in_row(
    samples: Sequence[Named], texts: Mapping[Cell, str], start: Cell
) -> dict[str, Any] | None:
    for row in sorted({r for r, _ in texts}):
        if all(_is(texts.get((row, col)), name) for _, col, name in samples):
            way = "down" if row > start[0] else "up"
            return {"axis": "row"} | ({way: abs(row - start[0])} if row != start[0] else {})
    return None


def _in_title(
    samples: Sequence[Named], texts: Mapping[Cell, str], starts: Sequence[Cell]
) -> dict[str, Any] | None:
    """Find one cell as far from the start of each table that holds the name of its sample."""
    named = [(max(s for s in starts if s[0] <= row), name) for row, _, name in samples
             if any(s[0] <= row for s in starts)]  # fmt: skip
    if len(named) < len(samples):
        return None
    first, name = named[0]
    for (row, col), text in sorted(texts.items(), reverse=True):
        down, right = row - first[0], col - first[1]
        titles = [(texts.get((s[0] + down, s[1] + right), ""), n) for s, n in named]
        if down < 0 and name in text and all(n in title for title, n in titles):
            ways = ((down, "down", "up"), (right, "right", "left"))
            steps = {(more if n > 0 else less): abs(n) for n, more, less in ways if n}
            return {"axis": "sheet", **steps, **_cuts(titles)}
    return None


def _cuts(titles: Sequence[tuple[str, str]]) -> dict[str, str]:
    """Say between which texts the name stands that all titles share."""
    parts = [title.partition(name) for title, name in titles]
    before = _shared([part[0][::-1] for part in parts])[::-1].strip()
    behind = _shared([part[2] for part in parts]).strip()
    cuts = {"after": before if any(part[0].strip() for part in parts) else "",
            "before": behind if any(part[2].strip() for part in parts) else ""}  # fmt: skip
    return {key: text for key, text in cuts.items() if text}


def _shared(texts: Sequence[str]) -> str:
    """The text that all of some texts begin with."""
    first, last = min(texts), max(texts)
    same = (n for n, sign in enumerate(first) if last[n : n + 1] != sign)
    return first[: next(same, len(first))]
