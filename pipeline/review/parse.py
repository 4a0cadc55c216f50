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
    """A workbook that came back; `strays` are the headed cells of other sheets that look like its own."""

    file: str
    store_id: str
    values: tuple[Line, ...]
    groups: tuple[Line, ...]
    strays: tuple[str, ...] = ()


def plain(text: str | None) -> str:
    """Fold what a spreadsheet may change in a text it only carries: white space and controls."""
    return " ".join("".join(c if c.isprintable() else " " for c in text or "").split())


def read_review(cells: pl.DataFrame, file: str) -> Review:
    """Read the sheets of a review workbook from its CELLS.

    Raises FileRefused when it is none, or a sheet, heading or the mark of its store is missing.
    """
    sheets = {plain(str(name)).lower(): rows for (name,), rows in cells.group_by("sheet")}
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
    strays = _strays({name: rows for name, rows in sheets.items() if name not in lines})
    return Review(file, _store_mark(sheets, file), lines[VALUES], lines[GROUPS], strays)


def _strays(sheets: Mapping[str, pl.DataFrame]) -> tuple[str, ...]:
    """Give the first decision of each other sheet that has one: a copy someone may have filled in."""
    found = list[str]()
    for name, cells in sorted(sheets.items()):
        heading = cells.with_columns(head=pl.col("text").str.strip_chars().str.to_lowercase())
        keyed = heading.filter(pl.col("head").is_in(list(KEYS.values())))["row"]
        heads = heading.filter(pl.col("head") == "decision", pl.col("row").is_in(keyed.implode()))
        below = cells.join(heads.select("col", top="row"), on="col").filter(
            pl.col("row") > pl.col("top"), pl.col("text").str.strip_chars() != ""
        )
        at = below.sort("row", "col").select("row", "col").head(1).rows()
        found += [f"{name}!{column_letters(col)}{row}" for row, col in at]
    return tuple(found)


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
    head = next((row for row in rows if _is_headed(rows[row], sheet)), min(rows))
    at = _headings(rows[head], sheet, file)
    return tuple(_line(sheet, row, rows[row], at) for row in rows if row > head)


def _is_headed(cells: Mapping[int, dict[str, Any]], sheet: str) -> bool:
    return {KEYS[sheet], "decision"} <= {plain(cell["text"]).lower() for cell in cells.values()}


def _headings(cells: Mapping[int, dict[str, Any]], sheet: str, file: str) -> dict[str, int]:
    found: dict[str, int] = {}
    for col, cell in cells.items():
        name = plain(cell["text"]).lower()
        if name in found and any(name == column.name for column in COLUMNS[sheet]):
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
