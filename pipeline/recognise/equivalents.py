"""Read in what substance's mass the lines around a table report its glycosides.

Without standards of their own, laboratories give every glycoside as the amount of one substance:
"as syringol gentiobioside equivalents". Taken for the glycoside's own mass it would be wrong by
up to a factor of three.
"""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from pipeline.names import Names
from pipeline.names.equivalents import substance_called, substances_meant
from pipeline.readers import Readers
from pipeline.recognise.context import END, Surroundings, note_rows
from pipeline.recognise.grid import Grid
from pipeline.recognise.neighbours import own_statements
from schemas.layout import Mark


def texts_around(around: Surroundings, number: int, names: Names) -> list[str]:
    """List the texts that may say in what mass a table's glycosides are: its own, else the sheet's.

    The sheet's are those above and below all tables, and the cover's; never another table's title.
    """
    table = around.tables[number]
    said = own_statements(around.tables, number, around.said)
    first, last = table.sheet_rows
    top, bottom = around.between(table)
    grid = around.grid
    foreign = set(note_rows(grid, top, first)) if top else set()
    rows = set(range(top + 1, last + 1)) - foreign | set(note_rows(grid, last, bottom))
    near = [spot.text for row, _, spot in said.loose if row in rows and spot.kind == "text"]
    if any(substances_meant(text, names) is not None for text in near):
        return near
    end = max(t.sheet_rows[1] for t in around.tables)
    apart = {*note_rows(grid, 0, around.first_row), *note_rows(grid, end, END)}
    loose = [s.text for row, _, s in around.said.loose if row in apart and s.kind == "text"]
    return [*loose, *around.elsewhere]


def sheets_of_notes(sheets: Sequence[Grid], readers: Readers) -> tuple[str, ...]:
    """List the texts about equivalents on sheets that name no measurand: covers, letters, notes."""
    return tuple(
        spot.text
        for sheet in sheets
        for spots in sheet.rows.values()
        for spot in spots.values()
        if spot.is_text and substances_meant(spot.text, readers.names) is not None
    )


def say_equivalents(
    lines: pl.DataFrame, columns: pl.DataFrame, texts: Sequence[str], names: Names
) -> tuple[pl.DataFrame, pl.DataFrame, tuple[Mark, ...]]:
    """Let the glycosides of a table be what the lines around it give amounts of.

    What a heading or a line says itself stays. Where the lines name something unknown, or several
    substances, each glycoside is marked as doubtful: the text then stands in the reason.
    """
    unread = _unread(lines, columns, names)
    told = {text: meant for text in texts if (meant := substances_meant(text, names)) is not None}
    if not told:
        return lines, columns, unread
    meant = set().union(*told.values())
    if len(meant) == 1 and "" not in meant:
        substance = meant.pop()
        return _with(lines, substance, names), _with(columns, substance, names), unread
    return lines, columns, _doubts(lines, columns, next(iter(told)), names)


def _glycosides(frame: pl.DataFrame, names: Names) -> pl.Expr:
    known = names.vocabulary.analytes
    texts = frame["raw_analyte"].drop_nulls().unique().to_list()
    own = [
        text
        for text in texts
        if (named := names.heading(text)).analyte
        and known[named.analyte].is_glycoside
        and named.expressed_as is None
    ]
    return pl.col("raw_analyte").is_in(own).fill_null(False)


def _with(frame: pl.DataFrame, substance: str, names: Names) -> pl.DataFrame:
    if "raw_analyte" not in frame.columns:
        return frame
    own = (
        pl.col("raw_expressed_as")
        if "raw_expressed_as" in frame.columns
        else pl.lit(None, pl.String)
    )
    told = pl.when(_glycosides(frame, names)).then(pl.lit(substance))
    return frame.with_columns(raw_expressed_as=pl.coalesce(own, told))


def _unread(lines: pl.DataFrame, columns: pl.DataFrame, names: Names) -> tuple[Mark, ...]:
    """Doubt the lines that name a substance under "Expressed as" which nothing knows."""
    if "raw_expressed_as" not in lines.columns:
        return ()
    rows = lines.filter(pl.col("raw_expressed_as").is_not_null()).rows(named=True)
    strange = {
        row["line"]: row["raw_expressed_as"]
        for row in rows
        if any(c.isalpha() for c in row["raw_expressed_as"])
        and substance_called(row["raw_expressed_as"], names) is None
    }
    places = columns["column"].to_list()
    return tuple(Mark(row, col, text[:60], True) for row, text in strange.items() for col in places)


def _doubts(
    lines: pl.DataFrame, columns: pl.DataFrame, text: str, names: Names
) -> tuple[Mark, ...]:
    def chosen(frame: pl.DataFrame, key: str) -> list[int]:
        rows = frame.filter(_glycosides(frame, names)) if "raw_analyte" in frame.columns else frame
        return rows[key].to_list()

    in_columns = columns.filter(_glycosides(columns, names)).height
    rows = chosen(lines, "line")
    places = chosen(columns, "column") if in_columns else columns["column"].to_list()
    if not in_columns and "raw_analyte" not in lines.columns:
        return ()
    return tuple(Mark(row, column, text[:60], True) for row in rows for column in places)
