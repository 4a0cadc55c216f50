"""Read the labels between the lines of a table: the panel, matrix or form of the lines below them."""

from __future__ import annotations

import re
from typing import Protocol

from pipeline.readers import Readers
from pipeline.recognise.cell_pairs import pairs_in_text
from pipeline.recognise.grid import Grid
from pipeline.recognise.statements import said_by
from schemas.vocabulary import squash

# What says that a table goes on: on another page, or below.
ONGOING = re.compile(
    r"\b(?:page|seite|p[aá]gina|continued|cont|suite|fortsetzung|continuaci[oó]n|continua\w*|segue)\b",
    re.IGNORECASE,
)


# What a label such as "Vineyard: North" may tell of the samples below it.
_FACTS = {"lot", "vineyard", "block", "grower", "region", "variety", "vintage", "stage"}


class _Sorted(Protocol):
    samples: list[int]
    notes: list[int]


def read_panels(
    grid: Grid, found: _Sorted, stub: list[int], readers: Readers
) -> dict[int, dict[str, str]]:
    """Map the lines below a label such as "Bound (mg/L)" or "White wines" to what it says of them.

    A label that nothing explains ends what those above it say of form and matrix.
    """
    labels = {r: said for r in found.notes if (said := _label_says(grid, r, stub, readers))}
    if grid.swapped or not labels or not found.samples:
        return {}
    labels |= _ending_labels(grid, found, labels, stub, readers)
    panels: dict[int, dict[str, str]] = {}
    for row in found.samples:
        for label in (r for r in sorted(labels) if r < row):
            panels[row] = panels.get(row, {}) | labels[label]
    return panels


def _ending_labels(
    grid: Grid, found: _Sorted, labels: dict[int, dict[str, str]], stub: list[int], readers: Readers
) -> dict[int, dict[str, str]]:
    """Map labels that nothing explains to themselves, as form and matrix: no vocabulary has them.

    They are called as briefly as the labels above them, and samples follow them at once. Where one
    stands right below a label that is understood, they part its lines and end nothing.
    """
    ending: dict[int, dict[str, str]] = {}
    for row in found.notes:
        above = [r for r in labels if r < row]
        if not above or row + 1 not in found.samples or not is_label(grid, row, stub, readers):
            continue
        if any(r + 1 in found.notes for r in above):
            continue
        text = next(iter(grid.rows[row].values())).text
        told = {name for r in above for name in labels[r]}
        ending[row] = {name: text for name in ("form", "matrix") if name in told}
    return ending


def is_label(grid: Grid, row: int, stub: list[int], readers: Readers) -> bool:
    """Tell a short label, which nothing explains, from a remark and from the number of a page."""
    spots = grid.rows[row]
    text = next(iter(spots.values())).text.strip()
    brief = len(text.split()) <= 4 and not ONGOING.search(text) and text[-1:] not in ".;*"
    return brief and spots.keys() <= set(stub) and is_title(grid, row, readers)


def _label_says(grid: Grid, row: int, stub: list[int], readers: Readers) -> dict[str, str]:
    spots = grid.rows[row]
    if len(spots) != 1 or not spots.keys() <= set(stub):
        return {}
    spot = next(iter(spots.values()))
    if spot.kind != "text" or len(spot.text) > 80:
        return {}
    heading = readers.names.heading(spot.text)
    said = {
        k: v for k in ("form", "unit") if not heading.is_measurand and (v := getattr(heading, k))
    }
    said |= {k: v for k, v in said_by(spot, readers).items() if k in {"form", "unit"}}
    matrix = readers.names.vocabulary.matrices.get(squash(spot.text.rstrip(" :")))
    matrix = matrix or readers.names.matrix_in(spot.text)
    said |= {"matrix": matrix} if matrix and len(spot.text.split()) <= 4 else {}
    pairs = pairs_in_text(spot.text, readers.names) if ":" in spot.text else []
    return said | {name: value.strip() for name, value in pairs if name in _FACTS}


def is_title(grid: Grid, row: int, readers: Readers) -> bool:
    """Tell a title that says nothing known: neither a form nor a matrix, label or measurand."""
    spots = list(grid.rows[row].values())
    if len(spots) != 1 or spots[0].kind != "text":
        return False
    text, names = spots[0].text, readers.names
    read = names.heading(text)
    known = read.field or read.is_measurand or read.form or read.unit or names.matrix_in(text)
    known = known or names.vocabulary.matrices.get(squash(text.rstrip(" :")))
    return not known and len(text) <= 60 and names.heading(text.partition(":")[0]).field is None
