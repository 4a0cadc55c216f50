"""Sort the columns of a table: which hold results, which describe the sample, which belong to a result."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from pipeline.names import ATTACHED_FIELDS, Heading
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns, ValueColumn
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import Run
from pipeline.recognise.sample_columns import below, name_samples
from pipeline.recognise.statements import said_by
from schemas.vocabulary import fold_notation, squash


@dataclass(frozen=True)
class _Header:
    """A header line while its columns are sorted."""

    grid: Grid
    run: Run
    left: int
    right: int
    last: int
    readers: Readers

    @cached_property
    def analytes(self) -> list[int]:
        return sorted(c for c in self.run.columns if self.left <= c <= self.right)

    @cached_property
    def repeated(self) -> set[str]:
        return _repeated_fields(self.grid, self.run.row, self.left, self.right, self.readers)

    @cached_property
    def sub_heads(self) -> dict[int, Heading]:
        return _sub_headings(self.grid, self.run, self.analytes, self.right, self.readers)

    def spot(self, col: int) -> tuple[Spot | None, bool]:
        spot, above = _heading_spot(self.grid, self.run.row, col, self.analytes)
        if spot and above and spot is self.grid.at(self.run.row + 1, col):
            named = self.readers.names.heading(spot.text.rstrip(" :")).field
            spot = spot if named and named != "qualifier" else None
        if spot is None and self.grid.swapped:
            spot = _label_beside(self.grid, self.run.row, col, self.readers)
        return spot, above

    def has_results(self, col: int) -> bool:
        lines = range(self.run.row + 1, self.last + 1)
        spots = (self.grid.rows[r].get(col) for r in lines if r in self.grid.rows)
        return any(s and self.readers.is_result(s.text, s.kind) for s in spots)


def sort_columns(
    grid: Grid, run: Run, left: int, right: int, last: int, readers: Readers
) -> Columns:
    """Sort the columns between `left` and `right` by the headings on and above the run's row."""
    header = _Header(grid, run, left, right, last, readers)
    found = Columns(head_rows=2 if header.sub_heads else 1)
    group: ValueColumn | None = None
    panel: dict[str, str] = {}
    for col in range(left, right + 1):
        heading = run.columns.get(col)
        if heading and col in header.analytes:
            group = _open_group(found, col, heading, header.sub_heads, panel) or group
        elif group and (sub := header.sub_heads.get(col)) and _within(grid, run.row, group, col):
            _add_sub(found, group, col, sub)
        else:
            panel = _sort_other(header, found, col, group) or panel
    found.first_value = min((v.column for v in found.values), default=1)
    _attach_signs(found)
    for name in ("form", "unit"):
        _find_unheaded(header, found, name)
    name_samples(grid, run, found, readers, left)
    return found


def _find_unheaded(header: _Header, found: Columns, name: str) -> None:
    """Take an unheaded column that holds nothing but forms, or nothing but units, for that field."""
    if name in found.fields:
        return
    for col in range(header.left, found.first_value):
        texts = [s.text for s in below(header.grid, header.run, col) if s.kind == "text"]
        read = [header.readers.names.heading(text) for text in texts]
        told = [h.is_form_only if name == "form" else h.is_unit_only for h in read]
        if told and all(told) and header.grid.at(header.run.row, col) is None:
            found.fields[name] = col
            return


def _sort_other(
    header: _Header, found: Columns, col: int, group: ValueColumn | None
) -> dict[str, str]:
    """Sort a column that names no measurand; returns what a panel's label says for those after it."""
    spot, above = header.spot(col)
    names = header.readers.names
    read = names.heading(spot.text.rstrip(" :")) if spot and spot.kind == "text" else None
    if read and group and _is_attached(header, read, col, group):
        group.attached.setdefault(str(read.field), col)
        note_suffix(found, col, read)
    elif read and read.field and not (above and read.field in {"result", "analyte"}):
        if names.vocabulary.field_levels[read.field] == "report":
            found.report.setdefault(read.field, col)
        else:
            _add_field(found, read.field, col)
            note_suffix(found, col, read)
    elif (spot and names.vocabulary.row_words.get(squash(spot.text)) == "aggregate") or (
        header.grid.swapped and _holds_labels(header, col)
    ):
        return {}
    elif spot is None and _holds_signs(header, col):
        found.signs.append(col)
    elif header.has_results(col):
        _add_unknown(found, col, spot, read, header.analytes)
    elif spot and header.grid.swapped and not above and spot.kind == "text":
        return said_by(spot, header.readers)
    return {}


def _holds_labels(header: _Header, col: int) -> bool:
    """Tell whether a column holds nothing but headings, such as "Result" and "U" under a sample."""
    spots = below(header.grid, header.run, col)
    names = header.readers.names
    return bool(spots) and all(s.kind == "text" and names.heading(s.text).field for s in spots)


def _holds_signs(header: _Header, col: int) -> bool:
    """Tell whether an unheaded column holds nothing but signs such as "<" for its neighbour."""
    letters = header.readers.names.vocabulary.letters
    texts = [s.text for s in below(header.grid, header.run, col)]
    return bool(texts) and all(fold_notation(text) in letters for text in texts)


def _attach_signs(found: Columns) -> None:
    """Give a column of signs to the results right of it, else to those left of it."""
    values = {v.column: v for v in found.values}
    for col in found.signs:
        owner = values.get(col + 1) or values.get(col - 1)
        if owner:
            owner.attached.setdefault("qualifier", col)


def _is_attached(header: _Header, read: Heading, col: int, group: ValueColumn) -> bool:
    """Tell whether a limit, unit or uncertainty column belongs to the analyte left of it."""
    if read.field not in ATTACHED_FIELDS | {"coverage_factor"}:
        return False
    between = group.column < col and any(a > col for a in header.analytes)
    return read.field in header.repeated or between


def note_suffix(found: Columns, col: int, heading: Heading) -> None:
    """Keep the unit of a heading such as "LOD (mg/L)" or "Uncertainty (%)" for its cells."""
    if heading.field in {"lod", "loq", "limit"} and heading.unit:
        found.suffixes[col] = heading.unit
    if heading.field in {"uncertainty", "deviation"} and "%" in heading.text:
        found.suffixes[col] = "%"


def _repeated_fields(grid: Grid, row: int, left: int, right: int, readers: Readers) -> set[str]:
    seen: list[str] = []
    for col, spot in grid.rows[row].items():
        if left <= col <= right and spot.kind == "text":
            name = readers.names.heading(spot.text).field
            seen += [name] if name else []
    return {name for name in seen if seen.count(name) > 1 and name in ATTACHED_FIELDS}


def _sub_headings(
    grid: Grid, run: Run, analytes: list[int], right: int, readers: Readers
) -> dict[int, Heading]:
    """Read the row below when names span several columns: "free | total", "result | LOD"."""
    below = grid.rows.get(run.row + 1, {})
    heads = {c: readers.names.heading(s.text) for c, s in below.items() if s.kind == "text"}
    inside = {
        c: h for c, h in heads.items()
        if analytes and analytes[0] <= c <= right
        and (h.is_form_only or h.field in {"result", "replicate", *ATTACHED_FIELDS})
    }  # fmt: skip
    between = [c for c in inside if c not in analytes and grid.rows[run.row].get(c) is None]
    return inside if between else {}


def _within(grid: Grid, row: int, group: ValueColumn, col: int) -> bool:
    return grid.rows[row].get(col) is None and col > group.column


def _open_group(
    found: Columns,
    col: int,
    heading: Heading,
    sub_heads: dict[int, Heading],
    panel: dict[str, str],
) -> ValueColumn | None:
    """Start a column of results, or attach "guaiacol LOD" and "guaiacol ±" to the analyte's column."""
    owner = next((v for v in reversed(found.values) if v.heading.analyte == heading.analyte), None)
    if heading.field:
        if owner:
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
    column = ValueColumn(col, heading.text, heading, dict(panel))
    found.values.append(column)
    if sub := sub_heads.get(col):
        column.says |= {k: v for k in ("form", "replicate") if (v := getattr(sub, k))}
    return column


def _add_sub(found: Columns, group: ValueColumn, col: int, sub: Heading) -> None:
    owner = found.values[-1]
    if sub.field in ATTACHED_FIELDS:
        owner.attached.setdefault(sub.field, col)
        return
    says = {k: v for k in ("form", "replicate") if (v := getattr(sub, k))}
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
        found.corner = found.corner or col
    elif name != "ignored":
        found.fields.setdefault(name, col)


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
