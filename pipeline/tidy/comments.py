"""Give comments on headings and names to the values they stand over or beside."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from pipeline.addresses import cell_name
from schemas.layout import Block


def add_comments(joined: pl.DataFrame, cells: pl.DataFrame, block: Block) -> pl.DataFrame:
    """Join comments on the headings of a column and on the names of a line to each value's own.

    `joined` is a table laid out by `line` and `column` with its `note`, `cells` its sheet. Each
    comment from elsewhere says at which cell it stands.
    """
    told = comments_of(cells, block)
    if told.is_empty():
        return joined
    over = _told(told.filter(pl.col("line").is_in(block.head_lines)), "column")
    beside = _told(told.filter(pl.col("column").is_in(block.side_columns)), "line")
    notes = pl.concat_str("note", "note_column", "note_line", separator="; ", ignore_nulls=True)
    return (
        joined.join(over, on="column", how="left", maintain_order="left")
        .join(beside, on="line", how="left", maintain_order="left")
        .with_columns(note=notes.replace("", None))
        .drop("note_column", "note_line")
    )


def comments_of(cells: pl.DataFrame, block: Block) -> pl.DataFrame:
    """List comments on headings and names: `line`, `column`, `note`, a row per cell they speak for."""
    noted = cells.filter(pl.col("note").is_not_null() & (pl.col("note").str.strip_chars() != ""))
    columns, lines = set(block.columns["column"]), set(block.lines["line"])
    heads, sides = set(block.head_lines), set(block.side_columns)
    rows = []
    for row, col, rows_over, columns_over, note in noted.select(_PLACED).rows():
        text = f"{cell_name(row, col)}: {note}"
        line, column, down, across = (
            (col, row, columns_over, rows_over)
            if block.swapped
            else (row, col, rows_over, columns_over)
        )
        over = range(column, column + min(across, _WIDEST))
        beside = range(line, line + min(down, _WIDEST))
        if line in heads:
            rows += [(line, c, text) for c in columns.intersection(_below(line, over, block))]
        if column in sides:
            rows += [(at, column, text) for at in lines.intersection(beside)]
    schema = {"line": pl.Int32, "column": pl.Int32, "note": pl.String}
    return pl.DataFrame(rows, schema=schema, orient="row")


_PLACED = ("row", "col", "row_span", "col_span", "note")


def _below(line: int, over: range, block: Block) -> Sequence[int]:
    """The columns a heading's comment is for; a title speaks up to the next one on its line."""
    titles = sorted(c for at, c in block.titles if at == line)
    if over.start not in titles:
        return over
    after = [c for c in titles if c > over.start]
    if len(titles) == 1:
        return block.columns["column"].to_list()
    return range(over.start, min(after, default=max(block.columns["column"].to_list()) + 1))


# A merged range is looked at so far; what is wider is a title.
_WIDEST = 200


def _told(notes: pl.DataFrame, key: str) -> pl.DataFrame:
    joined = pl.col("note").unique(maintain_order=True).str.join("; ").alias(f"note_{key}")
    return notes.group_by(key, maintain_order=True).agg(joined)


def unheard_comments(cells: pl.DataFrame, blocks: Sequence[Block]) -> list[str]:
    """Name the comments of a document that no value was given."""
    noted = cells.filter(pl.col("note").is_not_null() & (pl.col("note").str.strip_chars() != ""))
    heard: set[tuple[str, str]] = set()
    for block in blocks if noted.height else ():
        own = noted.filter(pl.col("sheet") == block.sheet)
        told = [text.partition(":")[0] for text in comments_of(own, block)["note"]]
        heard |= {(block.sheet, cell) for cell in [*told, *_on_values(own, block)]}
    rows = [
        (f"{sheet}!{cell_name(row, col)}", " ".join(note.split())[:120])
        for sheet, row, col, note in noted.select("sheet", "row", "col", "note").rows()
        if (sheet, cell_name(row, col)) not in heard
    ]
    said = [f'{cell}: a comment that belongs to no value says "{note}"' for cell, note in rows]
    rest = len(said) - _MOST
    return said if rest < 2 else [*said[:_MOST], f"{rest} more comments belong to no value"]


def _on_values(noted: pl.DataFrame, block: Block) -> list[str]:
    line, column = ("col", "row") if block.swapped else ("row", "col")
    own = noted.filter(
        pl.col(line).is_in(block.lines["line"].to_list())
        & pl.col(column).is_in(block.columns["column"].to_list())
    )
    return [cell_name(row, col) for row, col in own.select("row", "col").rows()]


# More comments than these are counted.
_MOST = 5
