"""Build a Block from a settled header: a crossing table, or a list with one result per line."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import polars as pl

from pipeline.names import Names, label_unit
from pipeline.names.heading import heading_says, stated_unit
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns, ValueColumn
from pipeline.recognise.columns import sort_columns
from pipeline.recognise.grid import Grid, Region
from pipeline.recognise.headers import Run
from pipeline.recognise.lines import Lines, sort_lines
from pipeline.recognise.name_units import take_name_units
from pipeline.recognise.sample_columns import leave_report_details
from pipeline.recognise.titles import corner_says, distrust_clashes, title_lines
from schemas.frames import RESULT_FIELDS, SAMPLE_FIELDS
from schemas.layout import with_unit


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
        columns = [*self.value_places(), *self.columns.fields.values(), *attached, *corner]
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

    def _span(self) -> tuple[int, int]:
        columns = self.value_places() + list(self.columns.fields.values())
        attached = [c for v in self.columns.values for c in v.attached.values()]
        low = min(columns)
        return min(low, self.columns.corner or low), max([*columns, *attached])

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
    columns.fields = {
        name: col
        for name, col in columns.fields.items()
        if name == "sample" or any(grid.at(r, col) for r in lines.samples)
    }
    whole, used = title_lines(grid, run, bounds, columns, readers)
    corner = grid.at(run.row, columns.corner) if columns.corner else None
    whole |= corner_says(readers.names.heading(corner.text) if corner else None)
    distrust_clashes(columns)
    return Table(grid, readers.names, run, layout, columns, lines, whole, used)


def crossing_frames(table: Table) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lay a crossing table out as its lines and its columns of results."""
    described = table.lines.describing
    columns = [_column_row(table, value, described) for value in table.columns.values]
    fields = {n: c for n, c in table.columns.fields.items() if n in SAMPLE_FIELDS + RESULT_FIELDS}
    lines = [line_row(table, row, fields) for row in table.lines.samples]
    fields, lines = add_panels(table, fields, lines)
    if table.grid.swapped:
        fields, lines = take_name_units(fields, lines, table.columns, table.lines, table.names)
    lines = [_doubt_panel(row, columns) for row in lines]
    return frame(lines, "line", fields), pl.DataFrame(columns, schema=column_schema(), orient="row")


def add_panels(
    table: Table, fields: dict[str, int], lines: list[dict[str, object]]
) -> tuple[dict[str, int], list[dict[str, object]]]:
    """Add to each line what the label above it says, where the line says nothing of it."""
    panels = table.lines.panels
    told = sorted({n for said in panels.values() for n in said} - set(fields))
    for name in told:
        lines = [
            row | {f"raw_{name}": panels.get(int(str(row["line"])), {}).get(name)} for row in lines
        ]
    return fields | dict.fromkeys(told, 0), lines


def _doubt_panel(row: dict[str, object], columns: list[dict[str, object]]) -> dict[str, object]:
    """Doubt a line whose label gives another form or unit than a heading of the results."""
    for name in ("form", "unit"):
        said = row.get(f"raw_{name}")
        own = {c[f"raw_{name}"] for c in columns} - {None, said}
        if said and own and not row["line_doubt"]:
            return row | {"line_doubt": f'the label above it says "{said}", its heading does not'}
    return row


def line_row(table: Table, row: int, fields: dict[str, int]) -> dict[str, object]:
    """Read the fields of one line."""
    made: dict[str, object] = {"line": row, "line_struck": False}
    made["spilled"] = table.spills(row)
    made["line_doubt"] = table.lines.doubted.get(row)
    beside = table.lines.beside.get(row, {})
    made |= {f"{name}_line": beside.get(name) for name in BESIDE}
    made |= {f"{name}_line_suffix": label_suffix(table, at) for name, at in beside.items()}
    for name, col in fields.items():
        spot = table.grid.at(row, col)
        if spot and spot.struck and name in {"sample", "lab_sample", "analyte"}:
            made["line_struck"] = True
        suffix = table.columns.suffixes.get(col)
        text = spot.said(name) if spot else ""
        text = stated_unit(table.names.heading(text)) if name == "unit" else text
        made[f"raw_{name}"] = with_unit(text, suffix) if spot else None
    return made


def frame(rows: list[dict[str, object]], key: str, fields: dict[str, int]) -> pl.DataFrame:
    """Lay lines out as a frame of text columns."""
    schema = {
        key: pl.Int32(),
        "line_struck": pl.Boolean(),
        "spilled": pl.Boolean(),
        "line_doubt": pl.String(),
        **{f"{name}_line": pl.Int32() for name in BESIDE},
        **{f"{name}_line_suffix": pl.String() for name in BESIDE},
        **{f"raw_{name}": pl.String() for name in fields},
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


_COLUMN_TEXTS = (*(name for name in RESULT_FIELDS if name != "qualifier"), "replicate")
BESIDE = ("uncertainty", "deviation", "lod", "loq", "limit", "unit")
ATTACHED = ("unit", "lod", "loq", "limit", "uncertainty", "deviation", "qualifier")


def column_schema() -> dict[str, pl.DataType]:
    """The columns that describe the columns of results."""
    return {
        "column": pl.Int32(),
        **{f"raw_{n}": pl.String() for n in _COLUMN_TEXTS},
        "spread": pl.String(),
        "version": pl.String(),
        "column_struck": pl.Boolean(),
        "other_unit": pl.String(),
        **{f"{n}_at": pl.Int32() for n in ATTACHED},
        **{f"{n}_suffix": pl.String() for n in ATTACHED},
    }


def _column_row(table: Table, value: ValueColumn, described: dict[str, int]) -> dict[str, object]:
    """Join what a column's own heading, its lines below and its titles say, the nearest first."""
    own = heading_says(value.heading)
    below = {"unit": unit} if (unit := value.says.get("sub_unit")) else {}
    for name, row in described.items():
        if spot := table.grid.at(row, value.column):
            below[name] = with_unit(spot.stated, label_suffix(table, row))
    says = value.says | below | own
    made: dict[str, object] = {"column": value.column}
    made |= {f"raw_{n}": says.get(n) for n in _COLUMN_TEXTS}
    made |= {"raw_analyte": value.raw_analyte} | {n: says.get(n) for n in ("spread", "version")}
    head = table.grid.at(table.run.row, value.column)
    made["column_struck"] = bool(head and head.struck)
    made["other_unit"] = below.get("unit") if own.get("unit") and below.get("unit") else None
    suffixes = table.columns.suffixes
    made |= {f"{n}_at": value.attached.get(n) for n in ATTACHED}
    return made | {f"{n}_suffix": suffixes.get(value.attached.get(n, 0)) for n in ATTACHED}


def label_suffix(table: Table, row: int) -> str | None:
    """The unit in the label of a line such as "LOD (mg/L)", for its bare numbers."""
    labels = {table.columns.corner, *table.columns.fields.values()} - {None}
    spots = [s for c, s in table.grid.rows[row].items() if c in labels and s.kind == "text"]
    units = [u for s in spots if (u := label_unit(table.names.heading(s.text.rstrip(" :"))))]
    return units[0] if units else None
