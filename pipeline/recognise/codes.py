"""Tell a sample that is called like a statistic ("CV", "MAX") from that statistic, by its numbers."""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass

from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.summaries import is_in_series
from schemas.vocabulary import squash

# Two decimals are what a printed statistic is rounded to at the least.
_ROUNDED = 0.02


@dataclass(frozen=True)
class SamplesAbove:
    """The lines of samples above a line, without those in doubt, from the nearest upwards."""

    rows: Sequence[int]
    doubted: Container[int]

    def __iter__(self) -> Iterator[int]:
        return (row for row in reversed(self.rows) if row not in self.doubted)


def named_like_a_statistic(
    grid: Grid,
    row: int,
    above: SamplesAbove | None,
    columns: Columns,
    value_columns: list[int],
    readers: Readers,
) -> str | None:
    """Say why a line may be a sample's although it is called like a statistic; null where it is none.

    It is a statistic where its numbers are those of lines above it, or where it follows another one;
    `above` is null then.
    """
    column = columns.fields.get("sample", 0)
    named = grid.at(row, column)
    if named and _is_lettered(named, grid, column, above or ()):
        return f'"{named.text}" may be a label or a sample of that name'
    kind = readers.names.vocabulary.statistic_codes.get(squash(named.text)) if named else None
    if named is None or kind is None or is_in_series(named, grid, columns) or above is None:
        return None
    if kind == "deviation" and _is_called_again(named, grid, column):
        return None
    if _agrees(kind, grid, row, above, value_columns, readers):
        return None
    return f'"{named.text}" may be a statistic or a sample of that name'


def _is_lettered(named: Spot, grid: Grid, column: int, above: Iterable[int]) -> bool:
    """Tell the "U" below samples called "S" and "T" from the uncertainty that is written the same."""
    if not _is_letter(named.text) or _is_called_again(named, grid, column):
        return False
    names = (spot.text if (spot := grid.at(row, column)) else "" for row in above)
    lettered = [_is_letter(name) for name in names]
    return len(lettered) > 1 and all(lettered)


def _is_letter(name: str) -> bool:
    return len(name.strip()) == 1 and name.strip().isalpha()


def _is_called_again(named: Spot, grid: Grid, column: int) -> bool:
    return grid.printed_like(column)[squash(named.text)] > 1


def _agrees(
    kind: str, grid: Grid, row: int, above: Iterable[int], columns: list[int], readers: Readers
) -> bool:
    """Tell whether every number of a line is the statistic of the last two or more lines above."""
    printed = {c: n for c in columns if (n := _number(grid.at(row, c), readers)) is not None}
    runs = {c: _Run() for c in printed}
    for lines, line in enumerate(above, 1):
        for c, run in runs.items():
            if (number := _number(grid.at(line, c), readers)) is not None:
                run.add(number)
        told = [c for c, run in runs.items() if run.count >= 2]
        if told and all(_fits(kind, printed[c], runs[c], lines) for c in told):
            return True
    return False


@dataclass
class _Run:
    """What is known of numbers added one by one (Welford, Technometrics 4 (1962) 419)."""

    count: int = 0
    sum: float = 0.0
    mean: float = 0.0
    squares: float = 0.0
    largest: float = -math.inf
    smallest: float = math.inf

    def add(self, number: float) -> None:
        self.count += 1
        self.sum += number
        step = number - self.mean
        self.mean += step / self.count
        self.squares += step * (number - self.mean)
        self.largest, self.smallest = max(self.largest, number), min(self.smallest, number)


def _fits(kind: str, printed: float, run: _Run, lines: int) -> bool:
    deviations = [math.sqrt(run.squares / n) for n in (run.count - 1, run.count)]
    values = {
        "count": [float(run.count), float(lines)],
        "deviation": deviations,
        "variation": [d / run.mean * p for d in deviations for p in (1, 100)] if run.mean else [],
        "largest": [run.largest],
        "smallest": [run.smallest],
        "sum": [run.sum],
    }
    return any(
        math.isclose(printed, value, rel_tol=_ROUNDED, abs_tol=_ROUNDED / 2)
        for value in values.get(kind, [])
    )


def _number(spot: Spot | None, readers: Readers) -> float | None:
    read = readers.notations.read(spot.exact, ".") if spot else None
    return read.number if read and read.kind == "number" else None
