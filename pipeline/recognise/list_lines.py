"""Tell lines of results in a list from the labels, facts and notes between them."""

from __future__ import annotations

from pipeline.readers import Readers
from pipeline.recognise.cell_pairs import pairs_in_text
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import names_a_sample
from pipeline.recognise.lines import Lines
from pipeline.recognise.panels import is_label
from pipeline.recognise.statements import said_by
from schemas.frames import SAMPLE_FIELDS


def list_lines(grid: Grid, head: int, columns: Columns, bottom: int, readers: Readers) -> Lines:
    """Tell a list's lines of results from labels and notes between them, down to the next list."""
    found = Lines(last=head)
    name_column, result_columns = columns.fields["analyte"], [v.column for v in columns.values]
    gap, panel = False, dict[str, str]()
    for row in range(head + 1, bottom + 1):
        spots = grid.rows.get(row, {})
        if not spots:
            gap = True
            continue
        name, results = grid.at(row, name_column), [spots[c] for c in result_columns if c in spots]
        if _starts_anew(spots, readers):
            break
        if (
            names_a_sample(spots, readers)
            or _is_fact(name, results, readers)
            or _is_note(spots, name, results, columns, gap)
        ):
            panel = panel | _label_says(spots, readers)
            if "form" in panel and _ends_panel(grid, row, found, columns, readers):
                panel["form"] = next(iter(spots.values())).text
            found.notes.append(row)
            continue
        if panel:
            found.panels[row] = dict(panel)
        found.samples.append(row)
        found.last, gap = row, False
    return found


def _ends_panel(grid: Grid, row: int, found: Lines, columns: Columns, readers: Readers) -> bool:
    """Tell a label that nothing explains, after results under one that is understood.

    Right below another label it parts that one's lines, and those that follow it do so too.
    """
    labels = [r for r in found.notes if r + 1 in found.notes or r + 1 == row]
    under = any(c in grid.rows.get(row + 1, {}) for c in (v.column for v in columns.values))
    return under and not labels and is_label(grid, row, [columns.fields["analyte"]], readers)


def _starts_anew(spots: dict[int, Spot], readers: Readers) -> bool:
    """Tell whether a line is the header of another list."""
    read = [readers.names.heading(s.text) for s in spots.values() if s.kind == "text"]
    named = [h for h in read if h.field or h.is_form_only or h.is_unit_only]
    return any(h.field in {"analyte", "result"} for h in read) and len(named) >= 2


def _label_says(spots: dict[int, Spot], readers: Readers) -> dict[str, str]:
    """Read a label between the lines of a list: a panel's title, or the sample of the next lines."""
    said: dict[str, str] = {}
    if names_a_sample(spots, readers):
        cells = list(spots.values())
        for label, value in zip(cells[::2], cells[1::2], strict=False):
            if (name := readers.names.heading(label.text.rstrip(" :")).field) in SAMPLE_FIELDS:
                said[name] = value.exact
    for spot in spots.values():
        if spot.kind == "text":
            pairs = dict(pairs_in_text(spot.text, readers.names))
            said |= {n: v for n, v in pairs.items() if n in SAMPLE_FIELDS}
            said |= {k: v for k, v in said_by(spot, readers).items() if k in {"form", "unit"}}
    return said


def _is_note(
    spots: dict[int, Spot], name: Spot | None, results: list[Spot], columns: Columns, gap: bool
) -> bool:
    """Tell a label or a footnote from a result line: it lacks a result and all marks of one."""
    if name is None and not results:
        return True
    if gap and not (name and results):
        return True
    return bool(name) and not results and not _has_field(spots, columns)


def _is_fact(name: Spot | None, results: list[Spot], readers: Readers) -> bool:
    """Tell "Sampled | 10 October" or "Panel: | Free phenols" among results: a fact, no analyte."""
    field = readers.names.heading(name.text.rstrip(" :")).field if name and name.is_text else None
    if name is None or field is None:
        return False
    labelled = name.text.rstrip().endswith(":")
    worded = labelled and not any(readers.is_result(s.text, s.kind) for s in results)
    return worded or readers.names.vocabulary.field_levels[field] != "result"


def _has_field(spots: dict[int, Spot], columns: Columns) -> bool:
    """Tell whether a line without a result has the other marks of one (a unit, a sample)."""
    others = [c for n, c in columns.fields.items() if n != "analyte" and c in spots]
    return bool(others)
