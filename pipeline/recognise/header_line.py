"""The header line of a table while its columns are sorted."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from pipeline.names import ATTACHED_FIELDS, Heading
from pipeline.names.marked import is_series, side_of
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import Run
from pipeline.recognise.sample_columns import below
from pipeline.recognise.signs import marks_among
from schemas.vocabulary import squash_words


@dataclass(frozen=True)
class Header:
    """A header line while its columns are sorted."""

    grid: Grid
    run: Run
    left: int
    right: int
    last: int
    readers: Readers

    @cached_property
    def analytes(self) -> list[int]:
        """The columns whose heading names a measurand."""
        return sorted(c for c in self.run.columns if self.left <= c <= self.right)

    @cached_property
    def repeated(self) -> set[str]:
        """Fields of a single result that stand in several columns."""
        return _repeated_fields(self.grid, self.run.row, self.left, self.right, self.readers)

    @cached_property
    def sub_heads(self) -> dict[int, Heading]:
        """Headings on the line below, where names span several columns."""
        return _sub_headings(
            self.grid, self.run, self.under, self.analytes, self.right, self.readers
        )

    @property
    def under(self) -> int:
        """The line below the names; an empty one between tells nothing."""
        step = 1 if self.run.row + 1 in self.grid.rows else 2
        return self.run.row + step

    @property
    def rows(self) -> int:
        """How many lines the header has."""
        return self.under - self.run.row + 1 if self.sub_heads else 1

    def spot(self, col: int) -> tuple[Spot | None, bool]:
        """A column's heading, and whether it stands on another line."""
        spot, above = _heading_spot(self.grid, self.run.row, col, self.analytes)
        if spot and above and spot is self.grid.at(self.run.row + 1, col):
            if holds_entries(self.grid, self.run.row + 1, self.analytes, self.readers):
                return None, True
            named = self.readers.names.heading(spot.text.rstrip(" :")).field
            spot = spot if named and named != "qualifier" else None
        if spot is None and self.grid.swapped:
            spot = _label_beside(self.grid, self.run.row, col, self.readers)
        return spot, above

    def has_results(self, col: int) -> bool:
        """Tell whether a column holds a result at all; "LOQ" before the names heads limits."""
        lines = range(self.run.row + 1, self.last + 1)
        spots = [s for r in lines if (s := self.grid.rows.get(r, {}).get(col))]
        if self.grid.swapped and col < min(self.analytes, default=col):
            read = self.readers.names.heading
            spots = [s for s in spots if read(s.text).field not in ATTACHED_FIELDS]
        # "83%" in a text file is the number that a workbook would have.
        return any(self.readers.is_result(s.text.rstrip("% ") or s.text, s.kind) for s in spots)


def _repeated_fields(grid: Grid, row: int, left: int, right: int, readers: Readers) -> set[str]:
    seen: list[str] = []
    for col, spot in grid.rows[row].items():
        if left <= col <= right and spot.kind == "text":
            name = readers.names.heading(spot.text).field
            seen += [name] if name else []
    return {name for name in seen if seen.count(name) > 1 and name in ATTACHED_FIELDS}


def _sub_headings(
    grid: Grid, run: Run, under: int, analytes: list[int], right: int, readers: Readers
) -> dict[int, Heading]:
    """Read the row below when names span several columns: "free | total", "result | LOD"."""
    below = grid.rows.get(under, {})
    if marks := _sub_marks(grid, run, under, analytes, right):
        return marks
    if holds_entries(grid, under, analytes[:1], readers):
        return {}
    heads = {c: _sub_heading(s.text, readers) for c, s in below.items() if s.kind == "text"}
    inside = {
        c: h for c, h in heads.items()
        if analytes and analytes[0] <= c <= right
        and (h.is_form_only or h.is_version_only or h.field in {"result", "replicate", *ATTACHED_FIELDS})
    }  # fmt: skip
    between = [c for c in inside if c not in analytes and grid.rows[run.row].get(c) is None]
    return inside if between else {}


def _sub_marks(
    grid: Grid, run: Run, under: int, analytes: list[int], right: int
) -> dict[int, Heading]:
    """Read a row of marks below names that span several columns: "a | b" or "before | after".

    Below each name there is a whole series from its first column on, or nothing; nothing else
    stands in the row.
    """
    below = {c: s.text.strip() for c, s in grid.rows.get(under, {}).items() if c <= right}
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
    return Heading(text, version=version) if version else readers.names.heading(text)


def holds_entries(grid: Grid, row: int, columns: list[int], readers: Readers) -> bool:
    """Tell whether a line under a header has a result already, and no label such as LOD."""
    spots = grid.rows.get(row, {})
    first = next(iter(spots.values()), None)
    if first and first.is_text and readers.names.heading(first.text.rstrip(" :")).field:
        return False
    found = [s for c in columns if (s := spots.get(c))]
    return any(
        readers.is_result(s.text, s.kind) and not readers.names.heading(s.text).field for s in found
    )


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


def holds_labels(header: Header, col: int) -> bool:
    """Tell whether a column holds nothing but headings, such as "Result" and "U" under a sample."""
    spots = below(header.grid, header.run, col)
    names = header.readers.names
    return bool(spots) and all(s.kind == "text" and names.heading(s.text).field for s in spots)


def holds_signs(header: Header, col: int, spot: Spot | None, read: Heading | None) -> bool:
    """Tell whether a column under no other heading holds nothing but signs for its neighbour."""
    known = read is not None and read.field == "qualifier"
    if read and not known and (read.is_measurand or read.field or read.form):
        return False
    spots = below(header.grid, header.run, col)
    first = min(header.analytes, default=col)
    lines = len(below(header.grid, header.run, first))
    return bool(marks_among(spots, spot is not None and not known, lines, header.readers))
