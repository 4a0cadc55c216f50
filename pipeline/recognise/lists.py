"""Read a table with one result per line."""

from __future__ import annotations

import polars as pl

from pipeline.names import Heading
from pipeline.names.heading import heading_says
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns, ValueColumn
from pipeline.recognise.columns import note_suffix
from pipeline.recognise.first_lines import named_above
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import SAMPLE_HEADINGS, Run, names_a_sample
from pipeline.recognise.lines import Lines
from pipeline.recognise.list_results import (
    only_averages,
    only_numbers,
    own_side,
    owner_of,
    rival_result,
)
from pipeline.recognise.list_series import add_marks, doubt_parted_series
from pipeline.recognise.panels import is_label
from pipeline.recognise.sample_columns import settle_names
from pipeline.recognise.statements import pairs_in_text, said_by
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
    lines = _list_lines(grid, head, columns, bounds[1], readers)
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
    return False


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
        if _starts_anew(spots, readers):
            break
        if (
            names_a_sample(spots, readers)
            or _is_fact(name, results, readers)
            or _is_note(spots, name, results, columns, gap)
        ):
            panel = panel | _label_says(spots, readers)
            if "form" in panel and _ends_panel(grid, row, found, columns, readers):
                panel["form"] = next(iter(spots.values())).text
            found.notes.append(row)
            continue
        if panel:
            found.panels[row] = dict(panel)
        found.samples.append(row)
        found.last, gap = row, False
    return found


def _ends_panel(grid: Grid, row: int, found: Lines, columns: Columns, readers: Readers) -> bool:
    """Tell a label that nothing explains, after results under one that is understood.

    Right below another label it parts that one's lines, and those that follow it do so too.
    """
    labels = [r for r in found.notes if r + 1 in found.notes or r + 1 == row]
    under = any(c in grid.rows.get(row + 1, {}) for c in (v.column for v in columns.values))
    return under and not labels and is_label(grid, row, [columns.fields["analyte"]], readers)


def _starts_anew(spots: dict[int, Spot], readers: Readers) -> bool:
    """Tell whether a line is the header of another list."""
    read = [readers.names.heading(s.text) for s in spots.values() if s.kind == "text"]
    named = [h for h in read if h.field or h.is_form_only or h.is_unit_only]
    return any(h.field in {"analyte", "result"} for h in read) and len(named) >= 2


def _label_says(spots: dict[int, Spot], readers: Readers) -> dict[str, str]:
    """Read a label between the lines of a list: a panel's title, or the sample of the next lines."""
    said: dict[str, str] = {}
    if names_a_sample(spots, readers):
        cells = list(spots.values())
        for label, value in zip(cells[::2], cells[1::2], strict=False):
            if (name := readers.names.heading(label.text.rstrip(" :")).field) in SAMPLE_FIELDS:
                said[name] = value.exact
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


def _is_fact(name: Spot | None, results: list[Spot], readers: Readers) -> bool:
    """Tell "Sampled | 10 October" or "Panel: | Free phenols" among results: a fact, no analyte."""
    field = readers.names.heading(name.text.rstrip(" :")).field if name and name.is_text else None
    if name is None or field is None:
        return False
    labelled = name.text.rstrip().endswith(":")
    worded = labelled and not any(readers.is_result(s.text, s.kind) for s in results)
    return worded or readers.names.vocabulary.field_levels[field] != "result"


def _has_field(spots: dict[int, Spot], columns: Columns) -> bool:
    """Tell whether a line without a result has the other marks of one (a unit, a sample)."""
    others = [c for n, c in columns.fields.items() if n != "analyte" and c in spots]
    return bool(others)


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
