"""Find headers of forms alone: "Sample | Free | Total" below an analyte's name, or on its sheet."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from pipeline.names import Heading
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid
from pipeline.recognise.headers import SAMPLE_HEADINGS, Run

# How many lines above such a header its analyte may stand.
_REACH = 3


@dataclass(frozen=True)
class FormHeaders:
    """The headers of forms on a sheet, and the cells that name their analytes (row, column)."""

    runs: list[Run] = field(default_factory=list)
    titles: set[tuple[int, int]] = field(default_factory=set)


def find_form_headers(grid: Grid, readers: Readers) -> FormHeaders:
    """List the lines that head samples and forms but no analyte, where one analyte is told.

    It is told by a line of its own just above, else by the name of the sheet.
    """
    found = FormHeaders()
    on_tab = readers.names.heading(grid.sheet)
    for row in grid.rows:
        forms = _forms(grid, row, readers)
        if not forms:
            continue
        place = _title_above(grid, row, readers)
        told = (
            on_tab if place is None else readers.names.heading(grid.rows[place[0]][place[1]].text)
        )
        if told.analyte is None or told.field or told.form:
            continue
        found.titles.update({place} if place else ())
        columns = {
            c: replace(told, form=h.form, unit=h.unit or told.unit, replicate=h.replicate)
            for c, h in forms.items()
        }
        columns |= {
            c: h for c, s in grid.rows[row].items()
            if s.is_text and (h := readers.names.heading(s.text)).out_of_scope
        }  # fmt: skip
        found.runs.append(Run(row, dict(sorted(columns.items()))))
    return found


def _forms(grid: Grid, row: int, readers: Readers) -> dict[int, Heading]:
    """The headings of forms on a line that also heads the samples and names no measurand."""
    read = {
        c: readers.names.heading(s.text.rstrip(" :"))
        for c, s in grid.rows[row].items()
        if s.is_text
    }
    forms = {c: h for c, h in read.items() if h.is_form_only}
    fields = {h.field for h in read.values()}
    plain = not any(h.analyte for h in read.values()) and not fields & {"analyte", "result"}
    return forms if plain and fields & SAMPLE_HEADINGS else {}


def _title_above(grid: Grid, row: int, readers: Readers) -> tuple[int, int] | None:
    """Find the nearest line above that is nothing but an analyte's name."""
    for above in range(row - 1, max(0, row - 1 - _REACH), -1):
        spots = grid.rows.get(above, {})
        for col, spot in spots.items():
            if spot.is_text and len(spots) == 1 and readers.names.heading(spot.text).analyte:
                return above, col
        if len(spots) > 1:
            return None
    return None
