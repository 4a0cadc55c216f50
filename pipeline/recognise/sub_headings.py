"""Read the lines of headings below names that span several columns."""

from __future__ import annotations

from dataclasses import replace

from pipeline.names import ATTACHED_FIELDS, Heading
from pipeline.names.marked import is_series, side_of
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import Run
from pipeline.recognise.isomer_headings import isomers_under
from pipeline.recognise.label_kinds import OTHER, label_kind
from schemas.vocabulary import squash_words

_KINDS = {"result", "replicate", "ignored", *ATTACHED_FIELDS}


def read_sub_headings(
    grid: Grid, run: Run, under: int, analytes: list[int], right: int, readers: Readers
) -> dict[int, Heading]:
    """Read the row below when names span several columns: "free | total", "result | LOD"."""
    below = grid.rows.get(under, {})
    if _heads_samples(below, analytes, readers):
        if marks := _sub_marks(grid, run, under, analytes, right):
            return marks
        if isomers := isomers_under(grid, run, under, analytes, right):
            return isomers
    if holds_entries(grid, under, analytes[:1], readers):
        return {}
    heads = {c: _sub_heading(s.text, readers) for c, s in below.items() if s.kind == "text"}
    beside = any(h.field in ATTACHED_FIELDS for h in heads.values())
    inside = {
        c: h for c, h in heads.items()
        if analytes and analytes[0] <= c <= right
        and (h.is_form_only or h.is_version_only or h.field in _KINDS
             or (h.is_unit_only and beside))
    }  # fmt: skip
    between = [c for c in inside if c not in analytes and grid.rows[run.row].get(c) is None]
    again = [c for c in analytes if c - 1 in inside and run.columns[c] == run.columns.get(c - 1)]
    between += [c for c in again if c in inside]
    return inside if between else {}


def _heads_samples(line: dict[int, Spot], analytes: list[int], readers: Readers) -> bool:
    """Tell whether nothing stands left of the names on a line, or nothing but headings there."""
    left = [s for c, s in line.items() if analytes and c < analytes[0]]
    return all(s.is_text and readers.names.heading(s.text.rstrip(" :")).field for s in left)


def read_deep_headings(
    grid: Grid,
    row: int,
    first: dict[int, Heading],
    analytes: list[int],
    right: int,
    readers: Readers,
) -> dict[int, Heading]:
    """Read "Result | U" below a line of forms, or forms below "Result | U".

    Nothing is read unless everything on the first line begins over a heading of the second and
    nothing else stands in that.
    """
    spots = {c: s for c, s in grid.rows.get(row, {}).items() if c <= right}
    heads = {c: _sub_heading(s.text, readers) for c, s in spots.items() if c >= analytes[0]}
    over, under = list(first.values()), list(heads.values())
    formed = _are_forms(over) and _are_kinds(under)
    formed = formed or (_are_kinds(over) and _are_forms(under))
    if not formed or not first.keys() <= heads.keys():
        return {}
    found = {}
    for col, heading in heads.items():
        home = max((c for c in first if c <= col), default=0)
        group = max((c for c in analytes if c <= col), default=0)
        spot = grid.rows[row - 1].get(home)
        spans = spot is not None and (spot.col_span == 1 or col < home + spot.col_span)
        found[col] = _joined(first[home], heading) if group <= home and spans else heading
    return found


def _are_forms(headings: list[Heading]) -> bool:
    return bool(headings) and all(h.is_form_only for h in headings)


def _are_kinds(headings: list[Heading]) -> bool:
    """Tell headings of results and of what stands beside them, some of both."""
    beside = [h for h in headings if h.field in ATTACHED_FIELDS]
    results = [h for h in headings if h.field == "result" or h.is_unit_only]
    others = [h for h in headings if h.field == "ignored"]
    return bool(beside and results) and len(beside + results + others) == len(headings)


def _joined(over: Heading, under: Heading) -> Heading:
    """One heading of a form and of what stands there, whichever line gives which."""
    kind, form = (under, over) if over.is_form_only else (over, under)
    return replace(kind, form=form.form)


def _sub_marks(
    grid: Grid, run: Run, under: int, analytes: list[int], right: int
) -> dict[int, Heading]:
    """Read a row of marks below names that span several columns: "a | b" or "before | after".

    Below each name there is a whole series from its first column on, or nothing; nothing else
    stands in the row.
    """
    first = analytes[0] if analytes else 0
    spots = {c: s for c, s in grid.rows.get(under, {}).items() if first <= c <= right}
    below = {c: s.text.strip() for c, s in spots.items()}
    found: dict[int, Heading] = {}
    for start, end in zip(analytes, [*analytes[1:], right + 1], strict=True):
        columns = [c for c in range(start, end) if c in below]
        marks = [below[c] for c in columns]
        if not marks:
            continue
        free = all(c not in grid.rows[run.row] for c in columns[1:])
        if not is_series(marks) or columns != list(range(start, start + len(marks))) or not free:
            return {}
        found |= {c: _mark_heading(below[c]) for c in columns}
    return found if found.keys() == below.keys() else {}


def _mark_heading(text: str) -> Heading:
    if side_of(text):
        return Heading(text, state=text)
    return Heading(text, field="replicate", replicate=text)


def _sub_heading(text: str, readers: Readers) -> Heading:
    """Read a heading under a name: "Reported" is a version there, not the day of the report."""
    version = readers.names.vocabulary.versions.get(squash_words(text))
    if version:
        return Heading(text, version=version)
    read = readers.names.heading(text)
    return replace(read, field="ignored") if label_kind(text, readers) == OTHER else read


def holds_entries(grid: Grid, row: int, columns: list[int], readers: Readers) -> bool:
    """Tell whether a line under a header has a result already, and no label such as LOD."""
    spots = grid.rows.get(row, {})
    first = next(iter(spots.values()), None)
    if first and first.is_text and readers.names.heading(first.text.rstrip(" :")).field:
        return False
    found = [s for c in columns if (s := spots.get(c))]
    return any(readers.is_result(s.text, s.kind) and not _says(s.text, readers) for s in found)


def _says(text: str, readers: Readers) -> bool:
    read = readers.names.heading(text)
    return read.field is not None or read.is_form_only
