"""Draw a report's sheets as a grid with the role that each cell was given."""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl

from pipeline.addresses import cell_name, column_letters
from pipeline.preview.sight import ROLES, Piece, Sight, complete, hidden_lines

_WIDEST, _WIDEST_HELD = 18, 34
_MOST_CELLS = 6


def draw(sight: Sight, width: int = 100) -> Iterator[list[Piece]]:
    """Draw a file as lines of pieces: what it is, each sheet as a grid of lettered cells, then lists.

    A held cell shows its reason code; below the grids stand its reason and hint, the rows of
    quality control, the names in no vocabulary, and how many texts were cut.
    """
    yield from _wrapped(f"{sight.file}: {sight.refusal or f'recognised as {sight.layout}'}", width)
    for notice in sight.notices:
        yield from _wrapped(f"    {notice}", width)
    if sight.cells.is_empty():
        return
    cells = complete(sight.cells)
    yield from _legend(cells, width)
    cut = 0
    for (sheet,), part in cells.group_by("sheet", maintain_order=True):
        yield [Piece("")]
        hidden = "hidden sheet; " if part["hidden"].fill_null(False).all() else ""
        yield from _wrapped(f"{sheet} ({hidden}{_counts(part)})", width)
        grid = _Grid(part, width)
        yield from grid.lines()
        cut += grid.cut
    yield from _lists(cells, width)
    if cut:
        count = "1 text is" if cut == 1 else f"{cut} texts are"
        yield from _wrapped(f"{count} cut (…); whole in a copy: --out COPY.xlsx", width)


def _wrapped(text: str, width: int) -> Iterator[list[Piece]]:
    """Break a sentence into lines; those after the first are indented."""
    from textwrap import wrap

    indent = " " * (4 + len(text) - len(text.lstrip()))
    plain = "".join(c if c.isprintable() else " " for c in text)
    first = plain[: len(plain) - len(plain.lstrip())]
    for line in wrap(plain.strip(), max(width, 20), initial_indent=first, subsequent_indent=indent):
        yield [Piece(line)]


def _legend(cells: pl.DataFrame, width: int) -> Iterator[list[Piece]]:
    seen = set(cells["role"].to_list())
    entries = [(f"{r.letter} {name}", r.colour) for name, r in ROLES.items() if name in seen]
    if cells["hidden"].fill_null(False).any():
        entries.append(("~ hidden row or column", None))
    line: list[Piece] = []
    for text, colour in entries:
        if line and sum(len(p.text) for p in line) + len(text) > width:
            yield line
            line = []
        line += [Piece(text, colour), Piece("  ")]
    yield line


def _counts(cells: pl.DataFrame) -> str:
    counts = cells.group_by("role", maintain_order=True).len()
    return ", ".join(f"{n} {role}" for role, n in counts.sort("role").iter_rows())


class _Grid:
    """One sheet as lines; counts the texts that had to be cut."""

    def __init__(self, cells: pl.DataFrame, width: int) -> None:
        self.cells, self.width, self.cut = cells, width, 0
        self.hidden_rows = hidden_lines(cells, "row")
        self.hidden_columns = hidden_lines(cells, "col")

    def lines(self) -> Iterator[list[Piece]]:
        rows = self.cells.select("row", "col", "text", "role", "reason_code").iter_rows()
        placed = {(row, col): _shown(*rest) for row, col, *rest in rows}
        widths = self._widths(placed)
        for columns in _pages(widths, self.width - 8):
            heads = (
                f"{column_letters(c)}{'~' if c in self.hidden_columns else ''}" for c in columns
            )
            yield [Piece(" " * 8)] + [
                Piece(head.ljust(widths[c] + 2)) for c, head in zip(columns, heads, strict=True)
            ]
            for row in self.cells["row"].unique().sort().to_list():
                if any((row, c) in placed for c in columns):
                    mark = "~" if row in self.hidden_rows else " "
                    line = [self._piece(placed.get((row, c)), widths[c]) for c in columns]
                    yield [Piece(f"{row:>6}{mark} "), *line]

    def _widths(self, placed: dict[tuple[int, int], Piece]) -> dict[int, int]:
        widths: dict[int, int] = {}
        for (_, col), piece in sorted(placed.items(), key=lambda item: item[0][1]):
            most = _WIDEST_HELD if piece.text.startswith("H") else _WIDEST
            widths[col] = max(widths.get(col, 4), min(most, len(piece.text)))
        return {col: min(width, max(8, self.width - 10)) for col, width in widths.items()}

    def _piece(self, piece: Piece | None, width: int) -> Piece:
        if piece is None:
            return Piece(" " * (width + 2))
        text = piece.text
        if len(text) > width:
            text = text[: width - 1] + "…"
            self.cut += 1
        return Piece(text.ljust(width + 2), piece.colour)


def _shown(text: str | None, role: str, reason: str | None) -> Piece:
    """Write a cell: the letter of its role, the reason when it is held, and its text on one line."""
    known = ROLES.get(role, ROLES["unused"])
    why = f" {reason}:" if reason and role == "held" else ""
    plain = "".join(c if c.isprintable() else " " for c in text or "")
    return Piece(f"{known.letter}{why} {plain}", known.colour)


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


def _lists(cells: pl.DataFrame, width: int) -> Iterator[list[Piece]]:
    for heading, lines in (
        ("Held", _held(cells)),
        ("Quality control", _quality_control(cells)),
        ("Names in no vocabulary", _unknown(cells)),
        ("Hidden", _hidden(cells)),
    ):
        if lines:
            yield [Piece("")]
            yield [Piece(f"{heading}:")]
        for line in lines:
            yield from _wrapped(f"  {line}", width)


def _held(cells: pl.DataFrame) -> list[str]:
    """Write what is held: the cells of a sheet that share a reason once."""
    key = ["sheet", "reason_code", "reason", "hint"]
    held = cells.filter(pl.col("role") == "held")
    groups = held.group_by(key, maintain_order=True).agg("row", "col", "text")
    return [
        f"{_places(g['sheet'], g['row'], g['col'])} "
        + (f'"{g["text"][0]}" ' if len(g["text"]) == 1 else f"({len(g['text'])} values) ")
        + f"{g['reason_code']}: {g['reason']}; {g['hint']}"
        for g in groups.iter_rows(named=True)
    ]


def _places(sheet: str, rows: list[int], columns: list[int]) -> str:
    names = [cell_name(row, col) for row, col in zip(rows, columns, strict=True)]
    more = f" and {len(names) - _MOST_CELLS} more" if len(names) > _MOST_CELLS else ""
    return f"{sheet}!{', '.join(names[:_MOST_CELLS])}{more}"


def _quality_control(cells: pl.DataFrame) -> list[str]:
    rows = cells.filter(pl.col("role") == "qc").group_by(
        "sheet", "sample", "qc_kind", maintain_order=True
    )
    return [
        f'{sheet}!{cell_name(row, col)}: "{sample}" is a {kind}, {n} value{"s" * (n > 1)}'
        for sheet, sample, kind, row, col, n in rows.agg(
            pl.col("row").first(), pl.col("col").first(), pl.len()
        ).iter_rows()
    ]


def _unknown(cells: pl.DataFrame) -> list[str]:
    names = cells.filter(pl.col("role") == "unknown").unique(["sheet", "text"], maintain_order=True)
    return [
        f'{sheet}!{cell_name(row, col)}: "{text}"'
        for sheet, row, col, text in names.select("sheet", "row", "col", "text").iter_rows()
    ]


def _hidden(cells: pl.DataFrame) -> list[str]:
    told = []
    for (sheet,), part in cells.group_by("sheet", maintain_order=True):
        if part["hidden"].fill_null(False).all():
            told.append(f"sheet {sheet}")
            continue
        rows, columns = sorted(hidden_lines(part, "row")), sorted(hidden_lines(part, "col"))
        told += [f"{sheet}: rows {', '.join(map(str, rows))}"] if rows else []
        told += [f"{sheet}: columns {', '.join(map(column_letters, columns))}"] if columns else []
    return told
