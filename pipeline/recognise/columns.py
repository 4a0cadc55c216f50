"""Sort the columns of a table: which hold results, which describe the sample, which belong to a result."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.names import ATTACHED_FIELDS, Heading
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import Run
from pipeline.recognise.statements import title_of

# Which heading names the sample when several could; the others then stand for the laboratory's number.
_SAMPLE_ORDER = ("client_sample", "sample", "sample_name", "lab_sample", "lot")


@dataclass
class ValueColumn:
    """A column of results: what its headings say and which columns belong to it."""

    column: int
    raw_analyte: str
    heading: Heading
    says: dict[str, str] = field(default_factory=dict)
    attached: dict[str, int] = field(default_factory=dict)


@dataclass
class Columns:
    """The columns of one table."""

    values: list[ValueColumn] = field(default_factory=list)
    fields: dict[str, int] = field(default_factory=dict)
    unread: list[int] = field(default_factory=list)
    head_rows: int = 1
    corner: int | None = None
    first_value: int = 1


def sort_columns(
    grid: Grid, run: Run, left: int, right: int, last: int, readers: Readers
) -> Columns:
    """Sort the columns between `left` and `right` by the headings on and above the run's row."""
    found = Columns()
    group: ValueColumn | None = None
    analytes = sorted(c for c in run.columns if left <= c <= right)
    repeated = _repeated_fields(grid, run.row, left, right, readers)
    sub_heads = _sub_headings(grid, run, analytes, right, readers)
    found.head_rows = 2 if sub_heads else 1
    for col in range(left, right + 1):
        heading = run.columns.get(col)
        if heading and col in analytes:
            group = _open_group(found, col, heading, group, sub_heads)
            continue
        if (
            group
            and col in sub_heads
            and (sub := sub_heads[col])
            and _within(grid, run.row, group, col)
        ):
            _add_sub(found, group, col, sub)
            continue
        spot, above = _heading_spot(grid, run.row, col, analytes)
        if spot is None and grid.swapped:
            spot = _label_beside(grid, run.row, col, readers)
        read = (
            readers.names.heading(spot.text.rstrip(" :")) if spot and spot.kind == "text" else None
        )
        if (
            read
            and read.field in ATTACHED_FIELDS | {"coverage_factor"}
            and group
            and (read.field in repeated or _follows(grid, run.row, col, group, analytes))
        ):
            group.attached.setdefault(read.field, col)
        elif read and read.field and not (above and read.field in {"result", "analyte"}):
            if readers.names.vocabulary.field_levels[read.field] != "report":
                _add_field(found, read.field, col)
        elif _has_results(grid, run.row, last, col, readers):
            _add_unknown(found, col, spot, read, analytes)
    found.first_value = min((v.column for v in found.values), default=1)
    _name_samples(grid, run, found, readers, left)
    return found


def _repeated_fields(grid: Grid, row: int, left: int, right: int, readers: Readers) -> set[str]:
    seen: list[str] = []
    for col, spot in grid.rows[row].items():
        if left <= col <= right and spot.kind == "text":
            name = readers.names.heading(spot.text).field
            seen += [name] if name else []
    return {name for name in seen if seen.count(name) > 1 and name in ATTACHED_FIELDS}


def _follows(grid: Grid, row: int, col: int, group: ValueColumn, analytes: list[int]) -> bool:
    """Tell whether a lone limit or uncertainty column stands between two analytes."""
    return group.column < col and any(a > col for a in analytes)


def _sub_headings(
    grid: Grid, run: Run, analytes: list[int], right: int, readers: Readers
) -> dict[int, Heading]:
    """Read the row below when names span several columns: "free | total", "result | LOD"."""
    below = grid.rows.get(run.row + 1, {})
    heads = {c: readers.names.heading(s.text) for c, s in below.items() if s.kind == "text"}
    inside = {
        c: h for c, h in heads.items()
        if analytes and analytes[0] <= c <= right and (h.is_form_only or h.field in {"result", *ATTACHED_FIELDS})
    }  # fmt: skip
    between = [c for c in inside if c not in analytes and grid.rows[run.row].get(c) is None]
    return inside if between else {}


def _within(grid: Grid, row: int, group: ValueColumn, col: int) -> bool:
    return grid.rows[row].get(col) is None and col > group.column


def _open_group(
    found: Columns,
    col: int,
    heading: Heading,
    group: ValueColumn | None,
    sub_heads: dict[int, Heading],
) -> ValueColumn:
    """Start a column of results, or attach "guaiacol LOD" and "guaiacol ±" to the analyte's column."""
    owner = next((v for v in reversed(found.values) if v.heading.analyte == heading.analyte), None)
    if heading.field and owner:
        owner.attached.setdefault(heading.field, col)
        return owner
    if (
        heading.spread
        and owner
        and owner.column == col - 1
        and owner.heading.form in {heading.form, None}
    ):
        owner.attached.setdefault(heading.spread, col)
        return owner
    column = ValueColumn(col, heading.text, heading)
    found.values.append(column)
    if sub := sub_heads.get(col):
        column.says |= {"form": sub.form} if sub.form else {}
    return column


def _add_sub(found: Columns, group: ValueColumn, col: int, sub: Heading) -> None:
    owner = found.values[-1]
    if sub.field in ATTACHED_FIELDS:
        owner.attached.setdefault(sub.field, col)
        return
    says = {"form": sub.form} if sub.form else {}
    found.values.append(ValueColumn(col, group.raw_analyte, group.heading, says))


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


def _add_field(found: Columns, name: str, col: int) -> None:
    if name == "analyte":
        found.corner = col
    elif name != "ignored":
        found.fields.setdefault(name, col)


def _has_results(grid: Grid, row: int, last: int, col: int, readers: Readers) -> bool:
    spots = (grid.rows[r].get(col) for r in range(row + 1, last + 1) if r in grid.rows)
    return any(s and readers.is_result(s.text, s.kind) for s in spots)


def _add_unknown(
    found: Columns, col: int, spot: Spot | None, read: Heading | None, analytes: list[int]
) -> None:
    """Keep a column of numbers under an unknown heading, so that its values are held, not lost."""
    if spot is None and not analytes[0] < col < analytes[-1]:
        found.unread.append(col)
        return
    if spot is not None and spot.kind != "text":
        found.unread.append(col)
        return
    if read and (read.is_form_only or read.is_unit_only) and col < analytes[0]:
        found.unread.append(col)
        return
    text = spot.text if spot else ""
    found.values.append(ValueColumn(col, text, read or Heading(text)))


def _name_samples(grid: Grid, run: Run, found: Columns, readers: Readers, left: int) -> None:
    """Settle which column names the sample and which gives the laboratory's own number."""
    named = [n for n in _SAMPLE_ORDER if n in found.fields]
    columns = {
        n: found.fields.pop(n)
        for n in ("client_sample", "sample", "sample_name")
        if n in found.fields
    }
    if not named:
        column = found.corner or _first_words(grid, run, found, left, readers)
        if column is not None:
            found.fields["sample"] = column
        return
    best = named[0]
    if best in columns:
        found.fields["sample"] = columns[best]
    elif best in {"lab_sample", "lot"}:
        found.fields["sample"] = found.fields[best]
    if best == "client_sample" and "sample" in columns:
        found.fields.setdefault("lab_sample", columns["sample"])


def _first_words(grid: Grid, run: Run, found: Columns, left: int, readers: Readers) -> int | None:
    """Take the only unheaded column of words left of the results as the samples' names."""
    stub = [c for c in range(left, found.first_value) if c not in found.fields.values()]
    words = [
        c for c in stub
        if grid.at(run.row, c) is None
        and any((s := spots.get(c)) and s.kind in {"text", "number"} for r, spots in grid.rows.items() if r > run.row)
    ]  # fmt: skip
    return words[0] if len(words) == 1 else None


def title_lines(
    grid: Grid, run: Run, top: int, found: Columns, readers: Readers
) -> tuple[dict[str, str], list[tuple[int, int]]]:
    """Let the lines above a header speak for its columns, and return what they say for the table.

    A merged title speaks for the columns it spans. Unmerged titles speak for the columns up to the
    next title, and only when the first of them stands over the first column of results; otherwise a
    centred title could lend its form to the wrong columns.
    """
    whole: dict[str, str] = {}
    used: list[tuple[int, int]] = []
    for row in range(run.row - 1, max(top, run.row - 6) - 1, -1):
        spots = {c: s for c, s in grid.rows.get(row, {}).items() if s.kind == "text"}
        over = {c: s for c, s in spots.items() if c >= found.first_value}
        beside = {c: s for c, s in spots.items() if c < found.first_value}
        whole_over = {
            c: s
            for c, s in over.items()
            if len(over) == 1 and (s.col_span == 1 or s.col_span >= len(found.values))
        }
        for col, spot in (beside | whole_over).items():
            said = _said(spot, readers)
            used += [(row, col)] if said else []
            whole = said | whole
        if over and not whole_over:
            used += _speak_for_columns(grid, row, over, found, readers)
    return whole, used


def _said(spot: Spot, readers: Readers) -> dict[str, str]:
    title = title_of(spot, readers.names)
    keys = ("form", "unit", "lod", "loq", "limit", "expressed_as", "coverage_factor")
    said = {k: v for k in keys if (v := getattr(title, k))}
    if matrix := readers.names.matrix_in(spot.text):
        said["matrix"] = matrix
    return said if title.field in {None, "unit"} else {}


def _speak_for_columns(
    grid: Grid, row: int, over: dict[int, Spot], found: Columns, readers: Readers
) -> list[tuple[int, int]]:
    merged = any(s.col_span > 1 for s in over.values())
    aligned = min(over) == found.first_value
    used = []
    for value in found.values:
        home = grid.covers.get((row, value.column), (row, value.column))[1]
        if home not in over and not merged and aligned:
            home = max((c for c in over if c <= value.column), default=-1)
        if home in over and (said := _said(over[home], readers)):
            value.says = said | value.says
            used.append((row, home))
    return list(dict.fromkeys(used))


def distrust_clashes(found: Columns) -> None:
    """Take back unmerged titles' forms when two columns would become the same analyte and form."""
    seen: dict[tuple[str, str | None], int] = {}
    for value in found.values:
        form = value.heading.form or value.says.get("form")
        key = (value.heading.analyte or value.raw_analyte, form)
        if (
            value.heading.analyte
            and value.heading.form is None
            and key in seen
            and "form" in value.says
        ):
            for other in found.values:
                other.says.pop("form", None)
            return
        seen[key] = value.column
