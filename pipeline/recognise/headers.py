"""Find the lines of a sheet in which the names of analytes run."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable
from dataclasses import dataclass
from functools import cached_property

from pipeline.names import Heading
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Spot

SAMPLE_HEADINGS = frozenset({"sample", "client_sample", "sample_name", "lab_sample", "lot"})


@dataclass(frozen=True)
class Run:
    """A line of headings: `columns[column]` is the heading found there."""

    row: int
    columns: dict[int, Heading]

    @cached_property
    def analytes(self) -> set[str]:
        """The different analytes the line names."""
        return {h.analyte for h in self.columns.values() if h.analyte}


def named_cells(grid: Grid, readers: Readers) -> list[tuple[int, int]]:
    """List the cells that name a measurand, as (row, column)."""
    heading = readers.names.heading
    return [
        (row, col)
        for row, spots in grid.rows.items()
        for col, spot in spots.items()
        if spot[2] == "text" and heading(spot[0]).is_measurand
    ]


def find_runs(grid: Grid, readers: Readers, lines: Iterable[int] | None = None) -> list[Run]:
    """List the lines of the grid in which two or more measurands follow each other.

    A result between two names ends a run, so that the column of a table never looks like a header.
    A line with one analyte counts when a heading for the sample stands in it too. `lines` are the
    lines worth looking at, all when None.
    """
    runs = []
    for row in grid.rows if lines is None else sorted(lines):
        spots = grid.rows[row]
        found: dict[int, Heading] = {}
        headed = False
        for col, spot in spots.items():
            if spot.is_text:
                heading = readers.names.heading(spot.text)
                if heading.is_measurand:
                    found[col] = heading
                    continue
                if heading.field in SAMPLE_HEADINGS | {"analyte"} and found:
                    runs += _as_run(row, found, grid, readers, headed)
                    found = {}
                headed = headed or heading.field == "analyte"
                if _is_heading(spot, heading, readers):
                    continue
            if found and readers.is_result(spot.text, spot.kind):
                runs += _as_run(row, found, grid, readers, headed)
                found = {}
        runs += _as_run(row, found, grid, readers, headed)
    return runs


def _is_heading(spot: Spot, heading: Heading, readers: Readers) -> bool:
    """Tell a heading; "<LOD" is a result although "LOD" is none, and so is "0.3 mg/L"."""
    if spot.text.lstrip()[:1] in {"<", "≤"}:
        return False
    is_unit = heading.unit is not None and not readers.is_result(spot.text, spot.kind)
    return bool(heading.field or heading.form or is_unit)


def _as_run(
    row: int, found: dict[int, Heading], grid: Grid, readers: Readers, headed: bool
) -> list[Run]:
    run = Run(row, dict(found))
    if not run.analytes:
        return []
    if len(found) >= 2 and len({h.analyte for h in found.values()}) >= 2:
        return [run]
    if len(found) >= 2 and len({h.form for h in found.values()}) >= 2:
        return [run]
    return [run] if headed or _names_sample(row, grid, readers) else []


def _names_sample(row: int, grid: Grid, readers: Readers) -> bool:
    fields = {
        readers.names.heading(spot.text).field for spot in grid.rows[row].values() if spot.is_text
    }
    return bool(fields & SAMPLE_HEADINGS)


@dataclass(frozen=True)
class Axis:
    """The runs of a grid that were settled to be headers of tables."""

    across: list[Run]
    down: list[Run]
    crossing: tuple[str, str] | None = None


def settle_runs(grid: Grid, readers: Readers, titles: Container[tuple[int, int]] = ()) -> Axis:
    """Decide for each name whether it belongs to a line across or to a line down.

    A name in two lines belongs to the one that names more analytes. `crossing` holds two cells
    that two readings claim with equal right. `titles` are names that head a block of forms.
    """
    named = [place for place in named_cells(grid, readers) if place not in titles]
    across = find_runs(grid, readers, {row for row, _ in named})
    down = find_runs(grid.turned, readers, {c for _, c in named}) if _may_run_down(named) else []
    down = [kept for run in down if (kept := _without_titles(run, titles)).analytes]
    down = [part for run in down for part in _parted(grid, run, readers)]
    claims: dict[tuple[int, int], list[tuple[int, str, int]]] = defaultdict(list)
    for index, run in enumerate(across):
        for col in run.columns:
            claims[run.row, col].append((len(run.analytes), "across", index))
    for index, run in enumerate(down):
        for row in run.columns:
            claims[row, run.row].append((len(run.analytes), "down", index))
    lost: dict[str, set[int]] = {"across": set(), "down": set()}
    for (row, col), rivals in claims.items():
        if len(rivals) < 2:
            continue
        (n1, way1, i1), (n2, way2, i2) = rivals
        if n1 == n2 and n1 > 1:
            other = next(c for c in across[i1].columns if c != col)
            return Axis(
                [], [], (grid.name(row, other), grid.turned.name(col, _other(down[i2], row)))
            )
        lost[way2 if n1 > n2 else way1].add(i2 if n1 > n2 else i1)
    return Axis(
        [run for i, run in enumerate(across) if i not in lost["across"]],
        [run for i, run in enumerate(down) if i not in lost["down"]],
    )


def _without_titles(run: Run, titles: Container[tuple[int, int]]) -> Run:
    return Run(run.row, {r: h for r, h in run.columns.items() if (r, run.row) not in titles})


def _parted(grid: Grid, run: Run, readers: Readers) -> list[Run]:
    """Part names that run down where a line of words stands between them: another header."""
    parts: list[dict[int, Heading]] = [{}]
    last = min(run.columns)
    for row, heading in run.columns.items():
        if any(_is_word_line(grid, run.row, r, readers) for r in range(last + 1, row)):
            parts.append({})
        parts[-1][row] = heading
        last = row
    return [Run(run.row, part) for part in parts if any(h.analyte for h in part.values())]


def names_a_sample(spots: dict[int, Spot], readers: Readers) -> bool:
    """Tell a line such as "Sample: W-2", or a heading for the sample and one cell behind it."""
    first = next(iter(spots.values()), None)
    if first is None or first.kind != "text" or len(spots) > 4:
        return False
    label, colon, _ = first.text.partition(":")
    if colon and first.text.strip()[-1] != ":":
        return readers.names.heading(label).field in SAMPLE_HEADINGS
    return (
        len(spots) in {2, 4}
        and readers.names.heading(first.text.rstrip(" :")).field in SAMPLE_HEADINGS
    )


def _is_word_line(grid: Grid, column: int, row: int, readers: Readers) -> bool:
    """Tell whether a line has two or more words and no result beside the names' column."""
    beside = [s for c, s in grid.rows.get(row, {}).items() if c != column]
    words = [s for s in beside if s.kind == "text"]
    return len(words) >= 2 and not any(
        readers.is_result(s.text, s.kind) and not readers.names.heading(s.text).field
        for s in beside
    )


def _may_run_down(named: list[tuple[int, int]]) -> bool:
    """Tell whether two names stand in one column; turning a large sheet costs time."""
    columns = [col for _, col in named]
    return len(columns) > len(set(columns)) or len(columns) == 1


def _other(run: Run, row: int) -> int:
    return next(r for r in run.columns if r != row)
