"""A sheet as a grid of printed cells, and the same sheet with rows and columns swapped."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from typing import NamedTuple

import polars as pl

from pipeline.addresses import cell_name
from pipeline.names.replicates import count_replicated
from schemas.layout import NUMBER_FIELDS, TYPED_THREE
from schemas.vocabulary import squash

# A number that its format shows with zeros in front, as numbers of samples are.
_PADDED = re.compile(r"0\d+")


class Spot(NamedTuple):
    """One printed cell: its text, the text at full precision, its kind and its spans."""

    text: str
    exact: str
    kind: str
    row_span: int
    col_span: int
    struck: bool = False

    @property
    def is_text(self) -> bool:
        """Tell whether the cell is words or a notation rather than a typed number or date."""
        return self.kind == "text"

    @property
    def stated(self) -> str:
        """The text at full precision, where a typed number's point cannot be taken for thousands."""
        return re.sub(TYPED_THREE, r"\g<0>0", self.exact) if self.kind == "number" else self.exact

    def said(self, field: str) -> str:
        """The text at full precision, as it is to be read for a field; a name keeps its zeros."""
        if self.kind == "number" and field not in NUMBER_FIELDS and _PADDED.fullmatch(self.text):
            return self.text
        return self.stated if field in NUMBER_FIELDS else self.exact


def fold_text(text: str) -> str:
    """Fold case, spaces and a last colon, as a person compares two labels."""
    return " ".join(text.casefold().split()).rstrip(": ")


@dataclass(frozen=True)
class Region:
    """The cells where some rows and some columns of a sheet cross."""

    rows: frozenset[int]
    columns: frozenset[int]

    def __contains__(self, place: tuple[int, int]) -> bool:
        return place[0] in self.rows and place[1] in self.columns

    def meets(self, other: Region) -> bool:
        """Tell whether two regions share a cell."""
        return bool(self.rows & other.rows) and bool(self.columns & other.columns)


@dataclass(frozen=True)
class Regions:
    """Several regions of one sheet."""

    parts: tuple[Region, ...]

    def __contains__(self, place: tuple[int, int]) -> bool:
        return any(place in part for part in self.parts)


@dataclass(frozen=True)
class Grid:
    """A sheet: `rows[row][column]` is a Spot; absent where the sheet is empty."""

    sheet: str
    rows: dict[int, dict[int, Spot]]
    swapped: bool = False

    @cached_property
    def turned(self) -> Grid:
        """The same sheet with rows and columns swapped."""
        rows: dict[int, dict[int, Spot]] = {}
        for row, spots in self.rows.items():
            for col, s in spots.items():
                # One spot serves both ways, which halves what a large sheet takes.
                turned = s if s[3] == s[4] else s._replace(row_span=s.col_span, col_span=s.row_span)
                rows.setdefault(col, {})[row] = turned
        ordered = {r: dict(sorted(rows[r].items())) for r in sorted(rows)}
        return Grid(self.sheet, ordered, not self.swapped)

    @cached_property
    def covers(self) -> dict[tuple[int, int], tuple[int, int]]:
        """Map each cell inside a merged range to the range's first cell."""
        return {
            (row + i, col + j): (row, col)
            for row, spots in self.rows.items()
            for col, spot in spots.items()
            if spot[3] > 1 or spot[4] > 1
            for i in range(min(spot.row_span, 500))
            for j in range(min(spot.col_span, 500))
        }

    @cached_property
    def by_text(self) -> dict[str, list[tuple[int, int]]]:
        """Map each folded text to the cells that print it, in reading order."""
        places: dict[str, list[tuple[int, int]]] = {}
        for row, col, spot in self.spots():
            places.setdefault(fold_text(spot.text), []).append((row, col))
        return places

    @cached_property
    def _printed(self) -> dict[int, Counter[str]]:
        return {}

    def printed(self, col: int) -> Counter[str]:
        """Count the texts of a column, so that a name is looked up once."""
        if col not in self._printed:
            texts = (spots[col].text.strip() for spots in self.rows.values() if col in spots)
            self._printed[col] = Counter(texts)
        return self._printed[col]

    @cached_property
    def _printed_like(self) -> dict[int, Counter[str]]:
        return {}

    def printed_like(self, col: int) -> Counter[str]:
        """Count the texts of a column by their letters and figures alone."""
        if col not in self._printed_like:
            counted = self._printed_like.setdefault(col, Counter())
            for text, times in self.printed(col).items():
                counted[squash(text)] += times
        return self._printed_like[col]

    @cached_property
    def _replicated(self) -> dict[int, Counter[str]]:
        return {}

    def replicated(self, col: int) -> Counter[str]:
        """Count, in small letters, what stands before the mark of a replicate in a column."""
        if col not in self._replicated:
            self._replicated[col] = count_replicated(self.printed(col))
        return self._replicated[col]

    def at(self, row: int, col: int) -> Spot | None:
        """The cell at a place; inside a merged range the range's first cell."""
        spot = self.rows.get(row, {}).get(col)
        if spot is None and (row, col) in self.covers:
            home = self.covers[row, col]
            spot = self.rows[home[0]][home[1]]
        return spot

    def spots(self) -> Iterator[tuple[int, int, Spot]]:
        """Every cell in row, then column order."""
        for row, spots in self.rows.items():
            for col, spot in spots.items():
                yield row, col, spot

    def outside(self, taken: Regions) -> list[tuple[int, int, Spot]]:
        """List the cells that stand in none of the regions, in reading order."""
        loose = []
        for row, spots in self.rows.items():
            columns = {c for part in taken.parts if row in part.rows for c in part.columns}
            loose += [(row, col, spots[col]) for col in spots if col not in columns]
        return loose

    def name(self, row: int, col: int) -> str:
        """The cell's address on the sheet, such as C7."""
        if self.swapped:
            row, col = col, row
        return cell_name(row, col)


def read_grids(cells: pl.DataFrame) -> list[Grid]:
    """Turn Cells into one grid per sheet, in the order of the sheets.

    Dates become ISO text and plain numbers their full precision in `Spot.exact`.
    """
    exact = (
        pl.when(pl.col("kind") == "date")
        .then(pl.col("date").cast(pl.String))
        .when((pl.col("kind") == "number") & ~pl.col("shown_wins"))
        .then(_plain_number())
        .otherwise(pl.col("text"))
        .fill_null(pl.col("text"))
    )
    # Texts that are equal are one text here: apart, a large sheet would take half as much again.
    texts = cells["text"].to_list()
    differing = cells.select(pl.when(exact != pl.col("text")).then(exact)).to_series().to_list()
    exacts = [t if e is None else e for t, e in zip(texts, differing, strict=True)]
    kinds = map({kind: kind for kind in cells["kind"].unique()}.__getitem__, cells["kind"])
    shown = zip(texts, exacts, kinds, *cells["row_span", "col_span", "struck"], strict=True)
    # A large sheet has many cells: without the constructor's Python each is made in half the time.
    spots = map(partial(tuple.__new__, Spot), shown)
    grids: dict[str, dict[int, dict[int, Spot]]] = {}
    for sheet in cells["sheet"].unique(maintain_order=True):
        rows = grids.setdefault(sheet, {})
        places = cells.filter(pl.col("sheet") == sheet).select("row", "col").rows()
        for (row, col), spot in zip(places, spots, strict=False):
            rows.setdefault(row, {})[col] = spot
    return [Grid(sheet, rows) for sheet, rows in grids.items()]


def _plain_number() -> pl.Expr:
    number = pl.col("number")
    whole = (number == number.round(0)) & (number.abs() < 1e15)
    return (
        pl.when(whole)
        .then(number.cast(pl.Int64, strict=False).cast(pl.String))
        .otherwise(number.cast(pl.String))
    )
