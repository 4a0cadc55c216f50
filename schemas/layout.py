"""Layouts: the geometry of a table of results, and what was recognised of a sheet.

A layout is geometry, not a laboratory: it says on which axis the header of each field lies.
The shipped ones stand in `schemas/layouts/*.toml`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

import polars as pl

# A number without a unit, to which the unit of its heading is added.
PLAIN_NUMBER = r"^[<≤±\s]*[\d.,]+$"


def with_unit(text: str, unit: str | None) -> str:
    """Add the unit of a heading to a bare number; any other text stays as it is."""
    return f"{text} {unit}" if unit and re.fullmatch(PLAIN_NUMBER, text) else text


@dataclass(frozen=True)
class Layout:
    """A geometry: where the analytes' names run, and where results are found.

    `analyte` is the axis along which the names run ("row": side by side; "column": one under the
    other). `results` is "crossing" (a result stands where a sample and an analyte cross) or
    "column" (results stand in a column of their own).
    """

    name: str
    title: str
    analyte: str
    results: str
    example: str = ""


@dataclass(frozen=True)
class Mark:
    """A sign or letter beside a result; doubtful where it may belong to another one."""

    line: int
    column: int
    text: str
    doubtful: bool


@dataclass(frozen=True)
class Block:
    """One table of a sheet, in its own coordinates (swapped when analytes run down).

    `lines`: one row per sample or result line: `line` and a `raw_*` column per field found there.
    `columns`: one row per column of values: `column`, a `raw_*` column per field found there, and
    `<field>_at` with the column of a limit, unit or uncertainty that belongs to it.
    `fixed`: what the title, the notes or the sheet say for the whole table.
    """

    sheet: str
    layout: str
    swapped: bool
    lines: pl.DataFrame
    columns: pl.DataFrame
    fixed: Mapping[str, str]
    header_cell: str
    dash_means: str | None = None
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class Recognised:
    """What was recognised of a document: its tables, what it says of itself, each cell's role."""

    blocks: tuple[Block, ...]
    facts: Mapping[str, str]
    layout: str
    roles: pl.DataFrame
    notices: tuple[str, ...] = field(default=())


@cache
def load_layouts() -> tuple[Layout, ...]:
    """Read the shipped layouts, in the order of their names."""
    folder = files("schemas").joinpath("layouts")
    texts = sorted((f.name, f.read_text(encoding="utf-8")) for f in folder.iterdir())
    return tuple(Layout(**tomllib.loads(text)) for name, text in texts if name.endswith(".toml"))
