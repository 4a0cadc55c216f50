"""Find the tables of a sheet from the lines of analytes' names, and refuse what can be read twice."""

from __future__ import annotations

from itertools import pairwise

from pipeline.errors import FileRefused
from pipeline.names.patterns import CAS
from pipeline.readers import Readers
from pipeline.recognise.form_headers import find_form_headers
from pipeline.recognise.grid import Grid
from pipeline.recognise.headers import SAMPLE_HEADINGS, Axis, Run, names_a_sample, settle_runs
from pipeline.recognise.lists import list_table
from pipeline.recognise.shared_titles import share_titles
from pipeline.recognise.tables import Table, crossing_table
from schemas.layout import Layout, load_layouts


def find_tables(grid: Grid, file: str, readers: Readers) -> list[Table]:
    """List the tables of one sheet; each keeps the layout it was read with.

    Raises FileRefused when two readings claim the same cells.
    """
    headed = find_form_headers(grid, readers)
    axis = settle_runs(grid, readers, headed.titles)
    if axis.crossing:
        raise FileRefused(file, _two_readings(grid, *axis.crossing))
    layouts = {(layout.analyte, layout.results): layout for layout in load_layouts()}
    across = sorted([*axis.across, *headed.runs], key=lambda run: run.row)
    tables = _across(grid, across, layouts["row", "crossing"], readers)
    down = _merge_repeats(_without_numbers_again(axis.down))
    down = [part for run in down for part in _by_sample(grid, run, readers)]
    for number, run in enumerate(down):
        around = (down[:number], down[number + 1 :], tables)
        tables += _down(grid, run, *around, layouts, readers)
    share_titles(grid, [t for t in tables if "analyte" in t.columns.fields])
    if not tables and axis.across and axis.down and _numbers_cross(grid, axis):
        ways = (
            grid.name(axis.across[0].row, min(axis.across[0].columns)),
            grid.turned.name(axis.down[0].row, min(axis.down[0].columns)),
        )
        raise FileRefused(file, _two_readings(grid, *ways))
    _refuse_overlap(grid, file, tables)
    return sorted(tables, key=lambda t: (min(t.body.rows), min(t.body.columns)))


def _numbers_cross(grid: Grid, axis: Axis) -> bool:
    """Tell whether numbers stand where a line across and a line down would meet."""
    rows = {r for run in axis.down for r in run.columns}
    columns = {c for run in axis.across for c in run.columns}
    return any(s.kind == "number" for r in rows for c in columns if (s := grid.at(r, c)))


def _two_readings(grid: Grid, first: str, second: str) -> str:
    return (
        f"{grid.sheet}: two readings fit: analytes running across from {first} and running down from "
        f"{second}; nothing was loaded. Ask the laboratory for a sheet with one table, or delete one header"
    )


def _across(grid: Grid, runs: list[Run], layout: Layout, readers: Readers) -> list[Table]:
    tables: list[Table] = []
    merged = _merge_repeats(_without_cas_numbers(runs))
    for run in merged:
        left, right = _side_bounds(grid, run, merged, readers)
        below = [r.row for r in merged if r.row > run.row and _overlap(r, left, right)]
        bottom = min(below) - 1 if below else max(grid.rows)
        above = [t.lines.last for t in tables if t.grid is grid and _overlap(t.run, left, right)]
        top = _after_notes(grid, max(above, default=0) + 1, run.row) if above else 1
        table = crossing_table(grid, run, (top, bottom, left, right), layout.name, readers)
        if table:
            tables.append(table)
    share_titles(grid, tables)
    return tables


def _after_notes(grid: Grid, first: int, header: int) -> int:
    """Skip the notes that follow a table without a gap: they are its own, not the next one's title."""
    row = first
    while row in grid.rows and row < header:
        row += 1
    return row if row < header else first


def _without_cas_numbers(runs: list[Run]) -> list[Run]:
    """Drop lines of CAS numbers below a line of names: they name the analytes again."""
    numbered = [_is_numbered(run) for run in runs]
    return [r for i, r in enumerate(runs) if not numbered[i] or all(numbered[: i + 1])]


def _without_numbers_again(runs: list[Run]) -> list[Run]:
    """Drop a column of CAS numbers, however far from the column that names the same analytes."""
    named = [_named(r) for r in runs if not _is_numbered(r)]
    return [r for r in runs if not (_is_numbered(r) and any(_named(r) <= n for n in named))]


def _is_numbered(run: Run) -> bool:
    return all(CAS.fullmatch(heading.text) for heading in run.columns.values())


def _merge_repeats(runs: list[Run]) -> list[Run]:
    """Keep the fuller of two lines near each other that name the same analytes (CAS numbers)."""
    kept: list[Run] = []
    for run in runs:
        if kept and 0 < run.row - kept[-1].row <= 2:
            own, last = _named(run), _named(kept[-1])
            if own <= last:
                continue
            if last < own:
                kept[-1] = run
                continue
        kept.append(run)
    return kept


def _named(run: Run) -> set[tuple[int, str | None]]:
    return {(c, h.analyte) for c, h in run.columns.items()}


def _overlap(run: Run, left: int, right: int) -> bool:
    return any(left <= c <= right for c in run.columns)


def _side_bounds(grid: Grid, run: Run, runs: list[Run], readers: Readers) -> tuple[int, int]:
    """Bound a table by its neighbours on the same line, at the headings for their samples."""
    beside = [r for r in runs if r.row == run.row and r is not run]
    right = _right_end(grid, run)
    left = 1
    for other in beside:
        if min(other.columns) > max(run.columns):
            right = min(right, _stub_start(grid, run, other, readers) - 1)
        else:
            left = max(left, _stub_start(grid, other, run, readers))
    return left, right


def _right_end(grid: Grid, run: Run) -> int:
    """Find the last column before an empty one right of the names: what is beyond is not the table."""
    lines = [spots for row, spots in grid.rows.items() if row >= run.row]
    used = {c for r, c in grid.covers if r >= run.row}.union(*(spots.keys() for spots in lines))
    right = max(run.columns)
    while right + 1 in used:
        right += 1
    return right


def _stub_start(grid: Grid, first: Run, second: Run, readers: Readers) -> int:
    """Find where the second of two tables side by side begins."""
    between = range(max(first.columns) + 1, min(second.columns))
    names = [c for c in between if (s := grid.at(second.row, c)) and s.kind == "text"
             and readers.names.heading(s.text).field in SAMPLE_HEADINGS]  # fmt: skip
    empty = [c + 1 for c in between if grid.at(second.row, c) is None]
    return min(names, default=max(empty, default=min(second.columns)))


def _down(
    grid: Grid,
    run: Run,
    before: list[Run],
    after: list[Run],
    found: list[Table],
    layouts: dict[tuple[str, str], Layout],
    readers: Readers,
) -> list[Table]:
    """Read names that run down as a list of results, else as a table with samples across."""
    top = max((max(r.columns) for r in before if r.row == run.row), default=0) + 1
    bottom = max(grid.rows)
    listed = list_table(grid, run, (top, bottom, 1, 1), layouts["column", "column"].name, readers)
    if listed or _is_list(grid, run, readers):
        return [listed] if listed and listed.lines.samples else []
    turned = grid.turned
    above = [max(r.columns) + 1 for r in before if max(r.columns) < min(run.columns)]
    left = max([1, *above, *(row + 1 for row in _header_rows(grid, run, readers)[:-1])])
    below = [
        min(r.columns) for r in after if r.row == run.row and min(r.columns) > max(run.columns)
    ]
    right = min([_right_end(turned, run), *(row - 1 for row in below)])
    beside = [t.lines.last for t in found if t.grid is turned and _overlap(t.run, left, right)]
    ends = [last for last in beside if last < run.row]
    bounds = (max(ends, default=0) + 1, max(turned.rows), left, right)
    table = crossing_table(turned, run, bounds, layouts["column", "crossing"].name, readers)
    return [table] if table else []


def _by_sample(grid: Grid, run: Run, readers: Readers) -> list[Run]:
    """Part names that run down where a line between them names another sample; a list stays whole."""
    rows = sorted(run.columns)
    cuts = [
        r
        for r in range(rows[0] + 1, rows[-1])
        if r not in run.columns and names_a_sample(grid.rows.get(r, {}), readers)
    ]
    if not cuts or list_table(grid, run, (1, max(grid.rows), 1, 1), "", readers):
        return [run]
    ends = [0, *cuts, max(grid.rows) + 1]
    parts = [{r: run.columns[r] for r in rows if low < r < high} for low, high in pairwise(ends)]
    return [Run(run.row, part) for part in parts if any(h.analyte for h in part.values())]


def _header_rows(grid: Grid, run: Run, readers: Readers) -> list[int]:
    """List the rows above the names whose cell in their column heads analytes."""
    return [
        row
        for row in range(1, min(run.columns))
        if (s := grid.rows.get(row, {}).get(run.row))
        and s.kind == "text"
        and readers.names.heading(s.text).field == "analyte"
    ]


def _is_list(grid: Grid, run: Run, readers: Readers) -> bool:
    """Tell a list by its header: the analytes' and the samples' headings stand in one line."""
    head = next(
        (r for r in range(min(run.columns) - 1, 0, -1) if run.row in grid.rows.get(r, {})), 0
    )
    spots = grid.rows.get(head, {}).values()
    fields = {readers.names.heading(s.text).field for s in spots if s.kind == "text"}
    return "analyte" in fields and bool(fields & SAMPLE_HEADINGS)


def _refuse_overlap(grid: Grid, file: str, tables: list[Table]) -> None:
    for number, table in enumerate(tables):
        for other in tables[:number]:
            if table.body.meets(other.body):
                raise FileRefused(file, _two_readings(grid, other.header_cell, table.header_cell))
