"""Let the lines above a header speak: for the columns they span, or for the whole table."""

from __future__ import annotations

import re

from pipeline.names import Heading
from pipeline.names.marked import side_of
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import Run
from pipeline.recognise.statements import said_by

# Lines above a header that are looked at column by column.
_NEAR = 6


def title_lines(
    grid: Grid, run: Run, bounds: tuple[int, int, int, int], found: Columns, readers: Readers
) -> tuple[dict[str, str], list[tuple[int, int]]]:
    """Let the lines above a header speak for its columns, and return what they say for the table.

    A merged title speaks for the columns it spans. Unmerged titles speak for the columns up to the
    next title, and only when the first of them stands over the first column of results; otherwise a
    centred title could lend its form to the wrong columns.
    """
    whole: dict[str, str] = {}
    used: list[tuple[int, int]] = []
    top, _, left, right = bounds
    for row in range(run.row - 1, max(top, run.row - _NEAR) - 1, -1):
        line = grid.rows.get(row, {}).items()
        near = row == run.row - 1
        spots = {
            c: s
            for c, s in line
            if s.kind == "text" and left <= c <= right and (near or _is_title(s, readers))
        }
        spots |= _unit_beside(dict(line), spots, readers)
        if _is_shifted(spots, found.first_value, readers):
            continue
        over = {c: s for c, s in spots.items() if c >= found.first_value}
        beside = {c: s for c, s in spots.items() if c < found.first_value}
        whole_over = {
            c: s
            for c, s in over.items()
            if len(over) == 1 and (s.col_span == 1 or s.col_span >= len(found.values))
        }
        read = {c: said_by(s, readers) for c, s in (beside | whole_over).items()}
        if len({said["form"] for said in read.values() if "form" in said}) > 1:
            read, whole_over = {}, {}
        for col, said in read.items():
            used += [(row, col)] if said else []
            whole = said | whole
        if over and not whole_over:
            used += _speak_for_columns(grid, row, over, found, readers)
    if not any("form" in v.says or v.heading.form for v in found.values):
        whole = _far_titles(grid, range(top, max(top, run.row - _NEAR)), readers) | whole
    return whole, used


def _far_titles(grid: Grid, rows: range, readers: Readers) -> dict[str, str]:
    """What titles far above a table say where the letterhead stands between: one form, one unit."""
    spots = [s for row in rows for s in grid.rows.get(row, {}).values() if s.kind == "text"]
    told = [said_by(spot, readers) for spot in spots if _is_title(spot, readers)]
    found: dict[str, str] = {}
    for name in ("form", "unit"):
        texts = {said[name] for said in told if name in said}
        found |= {name: texts.pop()} if len(texts) == 1 else {}
    return found if "form" in found else {}


def corner_says(heading: Heading | None) -> dict[str, str]:
    """What "Analyte (free)" or "Compound (ug/L)" says for every result of its table."""
    if heading is None or heading.is_measurand or heading.field not in {None, "analyte"}:
        return {}
    return {name: said for name in ("form", "unit") if (said := getattr(heading, name))}


def _unit_beside(
    line: dict[int, Spot], titles: dict[int, Spot], readers: Readers
) -> dict[int, Spot]:
    """The bare unit that stands alone on the line of one title: "Free phenols | | ug/L"."""
    others = {c: s for c, s in line.items() if c not in titles}
    told = [said_by(spot, readers) for spot in titles.values()]
    units = [s for s in others.values() if s.is_text and readers.names.heading(s.text).is_unit_only]
    alone = len(told) == len(units) == len(others) == 1
    return others if alone and "form" in told[0] and "unit" not in told[0] else {}


def _is_shifted(spots: dict[int, Spot], first: int, readers: Readers) -> bool:
    """Tell a line of forms that begins over the samples' names: whose form each is, is not sure."""
    forms = [c for c, s in spots.items() if readers.names.heading(s.text).is_form_only]
    return len(forms) > 1 and min(forms) < first <= max(forms)


def _is_title(spot: Spot, readers: Readers) -> bool:
    """Tell a title from the bare unit of another table."""
    wordy = re.search(r"[^\W\d_]{3}", spot.text) is not None
    return wordy and not readers.names.heading(spot.text).is_unit_only


def _speak_for_columns(
    grid: Grid, row: int, over: dict[int, Spot], found: Columns, readers: Readers
) -> list[tuple[int, int]]:
    merged = any(s.col_span > 1 for s in over.values())
    aligned = min(over) == found.first_value
    used = []
    for value in found.values:
        home = grid.covers.get((row, value.column), (row, value.column))[1]
        if home not in over and not merged and aligned:
            home = max((c for c in over if c <= value.column), default=-1)
        if home in over and (said := _over_columns(over[home], readers)):
            value.says = said | value.says
            used.append((row, home))
    if len({side_of(v.says["state"]) for v in found.values if "state" in v.says}) == 1:
        for value in found.values:
            value.says.pop("state", None)
    return list(dict.fromkeys(used))


def _over_columns(spot: Spot, readers: Readers) -> dict[str, str]:
    """What a title says of the columns below it; "Before fining" beside "After fining" is two samples."""
    said = said_by(spot, readers)
    return said if said or not side_of(spot.text) else {"state": spot.text}


def distrust_clashes(found: Columns) -> None:
    """Take back unmerged titles' forms when two columns would become the same analyte and form."""
    seen: dict[tuple[str, str | None], int] = {}
    for value in found.values:
        form = value.heading.form or value.says.get("form")
        named = value.heading.analyte or value.raw_analyte
        apart = [
            value.heading.replicate,
            value.heading.state,
            *map(value.says.get, ("replicate", "state")),
        ]
        key = (f"{named} {apart}", form)
        if (
            value.heading.analyte
            and value.heading.form is None
            and key in seen
            and "form" in value.says
        ):
            for other in found.values:
                other.says.pop("form", None)
            return
        seen[key] = value.column
