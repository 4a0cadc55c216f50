"""Find the cells that a user's own layout names by what they print."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from pipeline.errors import FileRefused
from pipeline.recognise.grid import Grid, Spot, fold_text
from schemas.layout import OwnLayout, OwnTable, Place

Spots = list[tuple[int, int]]
_FARTHEST = 2**31


@cache
def _pattern(wanted: str) -> re.Pattern[str]:
    return re.compile(".*".join(re.escape(fold_text(part)) for part in wanted.split("*")))


def prints(spot: Spot | None, wanted: str) -> bool:
    """Tell whether a cell prints a text: case, spaces and a last colon aside; `*` is any text."""
    return spot is not None and _pattern(wanted).fullmatch(fold_text(spot.text)) is not None


def says_any(spot: Spot | None, wanted: Iterable[str]) -> bool:
    """Tell whether a cell prints one of some texts."""
    return any(prints(spot, text) for text in wanted)


def find_text(grid: Grid, wanted: str) -> Spots:
    """List the cells of a grid that print a text, in reading order."""
    if "*" not in wanted:
        return grid.by_text.get(fold_text(wanted), [])
    fitting = (p for text, p in grid.by_text.items() if _pattern(wanted).fullmatch(text))
    return sorted(place for places in fitting for place in places)


def applies(grid: Grid, layout: OwnLayout) -> bool:
    """Tell whether a layout is for this sheet: its name fits and all the texts stand in it."""
    named = layout.sheet is None or _pattern(layout.sheet).fullmatch(fold_text(grid.sheet))
    return bool(named) and all(find_text(grid, text) for text in layout.texts)


@dataclass(frozen=True)
class Field:
    """One table's part of a grid (turned where the table is): where its header starts and its bounds."""

    grid: Grid
    layout: OwnLayout
    table: OwnTable
    start: tuple[int, int]
    left: int
    right: int
    bottom: int
    file: str

    def refuse(self, message: str) -> FileRefused:
        """Say what of the layout does not fit this sheet."""
        own = f'layout "{self.layout.name}" ({self.layout.file})'
        return FileRefused(self.file, f"{self.grid.sheet}: {own}: {message}")

    @property
    def is_turned(self) -> bool:
        """Tell whether rows and columns are swapped."""
        return self.grid.swapped

    def axis(self, place: Place) -> str:
        """The axis of a place in this grid."""
        if self.is_turned and place.axis in {"row", "column"}:
            return "column" if place.axis == "row" else "row"
        return place.axis

    def steps(self, place: Place) -> tuple[int, int]:
        """How far a place lies down and right of its heading in this grid."""
        return (place.right, place.down) if self.is_turned else (place.down, place.right)

    def cell(self, place: Place) -> tuple[int, int]:
        """Find the cell of a place. Raises FileRefused when its heading stands nowhere, or twice."""
        row, col = self._anchor(place)
        down, right = self.steps(place)
        return row + down, col + right

    def _anchor(self, place: Place) -> tuple[int, int]:
        if place.heading is None:
            return self.start
        everywhere = find_text(self.grid, place.heading)
        along = 1 if self.axis(place) == "row" else 0
        inside = [p for p in everywhere if self._holds(p)]
        on_line = [p for p in inside if p[along] == self.start[along]]
        found = next((found for found in (on_line, inside, everywhere) if found), None)
        if found is None:
            raise self.refuse(
                f'no cell says "{place.heading}" ({place.name}); correct the heading in the layout'
            )
        if len(found) > 1:
            first, second = (self.grid.name(*p) for p in found[:2])
            raise self.refuse(
                f'"{place.heading}" ({place.name}) stands in {first} and in {second}; name another '
                "heading, or give the place from the table's start with right, left, up or down"
            )
        return found[0]

    def _holds(self, place: tuple[int, int]) -> bool:
        row, col = place
        return self.start[0] <= row <= self.bottom and self.left <= col <= self.right


def place_tables(grid: Grid, layout: OwnLayout, file: str) -> list[Field]:
    """Find where each table of a layout starts and how far it may reach: up to the next one.

    Raises FileRefused when a start stands nowhere, or in several cells and does not repeat.
    """
    found = [(table, _starts(grid, layout, table, file)) for table in layout.tables]
    all_starts = [start for _, starts in found for start in starts]
    return [
        _bounded(grid, layout, table, start, all_starts, file)
        for table, starts in found
        for start in starts
    ]


def _starts(grid: Grid, layout: OwnLayout, table: OwnTable, file: str) -> Spots:
    starts = find_text(grid, table.start)
    own = f'layout "{layout.name}" ({layout.file})'
    if not starts:
        raise FileRefused(
            file, f'{grid.sheet}: {own}: no cell says "{table.start}" (start); correct the layout'
        )
    if len(starts) > 1 and not table.repeats:
        first, second = (grid.name(*p) for p in starts[:2])
        raise FileRefused(
            file,
            f'{grid.sheet}: {own}: "{table.start}" (start) stands in {first} and in {second}; name '
            "another cell, or write repeats = true when each of them begins a table",
        )
    return starts


def _bounded(
    grid: Grid,
    layout: OwnLayout,
    table: OwnTable,
    start: tuple[int, int],
    starts: Spots,
    file: str,
) -> Field:
    """Bound a table by the starts beside it and below it, in the grid it is read in."""
    if table.turned:
        grid, start = grid.turned, (start[1], start[0])
        starts = [(col, row) for row, col in starts]
    row, col = start
    beside = [c for r, c in starts if r == row and c != col]
    left = col if any(c < col for c in beside) else 1
    right = min((c for c in beside if c > col), default=_FARTHEST) - 1
    below = [r for r, c in starts if r > row and left <= c <= right]
    bottom = min(below, default=max(grid.rows) + 1) - 1
    return Field(grid, layout, table, start, left, right, bottom, file)
