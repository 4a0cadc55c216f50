"""Read a review workbook that came back: its lines, and what was written into them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.addresses import column_letters
from pipeline.errors import FileRefused
from pipeline.review.sheets import (
    CHECKED,
    COLUMNS,
    FILL,
    GROUPS,
    KEYS,
    LATER,
    NOTES,
    STORE_MARK,
    VALUES,
)

_ANEW = "take a new one out with cinderlot held --export and copy what you wrote"


@dataclass(frozen=True)
class Entry:
    """What stands in one cell: its text, its number when it is a plain one, and its address."""

    text: str
    number: float | None
    kind: str
    at: str
    struck: bool = False


@dataclass(frozen=True)
class Line:
    """One line of the sheet of values or of groups; `given` has the filled cells only."""

    sheet: str
    row: int
    key: str
    shown: Mapping[str, str]
    given: Mapping[str, Entry]
    columns: Mapping[str, str]

    def at(self, column: str) -> str:
        """Name the cell of a column, such as held values!K5."""
        return f"{self.sheet}!{self.columns[column]}{self.row}"


@dataclass(frozen=True)
class Review:
    """A workbook that came back."""

    file: str
    store_id: str
    values: tuple[Line, ...]
    groups: tuple[Line, ...]


def plain(text: str | None) -> str:
    """Fold what a spreadsheet may change in a text it only carries: white space and controls."""
    return " ".join("".join(c if c.isprintable() else " " for c in text or "").split())


def read_review(cells: pl.DataFrame, file: str) -> Review:
    """Read the sheets of a review workbook from its CELLS.

    Raises FileRefused when it is none, or a sheet, heading or the mark of its store is missing.
    """
    sheets = {str(name): rows for (name,), rows in cells.group_by("sheet")}
    if VALUES not in sheets:
        raise FileRefused(
            file,
            f'no sheet is called "{VALUES}", so this is no workbook of held values; take one out '
            "with: cinderlot held --export FILE.xlsx",
        )
    lines = {
        name: _lines(sheets[name], name, file) if name in sheets else ()
        for name in (VALUES, GROUPS)
    }
    return Review(file, _store_mark(sheets, file), lines[VALUES], lines[GROUPS])


def _store_mark(sheets: Mapping[str, pl.DataFrame], file: str) -> str:
    notes = sheets.get(NOTES, pl.DataFrame(schema={"row": pl.Int32, "col": pl.Int32}))
    if notes.height:
        marked = notes.filter(pl.col("col") == 1, pl.col("text") == STORE_MARK)["row"]
        told = notes.filter(pl.col("row").is_in(marked.implode()), pl.col("col") == 2)["text"]
        if told.len():
            return str(told[0]).strip()
    raise FileRefused(
        file, f'{NOTES}: the line "{STORE_MARK}" is missing, which tells its store; {_ANEW}'
    )


def _lines(cells: pl.DataFrame, sheet: str, file: str) -> tuple[Line, ...]:
    filled = cells.filter(pl.col("text").str.strip_chars() != "").sort("row", "col")
    rows: dict[int, dict[int, dict[str, Any]]] = {}
    for cell in filled.iter_rows(named=True):
        rows.setdefault(cell["row"], {})[cell["col"]] = cell
    if not rows:
        raise FileRefused(file, f"{sheet}: the sheet is empty; {_ANEW}")
    head, *body = rows
    at = _headings(rows[head], sheet, file)
    return tuple(_line(sheet, row, rows[row], at) for row in body)


def _headings(cells: Mapping[int, dict[str, Any]], sheet: str, file: str) -> dict[str, int]:
    found: dict[str, int] = {}
    for col, cell in cells.items():
        name = plain(cell["text"]).lower()
        if name in found:
            raise FileRefused(file, f'{sheet}: two columns are headed "{name}"; {_ANEW}')
        found[name] = col
    fill = [n for n in FILL if n not in LATER and any(c.name == n for c in COLUMNS[sheet])]
    needed = [KEYS[sheet], *(CHECKED if sheet == VALUES else ()), *fill]
    if missing := [name for name in needed if name not in found]:
        raise FileRefused(file, f"{sheet}: no column is headed {', '.join(missing)}; {_ANEW}")
    return found


def _line(sheet: str, row: int, cells: Mapping[int, dict[str, Any]], at: Mapping[str, int]) -> Line:
    texts = {name: plain(cells[col]["text"]) for name, col in at.items() if col in cells}
    letters = {name: column_letters(col) for name, col in at.items()}
    given = {
        name: _entry(cells[at[name]], f"{sheet}!{letters[name]}{row}", name)
        for name in FILL
        if name in at and at[name] in cells
    }
    return Line(sheet, row, texts.get(KEYS[sheet], ""), texts, given, letters)


def _entry(cell: Mapping[str, Any], at: str, name: str) -> Entry:
    if name == "date" and cell["kind"] == "date" and cell["date"] is not None:
        # A spreadsheet makes a date of what is typed as one; here that is what is wanted.
        return Entry(f"{cell['date']:%Y-%m-%d}", None, "text", at, bool(cell["struck"]))
    is_plain = cell["kind"] == "number" and not cell["shown_wins"]
    number = cell["number"] if is_plain else None
    return Entry(plain(cell["text"]), number, str(cell["kind"]), at, bool(cell["struck"]))
