"""Read a sheet with a layout that the user wrote: its words say where each field lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.errors import FileRefused
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Region, Regions
from pipeline.recognise.own_blocks import OwnBlock, own_block
from pipeline.recognise.places import applies, find_text, place_tables
from pipeline.recognise.roles import ROLES
from pipeline.recognise.statements import Statements, said_by
from schemas.layout import Block, OwnLayout
from schemas.vocabulary import fold_unit, squash


@dataclass(frozen=True)
class OwnReading:
    """A sheet read with a user's own layout."""

    grid: Grid
    layout: OwnLayout
    parts: tuple[OwnBlock, ...]

    def blocks_where(self, dash_means: str | None = None) -> list[Block]:
        """The tables of the sheet, on which a lone dash means what its legend says."""
        return [replace(part.block, dash_means=dash_means) for part in self.parts]

    @property
    def taken(self) -> Regions:
        """The cells that the layout speaks of."""
        places = {place for part in self.parts for place in part.roles}
        tables = [Region(p.rows, p.columns) for p in self.parts]
        single = [Region(frozenset({r}), frozenset({c})) for r, c in places]
        return Regions((*tables, *(s for s in single if not any(s.meets(t) for t in tables))))

    def roles(self, said: Statements) -> pl.DataFrame:
        """Tabulate the role of each printed cell of the sheet."""
        roles = dict.fromkeys(said.cells, "metadata")
        for part in self.parts:
            roles |= dict.fromkeys(part.ignored, "aggregate")
        for part in self.parts:
            roles |= part.roles
        rows = [
            (self.grid.sheet, r, c, roles.get((r, c), "unused")) for r, c, _ in self.grid.spots()
        ]
        return pl.DataFrame(rows, schema=ROLES, orient="row")

    def notices(self, said: Statements, readers: Readers) -> list[str]:
        """Say what the layout left out, and which numbers stand outside its tables."""
        told = f'{self.grid.sheet}: layout "{self.layout.name}"'
        left_out = sorted({name for part in self.parts for name in part.left_out})
        notices = [f"{told} leaves out {', '.join(left_out)}"] if left_out else []
        used = {place for part in self.parts for place in part.roles}
        lost = [
            self.grid.name(r, c)
            for r, c, s in self.grid.spots()
            if s.kind in {"number", "error", "formula"}
            and (r, c) not in used
            and (r, c) not in said.cells
            and not any((r, c) in part.ignored for part in self.parts)
        ]
        if lost:
            count = "1 number" if len(lost) == 1 else f"{len(lost)} numbers"
            notices.append(
                f"{told} does not read {count} (first: {lost[0]}); see cinderlot preview"
            )
        return notices


def read_by_layout(
    grid: Grid, layouts: Sequence[OwnLayout], file: str, readers: Readers
) -> OwnReading | None:
    """Read a sheet with the one layout that applies to it; null when none does.

    Raises FileRefused when two layouts apply, when a text the layout names stands nowhere or twice,
    or when two tables claim one cell.
    """
    fitting = [layout for layout in layouts if applies(grid, layout)]
    if not fitting:
        return None
    if len(fitting) > 1:
        raise FileRefused(file, _rivals(grid, *fitting[:2]))
    layout = fitting[0]
    parts = tuple(own_block(field, readers) for field in place_tables(grid, layout, file))
    for number, part in enumerate(parts):
        for other in parts[:number]:
            both = part.values & other.values
            both |= part.lent_from(other) | other.lent_from(part)
            if both:
                raise FileRefused(file, _clash(grid, layout, other, part, min(both)))
    return OwnReading(grid, layout, parts)


def _clash(
    grid: Grid, layout: OwnLayout, first: OwnBlock, second: OwnBlock, cell: tuple[int, int]
) -> str:
    return (
        f'{grid.sheet}: layout "{layout.name}" ({layout.file}): the tables that start in '
        f"{first.block.header_cell} and {second.block.header_cell} both claim {grid.name(*cell)}; "
        "correct where the second takes its facts from, or where the first ends"
    )


def _rivals(grid: Grid, first: OwnLayout, second: OwnLayout) -> str:
    places = [grid.name(*find_text(grid, layout.texts[0])[0]) for layout in (first, second)]
    return (
        f'{grid.sheet}: two layouts fit: "{first.name}" ({first.file}, by {places[0]}) and '
        f'"{second.name}" ({second.file}, by {places[1]}); nothing was loaded. Give one of them '
        "another text under [when]"
    )


def refuse_contradiction(own: OwnReading, said: Statements, file: str, readers: Readers) -> None:
    """Refuse a sheet that prints another form, unit or matrix than its layout says.

    Only what the layout says for all of a table is compared, and only with cells outside tables.
    """
    told = {
        name: {b.fixed.get(name) for b in own.blocks_where()} for name in ("form", "unit", "matrix")
    }
    stated = [(s.row, s.col, s.field, s.value) for s in said.found]
    stated += [
        (row, col, name, text)
        for row, col, spot in said.loose
        if spot.kind == "text" and squash(spot.text) not in readers.names.vocabulary.row_words
        for name, text in said_by(spot, readers).items()
        if name != "unit" or not any(c.isdigit() for c in spot.text)
    ]
    for row, col, name, text in stated:
        meant = _meaning(name, text, readers)
        known = {_meaning(name, value, readers) for value in told.get(name, set()) if value}
        if meant and known and meant not in known:
            says = next(value for value in told[name] if value)
            raise FileRefused(
                file,
                f'{own.grid.sheet}: layout "{own.layout.name}" ({own.layout.file}) says {name} '
                f'"{says}", but {own.grid.name(row, col)} says "{text}"; take the {name} from the '
                "sheet, or correct the layout",
            )


def _meaning(name: str, text: str, readers: Readers) -> str | None:
    """What a printed form, unit or matrix stands for; any wine is the same, where no colour is told."""
    names = readers.names
    if name == "form":
        return names.heading(text).form or names.title(text).form
    if name == "unit":
        unit = names.vocabulary.units.get(fold_unit(text))
        return unit.name if unit else None
    matrix = names.vocabulary.matrices.get(squash(text)) if name == "matrix" else None
    return None if matrix == "wine" else matrix
