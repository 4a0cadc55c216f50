"""The header line of a table while its columns are sorted."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from pipeline.names import ATTACHED_FIELDS, Heading
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import SAMPLE_HEADINGS, Run
from pipeline.recognise.sample_columns import below
from pipeline.recognise.signs import marks_among
from pipeline.recognise.sub_headings import holds_entries, read_deep_headings, read_sub_headings


@dataclass(frozen=True)
class Header:
    """A header line while its columns are sorted."""

    grid: Grid
    run: Run
    left: int
    right: int
    last: int
    readers: Readers

    @cached_property
    def analytes(self) -> list[int]:
        """The columns whose heading names a measurand."""
        return sorted(c for c in self.run.columns if self.left <= c <= self.right)

    @cached_property
    def repeated(self) -> set[str]:
        """Fields of a single result that stand in several columns."""
        return _repeated_fields(self.grid, self.run.row, self.left, self.right, self.readers)

    @cached_property
    def sub_heads(self) -> dict[int, Heading]:
        """Headings on the lines below, where names span several columns."""
        return self.deep_heads or self._first_heads

    @cached_property
    def _first_heads(self) -> dict[int, Heading]:
        return read_sub_headings(
            self.grid, self.run, self.under, self.analytes, self.right, self.readers
        )

    @cached_property
    def deep_heads(self) -> dict[int, Heading]:
        """Headings on two lines below: "Free | Total" over "Result | U"; each with its form."""
        return read_deep_headings(
            self.grid, self.under + 1, self._first_heads, self.analytes, self.right, self.readers
        )

    @property
    def under(self) -> int:
        """The line below the names; an empty one between tells nothing."""
        step = 1 if self.run.row + 1 in self.grid.rows else 2
        return self.run.row + step

    @property
    def rows(self) -> int:
        """How many lines the header has."""
        if not self.sub_heads:
            return 1
        return self.under - self.run.row + 1 + bool(self.deep_heads)

    def is_bare(self, col: int) -> bool:
        """Tell whether no heading of its own stands over a column; "Analyte" may span it."""
        spot = self.grid.at(self.run.row, col)
        return spot is None or (self.grid.swapped and col not in self.grid.rows[self.run.row])

    def spot(self, col: int) -> tuple[Spot | None, bool]:
        """A column's heading, and whether it stands on another line."""
        if self.is_bare(col) and self.grid.at(self.run.row, col):
            return None, False
        if lower := self.grid.rows.get(self.label_row or 0, {}).get(col):
            return lower, True
        spot, above = _heading_spot(self.grid, self.run.row, col, self.analytes)
        if spot and above and spot is self.grid.at(self.run.row + 1, col):
            if holds_entries(self.grid, self.run.row + 1, self.analytes, self.readers):
                return None, True
            named = self.readers.names.heading(spot.text.rstrip(" :")).field
            spot = spot if named and named != "qualifier" else None
        if spot is None and self.grid.swapped:
            spot = _label_beside(self.grid, self.run.row, col, self.readers)
        return spot, above

    @cached_property
    def label_row(self) -> int | None:
        """The line below units or limits that heads the samples; nothing stands under the analytes.

        No result stands above it.
        """
        first = min(self.analytes, default=0)
        read = self.readers.names.heading
        for row in range(self.run.row + 1, self.run.row + 6) if not self.grid.swapped else ():
            spots = self.grid.rows.get(row, {})
            if holds_entries(self.grid, row, self.analytes, self.readers):
                return None
            left = {c: s for c, s in spots.items() if self.left <= c < first}
            if left and len(left) == len(spots) and all(s.is_text for s in left.values()):
                fields = {read(s.text.rstrip(" :")).field for s in left.values()}
                if fields & SAMPLE_HEADINGS and row > self.run.row + 1:
                    return row
        return None

    def has_results(self, col: int) -> bool:
        """Tell whether a column holds a result at all; "LOQ" before the names heads limits."""
        lines = range(self.run.row + 1, self.last + 1)
        spots = [s for r in lines if (s := self.grid.rows.get(r, {}).get(col))]
        if self.grid.swapped and col < min(self.analytes, default=col):
            read = self.readers.names.heading
            spots = [s for s in spots if read(s.text).field not in ATTACHED_FIELDS]
        # "83%" in a text file is the number that a workbook would have.
        return any(self.readers.is_result(s.text.rstrip("% ") or s.text, s.kind) for s in spots)


def _repeated_fields(grid: Grid, row: int, left: int, right: int, readers: Readers) -> set[str]:
    seen: list[str] = []
    for col, spot in grid.rows[row].items():
        if left <= col <= right and spot.kind == "text":
            name = readers.names.heading(spot.text).field
            seen += [name] if name else []
    return {name for name in seen if seen.count(name) > 1 and name in ATTACHED_FIELDS}


def _heading_spot(grid: Grid, row: int, col: int, analytes: list[int]) -> tuple[Spot | None, bool]:
    """Find a column's heading on the run's row, else on the lines just above or below it."""
    if spot := grid.at(row, col):
        return spot, False
    for other in (row - 1, row - 2, row + 1):
        spot = grid.at(other, col)
        if spot and spot.kind == "text" and not (spot.col_span > 2 and col >= analytes[0]):
            return spot, True
    return None, False


def _label_beside(grid: Grid, row: int, col: int, readers: Readers) -> Spot | None:
    """Find the label of a line of samples that stands over the units or limits, not over the names."""
    levels = readers.names.vocabulary.field_levels
    for other in range(row + 1, row + 9):
        spot = grid.rows.get(other, {}).get(col)
        if spot and spot.kind == "text":
            name = readers.names.heading(spot.text.rstrip(" :")).field
            return spot if name and levels[name] == "sample" else None
    return None


def holds_labels(header: Header, col: int) -> bool:
    """Tell whether a column holds nothing but headings, such as "Result" and "U" under a sample."""
    spots = below(header.grid, header.run, col)
    names = header.readers.names
    return bool(spots) and all(s.kind == "text" and names.heading(s.text).field for s in spots)


def holds_signs(header: Header, col: int, spot: Spot | None, read: Heading | None) -> bool:
    """Tell whether a column under no other heading holds nothing but signs for its neighbour."""
    known = read is not None and read.field == "qualifier"
    if read and not known and (read.is_measurand or read.field or read.form):
        return False
    spots = below(header.grid, header.run, col)
    first = min(header.analytes, default=col)
    lines = len(below(header.grid, header.run, first))
    return bool(marks_among(spots, spot is not None and not known, lines, header.readers))
