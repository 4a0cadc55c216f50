"""Look at a sheet for its first block of results, by what single cells print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Spot
from schemas.layout import Clue

HEADER_REACH = 4


@dataclass(frozen=True)
class FirstBlock:
    """A sheet looked at for its first block of results."""

    grid: Grid
    readers: Readers

    def is_result(self, spot: Spot | None) -> bool:
        if spot is None or spot.kind == "date":
            return False
        heading = self.readers.names.heading(spot.text)
        known = heading.is_measurand or heading.field
        return not known and self.readers.is_result(spot.text, spot.kind)

    @cached_property
    def rows(self) -> list[int]:
        """The lines of the first block of results, one below the other."""
        lines = [r for r, s in self.grid.rows.items() if any(map(self.is_result, s.values()))]
        runs: list[list[int]] = []
        for row in lines:
            if runs and row == runs[-1][-1] + 1:
                runs[-1].append(row)
            else:
                runs.append([row])
        long = [run for run in runs if len(run) > 1] or runs
        return long[0] if long else []

    @cached_property
    def result_columns(self) -> list[int]:
        """The columns in which at least half of the block's lines hold a result, up to a repeat."""
        counts: dict[int, int] = {}
        for row in self.rows:
            for col, spot in self.grid.rows[row].items():
                counts[col] = counts.get(col, 0) + self.is_result(spot)
        return sorted(c for c, n in counts.items() if 2 * n >= len(self.rows))

    @cached_property
    def values(self) -> list[int]:
        """The columns of results of one table: those before its header begins anew on the same line."""
        start = self.start
        again = [c for r, c in self.same_text(start) if r == start[0]] if start else []
        last = min((c for c in again if start and c > start[1]), default=10**9)
        return [c for c in self.result_columns if c < last]

    @cached_property
    def head(self) -> int | None:
        """The line of headings: the nearest above the results with a text over one of them."""
        for row in range(self.rows[0] - 1, max(0, self.rows[0] - 1 - HEADER_REACH), -1):
            spots = [self.grid.at(row, c) for c in self.result_columns]
            if any(s and s.kind == "text" for s in spots):
                return row
        return None

    @cached_property
    def start(self) -> tuple[int, int] | None:
        """The first heading, else the first word beside the results."""
        row = self.head or self.rows[0]
        texts = [c for c, s in self.grid.rows.get(row, {}).items() if s.kind == "text"]
        return (row, min(texts)) if texts else None

    def same_text(self, place: tuple[int, int]) -> list[tuple[int, int]]:
        text = self.grid.rows[place[0]][place[1]].text
        return [(r, c) for r, c, s in self.grid.spots() if s.kind == "text" and s.text == text]

    @cached_property
    def headings(self) -> list[tuple[int, int]]:
        """The headings over the columns of results."""
        heads = [(self.head, c) for c in self.values] if self.head else []
        return [(r, c) for r, c in heads if (s := self.grid.at(r, c)) and s.kind == "text"]

    @cached_property
    def stubs(self) -> list[int]:
        """The columns of words left of the results."""
        left = self.start[1] if self.start else 1
        return [
            c
            for c in range(left, min(self.values, default=left))
            if any((s := self.grid.at(r, c)) and s.kind == "text" for r in self.rows)
        ]

    def _known(self, places: Sequence[tuple[int, int]]) -> int:
        spots = (self.grid.at(r, c) for r, c in places)
        return sum(bool(s and self.readers.names.heading(s.text).is_measurand) for s in spots)

    @cached_property
    def name_column(self) -> int | None:
        """The column of words that names most analytes; the first where none does."""
        counted = [(self._known([(r, c) for r in self.rows]), -c) for c in self.stubs]
        return -max(counted)[1] if counted else None

    @cached_property
    def analyte(self) -> str | None:
        """The axis of the analytes' names; null where neither headings nor words tell it."""
        across = self._known(self.headings)
        down = self._known([(r, self.name_column) for r in self.rows]) if self.name_column else 0
        if across != down:
            return "row" if across > down else "column"
        return "column" if self.name_column and self._heads_result() else None

    def _heads_result(self) -> bool:
        texts = [self.grid.at(r, c) for r, c in self.headings]
        fields = {self.readers.names.heading(s.text).field for s in texts if s}
        return len(self.values) == 1 or fields == {"result"}

    @cached_property
    def results(self) -> str | None:
        """How results stand to the names: where two cross, or in a column of their own."""
        if self.analyte is None:
            return None
        return "column" if self.analyte == "column" and self._heads_result() else "crossing"

    def clue(
        self, row: int, col: int, name: str = "", axis: str | None = None, *, moved: bool = False
    ) -> Clue:
        spot, start = self.grid.at(row, col), self.start or (row, col)
        down, right = (row - start[0], col - start[1]) if moved else (0, 0)
        text = spot.text if spot else ""
        return Clue(text, self.grid.name(row, col), name, axis, right, down)
