"""Layouts: the geometry of a table of results, and what was recognised of a sheet.

A layout is geometry, not a laboratory: it says on which axis the header of each field lies.
The shipped ones stand in `schemas/layouts/*.toml`; a user's own say where each field lies on the
sheets that no vocabulary reads.
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
PLAIN_NUMBER = r"^[<≤±\s]*[\d.,]+(?:\s*/\s*[\d.,]+)?$"

# Before what a remark asks where it may speak of any of several results.
ANY_OF = "any of the results:"
# How the coverage factor of a heading travels behind an uncertainty.
COVERAGE_FACTOR = r"\(k=[\d.,]+\)$"

# A typed number that would read as one with a mark for thousands, were it text.
TYPED_THREE = r"^-?[1-9]\d{0,2}\.\d{3}$"

NUMBER_FIELDS = ("lod", "loq", "limit", "uncertainty", "deviation", "dose", "expected", "added")


def with_unit(text: str, unit: str | None) -> str:
    """Add the unit of a heading to a bare number; to any other text its coverage factor alone."""
    if not unit or re.fullmatch(PLAIN_NUMBER, text):
        return f"{text} {unit}" if unit else text
    factor = re.search(COVERAGE_FACTOR, unit)
    return f"{text} {factor.group(0)}" if factor and text else text


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


# How the text of a mark begins that a report's legend puts on what stands for "not analysed".
LEGEND = "legend:"


@dataclass(frozen=True)
class Mark:
    """A sign or letter beside a result; doubtful where it may belong to another one."""

    line: int
    column: int
    text: str
    doubtful: bool


@dataclass(frozen=True)
class Place:
    """Where a field of a user's own layout stands; `name` is the field's.

    `axis`: "column" (a cell on every line, under its heading), "row" (a cell in every column),
    "sheet" (one cell for the whole table) or "value" (a cell beside every value). The cell is the
    one that prints `heading`, else the table's start, moved by `right` and `down` (negative: left
    and up). `after` and `before` cut a part out of the text of a sheet's cell.
    """

    name: str
    axis: str
    heading: str | None = None
    right: int = 0
    down: int = 0
    after: str | None = None
    before: str | None = None
    facts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class OwnTable:
    """A table of a user's own layout.

    `start` is the text of the cell where its header begins; with `repeats` every such cell begins a
    table. `results` is "crossing", "column" (a column of results) or "row" (a row of results);
    `values` are the places of those columns or rows.
    """

    start: str
    fields: tuple[Place, ...]
    values: tuple[Place, ...] = ()
    results: str = "crossing"
    repeats: bool = False
    skip: int = 0
    end: str | None = None
    ignore: tuple[str, ...] = ()
    fixed: Mapping[str, str] = field(default_factory=dict)

    @property
    def turned(self) -> bool:
        """Tell whether the table is read with rows and columns swapped."""
        down = any(p.name == "analyte" and p.axis == "column" for p in self.fields)
        return self.results == "row" or (self.results == "crossing" and down)


@dataclass(frozen=True)
class OwnLayout:
    """A layout that a user wrote: when it applies, and where each field of its tables lies.

    `texts` must all stand in a sheet for the layout to apply, and `sheet` must fit its name.
    `meanings` maps a field to what its printed words mean; for analytes the stored names.
    """

    name: str
    file: str
    texts: tuple[str, ...]
    tables: tuple[OwnTable, ...]
    sheet: str | None = None
    lab: str | None = None
    meanings: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Clue:
    """A text of a sheet, where it stands, and what it may be for a layout.

    `axis`, `right` and `down` place a field as in `Place`; null and 0 where that is not known.
    """

    text: str
    cell: str
    name: str = ""
    axis: str | None = None
    right: int = 0
    down: int = 0


@dataclass(frozen=True)
class Clues:
    """What a layout for one sheet can be drafted from.

    `starts` are the cells where a table's header may begin, `names` the names that no vocabulary
    knows. `results` and `analyte` are null where the sheet does not tell them.
    """

    sheet: str
    anchors: tuple[Clue, ...]
    starts: tuple[Clue, ...]
    results: str | None
    analyte: str | None
    fields: tuple[Clue, ...]
    names: tuple[Clue, ...]
    stated: Mapping[str, Clue]


@dataclass(frozen=True)
class Namesake:
    """The sample that a name is a replicate of, and its mark; not sure where it may be a sample itself."""

    base: str
    mark: str
    sure: bool


@dataclass(frozen=True)
class Block:
    """One table of a sheet, in its own coordinates (swapped when analytes run down).

    `lines`: one row per sample or result line: `line` and a `raw_*` column per field found there.
    `columns`: one row per column of values: `column`, a `raw_*` column per field found there, and
    `<field>_at` with the column of a limit, unit or uncertainty that belongs to it.
    `fixed`: what the title, the notes or the sheet say for the whole table.
    `meanings`: the text to read for a sign that a legend gives a meaning, by `notation_key`.
    `namesakes`: what printed names of samples are replicates of, or may be.
    `head_lines`, `side_columns`: where headings stand over the values, and names beside them;
    `titles`: the cells (line, column) of titles.
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
    meanings: Mapping[str, str] = field(default_factory=dict)
    namesakes: Mapping[str, Namesake] = field(default_factory=dict)
    head_lines: tuple[int, ...] = ()
    side_columns: tuple[int, ...] = ()
    titles: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class Recognised:
    """What was recognised of a document: its tables, what it says of itself, each cell's role."""

    blocks: tuple[Block, ...]
    facts: Mapping[str, str]
    layout: str
    roles: pl.DataFrame
    notices: tuple[str, ...] = field(default=())
    language: str | None = None
    date_system: str | None = None
    date_patterns: frozenset[str] = frozenset()


@cache
def load_layouts() -> tuple[Layout, ...]:
    """Read the shipped layouts, in the order of their names."""
    folder = files("schemas").joinpath("layouts")
    texts = sorted((f.name, f.read_text(encoding="utf-8")) for f in folder.iterdir())
    return tuple(Layout(**tomllib.loads(text)) for name, text in texts if name.endswith(".toml"))
