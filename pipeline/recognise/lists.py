"""Read a table with one result per line."""

from __future__ import annotations

import polars as pl

from pipeline.names import Heading
from pipeline.names.heading import heading_says
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns, ValueColumn
from pipeline.recognise.columns import note_suffix
from pipeline.recognise.first_lines import named_above
from pipeline.recognise.grid import Grid
from pipeline.recognise.headers import SAMPLE_HEADINGS, Run
from pipeline.recognise.list_lines import list_lines
from pipeline.recognise.list_results import (
    only_averages,
    only_numbers,
    own_side,
    owner_of,
    rival_result,
    with_forms,
)
from pipeline.recognise.list_series import add_marks, doubt_parted_series
from pipeline.recognise.sample_columns import settle_names
from pipeline.recognise.table_frames import (
    add_panels,
    attached_places,
    column_schema,
    frame,
    line_row,
)
from pipeline.recognise.tables import Table
from pipeline.recognise.titles import corner_says, title_lines
from schemas.frames import RESULT_FIELDS, SAMPLE_FIELDS
from schemas.vocabulary import squash


def list_table(
    grid: Grid, run: Run, bounds: tuple[int, int, int, int], layout: str, readers: Readers
) -> Table | None:
    """Read a table with one result per line; `run` goes down the column of the analytes' names.

    The header is the nearest line above the first name with a heading for results in it, or with
    bare forms or units as headings of columns of results.
    """
    first, analyte_column = min(run.columns), run.row
    head = _head_above(grid, first, analyte_column, readers)
    if head is None:
        return None
    headings = {
        c: readers.names.heading(s.text) for c, s in grid.rows[head].items() if s.kind == "text"
    }
    every, headings = headings, own_side(grid, head, headings, analyte_column)
    headings = with_forms(grid, head, headings, readers)
    if _is_crossing(grid, head, headings, readers):
        return None
    own = headings.get(analyte_column)
    results = {c: h for c, h in headings.items() if c != analyte_column and _heads_results(h)}
    forms = [h.form for h in results.values() if h.is_form_only]
    if len(forms) > len(set(forms)):
        return None
    if results and only_averages(grid, head, headings, results, readers):
        return None
    if not results and any(h.field in SAMPLE_HEADINGS for h in headings.values()):
        results = only_numbers(grid, head, headings, readers)
    if not results or (own and own.is_measurand):
        return None
    words = readers.names.vocabulary.row_words
    means = {
        c
        for c, h in results.items()
        if h.field == "result" and words.get(squash(h.text)) == "aggregate"
    }
    kept = {c: h for c, h in results.items() if c not in means} or results
    columns = _list_columns(headings, kept, analyte_column)
    lines = list_lines(grid, head, columns, bounds[1], readers)
    lines.named = {} if lines.panels else named_above(grid, columns, lines.samples)
    lines.doubted |= doubt_parted_series(grid, columns, lines, readers)
    if rival := rival_result(grid, head, headings, kept, readers):
        lines.doubted = dict.fromkeys(lines.samples, rival)
    row_run = Run(head, {analyte_column: Heading("")})
    sides = (*bounds[:2], 1 if min(every) in headings else min(headings), max(headings))
    whole, used = title_lines(grid, row_run, sides, columns, readers)
    whole |= corner_says(own)
    return Table(grid, readers.names, row_run, layout, columns, lines, whole, used)


def _head_above(grid: Grid, first: int, analyte_column: int, readers: Readers) -> int | None:
    """Find the header above the first known name; unknown names may stand between them."""
    for row in range(first - 1, 0, -1):
        spot = grid.rows.get(row, {}).get(analyte_column)
        named = spot and spot.is_text and readers.names.heading(spot.text).field == "analyte"
        if (named or row > first - 6) and _heads_list(grid, row, readers):
            return row
    return None


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


_RESULTS = {"result", "replicate"}


def _is_crossing(grid: Grid, head: int, headings: dict[int, Heading], readers: Readers) -> bool:
    """Tell whether several columns of results stand under samples named on the lines above."""
    results = [c for c, h in headings.items() if h.field in _RESULTS or h.is_unit_only]
    if len(results) < 2:
        return False
    later = [c for c in headings if c > results[0]]
    for row in range(head - 1, max(0, head - 9), -1):
        spots = grid.rows.get(row, {})
        names = [s for c, s in spots.items() if c not in results and s.kind == "text"]
        fields = {readers.names.heading(s.text.rstrip(" :")).field for s in names}
        if fields & (SAMPLE_HEADINGS | {"analyte"}) and any(c in spots for c in later):
            return True
    return _is_named_above(grid, head, headings, readers)


def _is_named_above(grid: Grid, head: int, headings: dict[int, Heading], readers: Readers) -> bool:
    """Tell "| W-1 | | W-2 |" over "Result | U | Result | U": a name over each result and no heading."""
    results = [c for c, h in headings.items() if h.field == "result"]
    spots = grid.rows.get(head - 1, {})
    over = [spots[c] for c in results if c in spots]
    read = [readers.names.heading(s.text) for s in over if s.is_text]
    plain = not any(h.field or h.form or h.unit or h.is_measurand for h in read)
    names = {s.text for s in over}
    return 1 < len(results) == len(names) == len(read) == len(spots) and plain


def _heads_results(heading: Heading) -> bool:
    """Tell a heading of results: "Result", a bare form or unit, or "Rep 1"."""
    if heading.field == "replicate" and heading.replicate:
        return True
    return heading.field == "result" or heading.is_form_only or heading.is_unit_only


def _list_columns(
    headings: dict[int, Heading], results: dict[int, Heading], analyte_column: int
) -> Columns:
    found = Columns()
    owned: dict[int, dict[str, int]] = {}
    found.fields["analyte"] = analyte_column
    for col in sorted(headings):
        heading = headings[col]
        if col in results:
            found.values.append(ValueColumn(col, "", heading, heading_says(heading)))
        elif heading.field and heading.field != "ignored" and col != analyte_column:
            owner = owner_of(col, headings, results)
            place = found.fields if owner is None else owned.setdefault(owner, {})
            place.setdefault(heading.field, col)
            note_suffix(found, col, heading)
    for value in found.values:
        value.attached |= owned.get(value.column, {})
    for name in ("lab", "report_no", "revision", "replaces", "reported_on"):
        if name in found.fields:
            found.report[name] = found.fields.pop(name)
    found.first_value = min(v.column for v in found.values)
    if "form" in found.fields and all(v.heading.form for v in found.values):
        found.fields.pop("form")
    settle_names(found)
    return found


def list_frames(table: Table) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lay a one-result-per-line table out as its lines and its columns of results."""
    fields = {n: c for n, c in table.columns.fields.items() if n in SAMPLE_FIELDS + RESULT_FIELDS}
    lines = [line_row(table, row, fields) for row in table.lines.samples]
    fields, lines = add_marks(table, *add_panels(table, fields, lines))
    columns = [
        {"column": v.column, "version": v.says.get("version")}
        | {f"raw_{k}": t for k, t in v.says.items()}
        | attached_places(table, v)
        for v in table.columns.values
    ]
    schema = column_schema()
    rows = [{name: row.get(name) for name in schema} for row in columns]
    return frame(lines, "line", fields), pl.DataFrame(rows, schema=schema, orient="row")
