"""Settle which column names the samples of a table."""

from __future__ import annotations

from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import Run
from pipeline.recognise.signs import is_sign
from schemas.vocabulary import squash

# Which heading names the sample when several could; the others then stand for the laboratory's number.
_SAMPLE_ORDER = ("client_sample", "sample", "sample_name", "lab_sample", "lot")


def name_samples(grid: Grid, run: Run, found: Columns, readers: Readers, left: int) -> None:
    """Settle which column names the sample and which gives the laboratory's own number."""
    named = [n for n in _SAMPLE_ORDER if n in found.fields]
    words = _first_words(grid, run, found, left, readers) if named == ["lot"] else None
    if not named:
        _name_by_place(grid, run, found, readers, left)
    elif words is not None:
        found.fields["sample"] = words
    elif named[0] in {"lab_sample", "lot"} and _names_in_corner(grid, run, found, readers):
        found.fields["sample"] = found.corner or 0
    else:
        settle_names(found)
    if grid.swapped and "form" not in found.fields:
        _find_forms(grid, run, found, readers, left)


def _find_forms(grid: Grid, run: Run, found: Columns, readers: Readers, left: int) -> None:
    """Take "Compound | Free | Total" or "ug/L | Free | Total" below the samples for the forms.

    What else stands there, such as "Ratio", is no form, and what stands below it is held.
    """
    for col in range(left, found.first_value if "sample" in found.fields else left):
        head = grid.at(run.row, col)
        read = readers.names.heading(head.text) if head and head.kind == "text" else None
        corner = read is not None and (read.field == "analyte" or read.is_unit_only)
        named = [readers.names.heading(s.text) for s in below(grid, run, col) if s.kind == "text"]
        told = len({h.form for h in named if h.is_form_only}) > 1
        told = told or _tells_forms(grid, run, col, readers)
        if corner and told and found.fields["sample"] != col:
            found.fields["form"] = col
            return


def settle_names(found: Columns) -> None:
    """Let the client's reference name the sample, else what else does, in a fixed order.

    A number beside a client's reference is the laboratory's; a description is kept as such.
    """
    columns = {n: found.fields.pop(n) for n in _SAMPLE_ORDER[:3] if n in found.fields}
    chosen = next(iter(columns), None)
    if chosen:
        found.fields["sample"] = columns[chosen]
    else:
        other = next((n for n in ("lab_sample", "lot") if n in found.fields), None)
        found.fields |= {"sample": found.fields[other]} if other else {}
    if chosen == "client_sample" and "sample" in columns:
        found.fields.setdefault("lab_sample", columns["sample"])
    if chosen != "sample_name" and "sample_name" in columns:
        found.fields["sample_name"] = columns["sample_name"]


def _names_in_corner(grid: Grid, run: Run, found: Columns, readers: Readers) -> bool:
    """Tell whether the line of the heading for analytes names the samples, not "Result" or a form."""
    if found.corner is None:
        return False
    texts = [s.text for s in below(grid, run, found.corner) if s.kind == "text"]
    read = [readers.names.heading(text) for text in texts]
    return any(not (h.field or h.form or h.unit) for h in read)


def _name_by_place(grid: Grid, run: Run, found: Columns, readers: Readers, left: int) -> None:
    """Take the corner's column, else the only column of words left of the results, for the samples."""
    column = found.corner
    if (
        column is not None
        and "form" not in found.fields
        and _tells_forms(grid, run, column, readers)
    ):
        found.fields["form"], column = column, None
    if column is not None and grid.swapped and _holds_headings(grid, run, column, readers):
        column = None
    if column is None:
        column = _first_words(grid, run, found, left, readers)
    if column is not None:
        found.fields["sample"] = column


def below(grid: Grid, run: Run, column: int) -> list[Spot]:
    """The cells of a column below the header."""
    return [s for r, spots in grid.rows.items() if r > run.row and (s := spots.get(column))]


def _tells_forms(grid: Grid, run: Run, column: int, readers: Readers) -> bool:
    read = [readers.names.heading(s.text) for s in below(grid, run, column) if s.kind == "text"]
    told = [h for h in read if not h.field]
    return bool(told) and all(h.is_form_only for h in told)


def _first_words(grid: Grid, run: Run, found: Columns, left: int, readers: Readers) -> int | None:
    """Find the only column of words left of the results whose heading is empty or unknown."""
    known = {found.kinds, *found.fields.values()}
    stub = [c for c in range(left, found.first_value) if c not in known]
    words = [c for c in stub if any(s.kind in {"text", "number"} for s in below(grid, run, c))]
    words = [c for c in words if not all(is_sign(s.text) for s in below(grid, run, c))]
    words = [c for c in words if not _holds_measures(grid, run, c, readers)] or words
    unheaded = [c for c in words if grid.at(run.row, c) is None]
    return (unheaded or words)[0] if len(unheaded or words) == 1 else None


def find_matrices(grid: Grid, run: Run, found: Columns, readers: Readers, left: int) -> None:
    """Take a column of nothing but matrices under a heading such as "Type" for the matrix."""
    known = readers.names.vocabulary.matrices
    for col in range(left, found.first_value):
        head = grid.at(run.row, col)
        field = readers.names.heading(head.text).field if head else "none"
        told = [squash(s.text) in known for s in below(grid, run, col) if s.kind == "text"]
        if "matrix" in found.fields or field not in {None, "ignored", "sample_kind"}:
            continue
        if len(told) > 1 and all(told):
            found.fields = {n: c for n, c in found.fields.items() if c != col} | {"matrix": col}


def _holds_headings(grid: Grid, run: Run, col: int, readers: Readers) -> bool:
    """Tell whether nothing but other headings, such as "Unit", stands beside that for analytes."""
    return all(
        s.kind == "text" and readers.names.heading(s.text).field for s in below(grid, run, col)
    )


def _holds_measures(grid: Grid, run: Run, col: int, readers: Readers) -> bool:
    """Tell a column such as "Volume (L)", of nothing but numbers, which names no sample."""
    spot = grid.at(run.row, col)
    passed = spot is not None and readers.names.heading(spot.text).field == "ignored"
    return passed and all(s.kind == "number" for s in below(grid, run, col))


def leave_report_details(grid: Grid, run: Run, found: Columns, readers: Readers) -> None:
    """Leave out what a letterhead says above samples that stand side by side: "Matrix | red wine".

    Its one value stands beside its label, wherever the first sample stands, and is the report's.
    """
    head = found.corner or found.fields.get("sample")
    if not grid.swapped or head is None or len(below(grid, run, head)) < 2:
        return
    for name, col in list(found.fields.items()):
        if col >= head or not _is_detail(grid, run, col):
            continue
        found.fields.pop(name)
        rest = range(col + 1, found.first_value)
        own = [c for c in rest if _calls(grid, run, c, name, readers)]
        own = [c for c in own if not _is_detail(grid, run, c)]
        found.fields |= {name: own[0]} if own else {}


def _calls(grid: Grid, run: Run, col: int, name: str, readers: Readers) -> bool:
    spot = grid.at(run.row, col)
    return spot is not None and readers.names.heading(spot.text.rstrip(" :")).field == name


def _is_detail(grid: Grid, run: Run, col: int) -> bool:
    lines = [row for row, spots in grid.rows.items() if row > run.row and col in spots]
    return lines == [run.row + 1] and grid.at(run.row, col) is not None
