"""Let one title speak for tables side by side."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from pipeline.recognise.cell_pairs import pairs_in_text
from pipeline.recognise.grid import Grid
from pipeline.recognise.headers import SAMPLE_HEADINGS
from pipeline.recognise.tables import Table
from schemas.vocabulary import squash

# Lines above a table in which its sample may be named.
_NEAR = 6


def share_titles(grid: Grid, tables: Sequence[Table]) -> None:
    """Lend what is said over a table to its right neighbour on the same line, where that has no title.

    It is sure where the title's cell spans both, or where it stands alone on its line and the
    neighbour goes on with other samples or other analytes: of the same ones it would be another
    form.
    """
    ordered = sorted(tables, key=lambda t: (t.run.row, min(t.run.columns)))
    for left, right in pairwise(ordered):
        if left.run.row != right.run.row or not left.titles or right.whole or _is_told(right):
            continue
        rows = {row for row, _ in left.titles}
        first = min(right.value_places())
        over = [c for row in rows for c in grid.rows[row] if (row, c) not in left.titles]
        spans = [grid.rows[row][col].col_span + col > first for row, col in left.titles]
        if over or not left.whole or not (all(spans) or _goes_on(left, right)):
            continue
        right.whole, right.titles = dict(left.whole), [*left.titles]


def _is_told(table: Table) -> bool:
    """Tell whether headings or lines over single columns say a form already."""
    return any(v.heading.form or "form" in v.says for v in table.columns.values)


def _goes_on(left: Table, right: Table) -> bool:
    unsure = {""} & (_samples(left) | _samples(right))
    same = unsure or _samples(left) & _samples(right)
    return not (same and _analytes(left) & _analytes(right))


def _analytes(table: Table) -> set[str]:
    """The analytes of a table; of a list those in its column of names."""
    column = table.columns.fields.get("analyte")
    if column is None:
        return table.run.analytes
    spots = [s for r in table.lines.samples if (s := table.grid.at(r, column))]
    return {a for s in spots if (a := table.names.heading(s.text).analyte)}


def _samples(table: Table) -> set[str]:
    """The names of a table's samples; empty text where nothing names them."""
    column = table.columns.fields.get("sample")
    if column is None:
        return _stated(table) or {""}
    return {squash(s.text) for r in table.lines.samples if (s := table.grid.at(r, column))}


def _stated(table: Table) -> set[str]:
    """The names behind "Sample:" over a table's own columns."""
    grid, names = table.grid, table.names
    found = set()
    for row in range(max(1, table.run.row - _NEAR), table.run.row):
        for col in range(min(table.taken.columns), max(table.taken.columns) + 1):
            if (spot := grid.rows.get(row, {}).get(col)) is None or not spot.is_text:
                continue
            found |= {v for n, v in pairs_in_text(spot.text, names) if n in SAMPLE_HEADINGS}
            beside = grid.rows[row].get(col + spot.col_span)
            if beside and names.heading(spot.text.rstrip(" :")).field in SAMPLE_HEADINGS:
                found.add(beside.text)
    return set(map(squash, found))
