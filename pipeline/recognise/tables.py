"""Build a Block from a settled header: a crossing table, or a list with one result per line."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import re

import polars as pl

from pipeline.names import Heading, Names
from pipeline.readers import Readers
from pipeline.recognise.columns import Columns, ValueColumn, note_suffix, sort_columns
from pipeline.recognise.grid import Grid, Region, Spot
from pipeline.recognise.headers import SAMPLE_HEADINGS, Run
from pipeline.recognise.lines import Lines, sort_lines
from pipeline.recognise.statements import pairs_in_text, said_by
from pipeline.recognise.titles import distrust_clashes, title_lines
from schemas.frames import RESULT_FIELDS, SAMPLE_FIELDS
from schemas.vocabulary import squash


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
    lines = sort_lines(grid, run, columns, bottom, left, right, readers)
    if not lines.samples:
        return None
    columns.fields = {
        name: col
        for name, col in columns.fields.items()
        if any(grid.at(r, col) for r in lines.samples)
    }
    whole, used = title_lines(grid, run, bounds, columns, readers)
    distrust_clashes(columns)
    return Table(grid, readers.names, run, layout, columns, lines, whole, used)


def crossing_frames(table: Table) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lay a crossing table out as its lines and its columns of results."""
    described = table.lines.describing
    columns = [_column_row(table, value, described) for value in table.columns.values]
    fields = {n: c for n, c in table.columns.fields.items() if n in SAMPLE_FIELDS + RESULT_FIELDS}
    lines = [_line_row(table, row, fields) for row in table.lines.samples]
    return _frame(lines, "line", fields), pl.DataFrame(
        columns, schema=_column_schema(), orient="row"
    )


def _line_row(table: Table, row: int, fields: dict[str, int]) -> dict[str, object]:
    made: dict[str, object] = {"line": row, "line_struck": False}
    for name, col in fields.items():
        spot = table.grid.at(row, col)
        if spot and spot.struck and name in {"sample", "lab_sample", "analyte"}:
            made["line_struck"] = True
        suffix = table.columns.suffixes.get(col)
        made[f"raw_{name}"] = _with_suffix(spot.exact, suffix) if spot else None
    return made


def _with_suffix(text: str, suffix: str | None) -> str:
    """Add the unit of a column's heading to its text, unless the text carries one itself."""
    plain = re.fullmatch(r"[<≤±\s]*[\d.,]+", text)
    return f"{text} {suffix}" if suffix and plain else text


def _frame(rows: list[dict[str, object]], key: str, fields: dict[str, int]) -> pl.DataFrame:
    schema = {
        key: pl.Int32(),
        "line_struck": pl.Boolean(),
        **{f"raw_{name}": pl.String() for name in fields},
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


_COLUMN_TEXTS = ("analyte", "form", "unit", "lod", "loq", "limit", "uncertainty", "deviation",
                 "coverage_factor", "method", "expressed_as", "path_length", "illuminant", "observer", "replicate")  # fmt: skip
ATTACHED = ("unit", "lod", "loq", "limit", "uncertainty", "deviation", "qualifier")


def _column_schema() -> dict[str, pl.DataType]:
    return {
        "column": pl.Int32(),
        **{f"raw_{n}": pl.String() for n in _COLUMN_TEXTS},
        "spread": pl.String(),
        "column_struck": pl.Boolean(),
        "other_unit": pl.String(),
        **{f"{n}_at": pl.Int32() for n in ATTACHED},
        **{f"{n}_suffix": pl.String() for n in ATTACHED},
    }


def _column_row(table: Table, value: ValueColumn, described: dict[str, int]) -> dict[str, object]:
    """Join what a column's own heading, its lines below and its titles say, the nearest first."""
    own = _heading_says(value.heading)
    below = {}
    for name, row in described.items():
        if spot := table.grid.at(row, value.column):
            limit = name in {"lod", "loq", "limit"}
            below[name] = _with_label_unit(table, row, spot.exact) if limit else spot.exact
    says = value.says | below | own
    made: dict[str, object] = {"column": value.column}
    made |= {f"raw_{n}": says.get(n) for n in _COLUMN_TEXTS}
    made |= {"raw_analyte": value.raw_analyte, "spread": says.get("spread")}
    head = table.grid.at(table.run.row, value.column)
    made["column_struck"] = bool(head and head.struck)
    made["other_unit"] = below.get("unit") if own.get("unit") and below.get("unit") else None
    suffixes = table.columns.suffixes
    made |= {f"{n}_at": value.attached.get(n) for n in ATTACHED}
    return made | {f"{n}_suffix": suffixes.get(value.attached.get(n, 0)) for n in ATTACHED}


def _with_label_unit(table: Table, row: int, text: str) -> str:
    """Add the unit of a label such as "LOD (mg/L)" to a limit that carries none."""
    for col, spot in table.grid.rows[row].items():
        if col < table.columns.first_value and spot.kind == "text":
            unit = table.names.heading(spot.text).unit
            if unit and not table.names.units_in(text):
                return f"{text} {unit}"
    return text


def _heading_says(heading: Heading) -> dict[str, str]:
    keys = ("form", "unit", "lod", "loq", "limit", "expressed_as", "coverage_factor", "spread",
            "path_length", "replicate")  # fmt: skip
    said = {key: value for key in keys if (value := getattr(heading, key))}
    for key in ("lod", "loq", "limit"):
        if key in said and heading.unit:
            said[key] = f"{said[key]} {heading.unit}"
    return said


def list_table(
    grid: Grid, run: Run, bounds: tuple[int, int, int, int], layout: str, readers: Readers
) -> Table | None:
    """Read a table with one result per line; `run` goes down the column of the analytes' names.

    The header is the nearest line above the first name with a heading for results in it, or with
    bare forms or units as headings of columns of results.
    """
    first, analyte_column = min(run.columns), run.row
    head = next(
        (r for r in range(first - 1, max(0, first - 6), -1) if _heads_list(grid, r, readers)), None
    )
    if head is None:
        return None
    headings = {
        c: readers.names.heading(s.text) for c, s in grid.rows[head].items() if s.kind == "text"
    }
    if _is_crossing(grid, head, headings, readers):
        return None
    own = headings.get(analyte_column)
    results = {c: h for c, h in headings.items() if c != analyte_column and _heads_results(h)}
    forms = [h.form for h in results.values() if h.is_form_only]
    if len(forms) > len(set(forms)):
        return None
    if _only_averages(grid, head, headings, results, readers):
        return None
    if not results or (own and own.is_measurand):
        return None
    columns = _list_columns(headings, results, analyte_column)
    lines = _list_lines(grid, head, columns, bounds[1], readers)
    row_run = Run(head, {analyte_column: Heading("")})
    whole, used = title_lines(grid, row_run, bounds, columns, readers)
    return Table(grid, readers.names, row_run, layout, columns, lines, whole, used)


def _heads_list(grid: Grid, row: int, readers: Readers) -> bool:
    """Tell whether a line is a header: headings of fields, and no number among them."""
    spots = grid.rows.get(row, {}).values()
    headings = [readers.names.heading(s.text) for s in spots if s.kind == "text"]
    named = [h for h in headings if h.field or h.is_form_only or h.is_unit_only]
    numbers = [s for s in spots if s.kind == "number"]
    return (
        bool(named)
        and not numbers
        and any(h.field or h.is_form_only for h in named)
        and (len(named) >= 2 or any(h.field in {"result", "analyte"} for h in named))
    )


def _only_averages(
    grid: Grid,
    head: int,
    headings: dict[int, Heading],
    results: dict[int, Heading],
    readers: Readers,
) -> bool:
    """Tell whether the only heading for results is an average beside columns of other numbers."""
    words = readers.names.vocabulary.row_words
    averages = [c for c in results if words.get(squash(headings[c].text)) == "aggregate"]
    if len(averages) < len(results):
        return False
    others = [
        c for c, h in headings.items()
        if c not in results and not (h.field or h.is_measurand or h.form or h.unit)
    ]  # fmt: skip
    below = grid.rows.get(head + 1, {})
    return any((s := below.get(c)) and readers.is_result(s.text, s.kind) for c in others)


def _is_crossing(grid: Grid, head: int, headings: dict[int, Heading], readers: Readers) -> bool:
    """Tell whether several columns of results stand under samples named on the lines above."""
    results = [c for c, h in headings.items() if h.field == "result"]
    if len(results) < 2:
        return False
    for row in range(head - 1, max(0, head - 9), -1):
        spots = grid.rows.get(row, {})
        names = [s for c, s in spots.items() if c not in results and s.kind == "text"]
        if any(
            readers.names.heading(s.text.rstrip(" :")).field in SAMPLE_HEADINGS for s in names
        ) and any(c in spots for c in results[1:]):
            return True
    return False


def _heads_results(heading: Heading) -> bool:
    return heading.field == "result" or heading.is_form_only or heading.is_unit_only


def _list_columns(
    headings: dict[int, Heading], results: dict[int, Heading], analyte_column: int
) -> Columns:
    found = Columns()
    found.fields["analyte"] = analyte_column
    for col in sorted(headings):
        heading = headings[col]
        if col in results:
            found.values.append(ValueColumn(col, "", heading, _heading_says(heading)))
        elif heading.field and heading.field != "ignored" and col != analyte_column:
            found.fields.setdefault(heading.field, col)
            note_suffix(found, col, heading)
    found.first_value = min(v.column for v in found.values)
    if "form" in found.fields and all(v.heading.form for v in found.values):
        found.fields.pop("form")
    columns = {
        n: found.fields.pop(n)
        for n in ("client_sample", "sample", "sample_name")
        if n in found.fields
    }
    for name in ("client_sample", "sample", "sample_name"):
        if name in columns and "sample" not in found.fields:
            found.fields["sample"] = columns[name]
    if "client_sample" in columns and "sample" in columns:
        found.fields.setdefault("lab_sample", columns["sample"])
    for name in ("lab_sample", "lot"):
        if "sample" not in found.fields and name in found.fields:
            found.fields["sample"] = found.fields[name]
    return found


def _list_lines(grid: Grid, head: int, columns: Columns, bottom: int, readers: Readers) -> Lines:
    found = Lines(last=head)
    name_column, result_columns = columns.fields["analyte"], [v.column for v in columns.values]
    gap, panel = False, dict[str, str]()
    for row in range(head + 1, bottom + 1):
        spots = grid.rows.get(row, {})
        if not spots:
            gap = True
            continue
        name, results = grid.at(row, name_column), [spots[c] for c in result_columns if c in spots]
        if name and name.kind == "text" and readers.names.heading(name.text).field == "analyte":
            break
        if _is_note(spots, name, results, columns, gap):
            found.notes.append(row)
            panel = panel | _label_says(spots, readers)
            continue
        if panel:
            found.panels[row] = dict(panel)
        found.samples.append(row)
        found.last, gap = row, False
    return found


def _label_says(spots: dict[int, Spot], readers: Readers) -> dict[str, str]:
    """Read a label between the lines of a list: a panel's title, or the sample of the next lines."""
    said: dict[str, str] = {}
    for spot in spots.values():
        if spot.kind == "text":
            pairs = dict(pairs_in_text(spot.text, readers.names))
            said |= {n: v for n, v in pairs.items() if n in SAMPLE_FIELDS}
            said |= {k: v for k, v in said_by(spot, readers).items() if k in {"form", "unit"}}
    return said


def _is_note(
    spots: dict[int, Spot], name: Spot | None, results: list[Spot], columns: Columns, gap: bool
) -> bool:
    """Tell a label or a footnote from a result line: it lacks a result and all marks of one."""
    if name is None and not results:
        return True
    if gap and not (name and results):
        return True
    return bool(name) and not results and not _has_field(spots, columns)


def _has_field(spots: dict[int, Spot], columns: Columns) -> bool:
    """Tell whether a line without a result has the other marks of one (a unit, a sample)."""
    others = [c for n, c in columns.fields.items() if n != "analyte" and c in spots]
    return bool(others)


def _panel(table: Table, row: dict[str, object], name: str) -> str | None:
    """What the label above a line of a list says of it."""
    return table.lines.panels.get(int(str(row["line"])), {}).get(name)


def list_frames(table: Table) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lay a one-result-per-line table out as its lines and its columns of results."""
    fields = {n: c for n, c in table.columns.fields.items() if n in SAMPLE_FIELDS + RESULT_FIELDS}
    lines = [_line_row(table, row, fields) for row in table.lines.samples]
    for name in {n for said in table.lines.panels.values() for n in said} - set(fields):
        fields = fields | {name: 0}
        lines = [row | {f"raw_{name}": _panel(table, row, name)} for row in lines]
    columns = [
        {"column": v.column, **{f"raw_{k}": t for k, t in v.says.items()}}
        for v in table.columns.values
    ]
    schema = _column_schema()
    rows = [{name: row.get(name) for name in schema} for row in columns]
    return _frame(lines, "line", fields), pl.DataFrame(rows, schema=schema, orient="row")
