"""Join what holds for a whole table: titles above it, notes below it, its sheet, the cover sheet."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.readers import Readers
from pipeline.recognise.cell_pairs import pairs_in_text
from pipeline.recognise.coverage_factors import stated_factor
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.neighbours import own_statements
from pipeline.recognise.panels import ONGOING
from pipeline.recognise.statements import (
    Statements,
    read_limits,
    said_by,
    whole_sentences,
)
from pipeline.recognise.tables import Table
from schemas.frames import RESULT_FIELDS, SAMPLE_FIELDS
from schemas.vocabulary import fold_unit

# What the lines around a table may say for all of it.
_NOT_FIXED = {"replicate", "analyte", "uncertainty", "deviation", "qualifier"}
_FIXED = tuple(
    name for name in ("client_sample", *SAMPLE_FIELDS, *RESULT_FIELDS) if name not in _NOT_FIXED
)


@dataclass(frozen=True)
class Surroundings:
    """A sheet with its tables, what its loose lines say, what a cover and sheets of notes say."""

    grid: Grid
    tables: list[Table]
    said: Statements
    cover: Statements | None
    elsewhere: tuple[str, ...] = ()

    @property
    def first_row(self) -> int:
        """The first row that belongs to a table."""
        return min(t.sheet_rows[0] for t in self.tables)

    def between(self, table: Table) -> tuple[int, int]:
        """The last row of the table above and the first row of the table below."""
        first, last = table.sheet_rows
        ends = [t.sheet_rows[1] for t in self.tables if t.sheet_rows[1] < first]
        starts = [t.sheet_rows[0] for t in self.tables if t.sheet_rows[0] > last]
        return max(ends, default=0), min(starts, default=END)


END = 10**7


def fixed_fields(around: Surroundings, number: int, readers: Readers) -> dict[str, str]:
    """Join what holds for one table of a sheet; what stands nearer to it wins.

    A line above the first table speaks for the tables below it only when none of them has a line
    of its own for the same field: another sample's name must never be lent.
    """
    table, said = around.tables[number], own_statements(around.tables, number, around.said)
    first, last = table.sheet_rows
    top, bottom = around.between(table)
    titles = _titles(around, table, top, readers) or _continued(around, number, top, readers)
    notes = _notes(around.grid, readers, last, bottom) or _only_note(said, readers)
    beside = {
        s.field: s.value
        for s in reversed(said.found)
        if first <= s.row <= last and s.field in _FIXED and s.col not in table.taken.columns
    }
    below = {n: v for n in RESULT_FIELDS if n in _FIXED and (v := said.first(n, last, bottom))}
    near = {n: v for n in _FIXED if (v := said.last(n, top, first))}
    sheet = {
        n: v
        for n in _FIXED
        if not _stated_again(around, n) and (v := said.first(n, 0, around.first_row))
    }
    cover = {
        n: v for n in _FIXED if n not in _IDENTITY and around.cover and (v := around.cover.first(n))
    }
    end = max(t.sheet_rows[1] for t in around.tables)
    foot = {n: v for n in _AT_FOOT if (v := around.said.only_below(n, end))}
    legend = _only_note(around.cover, readers) if around.cover else {}
    general = whole_sentences(said, readers)
    general = stated_factor((*said.texts, *around.elsewhere)) | general
    tab = _tab(around.grid.sheet, readers)
    fixed = legend | foot | cover | general | tab | sheet | notes | below | beside | near | titles
    return _settle(_doubt_forms(fixed, (general, tab, titles), readers), readers)


def _doubt_forms(
    fixed: dict[str, str], told: tuple[dict[str, str], ...], readers: Readers
) -> dict[str, str]:
    """Leave a form or unit open where a title, the sheet's name, a sentence or the method differ.

    The text then names both, so that neither is read from it.
    """
    method = _form_of_method(fixed.get("method", ""), readers)
    forms = {said["form"] for said in told if "form" in said} | ({method} if method else set())
    units = {said["unit"] for said in told if "unit" in said}
    known = readers.names.vocabulary.units
    named = {known[key].name if (key := fold_unit(u)) in known else u for u in units}
    if len(forms) > 1:
        fixed = fixed | {"form": " / ".join(sorted(forms))}
    if len(named) > 1:
        fixed = fixed | {"unit": " / ".join(sorted(units))}
    return fixed


def _form_of_method(method: str, readers: Readers) -> str | None:
    """The form a method's words tell; of one that hydrolyses also where it names no compound."""
    if _HYDROLYSIS.search(method):
        return readers.names.title(f"phenols, {method}").form
    return readers.names.title(method).form


_HYDROLYSIS = re.compile(r"h[yi]dr[oó]l[yi]|idrolis", re.IGNORECASE)


def _settle(fixed: dict[str, str], readers: Readers) -> dict[str, str]:
    """Let the client's reference name the sample, and a method's words give a form not told else."""
    form = readers.names.title(fixed.get("method", "")).form
    if form and "form" not in fixed:
        fixed["form"] = form
    names = [fixed.pop(n, None) for n in ("client_sample", "sample", "sample_name")]
    client, sample, label = names
    if client and sample:
        fixed.setdefault("lab_sample", sample)
    if chosen := client or sample or label:
        fixed["sample"] = chosen
    if label and chosen != label:
        fixed["sample_name"] = label
    return fixed


def _titles(around: Surroundings, table: Table, top: int, readers: Readers) -> dict[str, str]:
    """Join the lines above a table; of one whose names run down they stand outside its own lines."""
    if not table.grid.swapped:
        return dict(table.whole)
    found = dict(table.whole)
    for row, _, spot in reversed(around.said.loose):
        bare = spot.kind != "text" or readers.names.heading(spot.text).is_unit_only
        if top < row < table.sheet_rows[0] and not bare:
            found = said_by(spot, readers) | found
    return found


# What the lines below all tables say for each of them, when it is said only once on the sheet.
_AT_FOOT = ("client_sample", "sample", "sample_name", "lab_sample", "lot", "sampled_on",
            "received_on", "analysed_on", "matrix", "variety", "vintage", "vineyard")  # fmt: skip
_IDENTITY = {"client_sample", "sample", "sample_name", "lab_sample", "lot"}


def _stated_again(around: Surroundings, name: str) -> bool:
    return around.said.first(name, around.first_row) is not None


def _tab(sheet: str, readers: Readers) -> dict[str, str]:
    """Read the name of the sheet as a heading or a title."""
    heading, title = readers.names.heading(sheet), readers.names.title(sheet)
    said = {k: v for k in ("form", "unit") if (v := getattr(heading, k) or getattr(title, k))}
    if matrix := readers.names.matrix_in(sheet):
        said["matrix"] = matrix
    return said


def _continued(around: Surroundings, number: int, top: int, readers: Readers) -> dict[str, str]:
    """Let a repeated header without a title of its own go on under the title of the table before.

    A line right above it that nothing explains is a title too, and nobody knows of what.
    """
    if number == 0:
        return {}
    before, table = around.tables[number - 1], around.tables[number]
    same = [h.text for h in before.run.columns.values()] == [
        h.text for h in table.run.columns.values()
    ]
    between = [s for r, _, s in around.said.loose if top < r < table.sheet_rows[0]]
    between = [s for s in between if s.kind == "text" and _is_title(s, readers)]
    right_above = [s for r, _, s in around.said.loose if r == table.sheet_rows[0] - 1]
    strange = len(right_above) == 1 and _is_strange(right_above[0], readers)
    if between or not same or strange:
        return {}
    earlier = around.between(before)[0]
    return _titles(around, before, earlier, readers) or _continued(
        around, number - 1, earlier, readers
    )


def _is_strange(spot: Spot, readers: Readers) -> bool:
    """Tell a short text that says nothing known, and not that the table goes on."""
    heading = readers.names.heading(spot.text.rstrip(" :"))
    known = heading.field or heading.unit or pairs_in_text(spot.text, readers.names)
    brief = spot.kind == "text" and len(spot.text.split()) <= 6
    return brief and not known and ONGOING.search(spot.text) is None


def _is_title(spot: Spot, readers: Readers) -> bool:
    """Tell a title; "Total phenols (ug/L)" is one too, whatever it means."""
    return bool(said_by(spot, readers)) or readers.names.heading(spot.text).is_measurand


def _notes(grid: Grid, readers: Readers, last: int, bottom: int) -> dict[str, str]:
    """Read limits from the notes below a table, up to the title of the next one."""
    limits: dict[str, str] = {}
    for row in note_rows(grid, last, bottom):
        for spot in grid.rows[row].values():
            if spot.kind == "text":
                limits = read_limits(spot.text, readers.names) | limits
    return limits


def note_rows(grid: Grid, last: int, bottom: int) -> list[int]:
    """List the lines between two tables that belong to the upper one.

    They are those that follow it without a gap; where none does, those a gap parts from the next.
    """
    rows = [r for r in grid.rows if last < r < bottom]
    follows = [r for r in rows if all(s in grid.rows for s in range(last + 1, r))]
    if follows and follows[-1] < bottom - 1:
        return follows if bottom < END else rows
    titles = [r for r in rows if all(s in grid.rows for s in range(r, min(bottom, r + 50)))]
    return [r for r in rows if r not in titles]


def _only_note(said: Statements, readers: Readers) -> dict[str, str]:
    """Use limits stated once outside all tables of a sheet for every table that states none."""
    stated = [
        limits
        for _, _, spot in said.loose
        if spot.kind == "text" and (limits := read_limits(spot.text, readers.names))
    ]
    return stated[0] if len({tuple(sorted(s.items())) for s in stated}) == 1 else {}
