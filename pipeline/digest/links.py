"""Links from the workbook back to the cell a number was printed in."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from urllib.parse import quote

from openpyxl.cell import Cell, MergedCell
from openpyxl.worksheet.hyperlink import Hyperlink

# Kinds of file whose sheet and cell a link can name; others are opened at their beginning.
_WITH_CELLS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")


def reachable(
    reports: Iterable[tuple[str, str]], folders: Sequence[Path], out: Path
) -> dict[str, str]:
    """Find loaded files again: file -> address relative to the folder `out`.

    `reports` are (file, sha256). Only a file whose bytes are those that were loaded counts; members
    of archives and files that are not found in `folders` are left out.
    """
    found = {}
    for file, sha256 in dict(reports).items():
        places = (folder / file for folder in folders)
        place = next((p for p in places if p.is_file() and _sha256(p) == sha256), None)
        if place is not None:
            way = os.path.relpath(place.resolve(), out.resolve())
            found[file] = quote(Path(way).as_posix())
    return found


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def first_place(row: Mapping[str, object]) -> tuple[str, str, str] | None:
    """Give file, sheet and cell a row points to: its own, else the first of `cells`; else null."""
    if row.get("cell"):
        return str(row["file"]), str(row["sheet"]), str(row["cell"])
    file, _, place = str(row.get("cells") or "").partition("; ")[0].rpartition("|")
    sheet, _, cell = place.rpartition("!")
    return (file, sheet, cell) if cell else None


def link(cell: Cell | MergedCell, place: tuple[str, str, str], found: Mapping[str, str]) -> None:
    """Link a cell to its source where the file was found; else it stays text."""
    file, sheet, at = place
    if file not in found or not isinstance(cell, Cell):
        return
    named = "'" + sheet.replace("'", "''") + f"'!{at}"
    inside = named if file.lower().endswith(_WITH_CELLS) else None
    cell.hyperlink = Hyperlink(ref=cell.coordinate, target=found[file], location=inside)
