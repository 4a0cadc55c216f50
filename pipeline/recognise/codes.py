"""Tell a sample that is called like a statistic ("CV", "MAX") from that statistic, by its numbers."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.summaries import is_in_series
from schemas.vocabulary import squash

# Two decimals are what a printed statistic is rounded to at the least.
_ROUNDED = 0.02


def named_like_a_statistic(
    grid: Grid,
    row: int,
    samples: Sequence[int],
    last_statistic: int | None,
    columns: Columns,
    value_columns: list[int],
    readers: Readers,
) -> str | None:
    """Say why a line may be a sample's although it is called like a statistic; null where it is none.

    It is a statistic where its numbers are those of lines above it, or where it follows another one.
    """
    named = grid.at(row, columns.fields.get("sample", 0))
    if named and _is_lettered(named, grid, columns.fields["sample"], samples):
        return f'"{named.text}" may be a label or a sample of that name'
    kind = readers.names.vocabulary.statistic_codes.get(squash(named.text)) if named else None
    if named is None or kind is None or is_in_series(named, grid, columns):
        return None
    if last_statistic is not None and last_statistic == row - 1:
        return None
    column = columns.fields["sample"]
    if kind == "deviation" and sum(_is_called(grid, r, column, named) for r in grid.rows) > 1:
        return None
    if _agrees(kind, grid, row, samples, value_columns, readers):
        return None
    return f'"{named.text}" may be a statistic or a sample of that name'


def _is_lettered(named: Spot, grid: Grid, column: int, samples: Sequence[int]) -> bool:
    """Tell the "U" below samples called "S" and "T" from the uncertainty that is written the same."""
    if sum(_is_called(grid, r, column, named) for r in grid.rows) > 1 or len(samples) < 2:
        return False
    names = [named.text, *(s.text if (s := grid.at(r, column)) else "" for r in samples)]
    return all(len(name.strip()) == 1 and name.strip().isalpha() for name in names)


def _is_called(grid: Grid, row: int, column: int, named: Spot) -> bool:
    spot = grid.at(row, column)
    return spot is not None and squash(spot.text) == squash(named.text)


def _agrees(
    kind: str, grid: Grid, row: int, samples: Sequence[int], columns: list[int], readers: Readers
) -> bool:
    """Tell whether every number of a line is the statistic of the last two or more lines above."""
    printed = {c: n for c in columns if (n := _number(grid.at(row, c), readers)) is not None}
    for first in range(len(samples) - 1):
        above = {
            c: [n for r in samples[first:] if (n := _number(grid.at(r, c), readers)) is not None]
            for c in printed
        }
        told = [c for c in printed if len(above[c]) >= 2]
        if told and all(_fits(kind, printed[c], above[c], len(samples) - first) for c in told):
            return True
    return False


def _fits(kind: str, printed: float, above: list[float], lines: int) -> bool:
    mean = statistics.fmean(above)
    deviations = [statistics.stdev(above), statistics.pstdev(above)]
    values = {
        "count": [float(len(above)), float(lines)],
        "deviation": deviations,
        "variation": [d / mean * p for d in deviations for p in (1, 100)] if mean else [],
        "largest": [max(above)],
        "smallest": [min(above)],
        "sum": [math.fsum(above)],
    }
    return any(
        math.isclose(printed, value, rel_tol=_ROUNDED, abs_tol=_ROUNDED / 2)
        for value in values.get(kind, [])
    )


def _number(spot: Spot | None, readers: Readers) -> float | None:
    read = readers.notations.read(spot.exact, ".") if spot else None
    return read.number if read and read.kind == "number" else None
