"""Read the tables that hold no results: lists of samples, and limits of each analyte."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.names import Heading, label_unit
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid
from schemas.layout import with_unit

_NAMES = ("client_sample", "sample", "sample_name", "lab_sample")
_LIMITS = {"lod", "loq", "limit"}
# What may stand beside the limits of an analyte without making its numbers results.
_BESIDE_LIMITS = _LIMITS | {"unit", "analyte", "form", "method", "uncertainty", "ignored"}


@dataclass(frozen=True)
class SideTable:
    """A table without results: its cells, and for each of its lines what the headings say."""

    cells: frozenset[tuple[int, int]]
    lines: tuple[dict[str, str], ...]
    has_limits: bool


def find_side_tables(grid: Grid, readers: Readers) -> list[SideTable]:
    """List the tables of a sheet that describe samples or limits and hold no results."""
    found: list[SideTable] = []
    taken: set[int] = set()
    for row in grid.rows:
        heads = {
            c: readers.names.heading(s.text.rstrip(" :"))
            for c, s in grid.rows[row].items()
            if s.kind == "text"
        }
        if row in taken or any(h.is_measurand for h in heads.values()):
            continue
        if table := _sample_list(grid, row, heads, readers) or _limits(grid, row, heads, readers):
            found.append(table)
            taken |= {r for r, _ in table.cells}
    return found


def without(grid: Grid, tables: list[SideTable]) -> Grid:
    """The sheet without the cells of its side tables, in which tables of results are looked for."""
    gone = {place for table in tables for place in table.cells}
    if not gone:
        return grid
    rows = {
        r: {c: s for c, s in spots.items() if (r, c) not in gone} for r, spots in grid.rows.items()
    }
    return Grid(grid.sheet, {r: spots for r, spots in rows.items() if spots})


def _sample_list(
    grid: Grid, row: int, heads: dict[int, Heading], readers: Readers
) -> SideTable | None:
    """Read a list of samples: headings for nothing else, two lines or more, no analyte in them."""
    levels = readers.names.vocabulary.field_levels
    fields = {c: h.field for c, h in heads.items() if h.field and levels[h.field] == "sample"}
    named = [c for c, name in fields.items() if name in _NAMES]
    other = [h for h in heads.values() if h.field is None or levels[h.field] == "result"]
    if not named or len(fields) < 2 or len(grid.rows[row]) > len(heads):
        return None
    if any(h.field not in {"ignored", None} for h in other) or len(set(fields.values())) < len(
        fields
    ):
        return None
    lines = list(_lines_below(grid, row, named[0]))
    if len(lines) < 2 or any(_speaks_of_results(grid, r, readers) for r in lines):
        return None
    beside = [s for r in lines if (s := grid.rows[r].get(max(heads) + 1))]
    if any(readers.is_result(s.text, s.kind) for s in beside):
        return None
    said = tuple(
        {n: s.exact for c, n in fields.items() if (s := grid.at(r, c)) and n} for r in lines
    )
    known = {c for c, h in heads.items() if h.field}
    cells = _cells(grid, [row, *lines], min(heads), max(heads))
    return SideTable(frozenset((r, c) for r, c in cells if c in known), said, False)


def _speaks_of_results(grid: Grid, row: int, readers: Readers) -> bool:
    """Tell a line that names an analyte or a heading, or is longer than its header."""
    read = [readers.names.heading(s.text) for s in grid.rows[row].values() if s.kind == "text"]
    return any(h.is_measurand or h.field in {"analyte", "result"} for h in read)


def _limits(grid: Grid, row: int, heads: dict[int, Heading], readers: Readers) -> SideTable | None:
    """Read limits of analytes that run down, when no number beside them could be a result."""
    fields = {h.field for h in heads.values()}
    if not fields & _LIMITS or len(grid.rows[row]) > len(heads):
        return None
    if any(h.field not in _BESIDE_LIMITS for h in heads.values() if h.field):
        return None
    first = next((c for c in sorted(heads) if _is_named(grid, row + 1, c, readers)), None)
    if first is None:
        return None
    lines = [r for r in _lines_below(grid, row, first) if _is_named(grid, r, first, readers)]
    known = {c for c, h in heads.items() if h.field}
    others = [s for r in lines for c, s in grid.rows[r].items() if c not in known]
    if any(readers.is_result(s.text, s.kind) for s in others):
        return None
    said = tuple(_limit_line(grid, r, first, heads) for r in lines)
    return SideTable(_cells(grid, [row, *lines], min(heads), max(heads)), said, True)


def _limit_line(grid: Grid, row: int, first: int, heads: dict[int, Heading]) -> dict[str, str]:
    said = {"analyte": grid.rows[row][first].text}
    units = [s.text for c, h in heads.items() if h.field == "unit" and (s := grid.at(row, c))]
    for col, heading in heads.items():
        spot = grid.at(row, col)
        if spot and heading.field in _LIMITS:
            said[heading.field] = with_unit(
                spot.exact, label_unit(heading) or next(iter(units), None)
            )
        elif spot and heading.field == "form":
            said["form"] = spot.text
    return said


def _is_named(grid: Grid, row: int, col: int, readers: Readers) -> bool:
    spot = grid.rows.get(row, {}).get(col)
    return (
        spot is not None and spot.kind == "text" and readers.names.heading(spot.text).is_measurand
    )


def _lines_below(grid: Grid, row: int, column: int) -> Iterator[int]:
    """The lines that follow a header without a gap and have an entry in one column."""
    at = row + 1
    while grid.rows.get(at, {}).get(column):
        yield at
        at += 1


def _cells(grid: Grid, rows: list[int], left: int, right: int) -> frozenset[tuple[int, int]]:
    return frozenset((r, c) for r in rows for c in grid.rows[r] if left <= c <= right)


def sample_facts(tables: list[SideTable]) -> dict[str, dict[str, str]]:
    """Map each printed name or number of a sample to what the lists say of it, when they agree."""
    facts: dict[str, dict[str, str]] = {}
    doubtful: set[str] = set()
    for line in (line for table in tables if not table.has_limits for line in table.lines):
        for key in {line[n] for n in _NAMES if n in line}:
            if facts.setdefault(key, line) != line:
                doubtful.add(key)
    return {key: said for key, said in facts.items() if key not in doubtful}


def limit_facts(
    tables: list[SideTable], readers: Readers
) -> dict[tuple[str, str | None], dict[str, str]]:
    """Map analyte and form (null for any) to the limits that tables of limits give, when they agree."""
    facts: dict[tuple[str, str | None], dict[str, str]] = {}
    doubtful: set[tuple[str, str | None]] = set()
    for line in (line for table in tables if table.has_limits for line in table.lines):
        heading = readers.names.heading(line["analyte"])
        form = readers.names.heading(line.get("form", "")).form or heading.form
        limits = {n: t for n, t in line.items() if n in _LIMITS}
        if heading.analyte and facts.setdefault((heading.analyte, form), limits) != limits:
            doubtful.add((heading.analyte, form))
    return {key: said for key, said in facts.items() if key not in doubtful}
