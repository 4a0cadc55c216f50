"""Draw a report's sheets as a grid with the role that each cell was given."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import polars as pl

from pipeline.addresses import column_letters

ROLES = {
    "value": ("V", "green"),
    "analyte": ("A", "cyan"),
    "unit": ("U", "blue"),
    "sample": ("S", "magenta"),
    "limit": ("L", "yellow"),
    "field": ("F", "blue"),
    "title": ("T", "cyan"),
    "metadata": ("M", "magenta"),
    "note": ("N", "grey"),
    "aggregate": ("G", "yellow"),
    "unused": ("-", "grey"),
}
_WIDEST = 18


@dataclass(frozen=True)
class Sight:
    """What was seen in one file: its cells with their roles (sheet, row, col, text, role).

    `refusal` says why the file would not be loaded; null when it would.
    """

    file: str
    cells: pl.DataFrame = field(default_factory=pl.DataFrame)
    layout: str | None = None
    notices: tuple[str, ...] = ()
    refusal: str | None = None


@dataclass(frozen=True)
class Piece:
    """A piece of text and the colour it should have on a terminal; null for none."""

    text: str
    colour: str | None = None


def with_roles(cells: pl.DataFrame, roles: pl.DataFrame | None = None) -> pl.DataFrame:
    """Give each cell its role; a cell that no table used is `unused`."""
    if roles is None:
        return cells.select("sheet", "row", "col", "text", role=pl.lit("unused"))
    known = roles.unique(["sheet", "row", "col"], keep="first", maintain_order=True)
    return (
        cells.select("sheet", "row", "col", "text")
        .join(known, on=["sheet", "row", "col"], how="left", maintain_order="left")
        .with_columns(pl.col("role").fill_null("unused"))
    )


def draw(sight: Sight, width: int = 100) -> Iterator[list[Piece]]:
    """Draw a file as lines of pieces: what it is, then each sheet as a grid of lettered cells."""
    yield [Piece(f"{sight.file}: {sight.refusal or f'recognised as {sight.layout}'}")]
    yield from ([Piece(f"    {notice}")] for notice in sight.notices)
    if not sight.cells.is_empty():
        yield _legend(sight.cells["role"])
    for (sheet,), cells in sight.cells.group_by("sheet", maintain_order=True):
        yield [Piece("")]
        yield [Piece(f"{sheet} ({_counts(cells)})")]
        yield from _grid(cells, width)


def _legend(roles: pl.Series) -> list[Piece]:
    seen = set(roles.to_list())
    return [
        piece
        for role, (letter, colour) in ROLES.items()
        if role in seen
        for piece in (Piece(f"{letter} {role}", colour), Piece("  "))
    ]


def _counts(cells: pl.DataFrame) -> str:
    counts = cells.group_by("role", maintain_order=True).len()
    return ", ".join(f"{n} {role}" for role, n in counts.sort("role").iter_rows())


def _grid(cells: pl.DataFrame, width: int) -> Iterator[list[Piece]]:
    placed = {(row, col): (text, role) for row, col, text, role in _rows(cells)}
    widths = {
        col: min(_WIDEST, 2 + longest)
        for col, longest in cells.group_by("col")
        .agg(pl.col("text").fill_null("").str.len_chars().max())
        .sort("col")
        .iter_rows()
    }
    for columns in _pages(widths, width - 6):
        yield [Piece(" " * 6)] + [Piece(column_letters(c).ljust(widths[c] + 2)) for c in columns]
        for row in cells["row"].unique().sort().to_list():
            line = [_piece(placed.get((row, c)), widths[c]) for c in columns]
            if any(piece.text.strip() for piece in line):
                yield [Piece(f"{row:>5} "), *line]


def _rows(cells: pl.DataFrame) -> Iterator[tuple[int, int, str, str]]:
    yield from cells.select("row", "col", "text", "role").iter_rows()


def _piece(cell: tuple[str, str] | None, width: int) -> Piece:
    if cell is None:
        return Piece(" " * (width + 2))
    letter, colour = ROLES.get(cell[1], ROLES["unused"])
    text = f"{letter} {''.join(c if c.isprintable() else ' ' for c in cell[0] or '')}"
    cut = text if len(text) <= width else text[: width - 1] + "…"
    return Piece(cut.ljust(width + 2), colour)


def _pages(widths: dict[int, int], room: int) -> Iterator[list[int]]:
    page: list[int] = []
    used = 0
    for column, width in widths.items():
        if page and used + width + 2 > room:
            yield page
            page, used = [], 0
        page.append(column)
        used += width + 2
    if page:
        yield page
