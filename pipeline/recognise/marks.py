"""Find whose result a sign or letter in a column of its own belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from pipeline.addresses import column_letters
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Regions
from pipeline.recognise.signs import is_sign, marks_among
from pipeline.recognise.tables import Table
from schemas.frames import SAMPLE_FIELDS
from schemas.layout import Mark


@dataclass(frozen=True)
class _Column:
    """A column of the sheet with marks in it, and the columns of results on both sides of it."""

    column: int
    heading: str
    strange: str
    marks: dict[int, str]
    left: int | None
    right: int | None

    @property
    def signs(self) -> bool:
        return all(map(is_sign, self.marks.values()))

    @property
    def one_sided(self) -> bool:
        return (self.left is None) != (self.right is None)


@dataclass(frozen=True)
class Margins:
    """A table as it lies on its sheet: results by row and column, whatever way the names run."""

    table: Table
    readers: Readers
    tables: Sequence[Table]

    @cached_property
    def grid(self) -> Grid:
        return self.table.grid.turned if self.table.grid.swapped else self.table.grid

    @cached_property
    def values(self) -> set[tuple[int, int]]:
        table = self.table
        cells = {(row, c) for row in table.lines.samples for c in table.value_places()}
        return {(c, r) for r, c in cells} if table.grid.swapped else cells

    @cached_property
    def by_row(self) -> dict[int, list[int]]:
        """The columns of results of each row, in order."""
        samples, places = sorted({*self.table.lines.samples}), sorted({*self.table.value_places()})
        rows, columns = (places, samples) if self.table.grid.swapped else (samples, places)
        return dict.fromkeys(rows, columns) if columns else {}

    @cached_property
    def strangers(self) -> set[int]:
        """Columns of results whose heading names nothing known: a mark may belong beyond them."""
        if self.table.grid.swapped or "analyte" in self.table.columns.fields:
            return set()
        return {v.column for v in self.table.columns.values if not v.heading.is_measurand}

    @cached_property
    def columns(self) -> list[_Column]:
        rows = list(self.by_row)
        used = {c for _, c in self.values} - self.strangers
        taken = used | self.strangers
        spare = {
            c
            for r in rows
            for c in self.grid.rows.get(r, {})
            if c not in taken and self._is_spare(r, c)
        }
        return [c for col in sorted(spare) if (c := self._column(col, rows, used))]

    def _is_spare(self, row: int, col: int) -> bool:
        return (row, col) not in self._read

    @cached_property
    def _read(self) -> Regions:
        """What is read of this table, and of those beside it."""
        rows = self.table.taken.rows
        return Regions(tuple(t.read for t in self.tables if not rows.isdisjoint(t.taken.rows)))

    def _column(self, col: int, rows: list[int], used: set[int]) -> _Column | None:
        spots = {r: s for r in rows if (s := self.grid.rows[r].get(col))}
        heading, strange = self._heading(col)
        left, right = self._named_owner(
            heading, self._owner(col, -1, used), self._owner(col, 1, used)
        )
        if left is None and right is None and len(used) == 1:
            sparse = len(spots) < len(rows)
            left = min(used) if sparse or not strange else None
        marks = marks_among(list(spots.values()), bool(strange), len(rows), self.readers)
        if not marks or (left is None and right is None):
            return None
        said = {r: t for r, s in spots.items() if (t := s.text.strip()) in marks}
        return _Column(col, heading, strange, said, left, right)

    def _owner(self, col: int, step: int, used: set[int]) -> int | None:
        """The next column of results on one side, with no column between that tells the sample."""
        at = col + step
        while at not in used and at not in self._telling and 0 < at <= self._right_end:
            at += step
        return at if at in used else None

    @cached_property
    def _telling(self) -> set[int]:
        table = self.table
        if table.grid.swapped:
            return set(table.lines.describing.values())
        return {c for name, c in table.columns.fields.items() if name in {"sample", *SAMPLE_FIELDS}}

    @cached_property
    def _right_end(self) -> int:
        return max(max(self.grid.rows[r]) for r in self.by_row)

    def _named_owner(
        self, heading: str, left: int | None, right: int | None
    ) -> tuple[int | None, int | None]:
        """Let "Guaiacol flag" belong to the results of guaiacol where they stand beside it."""
        analyte = self.readers.names.heading(heading).analyte if heading else None
        if analyte is None or self.table.grid.swapped:
            return left, right
        named = {v.column for v in self.table.columns.values if v.heading.analyte == analyte}
        if (left in named) == (right in named):
            return left, right
        return (left, None) if left in named else (None, right)

    def _heading(self, col: int) -> tuple[str, str]:
        """The heading of a column, and the same again unless it says "Remark" or nothing."""
        row = self.table.run.row
        if self.table.grid.swapped:
            row = self.table.columns.kinds or self.table.columns.fields.get("sample", 0)
        spot = self.grid.at(row, col)
        if spot is None:
            return "", ""
        known = self.readers.names.heading(spot.text).field == "qualifier"
        return spot.text, "" if known else spot.text


def margins(tables: Sequence[Table], readers: Readers) -> list[Margins]:
    """Look beside the results of each table of a sheet, once for marks and for their headings."""
    return [Margins(table, readers, tables) for table in tables]


def find_marks(sheet: Margins) -> tuple[Mark, ...]:
    """List the marks beside a table's results, in the table's own coordinates.

    A mark with results on both sides belongs to the side that the table's other such columns show,
    a sign such as "<" else to the right. One column of letters for several results may speak for
    any of them. Where that is open, or an unknown heading stands over a letter, every result it may
    belong to is doubtful.
    """
    found: list[Mark] = []
    for column in sheet.columns:
        for row, text in column.marks.items():
            places, sure = _owners(sheet, column, row, text)
            found += [_mark(place, text, sure, sheet.table) for place in places]
    return tuple(found)


def name_marks(sheet: Margins) -> list[str]:
    """Name the columns of marks whose heading is not understood."""
    return [
        f'{sheet.table.grid.sheet}: column {column_letters(c.column)} ("{c.strange}") holds nothing but '
        "marks and was read as remarks on the results beside it"
        for c in sheet.columns
        if c.strange
    ]


def _owners(
    sheet: Margins, column: _Column, row: int, text: str
) -> tuple[list[tuple[int, int]], bool]:
    """List the results a mark may belong to, and whether that is sure."""
    sure = (is_sign(text) or not column.strange) and not _parted(sheet, column)
    own = [(row, c) for c in (column.left, column.right) if c is not None]
    own = [place for place in own if place in sheet.values]
    alike = [c for c in sheet.columns if _are_alike(c, column)]
    others = [(row, c) for c in sheet.by_row[row]]
    before = column.signs and column.right is not None
    if len(own) == 1 and len(alike) == 1 and len(others) > 1 and not before:
        named = sheet.readers.names.heading(column.heading).analyte if column.heading else None
        return (own, sure) if named else (others, False)
    if len(own) < 2:
        return own, sure
    sides = {c.left is not None for c in alike if c.one_sided}
    if len(sides) == 1:
        return [own[0] if sides == {True} else own[1]], sure
    follows = any(c.left is not None for c in sheet.columns if c.one_sided)
    return (own[1:], sure) if column.signs and not sides and not follows else (own, False)


def _are_alike(one: _Column, other: _Column) -> bool:
    """Tell whether two columns of marks stand on the same side: one heading, or one kind of mark."""
    if one.heading and other.heading:
        return one.heading == other.heading
    return one.signs == other.signs


def _parted(sheet: Margins, column: _Column) -> bool:
    """Tell whether results of something unknown stand between the marks and what they may belong to."""
    ends = [c for c in (column.left, column.right) if c is not None]
    low, high = min([*ends, column.column]), max([*ends, column.column])
    return any(low < c < high for c in sheet.strangers)


def _mark(place: tuple[int, int], text: str, sure: bool, table: Table) -> Mark:
    line, column = (place[1], place[0]) if table.grid.swapped else place
    return Mark(line, column, text, not sure)
