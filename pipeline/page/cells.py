"""A source cell: what was printed in it, what was read from it, and what stands around it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.addresses import cell_name, column_letters
from pipeline.errors import FileRefused, WrongUse
from pipeline.page.asked import Pairs, read_text
from pipeline.page.listing import shown_value, what
from pipeline.page.places import lot_link
from pipeline.page.site import Site
from pipeline.phrases import shown_unit
from pipeline.store import Store

ROWS, COLUMNS = 5, 4
LONGEST = 60
_A1 = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
Row = dict[str, Any]


@dataclass(frozen=True)
class Around:
    """The cells around one: column letters, and for each row its number and texts.

    `note` says where they come from; `refused` why the file itself could not be shown.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    note: str
    refused: str | None


def place(cell: str) -> tuple[int, int]:
    """Turn an A1 address into a 1-based row and column; raise WrongUse when it is none."""
    found = _A1.fullmatch(cell)
    if found is None:
        raise WrongUse(f'"{cell[:40]}" is no cell; an address looks like C7')
    column = 0
    for letter in found[1]:
        column = 26 * column + ord(letter) - 64
    return int(found[2]), column


def window(texts: dict[tuple[int, int], str], row: int, column: int) -> tuple[Any, Any]:
    """Cut the rows and columns around a cell out of a sheet's texts."""
    columns = range(max(column - COLUMNS, 1), column + COLUMNS + 1)
    rows = range(max(row - ROWS, 1), row + ROWS + 1)
    return (
        tuple(column_letters(c) for c in columns),
        tuple((r, tuple(_cut(texts.get((r, c), "")) for c in columns)) for r in rows),
    )


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"


def _sheet(cells: pl.DataFrame, name: str) -> dict[tuple[int, int], str]:
    """Take one sheet's texts; a text file has one sheet, whatever its name."""
    sheets = cells["sheet"].unique().to_list()
    mine = cells.filter(pl.col("sheet") == (name if len(sheets) > 1 else (sheets or [name])[0]))
    return {(r, c): text for r, c, text in mine.select("row", "col", "text").iter_rows()}


def around(site: Site, store: Store, report: Row, sheet: str, cell: str) -> Around:
    """Show the cells around one: from the file itself, else the values the store keeps of it."""
    row, column = place(cell)
    cells = site.read_again(report["file"], report["sha256"])
    if not isinstance(cells, FileRefused):
        columns, rows = window(_sheet(cells, sheet), row, column)
        return Around(
            columns, rows, "Read again from the file, whose bytes are those loaded.", None
        )
    printed = site.browse(store).printed(report["load_no"], sheet)
    known = {place(c): text or "" for c, text in printed.iter_rows() if _A1.fullmatch(c or "")}
    columns, rows = window(known, row, column)
    note = "Only the value cells, as the store keeps them; headings are in the file."
    return Around(columns, rows, note, cells.message)


def find_report(site: Site, store: Store, pairs: Pairs) -> tuple[Row, int]:
    """Find the report an address means, by its name or its file, and count the others of that file.

    Raises WrongUse when there is none.
    """
    browser, name, file = site.browse(store), read_text(pairs, "report"), read_text(pairs, "file")
    names = [name] if name else browser.reports_of_file(file)
    found = browser.report(names[0]) if names else None
    if found is None:
        raise WrongUse(f'no report "{(name or file)[:200]}" is stored; follow a link from a result')
    return found, len(names) - 1


def _value_row(row: Row) -> Row:
    spread = row["expanded_uncertainty"]
    return row | {
        "what": what(row),
        "shown": shown_value(row),
        "lot_link": lot_link(row["lot"]) if row["lot"] else None,
        "unit_shown": shown_unit(row["unit"]),
        "u": row["standard_uncertainty"],
        "spread": spread,
    }


def cell_view(site: Site, store: Store, pairs: Pairs) -> tuple[str, Row]:
    """Show where a number stands: file, sheet, cell, the printed text and what stands around it."""
    report, others = find_report(site, store, pairs)
    sheet, cell = read_text(pairs, "sheet"), read_text(pairs, "cell").upper()
    row, column = place(cell)
    found = site.browse(store).in_cell(report["load_no"], sheet, cell)
    values = [_value_row(v) for v in found["values"].iter_rows(named=True)]
    held, unused = (found[part].to_dicts() for part in ("held", "unused"))
    printed = next((r["raw_value"] for r in (*values, *held, *unused)), None)
    return "cell", {
        "title": f"Cell {cell_name(row, column)} of {report['file']}",
        "report": report, "others": others, "sheet": sheet, "cell": cell_name(row, column),
        "printed": printed, "values": values, "held": held, "unused": unused,
        "around": around(site, store, report, sheet, cell),
        "at": (row, column_letters(column)),
    }  # fmt: skip
