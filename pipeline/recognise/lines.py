"""Sort the lines of a table: samples, lines that describe the columns, averages, notes."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from pipeline.readers import Readers
from pipeline.recognise.codes import SamplesAbove, named_like_a_statistic
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid
from pipeline.recognise.headers import Run
from pipeline.recognise.headless import doubt_headless
from pipeline.recognise.kinds import KindLines
from pipeline.recognise.line_kinds import in_stub, line_kind
from pipeline.recognise.panels import read_panels
from pipeline.recognise.strange_lines import (
    doubt_details,
    doubt_strange_lines,
    is_like_samples,
)
from pipeline.recognise.summaries import said_for, summarises
from schemas.vocabulary import squash

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
    named: dict[int, int] = field(default_factory=dict)
    formed: dict[int, int] = field(default_factory=dict)
    labels: dict[int, int] = field(default_factory=dict)
    last: int = 0


def sort_lines(
    grid: Grid, run: Run, columns: Columns, bottom: int, left: int, right: int, readers: Readers
) -> Lines:
    """Sort the lines below a header until the table ends, another header starts, or `bottom`."""
    found = Lines(last=run.row + columns.head_rows - 1)
    stub_columns = [c for c in range(left, right + 1) if in_stub(c, columns)]
    value_columns = [v.column for v in columns.values if v.column not in stub_columns]
    inside = set(range(left, right + 1))
    gap, later, below = False, list[tuple[str, int, int]](), KindLines(grid, columns, readers)
    for row in range(run.row + columns.head_rows, bottom + 1):
        spots = grid.rows.get(row, {})
        if not spots.keys() & inside:
            gap = True
            continue
        if row == columns.label_row:
            found.ignored.append(row)
            found.last, gap = row, False
            continue
        if below.take(row):
            found.last, gap = row, False
            continue
        kind = line_kind(grid, row, spots, stub_columns, value_columns, columns, gap, readers)
        kind = _look_again(kind, grid, row, found, columns, value_columns, readers)
        if kind == "end" or (kind == "unit" and gap and row == bottom < max(grid.rows)):
            # Units right above the next header are those of the next table.
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
    _attach_particular(grid, found, columns, readers)
    _attach_labelled(found, below)
    found.panels = read_panels(grid, found, stub_columns, readers)
    found.doubted |= _doubts(grid, found, columns, value_columns, readers)
    return found


def _doubts(
    grid: Grid, found: Lines, columns: Columns, value_columns: list[int], readers: Readers
) -> dict[int, str]:
    """Map each line that may be something else than a sample's to the reason."""
    return (
        doubt_details(grid, found, columns, value_columns, readers)
        | doubt_strange_lines(grid, found, columns, readers)
        | doubt_headless(grid, found.samples, found.notes, columns, readers)
    )


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
    if kind == "ignored" and (
        doubt := _named_like_a_thing(grid, row, columns, value_columns, readers)
    ):
        found.doubted[row] = doubt
        return "sample"
    if kind in {"aggregate", "ignored", "deviation", "uncertainty"}:
        follows = row - 1 in {*found.aggregates[-1:], *found.ignored[-1:]}
        above = None if follows else SamplesAbove(found.samples, found.doubted)
        doubt = named_like_a_statistic(grid, row, above, columns, value_columns, readers)
        if doubt:
            found.doubted[row] = doubt
            return "sample"
    return kind


def _named_like_a_thing(
    grid: Grid, row: int, columns: Columns, value_columns: list[int], readers: Readers
) -> str | None:
    """Doubt a line called "Tank" or "Bottle" with results on it: a detail, or a sample's name."""
    spot = grid.at(row, columns.fields.get("sample", 0))
    words = readers.names.vocabulary.row_words
    if spot is None or words.get(squash(spot.text)) != "thing":
        return None
    entries = [s for c in value_columns if (s := grid.at(row, c))]
    if not entries or not all(readers.is_result(s.text, s.kind) for s in entries):
        return None
    return f'"{spot.text}" may be a sample or a detail of the others'


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
    kinds = Counter(kind for kind, _, _ in later)
    for kind, row, sample in later:
        if kinds[kind] > 1 or kind in {"uncertainty", "deviation"}:
            found.beside.setdefault(sample, {})[kind] = row
            if found.describing.get(kind) == row:
                del found.describing[kind]
    for kind in found.clashing - {k for said in found.beside.values() for k in said}:
        found.ignored.append(found.describing.pop(kind))


def _attach_labelled(found: Lines, below: KindLines) -> None:
    """Give lines labelled "U" or "LOD" to the results below the same name, or to all."""
    found.labels = below.labels
    general = below.general(found.samples)
    found.describing |= general
    found.beside |= below.attach(found.samples)
    kept = {*general.values(), *(row for said in found.beside.values() for row in said.values())}
    found.ignored += [row for _, row in below.found if row not in kept]
    found.aggregates += below.others


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
