"""Part what the lines over tables side by side say: each table hears what stands over itself."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.recognise.statements import Statements
from pipeline.recognise.tables import Table


def own_statements(tables: Sequence[Table], number: int, said: Statements) -> Statements:
    """Keep of each field what stands over this table's own columns, else what is said at all.

    Alone on its lines a table hears everything.
    """
    table = tables[number]
    beside = [t for t in tables if t is not table and _meet(t.sheet_rows, table.sheet_rows)]
    if not beside:
        return _without_several(said, tables, table)
    left = min(table.taken.columns)
    right = min([c for t in beside if (c := min(t.taken.columns)) > left], default=10**6)
    own = {s.field for s in said.found if left <= s.col < right}
    found = [s for s in said.found if s.field not in own or left <= s.col < right]
    return Statements(found, said.cells, said.loose)


def _without_several(said: Statements, tables: Sequence[Table], table: Table) -> Statements:
    """Drop "Sample 1: W-7" and "Sample 2: W-8" above one table: neither names all of it."""
    first = table.sheet_rows[0]
    top = max([t.sheet_rows[1] for t in tables if t.sheet_rows[1] < first], default=0)
    above = [s for s in said.found if s.numbered and top < s.row < first]
    if len({s.value for s in above}) < 2:
        return said
    return Statements([s for s in said.found if s not in above], said.cells, said.loose)


def _meet(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]
