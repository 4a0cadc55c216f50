"""Doubt the lines of a table that nobody explains, or that are details of the report."""

from __future__ import annotations

import re
from typing import Protocol

from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.headers import names_a_sample
from pipeline.recognise.panels import is_title
from pipeline.recognise.statements import is_of_quality_control
from schemas.vocabulary import squash, squash_words

# Fields of the report or of an analysis: a line called so is no sample's.
_OF_REPORT = frozenset({
    "analysed_on", "sampled_on", "received_on", "reported_on", "report_no", "revision", "replaces",
})  # fmt: skip
_PAGE = re.compile(r"\b(?:page|seite|p[aá]gina)\s*\d", re.IGNORECASE)
_NO_WORD = re.compile(r"\s*[<>≤≥±~=\d½¼¾]")


class _Sorted(Protocol):
    samples: list[int]
    notes: list[int]


def doubt_strange_lines(
    grid: Grid, found: _Sorted, columns: Columns, readers: Readers
) -> dict[int, str]:
    """Map the lines below an unknown title whose names are of another pattern to that title.

    Only a title that a gap parts from the samples above, or numbers as names, raise the doubt.
    """
    column = columns.fields.get("sample")
    if column is None or grid.swapped or not found.samples:
        return {}
    doubted: dict[int, str] = {}
    titles = [r for r in found.notes if r > found.samples[0] and is_title(grid, r, readers)]
    for title in titles:
        above = {_pattern(grid.at(r, column)) for r in found.samples if r < title} - {""}
        below = [r for r in found.samples if r > title]
        parted = title - 1 not in grid.rows or title + 1 not in grid.rows
        text = next(iter(grid.rows[title].values())).text
        for row in below:
            named = grid.at(row, column)
            if named and is_of_quality_control(text) and is_control(named.text, readers):
                continue
            pattern = _pattern(named)
            if pattern not in above and (parted or pattern == "0"):
                doubted[row] = f'it stands below "{text}", which nothing explains'
    return doubted


def doubt_details(
    grid: Grid, found: _Sorted, columns: Columns, value_columns: list[int], readers: Readers
) -> dict[int, str]:
    """Map the lines that look like details of the report, not like samples, to the reason.

    They are called as a date or number of the report is ("Analysis date"), or with a word for the
    room, the instrument or the paper ("Room pressure", "Page 1 of 2"); or no digit is in their name
    while one is in every name above, and a gap or empty cells set them apart. Where names have no
    digits a gap and empty cells together do.
    """
    if not found.samples:
        return {}
    column = columns.fields.get("sample")
    if grid.swapped:
        return _doubt_spoken(grid, found.samples, column, readers)
    if column is None:
        return _doubt_names_between(grid, found.samples, readers)
    doubted: dict[int, str] = {}
    sure: list[int] = []
    parted = False
    for row in found.samples:
        named = grid.at(row, column)
        parted = parted or bool(sure and any(r not in grid.rows for r in range(sure[-1], row)))
        text = named.text if named and named.kind == "text" else ""
        if text and (
            readers.names.heading(text.rstrip(" :")).field in _OF_REPORT
            or speaks_of_details(text, readers)
            or _is_detail(grid, row, text, sure, column, value_columns, parted, readers)
        ):
            doubted[row] = _DETAIL.format(text)
        else:
            sure.append(row)
            parted = False
    return doubted


_DETAIL = '"{}" may be a detail of the report, not a sample'


def _doubt_spoken(
    grid: Grid, lines: list[int], column: int | None, readers: Readers
) -> dict[int, str]:
    """Doubt the samples whose names speak of the room, the instrument or the paper."""
    named = {r: s.text for r in lines if column and (s := grid.at(r, column)) and s.is_text}
    return {r: _DETAIL.format(t) for r, t in named.items() if speaks_of_details(t, readers)}


def speaks_of_details(name: str, readers: Readers) -> bool:
    """Tell "Instrument temp" or "Invoice no. 12345" by a word that no sample is named with."""
    words = squash_words(name).split()
    spans = {" ".join(words[i : i + n]) for n in (1, 2) for i in range(len(words))}
    spoken = bool(spans & readers.names.vocabulary.detail_words or _PAGE.search(name))
    return spoken and not is_control(name, readers)


def _doubt_names_between(grid: Grid, lines: list[int], readers: Readers) -> dict[int, str]:
    """Doubt lines without a name of their own below a line that names another sample."""
    named = [r for r in grid.rows if r > lines[0] and names_a_sample(grid.rows[r], readers)]
    return {
        row: f'it stands below "{next(iter(grid.rows[named[0]].values())).text}"'
        for row in lines
        if named and row > named[0]
    }


def _is_detail(
    grid: Grid,
    row: int,
    text: str,
    above: list[int],
    column: int,
    value_columns: list[int],
    parted: bool,
    readers: Readers,
) -> bool:
    """Tell "Dilution factor | 10" below samples: another kind of name, set apart from them."""
    if re.search(r"\d", text) or is_control(text, readers):
        return False
    names = [s.text for r in above if (s := grid.at(r, column))]
    if not names:
        return False
    counts = [sum(c in grid.rows[r] for c in value_columns) for r in above]
    sparse = sum(c in grid.rows[row] for c in value_columns) < min(counts)
    numbered = all(re.search(r"\d", name) for name in names)
    if not numbered:
        return parted and sparse
    return parted or (sparse and len(names) >= 2)


def is_control(text: str, readers: Readers) -> bool:
    """Tell a name with a word for a row of quality control in it."""
    words = readers.names.vocabulary
    kinds = {**words.row_ends, **words.rows_beside_others, **words.row_words}
    keys = [squash(text), *(squash(word) for word in text.split())]
    return any(kinds.get(key, "aggregate") not in {"aggregate", "last"} for key in keys)


def is_like_samples(
    grid: Grid,
    row: int,
    found: _Sorted,
    columns: Columns,
    value_columns: list[int],
    readers: Readers,
) -> bool:
    """Tell whether a line of words is a sample's: it follows samples and is called like one of them.

    Its words are then held one by one; a line with a heading among them is another table's header.
    """
    column = columns.fields.get("sample")
    named = grid.at(row, column) if column else None
    values = [s for c in value_columns if (s := grid.rows[row].get(c))]
    if named is None or column is None or not values or row - 1 not in grid.rows:
        return False
    if readers.names.heading(named.text).field:
        return False
    words = [s.text for s in values if s.kind == "text" and not _NO_WORD.match(s.text)]
    read = [readers.names.heading(text) for text in words]
    if any(h.field or h.is_measurand or h.form or h.unit for h in read):
        return False
    return _pattern(named) in {_pattern(grid.at(r, column)) for r in found.samples}


def _pattern(spot: Spot | None) -> str:
    """A name with runs of digits and of letters told apart: "S-12" is like "T-3"."""
    if spot is None:
        return ""
    return re.sub(r"[^\W\d_]+", "a", re.sub(r"\d+", "0", spot.text.strip()))
