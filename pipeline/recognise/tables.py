"""A table found under a settled header: its columns, its lines, and the cells it has read."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from pipeline.names import Names
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.columns import sort_columns
from pipeline.recognise.first_lines import formed_above, named_above
from pipeline.recognise.grid import Grid, Region
from pipeline.recognise.headers import Run
from pipeline.recognise.lines import Lines, sort_lines
from pipeline.recognise.sample_columns import leave_report_details
from pipeline.recognise.titles import corner_says, distrust_clashes, title_lines


@dataclass
class Table:
    """A table found on a grid before the lines around it were read."""

    grid: Grid
    names: Names
    run: Run
    layout: str
    columns: Columns
    lines: Lines
    whole: dict[str, str]
    titles: list[tuple[int, int]] = field(default_factory=list)
    results: list[int] = field(default_factory=list)

    @property
    def header_cell(self) -> str:
        """The address of the first analyte's name."""
        first = min(self.run.columns)
        return self.grid.name(self.run.row, first)

    @cached_property
    def body(self) -> Region:
        """The cells of the table that hold results, in the sheet's own coordinates."""
        return self._placed(self.lines.samples, self.value_places())

    @cached_property
    def taken(self) -> Region:
        """The cells the table has read: headers, samples' columns and body."""
        low, high = self._span()
        return self._placed(self.rows, list(range(low, high + 1)))

    @cached_property
    def read(self) -> Region:
        """The cells of which something was kept: the columns between them that say nothing are out."""
        attached = [c for v in self.columns.values for c in v.attached.values()]
        corner = [self.columns.corner] if self.columns.corner else []
        report = [] if self.grid.swapped else self.columns.report.values()
        columns = [*self.value_places(), *self.columns.fields.values(), *attached, *corner, *report]
        return self._placed(self.rows, columns)

    @cached_property
    def rows(self) -> list[int]:
        """The lines the table has read, header included."""
        lines = self.lines
        heads = [self.run.row + i for i in range(self.columns.head_rows)]
        return [
            *heads,
            *lines.samples,
            *lines.describing.values(),
            *lines.aggregates,
            *lines.ignored,
            *(row for said in lines.beside.values() for row in said.values()),
        ]

    @property
    def head_lines(self) -> tuple[int, ...]:
        """The lines of headings, of titles over columns, and of what else describes the columns."""
        heads = {self.run.row + step for step in range(self.columns.head_rows)}
        return tuple({*heads, *(r for r, _ in self.titles), *self.lines.describing.values()})

    @property
    def side_columns(self) -> tuple[int, ...]:
        """The columns that name and describe the samples or results."""
        named = {*self.columns.fields.values(), self.columns.corner, self.columns.kinds}
        return tuple(column for column in named if column)

    def _span(self) -> tuple[int, int]:
        columns = self.value_places() + list(self.columns.fields.values())
        attached = [c for v in self.columns.values for c in v.attached.values()]
        low = min(columns)
        low, high = min(low, self.columns.corner or low), max([*columns, *attached])
        return self._headed(low, high) if "analyte" in self.columns.fields else (low, high)

    def _headed(self, low: int, high: int) -> tuple[int, int]:
        """Widen a list to the headings that stand beside its own without a gap."""
        heads = {} if self.grid.swapped else self.grid.rows.get(self.run.row, {})
        while low - 1 in heads and heads[low - 1].kind == "text":
            low -= 1
        while high + 1 in heads and heads[high + 1].kind == "text":
            high += 1
        return low, high

    @property
    def sheet_rows(self) -> tuple[int, int]:
        """The first and last row of the sheet that the table covers."""
        return self._span() if self.grid.swapped else (min(self.rows), max(self.rows))

    def _placed(self, rows: list[int], columns: list[int]) -> Region:
        if self.grid.swapped:
            return Region(frozenset(columns), frozenset(rows))
        return Region(frozenset(rows), frozenset(columns))

    @cached_property
    def is_text_file(self) -> bool:
        """Tell a text file by its cells: none of them is a typed number."""
        return not any(
            s.kind == "number" for spots in self.grid.rows.values() for s in spots.values()
        )

    def spills(self, row: int) -> bool:
        """Tell whether a line of a text file has more numbers than the header has columns.

        Decimal commas that also part the cells do that, and then no number of the line is sure.
        """
        if not self.is_text_file:
            return False
        right = self._span()[1]
        return any(c > right and s.text.strip().isdigit() for c, s in self.grid.rows[row].items())

    def report_says(self) -> dict[str, set[str]]:
        """Collect what columns such as "Laboratory" or "Report no." say, one set per field."""
        return {
            name: {s.exact for r in self.lines.samples if (s := self.grid.at(r, col))}
            for name, col in self.columns.report.items()
        }

    def value_places(self) -> list[int]:
        """The columns that hold results."""
        return [v.column for v in self.columns.values]


def crossing_table(
    grid: Grid, run: Run, bounds: tuple[int, int, int, int], layout: str, readers: Readers
) -> Table | None:
    """Read a table whose analytes run along `run`; bounds are (top, bottom, left, right)."""
    _, bottom, left, right = bounds
    columns = sort_columns(grid, run, left, right, bottom, readers)
    if not columns.values:
        return None
    leave_report_details(grid, run, columns, readers)
    lines = sort_lines(grid, run, columns, bottom, left, right, readers)
    if not lines.samples:
        return None
    lines.formed = formed_above(grid, columns, lines.samples, run.row)
    columns.fields = {
        name: col
        for name, col in columns.fields.items()
        if name == "sample"
        or any(grid.at(r, col) for r in lines.samples)
        or (name == "form" and lines.formed)
    }
    lines.named = named_above(grid, columns, lines.samples)
    whole, used = title_lines(grid, run, bounds, columns, readers)
    corner = grid.at(run.row, columns.corner) if columns.corner else None
    whole |= corner_says(readers.names.heading(corner.text) if corner else None)
    distrust_clashes(columns)
    return Table(grid, readers.names, run, layout, columns, lines, whole, used)
