"""Read the register's sheets from the cells of a workbook; list every row that cannot be used."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches

import polars as pl

from pipeline.doses import dose_factor, dose_unit, is_vague
from pipeline.register.sheets import COLOURS, NOTES, SHEETS, Column, Sheet
from schemas.vocabulary import load_vocabulary, squash

_NEAR_ENOUGH = 0.8  # of difflib; below it a suggestion misleads more than it helps
_HEADINGS_ENOUGH = 2  # a sheet of this name with one fitting heading may be anything
_PLAIN_NUMBER = r"^[+-]?(\d+(\.\d+)?|\d+,(\d{1,2}|\d{4,}))$"


@dataclass(frozen=True)
class Table:
    """A sheet as read: its rows with their `row`, where its columns stand, and what is wrong."""

    rows: pl.DataFrame
    cols: Mapping[str, int] = field(default_factory=dict)
    faults: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()


def heading_key(text: str) -> str:
    """Fold a heading: case, and spaces, dashes and underscores between words."""
    return re.sub(r"[\s_-]+", "_", text.strip().casefold())


def column_letters(number: int) -> str:
    """Write a column's number as its letters: 1 is A, 27 is AA."""
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def sheet_cells(cells: pl.DataFrame, name: str) -> pl.DataFrame:
    """Take the filled cells of the sheet of this name, whatever its case."""
    same = pl.col("sheet").str.strip_chars().str.to_lowercase() == name
    return cells.filter(same & (pl.col("text").str.strip_chars().str.len_chars() > 0))


def sheets_beside(cells: pl.DataFrame) -> pl.DataFrame:
    """Take the filled cells of sheets that are no part of a register."""
    own = [sheet.name for sheet in SHEETS] + [NOTES]
    strange = ~pl.col("sheet").str.strip_chars().str.to_lowercase().is_in(own)
    return cells.filter(strange & (pl.col("text").str.strip_chars().str.len_chars() > 0))


def find_headings(cells: pl.DataFrame, sheet: Sheet) -> tuple[int, pl.DataFrame] | None:
    """Find the row with most of the sheet's headings; give it with its columns `col`, `name`.

    Null when no row holds every needed heading, or too few of them.
    """
    printed = cells["text"].unique().to_list()
    names = cells.select(
        "row", "col", "text", name=pl.col("text").replace_strict(
            {text: heading_key(text) for text in printed}, return_dtype=pl.String)
    )  # fmt: skip
    known = names.filter(pl.col("name").is_in(list(sheet.schema)))
    if known.is_empty():
        return None
    counted = known.group_by("row").agg(n=pl.col("name").n_unique())
    best = counted.sort("n", "row", descending=[True, False]).row(0)
    found = names.filter(pl.col("row") == best[0])
    missing = {c.name for c in sheet.columns if c.needed} - set(found["name"])
    return None if missing or best[1] < _HEADINGS_ENOUGH else (best[0], found)


def _spelled(column: Column) -> Mapping[str, str]:
    vocabulary = load_vocabulary()
    known: dict[str, Mapping[str, str]] = {
        "stage": vocabulary.stages,
        "sample_kind": vocabulary.sample_kinds,
        "matrix": vocabulary.matrices,
        "colour": {
            word: matrix.removesuffix(" wine")
            for word, matrix in vocabulary.colours.items()
            if matrix.removesuffix(" wine") in COLOURS
        },
    }
    return {**known.get(column.name, {}), **{squash(word): word for word in column.words}}


def _words(column: Column, texts: pl.Series) -> pl.Expr:
    spelled = _spelled(column)
    table = {text: spelled.get(squash(text)) for text in texts.unique()}
    return pl.col("text").replace_strict(table, return_dtype=pl.String)


def _parsed(column: Column, texts: pl.Series) -> pl.Expr:
    number = pl.coalesce(
        "number",
        pl.when(pl.col("text").str.contains(_PLAIN_NUMBER))
        .then(pl.col("text").str.replace(",", ".", literal=True))
        .cast(pl.Float64),
    )
    match column.kind:
        case "number":
            return number
        case "whole":
            return pl.when(number == number.round()).then(number).cast(pl.Int32, strict=False)
        case "date":
            return pl.coalesce("date", pl.col("text").str.to_date("%Y-%m-%d", strict=False))
        case _:
            return _words(column, texts) if column.words else pl.col("text")


def _wanted(column: Column) -> str:
    if column.words:
        return f"write one of {', '.join(column.words)}"
    return {
        "number": "write a number such as 1250.5",
        "whole": "write a whole number",
        "date": "write a date such as 2026-03-14",
        "text": "write it as text",
    }[column.kind]


def place(sheet: str, row: int, col: int) -> str:
    """Name a cell as sheet!cell."""
    return f"{sheet}!{column_letters(col)}{row}"


def _negative(column: Column) -> pl.Expr:
    numeric = column.kind in ("number", "whole")
    return pl.col(column.name) < 0 if numeric else pl.lit(value=False)


def read_column(cells: pl.DataFrame, sheet: Sheet, column: Column) -> Table:
    """Read one column's cells (row, col, text, number, date, kind): `row` and the column."""
    parsed = cells.with_columns(pl.col("text").str.strip_chars())
    parsed = parsed.with_columns(_parsed(column, parsed["text"]).alias(column.name))
    error = (pl.col("kind") == "error").fill_null(value=False)
    bad = parsed.filter(pl.col(column.name).is_null() | error | _negative(column))
    faults = tuple(
        f'{place(sheet.name, row, col)}: {column.name} "{text}" cannot be used; {_wanted(column)}'
        for row, col, text in bad.select("row", "col", "text").iter_rows()
    )
    return Table(parsed.select("row", column.name), faults=faults)


def _headed_twice(sheet: Sheet, row: int, headings: pl.DataFrame) -> tuple[str, ...]:
    twice = headings.filter(
        pl.col("name").is_in(list(sheet.schema)) & ~pl.col("name").is_first_distinct()
    )
    return tuple(
        f"{place(sheet.name, row, col)}: the heading {name} stands twice; keep one of them"
        for col, name in twice.select("col", "name").iter_rows()
    )


def _without_needed(sheet: Sheet, rows: pl.DataFrame, cols: Mapping[str, int]) -> tuple[str, ...]:
    return tuple(
        f"{place(sheet.name, row, cols[column.name])}: {column.name} is missing; "
        "fill it in or clear the row"
        for column in sheet.columns
        if column.needed
        for row in rows.filter(pl.col(column.name).is_null())["row"]
    )


def read_sheet(cells: pl.DataFrame, sheet: Sheet) -> Table:
    """Read one sheet: its columns and `row`; an absent sheet has no rows."""
    inside = sheet_cells(cells, sheet.name)
    empty = pl.DataFrame(schema={"row": pl.Int32(), **sheet.schema})
    if inside.is_empty():
        return Table(empty)
    found = find_headings(inside, sheet)
    if found is None:
        wanted = [c.name for c in sheet.columns if c.needed]
        needed = ", ".join(wanted) + (" and one more" if len(wanted) < _HEADINGS_ENOUGH else "")
        fault = f"{sheet.name}!A1: no row holds the headings {needed}; add them"
        return Table(empty, faults=(fault + _meant(sheet, inside),))
    top, headings = found
    return _read_rows(inside.filter(pl.col("row") > top), sheet, top, headings)


def _read_rows(below: pl.DataFrame, sheet: Sheet, top: int, headings: pl.DataFrame) -> Table:
    cols = dict(headings.unique("name", keep="first", maintain_order=True)
                .select("name", "col").iter_rows())  # fmt: skip
    rows = below.select("row").unique().sort("row")
    faults = list(_headed_twice(sheet, top, headings))
    for column in sheet.columns:
        under = below.filter(pl.col("col") == cols.get(column.name, 0))
        one = read_column(under, sheet, column)
        rows, faults = rows.join(one.rows, on="row", how="left"), [*faults, *one.faults]
    rows = rows.with_columns(pl.col(name).cast(kind) for name, kind in sheet.schema.items())
    rows = rows.filter(pl.any_horizontal(pl.col(list(sheet.schema)).is_not_null()))
    if "dose" in sheet.schema:
        faults += _vague_doses(sheet, rows, cols)
        rows = rows.with_columns(
            dose=pl.col("dose") * dose_factor(pl.col("dose_unit")),
            dose_unit=dose_unit(pl.col("dose_unit")),
        )
    said = {fault.split(":")[0] for fault in faults}
    missing = _without_needed(sheet, rows, cols)
    faults += [fault for fault in missing if fault.split(":")[0] not in said]
    return Table(rows, cols, tuple(faults), _extra(sheet, top, headings))


def _vague_doses(sheet: Sheet, rows: pl.DataFrame, cols: Mapping[str, int]) -> tuple[str, ...]:
    vague = rows.filter(is_vague(pl.col("dose_unit")))
    return tuple(
        f'{place(sheet.name, row, cols["dose_unit"])}: dose_unit "{unit}" tells neither mass nor '
        "volume; write g/hL, mg/L or mL/hL"
        for row, unit in vague.select("row", "dose_unit").iter_rows()
    )


def _like(sheet: Sheet, text: str) -> str:
    near = get_close_matches(heading_key(text), list(sheet.schema), 1, _NEAR_ENOUGH)
    return f'; did you mean "{near[0]}"?' if near else ""


def _meant(sheet: Sheet, cells: pl.DataFrame) -> str:
    printed = cells.sort("row", "col")["text"].unique(maintain_order=True)
    others = [text for text in printed if heading_key(text) not in sheet.schema]
    return next((f' ("{text}"{near})' for text in others if (near := _like(sheet, text))), "")


def _extra(sheet: Sheet, top: int, headings: pl.DataFrame) -> tuple[str, ...]:
    others = headings.filter(~pl.col("name").is_in(list(sheet.schema)))
    return tuple(
        f"{place(sheet.name, top, col)}: the column {text.strip()!r} is not used"
        + _like(sheet, text)
        for col, text in others.select("col", "text").iter_rows()
    )
