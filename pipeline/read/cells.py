"""The one shape every reader gives back: a row per cell that is not empty."""

import datetime as dt
import math
import re
from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import polars as pl

from pipeline.read.date_formats import TOO_WIDE, serial_date
from pipeline.read.number_formats import general, is_date_format, render, shown_wins
from schemas.frames import CELLS

# Built-in formats 14 and 22 mean "as dates are written where the viewer lives".
LOCAL_DATES = {"mm-dd-yy": "yyyy-mm-dd", "m/d/yy h:mm": "yyyy-mm-dd hh:mm"}


@dataclass(frozen=True)
class Document:
    """What was read of one file: its cells, what a person must be told, and the reader's name.

    `date_system` is the year its days are counted from, "1900" or "1904"; null in a text file.
    """

    cells: pl.DataFrame
    notices: tuple[str, ...]
    reader: str
    date_system: str | None = None


class Shown(NamedTuple):
    """A stored value and how it looks in the sheet."""

    text: str
    number: float | None = None
    date: dt.date | None = None
    kind: str = "text"
    shown_wins: bool = False
    hidden: bool = False


class Cell(NamedTuple):
    """One cell; the fields are the columns of `CELLS`, in their order."""

    sheet: str
    row: int
    col: int
    text: str
    number: float | None
    date: dt.date | None
    kind: str
    shown_wins: bool = False
    hidden: bool = False
    struck: bool = False
    note: str | None = None
    raised: str | None = None
    row_span: int = 1
    col_span: int = 1


def part_runs(runs: Iterable[tuple[str, str]]) -> tuple[str, str | None]:
    """Part a cell's text from what is printed raised or lowered; runs are (text, "high"|"low"|"").

    An exponent of a unit stays in the text ("ug L-1"), and so do lowered figures of a formula; those
    behind a number are set apart like raised ones. A power of ten is written in raised signs. A text
    that is all raised is just text.
    """
    plain, apart = "", ""
    for text, position in runs:
        behind_word = plain[-1:].isalpha()
        exponent = position == "high" and behind_word and _EXPONENT.fullmatch(text)
        formula = position == "low" and any(c.isalpha() for c in plain)
        if position == "high" and _TEN.search(plain) and _POWER.fullmatch(text):
            plain += text.strip().translate(_RAISE)
        elif position and not exponent and not formula:
            apart += text
        else:
            plain += text
    if not plain.strip():
        return apart, None
    return plain, apart or None


_TEN = re.compile(r"\d\s*[x×*·]\s*10$")
_POWER = re.compile(r"\s*[-+\u2212\u2013]?\d{1,2}\s*")
_RAISE = str.maketrans("+-\u2212\u20130123456789", "⁺⁻⁻⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_EXPONENT = re.compile(r"\s*[-\u2212\u2013]\s*\d\s*")


def frame_cells(cells: Iterable[Cell]) -> pl.DataFrame:
    """Put cells into a frame of `CELLS`, in row and column order within each sheet."""
    columns = list(zip(*cells, strict=True)) or [()] * len(CELLS)
    series = [
        pl.Series(name, values, dtype=dtype)
        for (name, dtype), values in zip(CELLS.items(), columns, strict=True)
    ]
    return order_cells(pl.DataFrame(series))


def frame_texts(sheet: str, lines: Iterable[Sequence[str]]) -> pl.DataFrame:
    """Put the lines of a text file into a frame of `CELLS`; a blank text is no cell.

    As a `Cell` each, those of a large file would take five times the memory.
    """
    rows, cols, texts = array("i"), array("i"), list[str]()
    for row, fields in enumerate(lines, start=1):
        for col, field in enumerate(fields, start=1):
            if shown := field.strip():
                rows.append(row)
                cols.append(col)
                texts.append(shown)
    given = {"sheet": sheet, "number": None, "date": None, "kind": "text"} | Cell._field_defaults
    placed = pl.DataFrame(
        {"row": rows, "col": cols, "text": texts},
        {name: CELLS[name] for name in ("row", "col", "text")},
    )
    filled = {n: pl.lit(given[n], t).alias(n) for n, t in CELLS.items() if n in given}
    return placed.select(filled.get(name, pl.col(name)) for name in CELLS)


def order_cells(cells: pl.DataFrame) -> pl.DataFrame:
    """Sort by row and column within each sheet, the sheets staying in their order."""
    if cells.is_empty():
        return cells
    return cells.sort(pl.col("sheet").rle_id(), "row", "col", maintain_order=True)


@lru_cache(maxsize=65536)
def show_number(value: float, code: str, day_offset: int = 0) -> Shown:
    """Show a stored number; `day_offset` is 1462 in workbooks that count days from 1904.

    A time without a day is text. A number that its own format hides (`;;;`) keeps its plain
    text and counts as hidden. A date no calendar has becomes the error `########`.
    """
    if not math.isfinite(value):
        return Shown("#NUM!", kind="error")
    code = LOCAL_DATES.get(code, code)
    if is_date_format(code):
        return _show_date(value + day_offset, code)
    text = render(value, code).strip()
    if not text:
        return Shown(general(value), value, kind="number", hidden=True)
    return Shown(text, value, kind="number", shown_wins=shown_wins(value, code))


def _show_date(serial: float, code: str) -> Shown:
    text = render(serial, code).strip()
    if text == TOO_WIDE:
        return Shown(text, kind="error")
    date = None if "[h" in code.lower() else serial_date(serial)
    return Shown(text, date=date, kind="text" if date is None else "date")


def show_boolean(value: bool) -> Shown:
    """Show a truth value as `TRUE` or `FALSE`."""
    return Shown("TRUE" if value else "FALSE", kind="boolean")
