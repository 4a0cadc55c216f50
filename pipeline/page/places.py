"""Addresses of lots and of source cells."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode


def lot_link(lot: str, **more: str) -> str:
    """Write the address of a lot's page."""
    return f"/lot?{urlencode({'lot': lot, **more})}"


def cell_link(row: Mapping[str, Any]) -> str:
    """Write the address of the cell a result stands in."""
    place = {"report": row["report_id"], "sheet": row["sheet"], "cell": row["cell"]}
    return f"/cell?{urlencode(place)}"


def mark_of(row: Mapping[str, Any]) -> str:
    """Name a result by its source cell, as the address of a view with marked results does."""
    return f"{row['report_id']} {row['sheet']}!{row['cell']}"


def reference_links(cells: str | None) -> list[tuple[str, str]]:
    """Split stored references `file|sheet!cell; ...` into words and addresses."""
    links = []
    for reference in (cells or "").split("; "):
        file, _, place = reference.rpartition("|")
        sheet, _, cell = place.rpartition("!")
        if cell:
            address = urlencode({"file": file, "sheet": sheet, "cell": cell})
            links.append((f"{sheet}!{cell}", f"/cell?{address}"))
    return links
