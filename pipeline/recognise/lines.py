"""Sort the lines of a table: samples, lines that describe the columns, averages, notes."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.readers import Readers
from pipeline.recognise.codes import named_like_a_statistic
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import SAMPLE_HEADINGS, Run
from pipeline.recognise.signs import marks_among
from pipeline.recognise.strange_lines import (
    doubt_details,
    doubt_strange_lines,
    is_like_samples,
    read_panels,
)
from pipeline.recognise.summaries import is_aggregate, is_in_series, said_for, summarises
from schemas.vocabulary import squash

# Labels of lines that describe the columns of results.
_COLUMN_FIELDS = {
    "unit", "lod", "loq", "limit", "uncertainty", "deviation", "method", "expressed_as", "form",
    "coverage_factor", "path_length", "illuminant", "observer",
}  # fmt: skip


# Lines that may belong to the one sample before them.
_BESIDE = {"uncertainty", "deviation", "lod", "loq", "limit", "unit"}


@dataclass
class Lines:
    """The lines of one table, by what they are."""

    samples: list[int] = field(default_factory=list)
    describing: dict[str, int] = field(default_factory=dict)
    aggregates: list[int] = field(default_factory=list)
    ignored: list[int] = field(default_factory=list)
    notes: list[int] = field(default_factory=list)
    panels: dict[int, dict[str, str]] = field(default_factory=dict)
    clashing: set[str] = field(default_factory=set)
    beside: dict[int, dict[str, int]] = field(default_factory=dict)
    particular: list[tuple[str, int]] = field(default_factory=list)
    doubted: dict[int, str] = field(default_factory=dict)
    last: int = 0


def sort_lines(
    grid: Grid, run: Run, columns: Columns, bottom: int, left: int, right: int, readers: Readers
) -> Lines:
    """Sort the lines below a header until the table ends, another header starts, or `bottom`."""
    found = Lines(last=run.row + columns.head_rows - 1)
    stub_columns = [c for c in range(left, right + 1) if _in_stub(c, columns)]
    value_columns = [v.column for v in columns.values if v.column not in stub_columns]
    inside = set(range(left, right + 1))
    gap, later = False, list[tuple[str, int, int]]()
    for row in range(run.row + columns.head_rows, bottom + 1):
        spots = grid.rows.get(row, {})
        if not spots.keys() & inside:
            gap = True
            continue
        kind = _line_kind(grid, row, spots, stub_columns, value_columns, columns, gap, readers)
        kind = _look_again(kind, grid, row, found, columns, value_columns, readers)
        if kind == "end":
            break
        if kind == "note":
            found.notes.append(row)
            continue
        if kind in _BESIDE and said_for(grid, row, columns, readers):
            found.particular.append((kind, row))
            found.ignored.append(row)
            continue
        if kind in {"uncertainty", "deviation"} and _follows_average(found):
            kind = "ignored"
        _keep(found, kind, row)
        later += [(kind, row, found.samples[-1])] if found.samples and kind in _BESIDE else []
        found.last, gap = row, False
    _attach_lines(found, later)
    for kind in found.clashing - {k for said in found.beside.values() for k in said}:
        found.ignored.append(found.describing.pop(kind))
    _attach_particular(grid, found, columns, readers)
    found.panels = read_panels(grid, found, stub_columns, readers)
    found.doubted |= doubt_details(grid, found, columns, value_columns, readers)
    found.doubted |= doubt_strange_lines(grid, found, columns, readers)
    return found


def _look_again(
    kind: str,
    grid: Grid,
    row: int,
    found: Lines,
    columns: Columns,
    value_columns: list[int],
    readers: Readers,
) -> str:
    """Settle a line by the samples above it: one called like them, a summary, a doubtful name."""
    if kind == "end":
        alike = is_like_samples(grid, row, found, columns, value_columns, readers)
        return "sample" if alike else "end"
    if kind == "sample" and summarises(grid, row, found.samples, columns, readers):
        return "aggregate"
    if kind in {"aggregate", "ignored", "deviation"}:
        last = max([*found.aggregates, *found.ignored], default=None)
        sure = [r for r in found.samples if r not in found.doubted]
        doubt = named_like_a_statistic(grid, row, sure, last, columns, value_columns, readers)
        if doubt:
            found.doubted[row] = doubt
            return "sample"
    return kind


def _follows_average(found: Lines) -> bool:
    """Tell whether the last line was an average: a deviation behind it is the average's."""
    return bool(found.aggregates) and found.aggregates[-1] == found.last


def _attach_particular(grid: Grid, found: Lines, columns: Columns, readers: Readers) -> None:
    """Give a line of limits for one matrix or method to the samples of that matrix or method."""
    for sample in found.samples:
        kinds: dict[str, list[int]] = {}
        for kind, row in found.particular:
            said = said_for(grid, row, columns, readers)
            if all((s := grid.at(sample, c)) and squash(s.text) == t for c, t in said.items()):
                kinds.setdefault(kind, []).append(row)
        for kind, rows in kinds.items():
            if len(rows) == 1:
                found.beside.setdefault(sample, {})[kind] = rows[0]


def _attach_lines(found: Lines, later: list[tuple[str, int, int]]) -> None:
    """Give lines of uncertainties or limits that follow a sample each to that sample alone.

    One line of limits below all samples holds for every sample; an uncertainty never does.
    """
    kinds = [kind for kind, _, _ in later]
    for kind, row, sample in later:
        if kinds.count(kind) > 1 or kind in {"uncertainty", "deviation"}:
            found.beside.setdefault(sample, {})[kind] = row
            if found.describing.get(kind) == row:
                del found.describing[kind]


def _keep(found: Lines, kind: str, row: int) -> None:
    if kind == "sample":
        found.samples.append(row)
    elif kind == "aggregate":
        found.aggregates.append(row)
    elif kind == "ignored":
        found.ignored.append(row)
    elif kind == "marks":
        return
    elif kind in found.describing and kind in _BESIDE:
        found.clashing.add(kind)
    else:
        found.describing.setdefault(kind, row)


def _line_kind(
    grid: Grid,
    row: int,
    spots: dict[int, Spot],
    stub_columns: list[int],
    value_columns: list[int],
    columns: Columns,
    gap: bool,
    readers: Readers,
) -> str:
    """Name a line: sample, aggregate, note, ignored, end, or the field it gives for the columns."""
    stub = {c: spots[c] for c in stub_columns if c in spots}
    values = {c: spots[c] for c in value_columns if c in spots}
    if _names_analytes(stub, readers):
        return "end" if gap else "note"
    described = _describes(stub, values, columns, readers) if values else None
    if described == "ignored" and _is_wordy(values, readers):
        return "end"
    if described and not (gap and described == "ignored"):
        return described
    if _is_header(stub, values, gap, readers):
        return "end"
    identified = grid.at(row, columns.fields["sample"]) if "sample" in columns.fields else None
    forms = columns.fields.get("form")
    stub = {c: s for c, s in stub.items() if c != forms}
    summary = is_aggregate(identified, stub, readers) and not is_in_series(
        identified, grid, columns
    )
    if summary or is_aggregate(stub.get(columns.fields.get("replicate", -1)), {}, readers):
        return "aggregate" if values else "note"
    if grid.swapped and _is_marks(identified or next(iter(stub.values()), None), values, readers):
        return "marks"
    if any(_is_entry(s, readers) for s in values.values()):
        return "sample"
    if gap or identified is None:
        return "note"
    return "sample" if values or len(stub) >= 2 else "note"


def _is_marks(named: Spot | None, values: dict[int, Spot], readers: Readers) -> bool:
    """Tell a column of remarks beside a column of results from a sample of its own."""
    heading = readers.names.heading(named.text) if named and named.kind == "text" else None
    if heading and heading.field == "qualifier":
        return True
    return bool(marks_among(list(values.values()), named is not None, 0, readers))


def _in_stub(col: int, columns: Columns) -> bool:
    """Tell whether a column describes the samples; what is left of all such is not the table."""
    fields = columns.fields.values()
    low = min([*fields, columns.corner or columns.first_value, columns.first_value])
    return col in fields or low <= col < columns.first_value


def _is_wordy(values: dict[int, Spot], readers: Readers) -> bool:
    """Tell whether words stand where results should, and not names of what was measured."""
    if not values or any(_is_entry(s, readers) for s in values.values()):
        return False
    return not all(readers.names.heading(s.text).is_measurand for s in values.values())


def _is_entry(spot: Spot, readers: Readers) -> bool:
    """Tell whether a cell under a header is an entry of the table rather than running text."""
    if spot.kind != "text":
        return True
    return readers.notations.read(spot.text, ".").kind != "unknown"


def _describes(
    stub: dict[int, Spot], values: dict[int, Spot], columns: Columns, readers: Readers
) -> str | None:
    """Name what a line gives for the columns of results, when every label in it is a heading.

    A line with any other word beside the results is a sample, whatever letters it is made of.
    """
    labels = {c: readers.names.heading(s.text.rstrip(" :")) for c, s in stub.items()}
    own = labels.get(columns.fields.get("sample", -1))
    plain = all(h.field or h.is_unit_only or h.is_form_only for h in labels.values())
    if own and own.field in _COLUMN_FIELDS - {"coverage_factor"} and not own.analyte:
        return own.field
    if labels and plain:
        named = [h.field for h in labels.values() if h.field in _COLUMN_FIELDS | {"ignored"}]
        if named and (len(labels) > 1 or named[0] != "coverage_factor"):
            return next((n for n in named if n != "ignored"), "ignored")
    if labels and not plain:
        return None
    texts = [s for s in values.values() if s.kind == "text"]
    if texts and len(texts) == len(values):
        headings = [readers.names.heading(s.text) for s in texts]
        if all(h.is_unit_only for h in headings):
            return "unit"
        if all(h.is_form_only for h in headings) and not labels:
            return "form"
        if all(h.is_measurand for h in headings):
            return "ignored"
        for kind in ("lod", "loq", "limit"):
            if all(getattr(h, kind) and not h.is_measurand for h in headings):
                return kind
    return None


def _names_analytes(stub: dict[int, Spot], readers: Readers) -> bool:
    """Tell whether a line beside the results names an analyte: it belongs to another table."""
    return any(
        s.kind == "text" and readers.names.heading(s.text).analyte is not None
        for s in stub.values()
    )


def _is_header(stub: dict[int, Spot], values: dict[int, Spot], gap: bool, readers: Readers) -> bool:
    """Tell whether a line is the header of another table: headings and not one entry."""
    if any(_is_entry(s, readers) for s in values.values()):
        return False
    if any(
        s.kind == "text" and readers.names.heading(s.text).field in SAMPLE_HEADINGS
        for s in stub.values()
    ):
        return True
    return len(values) >= 2 or (gap and bool(values) and bool(stub))
