"""Name what one line of a table is: a sample, an average, a note, or a field of the columns."""

from __future__ import annotations

from pipeline.names import Heading
from pipeline.names.patterns import STRANGE_UNIT
from pipeline.readers import Readers
from pipeline.recognise.cell_pairs import pairs_in_text
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import SAMPLE_HEADINGS
from pipeline.recognise.signs import marks_among
from pipeline.recognise.summaries import is_aggregate, is_in_series
from schemas.vocabulary import fold_unit

# Labels of lines that describe the columns of results.
_COLUMN_FIELDS = {
    "unit", "lod", "loq", "limit", "uncertainty", "deviation", "method", "expressed_as", "form",
    "coverage_factor", "path_length", "illuminant", "observer",
}  # fmt: skip


def line_kind(
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
    if gap and _explains_sign(identified, stub, values, readers):
        return "note"
    if any(_is_entry(s, readers) for s in values.values()):
        return "sample"
    if gap or identified is None or _is_of_report(identified, readers):
        return "note"
    return "sample" if values or len(stub) >= 2 else "note"


def _explains_sign(
    named: Spot | None, stub: dict[int, Spot], values: dict[int, Spot], readers: Readers
) -> bool:
    """Tell "n.d." beside "not determined", a line of a legend, from a sample and its results."""
    said = [readers.notations.read(s.text, ".").kind for s in values.values() if s.kind == "text"]
    sign = readers.notations.read(named.text, ".").kind if named else "unknown"
    worded = len(said) == len(values) == len(stub) == 1 and said[0] not in _PRINTED_NUMBERS
    return worded and sign not in {"unknown", "number", "blank"}


_PRINTED_NUMBERS = {"number", "less", "greater", "range", "unknown", "ambiguous"}


def _is_of_report(named: Spot, readers: Readers) -> bool:
    """Tell "Report no. 2025-9", which stands on every page, from a sample without results."""
    levels = readers.names.vocabulary.field_levels
    return any(levels[n] == "report" for n, _ in pairs_in_text(named.text, readers.names))


def _is_marks(named: Spot | None, values: dict[int, Spot], readers: Readers) -> bool:
    """Tell a column of remarks beside a column of results from a sample of its own."""
    heading = readers.names.heading(named.text) if named and named.kind == "text" else None
    if heading and heading.field == "qualifier":
        return True
    return bool(marks_among(list(values.values()), named is not None, 0, readers))


def in_stub(col: int, columns: Columns) -> bool:
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
        if all(_is_unit(h, readers) for h in headings):
            return "unit"
        unnamed = all(h.field in SAMPLE_HEADINGS for h in labels.values())
        if all(h.is_form_only for h in headings) and unnamed:
            return "form"
        if all(h.is_measurand for h in headings):
            return "ignored"
        for kind in ("lod", "loq", "limit"):
            if all(getattr(h, kind) and not h.is_measurand for h in headings):
                return kind
    return None


def _is_unit(heading: Heading, readers: Readers) -> bool:
    """Tell a bare unit, of a concentration or of what stands beside it ("AU").

    One that no vocabulary knows is known by its look ("ng/g f.w.", "ppb (w/w)"), to be held.
    """
    known = heading.is_unit_only or fold_unit(heading.text) in readers.names.vocabulary.units
    return known or bool(STRANGE_UNIT.match(heading.text.strip()))


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
