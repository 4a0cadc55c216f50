"""Lay one table of a user's own layout out as a Block, with the role of each of its cells."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from pipeline.readers import Readers
from pipeline.recognise.own_lines import OwnLines
from pipeline.recognise.places import Field, says_any
from pipeline.recognise.table_frames import column_schema, frame
from schemas.layout import Block

_LIMITS = {"lod", "loq", "limit"}


@dataclass(frozen=True)
class OwnBlock:
    """A table read with a layout: its Block, and what its cells are, as (row, column) of the sheet."""

    block: Block
    values: frozenset[tuple[int, int]]
    roles: dict[tuple[int, int], str]
    rows: frozenset[int]
    columns: frozenset[int]
    ignored: frozenset[tuple[int, int]]
    left_out: tuple[str, ...]
    told: frozenset[tuple[int, int]] = frozenset()

    def lent_from(self, other: OwnBlock) -> set[tuple[int, int]]:
        """The cells inside another table from which this one would take a fact of its own."""
        return {(r, c) for r, c in self.told if r in other.rows and c in other.columns}


def field_role(name: str) -> str:
    """Name the role of a cell by the field it carries."""
    if name in _LIMITS:
        return "limit"
    return {"analyte": "analyte", "sample": "sample", "unit": "unit"}.get(name, "field")


def _roles(table: OwnLines) -> dict[tuple[int, int], str]:
    """The role of each cell, as (row, column) of the grid the table is read in."""
    values = [c for c, _ in table.value_columns]
    roles = {(table.head, c): "field" for c in table.columns.values()} | {table.own.start: "field"}
    if table.own.table.results == "crossing":
        roles |= {(table.head, c): "analyte" for c in values}
    else:
        roles |= {(table.own.cell(p)[0], c): "field" for c, p in table.value_columns if p}
    for name, place in table.of_axis("sheet").items():
        roles[table.own.cell(place)] = field_role(name)
    for name, row in table.lines.items():
        roles |= {(row, c): field_role(name) for c in values}
        roles |= {(row, c): "field" for c in table.columns.values()}
    for row in table.samples:
        roles |= {(row, c): field_role(n) for n, c in table.columns.items()}
        for name, (down, right) in table.beside.items():
            roles |= {(row + down, c + right): field_role(name) for c in values}
        roles |= {(row, c): "value" for c in values}
    return roles


def own_block(field: Field, readers: Readers) -> OwnBlock:
    """Read one table. Raises FileRefused when it holds no result or a heading is not found."""
    table = OwnLines(field, readers)
    if not table.value_columns or not table.samples:
        raise field.refuse(
            f"the table that starts in {field.grid.name(*field.start)} has no results"
        )
    lines = frame(
        [table.line_row(r) for r in table.samples], "line", dict.fromkeys(table.columns, 0)
    )
    if "analyte" in table.columns:
        told = [table.line_row(r)["told_analyte"] for r in table.samples]
        lines = lines.with_columns(pl.Series("told_analyte", told, pl.String))
    block = Block(
        sheet=field.grid.sheet,
        layout=field.layout.name,
        swapped=field.is_turned,
        lines=lines,
        columns=_columns(table),
        fixed=table.fixed(),
        header_cell=field.grid.name(*field.start),
    )
    return _in_sheet(table, block)


def _columns(table: OwnLines) -> pl.DataFrame:
    rows = [table.column_row(col, place) for col, place in table.value_columns]
    schema = column_schema() | {"told_analyte": pl.String()}
    more = {name for row in rows for name in row} - set(schema)
    schema |= dict.fromkeys(sorted(more), pl.String())
    full = [
        {n: r.get(n) for n in schema} | {"column_struck": bool(r.get("column_struck"))}
        for r in rows
    ]
    return pl.DataFrame(full, schema=schema, orient="row")


def _in_sheet(table: OwnLines, block: Block) -> OwnBlock:
    """Give the places of a table in the sheet's own coordinates."""
    own = table.own
    turn = own.is_turned
    used = [c for c, _ in table.value_columns]
    columns = frozenset({*table.columns.values(), *used, own.start[1]})
    rows = frozenset({table.head, *table.samples, *table.lines.values()})
    values = {(r, c) for r in table.samples for c, _ in table.value_columns}
    gone = _left_out(table)
    return OwnBlock(
        block,
        frozenset(_turned(values, turn)),
        dict(zip(_turned(_roles(table), turn), _roles(table).values(), strict=True)),
        columns if turn else rows,
        rows if turn else columns,
        frozenset(_turned(gone, turn)),
        tuple(dict.fromkeys(own.grid.name(*p) for p in gone if _is_named(table, p))),
        frozenset(_turned((own.cell(p) for p in table.of_axis("sheet").values()), turn)),
    )


def _turned(places: Iterable[tuple[int, int]], turn: bool) -> list[tuple[int, int]]:
    return [(c, r) if turn else (r, c) for r, c in places]


def _left_out(table: OwnLines) -> list[tuple[int, int]]:
    """The cells of the lines and columns that the layout says to ignore."""
    own = table.own
    heads = own.grid.rows.get(table.head, {})
    columns = {c for c, s in heads.items() if own.left <= c <= own.right
               and says_any(s, own.table.ignore)}  # fmt: skip
    last = max(table.samples)
    return [
        (row, col)
        for row, col, _ in own.grid.spots()
        if own.left <= col <= own.right
        and (row in table.skipped or (col in columns and table.head <= row <= last))
    ]


def _is_named(table: OwnLines, place: tuple[int, int]) -> bool:
    """Tell whether a cell is the one for which its line or column is left out."""
    words = table.columns.values()
    own_words = place[1] in words and place[0] in table.skipped
    return own_words or says_any(table.spot(*place), table.own.table.ignore)
