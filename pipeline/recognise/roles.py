"""Say what each cell of a sheet was taken for, and which numbers were taken for nothing."""

from __future__ import annotations

import re

import polars as pl

from pipeline.addresses import column_letters
from pipeline.recognise.grid import Grid, Regions, Spot
from pipeline.recognise.statements import Statements
from pipeline.recognise.tables import Table

ROLES = {"sheet": pl.String(), "row": pl.Int32(), "col": pl.Int32(), "role": pl.String()}


def sheet_roles(
    grid: Grid, tables: list[Table], said: Statements, described: set[tuple[int, int]]
) -> pl.DataFrame:
    """Tabulate the role of each printed cell of a sheet.

    Roles: value, analyte, sample, field, unit, limit, title, aggregate, note, metadata, unused.
    """
    roles: dict[tuple[int, int], str] = dict.fromkeys([*said.cells, *described], "metadata")
    for table in tables:
        for place, role in _table_roles(table).items():
            roles[(place[1], place[0]) if table.grid.swapped else place] = role
    rows = [(grid.sheet, r, c, roles.get((r, c), "unused")) for r, c, _ in grid.spots()]
    return pl.DataFrame(rows, schema=ROLES, orient="row")


def _table_roles(table: Table) -> dict[tuple[int, int], str]:
    roles: dict[tuple[int, int], str] = {}
    values = table.value_places()
    attached = {c: n for v in table.columns.values for n, c in v.attached.items()}
    roles |= dict.fromkeys(table.titles, "title")
    for step in range(table.columns.head_rows):
        roles |= {
            (table.run.row + step, c): "field"
            for c in table.grid.rows.get(table.run.row + step, {})
        }
    roles |= {(table.run.row, c): "analyte" for c in values}
    for name, row in table.lines.describing.items():
        roles |= {(row, c): _field_role(name) for c in table.grid.rows[row]}
    for row in table.lines.samples:
        for name, col in table.columns.fields.items():
            roles[row, col] = _field_role(name)
        roles |= {(row, c): _field_role(n) for c, n in attached.items()}
        roles |= {(row, c): "value" for c in values}
    for said in table.lines.beside.values():
        roles |= {(row, c): _field_role(n) for n, row in said.items() for c in table.grid.rows[row]}
    if table.columns.kinds:
        roles |= {(row, table.columns.kinds): "field" for row in table.lines.samples}
    for row in (*table.lines.aggregates, *table.lines.ignored):
        roles |= {(row, c): "aggregate" for c in table.grid.rows[row]}
    for row in table.lines.notes:
        roles |= {(row, c): "note" for c in table.grid.rows[row]}
    return roles


def _field_role(name: str) -> str:
    if name in {"lod", "loq", "limit"}:
        return "limit"
    return {"analyte": "analyte", "sample": "sample", "unit": "unit"}.get(name, "field")


def unread_numbers(grid: Grid, tables: list[Table], said: Statements) -> list[str]:
    """Say which lines were taken for summaries and where numbers stand that were not read."""
    read = Regions(tuple(table.read for table in tables))
    columns = {c for table in tables if not table.grid.swapped for c in table.value_places()}
    first = min((t.run.row for t in tables if not t.grid.swapped), default=0)
    summaries = {(r, t.grid.swapped) for t in tables for r in t.lines.aggregates + t.lines.ignored}
    lost = [
        (r, c)
        for r, c, s in [*said.loose, *_between(grid, tables)]
        if (s.kind == "number" or (c in columns and r > first and _is_printed_number(s)))
        and (r, c) not in said.cells
        and (r, c) not in read
        and not {(r, False), (c, True)} & summaries
    ]
    return [*_summaries(grid, tables), *_details(grid, tables), *_lost(grid, lost)]


def _is_printed_number(spot: Spot) -> bool:
    """Tell a number kept as text, such as "<0.5" or "12,3"."""
    return (
        spot.kind == "text"
        and re.fullmatch(r"[<>≤≥]?\s*\d+(?:[.,]\d+)?", spot.text.strip()) is not None
    )


def _between(grid: Grid, tables: list[Table]) -> list[tuple[int, int, Spot]]:
    """The cells inside a table's bounds whose column says nothing."""
    found = []
    for table in tables:
        columns = table.taken.columns - table.read.columns
        rows = table.taken.rows - table.read.rows if table.grid.swapped else frozenset[int]()
        found += [
            (r, c, s)
            for r in table.taken.rows
            for c in columns
            if (s := grid.rows.get(r, {}).get(c))
        ]
        found += [
            (r, c, s)
            for r in rows
            for c in table.taken.columns
            if (s := grid.rows.get(r, {}).get(c))
        ]
    return found


def _summaries(grid: Grid, tables: list[Table]) -> list[str]:
    notices = []
    for table in tables:
        for line in table.lines.aggregates:
            first = next(iter(table.grid.rows[line].values())).text
            way = "column" if table.grid.swapped else "row"
            place = column_letters(line) if table.grid.swapped else line
            notices.append(
                f'{grid.sheet}: {way} {place} ("{first}") was taken for a summary and not read'
            )
    return notices


def _details(grid: Grid, tables: list[Table]) -> list[str]:
    """Name the lines with numbers that were taken for details of the analysis."""
    notices = []
    for table in tables:
        limits = {row for _, row in table.lines.particular}
        for line in set(table.lines.ignored) - limits:
            spots = table.grid.rows[line]
            if any(c in spots and spots[c].kind == "number" for c in table.value_places()):
                way = "column" if table.grid.swapped else "row"
                place = column_letters(line) if table.grid.swapped else line
                first = next(iter(spots.values())).text
                notices.append(f'{grid.sheet}: {way} {place} ("{first}") was not read as a sample')
    return sorted(notices)


def _lost(grid: Grid, lost: list[tuple[int, int]]) -> list[str]:
    if not lost:
        return []
    first = grid.name(*lost[0])
    count = "1 number stands" if len(lost) == 1 else f"{len(lost)} numbers stand"
    verb = "was" if len(lost) == 1 else "were"
    return [
        f"{grid.sheet}: {count} outside the recognised tables and {verb} not read (first: {first})"
    ]


def unlabelled(table: Table) -> list[str]:
    """Name the lines beside the samples' names that carry words or days under no label at all."""
    grid, columns, head = table.grid, table.columns, table.run.row
    known = {*columns.fields.values(), *columns.report.values(), *columns.unread}
    known |= {columns.corner or 0, columns.kinds or 0}
    notices = []
    for column in range(min(table.taken.columns, default=1), columns.first_value):
        told = [s for r in table.lines.samples if (s := grid.at(r, column))]
        if column in known or grid.at(head, column) is not None or not told:
            continue
        way = f"row {column}" if grid.swapped else f"column {column_letters(column)}"
        notices.append(
            f'{grid.sheet}: {way} has no label and was not read (first: "{told[0].text[:40]}"); '
            "write what it is before it"
        )
    return notices


def dated_names(table: Table) -> list[str]:
    """Name samples called by a typed day beside others that are not: "5-1" may have become one."""
    grid, column = table.grid, table.columns.fields.get("sample")
    if column is None:
        return []
    lines = {row: s for row in table.lines.samples if (s := grid.at(row, column))}
    days = [row for row, spot in lines.items() if spot.kind == "date"]
    if not days or len(days) == len(lines):
        return []
    return [
        f'{grid.sheet}!{grid.name(row, column)}: the sample is called by a day, "{lines[row].text}"; '
        "a spreadsheet may have made it of a name such as 5-1: ask the laboratory"
        for row in days
    ]


def named_by_lots(table: Table) -> str | None:
    """Say that no heading for samples is known and that the lots name them."""
    column = table.columns.fields.get("lot")
    if column is None or column != table.columns.fields.get("sample"):
        return None
    head = table.run.row
    spot = table.grid.at(head, column)
    heading = f' ("{spot.text}")' if spot else ""
    return (
        f"{table.grid.sheet}: no heading for samples is known; the samples are called after the "
        f"lots in {table.grid.name(head, column)}{heading}"
    )


def named_by_lot(
    fixed: dict[str, str], lines: pl.DataFrame, columns: pl.DataFrame
) -> dict[str, str]:
    """Call the only sample of a table after the lot the report states, where nothing else names it."""
    names = ("sample", "lab_sample", "sample_name", "client_sample")
    told = any(f"raw_{name}" in (*lines.columns, *columns.columns) for name in names)
    several = "raw_lot" in (*lines.columns, *columns.columns)
    if told or several or set(names) & fixed.keys() or "lot" not in fixed:
        return fixed
    return fixed | {"sample": fixed["lot"]}
