"""Gather what a layout for a sheet could be drafted from: where results stand and what heads them."""

from __future__ import annotations

import polars as pl

from pipeline.readers import Readers
from pipeline.recognise.first_block import HEADER_REACH, FirstBlock
from pipeline.recognise.grid import Regions, read_grids
from pipeline.recognise.headers import SAMPLE_HEADINGS
from pipeline.recognise.statements import read_statements, said_by
from schemas.layout import Clue, Clues
from schemas.vocabulary import squash

_ANCHORS = 3
_COLUMN_FIELDS = {"unit", "lod", "loq", "limit", "uncertainty", "deviation", "method"}


def gather_clues(cells: pl.DataFrame, sheet: str, readers: Readers) -> Clues | None:
    """Gather the clues of one sheet; null when nothing in it reads as a result."""
    grid = next(g for g in read_grids(cells) if g.sheet == sheet)
    seen = FirstBlock(grid, readers)
    if not seen.rows:
        return None
    start = seen.start
    return Clues(
        sheet=sheet,
        anchors=_anchors(seen),
        starts=tuple(seen.clue(*place) for place in seen.same_text(start)) if start else (),
        results=seen.results,
        analyte=seen.analyte,
        fields=_fields(seen),
        names=_unknown_names(seen),
        stated=_stated(seen),
    )


def _fields(seen: FirstBlock) -> tuple[Clue, ...]:
    """Place the names, the samples, the results and what else the headings name."""
    found = [*_headed_fields(seen), *_labelled_fields(seen)]
    if seen.analyte == "row" and seen.head:
        found.append(seen.clue(*seen.headings[0], "analyte", "row"))
    if seen.analyte == "column" and seen.name_column:
        found.append(_under(seen, seen.name_column, "analyte"))
    if seen.results == "column":
        found += [_under(seen, c, "result") for c in seen.values]
    if seen.analyte and "sample" not in {c.name for c in found}:
        found += _samples(seen)
    placed = {c.cell for c in found if c.name}
    return tuple(c for c in dict.fromkeys(found) if c.name or c.cell not in placed)


def _under(seen: FirstBlock, col: int, name: str) -> Clue:
    """Place a column by its heading; by steps from the start where that names no single column."""
    row = seen.head or seen.rows[0]
    text = seen.grid.at(row, col)
    reach = range(seen.start[1] if seen.start else 1, max([col, *seen.values]) + 1)
    same = [c for c in reach if text and (s := seen.grid.at(row, c)) and s.text == text.text]
    return seen.clue(row, col, name, "column", moved=seen.head is None or len(same) != 1)


def _headed_fields(seen: FirstBlock) -> list[Clue]:
    if seen.head is None:
        return []
    found = []
    for col, spot in seen.grid.rows[seen.head].items():
        heading = seen.readers.names.heading(spot.text.rstrip(" :"))
        apart = col in seen.values and seen.results == "column" and heading.field == "result"
        if heading.field is None and col in seen.stubs and not heading.is_measurand:
            found.append(seen.clue(seen.head, col, "", "column"))
        if heading.field in {None, "ignored", "analyte", "result"} or apart:
            continue
        if seen.readers.names.vocabulary.field_levels[heading.field] != "report":
            name = "sample" if heading.field in SAMPLE_HEADINGS - {"lot"} else heading.field
            found.append(seen.clue(seen.head, col, name, "column"))
    return found


def _labelled_fields(seen: FirstBlock) -> list[Clue]:
    """Labels such as "Unit" or "LOD" beside a line that describes the columns."""
    found = []
    for col in seen.stubs[:1]:
        for row in range((seen.head or 0) + 1, seen.rows[-1] + 2):
            spot = seen.grid.rows.get(row, {}).get(col)
            name = seen.readers.names.heading(spot.text.rstrip(" :")).field if spot else None
            if name in _COLUMN_FIELDS and seen.analyte == "row":
                found.append(seen.clue(row, col, str(name), "row"))
    return found


def _samples(seen: FirstBlock) -> list[Clue]:
    """Where the samples may be named: across from the names, else on a line above the header."""
    if seen.analyte == "row" and seen.stubs:
        return [_under(seen, seen.stubs[0], "sample")]
    if seen.analyte == "column" and seen.results == "crossing" and seen.head:
        return [seen.clue(*seen.headings[0], "sample", "row")] if seen.headings else []
    first = seen.head or seen.rows[0]
    for row in range(first - 1, max(0, first - 1 - HEADER_REACH), -1):
        texts = [c for c, s in seen.grid.rows.get(row, {}).items() if s.kind == "text"]
        if texts:
            return [seen.clue(row, texts[0], "sample", "sheet", moved=True)]
    return []


def _unknown_names(seen: FirstBlock) -> tuple[Clue, ...]:
    """The names beside or over the results that no vocabulary knows, each once."""
    places = list(seen.headings) if seen.analyte in {"row", None} else []
    if seen.analyte in {"column", None} and seen.name_column:
        places += [(r, seen.name_column) for r in seen.grid.rows if r >= seen.rows[0]]
    found: dict[str, Clue] = {}
    for row, col in places:
        spot = seen.grid.at(row, col)
        heading = seen.readers.names.heading(spot.text) if spot else None
        beside = any(map(seen.is_result, seen.grid.rows[row].values())) or row == seen.head
        if spot and heading and beside and spot.kind == "text":
            known = heading.is_measurand or heading.field or heading.is_unit_only
            found |= {} if known else {spot.text: found.get(spot.text, seen.clue(row, col))}
    return tuple(found.values())


def _anchors(seen: FirstBlock) -> tuple[Clue, ...]:
    """Texts that stand in the sheet once and are likely to stand in the next one too."""
    texts = [(r, c, s.text) for r, c, s in seen.grid.spots() if s.kind == "text"]
    counts: dict[str, int] = {}
    for _, _, text in texts:
        counts[text] = counts.get(text, 0) + 1
    above = (seen.head or seen.rows[0]) + 1
    fit = [
        seen.clue(r, c)
        for r, c, text in texts
        if r < above and counts[text] == 1 and 3 < len(text) < 60
        and not any(ch.isdigit() or ch in "*\n" for ch in text)
        and (r != seen.head or c not in seen.values)
        and not _matrix(seen, text) and not seen.readers.names.title(text).form
    ]  # fmt: skip
    if not fit and seen.start:
        fit = [seen.clue(*seen.start)]
    return tuple(fit[:_ANCHORS])


def _matrix(seen: FirstBlock, text: str) -> str | None:
    return seen.readers.names.vocabulary.matrices.get(squash(text))


def _stated(seen: FirstBlock) -> dict[str, Clue]:
    """What the sheet says of form, unit, matrix and laboratory, and where."""
    said = read_statements(seen.grid, seen.readers.names, Regions(()))
    found: dict[str, Clue] = {}
    table = range(seen.head or seen.rows[0], seen.rows[-1] + 1)
    for s in said.found:
        if s.row not in table and s.field in {"form", "unit", "matrix", "lab"}:
            found.setdefault(s.field, Clue(s.value, seen.grid.name(s.row, s.col)))
    for row, col, spot in said.loose:
        told = said_by(spot, seen.readers) if spot.kind == "text" else {}
        heading = seen.readers.names.heading(spot.text)
        told |= {"unit": heading.unit} if heading.unit and heading.is_measurand else {}
        told |= {"form": heading.form} if heading.form and heading.is_measurand else {}
        if row not in table and (matrix := _matrix(seen, spot.text)):
            told["matrix"] = matrix
        for name, text in told.items():
            if name in {"form", "unit", "matrix"}:
                found.setdefault(name, Clue(text, seen.grid.name(row, col)))
    return found
