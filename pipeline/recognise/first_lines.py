"""Name the lines below a sample that is named on its first line only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid
from schemas.frames import SAMPLE_FIELDS

# What names a sample, and what tells the lines of one sample apart.
NAMES = ("sample", "lab_sample", "sample_name")
_KEYS = ("analyte", "form", "replicate", "method", "treatment", "dose", "trial", "expressed_as")
# One sample alone has no second one to show that its first line is named only.
_ALONE = 3


def named_above(grid: Grid, columns: Columns, samples: Sequence[int]) -> dict[int, int]:
    """Map each unnamed line to the line above that names its sample; empty where that is not sure.

    It is sure where every name stands once, each over two or more lines that begin with the same
    analyte (or form) and repeat none, with no empty line between them: so a name that got lost
    among others is not taken for this custom.
    """
    groups = _groups(grid, columns, samples)
    if not groups or not any(len(rows) > 1 for rows in groups):
        return {}
    keys = [[_key(grid, columns, row) for row in rows] for rows in groups]
    names = [_named(grid, columns, rows[0]) for rows in groups]
    enough = len(groups) > 1 or len(groups[0]) >= _ALONE
    sure = (
        enough
        and len(set(names)) == len(names)
        and all(len(rows) > 1 and _is_close(grid, rows) for rows in groups)
        and all(len(set(own)) == len(own) for own in keys)
        and len({own[0] for own in keys}) == 1
        and all(_agrees(grid, columns, rows) for rows in groups)
    )
    return {row: rows[0] for rows in groups for row in rows[1:]} if sure else {}


def formed_above(grid: Grid, columns: Columns, samples: Sequence[int], head: int) -> dict[int, int]:
    """Map each line below the `head` to the one that gives its form: "Free" over W-1 and W-2.

    It is sure where the same samples stand in the same order under each of the forms.
    """
    if not {"form", "sample"} <= columns.fields.keys():
        return {}
    column, homes = columns.fields["form"], dict[int, list[int]]()
    for row in range(head + 1, max(samples) + 1):
        if _text(grid, row, column) and grid.rows.get(row, {}).get(column):
            homes[row] = []
        if row in samples and not homes:
            return {}
        if row in samples:
            homes[max(homes)].append(row)
    groups = list(homes.values())
    forms = [_text(grid, row, column) for row in homes]
    names = [[_named(grid, columns, row) for row in rows] for rows in groups]
    sure = (
        len(groups) > 1
        and len(set(forms)) == len(forms)
        and len(names[0]) > 1
        and all(names[0])
        and all(own == names[0] for own in names)
    )
    return {row: home for home, rows in homes.items() for row in rows} if sure else {}


def first_line_notice(sheet: str, named: Mapping[int, int]) -> list[str]:
    """Say that names of samples were read for the lines below them."""
    if not named:
        return []
    return [
        f"{sheet}: {len(set(named.values()))} sample(s) named on their first line only; "
        f"{len(named)} line(s) below were read as theirs"
    ]


def _groups(grid: Grid, columns: Columns, samples: Sequence[int]) -> list[list[int]]:
    """Part the lines at each named one; empty where the first line has no name."""
    groups: list[list[int]] = []
    for row in samples:
        if _named(grid, columns, row):
            groups.append([])
        if not groups:
            return []
        groups[-1].append(row)
    return groups


def _named(grid: Grid, columns: Columns, row: int) -> str:
    return _text(grid, row, columns.fields["sample"]) if "sample" in columns.fields else ""


def _text(grid: Grid, row: int, col: int) -> str:
    spot = grid.at(row, col)
    return " ".join(spot.text.casefold().split()) if spot else ""


def _key(grid: Grid, columns: Columns, row: int) -> tuple[str, ...]:
    return tuple(_text(grid, row, columns.fields[n]) for n in _KEYS if n in columns.fields)


def _is_close(grid: Grid, rows: list[int]) -> bool:
    return all(r in grid.rows for a, b in pairwise(rows) for r in range(a, b))


def _agrees(grid: Grid, columns: Columns, rows: list[int]) -> bool:
    """Tell whether no line below says anything else of the sample than the line that names it."""
    told = [c for n, c in columns.fields.items() if n in SAMPLE_FIELDS and n not in _KEYS]
    return all(
        _text(grid, row, col) in {"", _text(grid, rows[0], col)} for row in rows[1:] for col in told
    )
