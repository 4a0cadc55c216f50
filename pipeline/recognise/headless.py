"""Doubt the lines of a second table that has a title but no line of headings of its own."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.statements import said_by

_AND = re.compile(r"\s*(?:[,;/&+]|\b(?:and|et|und|y|e)\b)\s*", re.IGNORECASE)


def doubt_headless(
    grid: Grid, samples: Sequence[int], notes: Sequence[int], columns: Columns, readers: Readers
) -> dict[int, str]:
    """Map the lines below a title that do not fit the headings above it to the reason.

    They have more numbers than there are headings, or stop short of the last ones under a form of
    their own and a gap; or the title names a measurand that is none of the table's.
    """
    values = [v.column for v in columns.values]
    if grid.swapped or not samples or not values:
        return {}
    titles = {r: s for r in notes if r > samples[0] and (s := _title(grid, r))}
    doubted: dict[int, str] = {}
    for number, (row, spot) in enumerate(titles.items()):
        ends = [*list(titles)[number + 1 :], max(samples) + 1]
        own, above = [r for r in samples if row < r < ends[0]], [r for r in samples if r < row]
        if own and (reason := _reason(grid, row, spot, own, above, columns, readers)):
            doubted |= dict.fromkeys(own, f'it stands below "{spot.text}", {reason}')
    return doubted


def _title(grid: Grid, row: int) -> Spot | None:
    spots = list(grid.rows[row].values())
    return spots[0] if len(spots) == 1 and spots[0].is_text else None


def _reason(
    grid: Grid,
    row: int,
    title: Spot,
    own: list[int],
    above: list[int],
    columns: Columns,
    readers: Readers,
) -> str | None:
    values = [v.column for v in columns.values]
    attached = [c for v in columns.values for c in v.attached.values()]
    last = max([*values, *attached, *columns.fields.values()])
    beyond = [r for r in own if (s := grid.rows[r].get(last + 1)) and s.kind == "number"]
    if beyond and not any(last + 1 in grid.rows[r] for r in above):
        return "and has more numbers than there are headings"
    parted = row - 1 not in grid.rows or row + 1 not in grid.rows
    short = not any(max(values) in grid.rows[r] for r in own)
    full = all(max(values) in grid.rows[r] for r in above)
    if parted and short and full and "form" in said_by(title, readers):
        return "and has fewer results than there are headings"
    parts = [title.text, *_AND.split(title.text)]
    if any(readers.names.heading(part).out_of_scope for part in parts if part.strip()):
        return "which names something else"
    return None
