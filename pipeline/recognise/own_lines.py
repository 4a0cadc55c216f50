"""One table of a user's own layout while it is read: its columns, its lines, what each says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from pipeline.names.heading import heading_says
from pipeline.readers import Readers
from pipeline.recognise.grid import Spot, fold_text
from pipeline.recognise.places import Field, says_any
from schemas.layout import Place
from schemas.vocabulary import squash

_NAMES = {"sample", "lab_sample", "analyte"}
_UNIT_LIKE = re.compile(r"[(\[,][^()\[\],]*/[^()\[\],]*")
_SUMS = ("meanof", "averageof", "recovery")


@dataclass(frozen=True)
class OwnLines:
    """One table while it is read, in the grid it is read in."""

    own: Field
    readers: Readers
    skipped: list[int] = field(default_factory=list)

    def of_axis(self, axis: str) -> dict[str, Place]:
        return {p.name: p for p in self.own.table.fields if self.own.axis(p) == axis}

    @cached_property
    def head(self) -> int:
        """The line of the headings."""
        names = self.of_axis("row").get("analyte")
        return self.own.cell(names)[0] if names else self.own.start[0]

    @cached_property
    def beside(self) -> dict[str, tuple[int, int]]:
        """How far down and right of each value a field of its own stands."""
        return {name: self.own.steps(p) for name, p in self.of_axis("value").items()}

    @cached_property
    def columns(self) -> dict[str, int]:
        """The column of each field that stands on every line."""
        return {name: self.own.cell(p)[1] for name, p in self.of_axis("column").items()}

    @cached_property
    def lines(self) -> dict[str, int]:
        """The line of each field that stands in every column."""
        return {n: self.own.cell(p)[0] for n, p in self.of_axis("row").items()}

    def spot(self, row: int, col: int) -> Spot | None:
        return self.own.grid.at(row, col)

    def meaning(self, name: str, text: str | None) -> str | None:
        """What a printed word means by the layout; the word itself where the layout is silent."""
        known = self.own.layout.meanings.get(name, {})
        return next((m for t, m in known.items() if text and fold_text(t) == fold_text(text)), text)

    def told(self, text: str) -> str | None:
        """Which analyte the layout says a printed name is; null where it is silent.

        "P1 (mg/L)" is P1 when the layout names P1. A name with a unit that is not known stays
        untold, for the unit of the whole table would else be taken for its own.
        """
        heading = self.readers.names.heading(text)
        if heading.unit is None and _UNIT_LIKE.search(text):
            return None
        for printed in (text, heading.spelled or ""):
            if (meant := self.meaning("analyte", printed)) != printed:
                return meant
        return None

    def read(self, name: str, row: int, col: int) -> str | None:
        spot = self.spot(row, col)
        if spot is None or name == "analyte":
            return spot.text if spot else None
        return self.meaning(name, spot.exact)

    @cached_property
    def value_columns(self) -> list[tuple[int, Place | None]]:
        """The columns that hold results; with the layout's own words for each, where it has any."""
        own = self.own
        if own.table.results != "crossing":
            return [(own.cell(place)[1], place) for place in own.table.values]
        after = [right for down, right in self.beside.values() if right]
        found: list[int] = []
        for col in self._headed():
            if not any(col - step in found for step in after):
                found.append(col)
        return [(col, None) for col in found]

    def _headed(self) -> Iterator[int]:
        """The columns under a heading that are no field and are not to be left out."""
        own = self.own
        used = {c for spots in own.grid.rows.values() for c in spots}
        merged = {c for r, c in own.grid.covers if r == self.head}
        for col in sorted(c for c in used | merged if own.left <= c <= own.right):
            head = self.spot(self.head, col)
            if head and col not in self.columns.values() and not says_any(head, own.table.ignore):
                yield col

    @cached_property
    def samples(self) -> list[int]:
        """The lines that hold results: from below the header to the end, or to the first without any."""
        own, found = self.own, list[int]()
        values = [c for c, _ in self.value_columns]
        apart = [down for down, right in self.beside.values() if down]
        first = max(own.start[0], self.head) + 1 + own.table.skip
        for row in range(first, own.bottom + 1):
            spots = own.grid.rows.get(row, {})
            if own.table.end and says_any_in(spots, own.table.end):
                break
            if row in self.lines.values() or any(row - step in found for step in apart):
                continue
            words = {
                c: s for c, s in spots.items() if c not in values and own.left <= c <= own.right
            }
            if any(says_any(s, own.table.ignore) for s in words.values()) or self._sums_up(row):
                self.skipped.append(row)
            elif any(c in spots for c in values):
                found.append(row)
            elif not own.table.end and found:
                break
        return found

    def _sums_up(self, row: int) -> bool:
        """Tell a line of means or totals by the cell that would name the sample or the analyte."""
        words = self.readers.names.vocabulary.row_words
        named = [self.spot(row, c) for n, c in self.columns.items() if n in _NAMES]
        keys = [squash(s.text) for s in named if s]
        return any(words.get(key) == "aggregate" or key.startswith(_SUMS) for key in keys)

    def line_row(self, row: int) -> dict[str, object]:
        made: dict[str, object] = {"line": row, "line_struck": False, "spilled": False}
        made |= {f"{n}_line": row + down for n, (down, _) in self.beside.items() if down}
        for name, col in self.columns.items():
            spot = self.spot(row, col)
            made["line_struck"] = made["line_struck"] or bool(
                spot and spot.struck and name in _NAMES
            )
            made[f"raw_{name}"] = self.read(name, row, col)
        if "analyte" in self.columns:
            made["told_analyte"] = self.told(str(made["raw_analyte"] or ""))
        return made

    def column_row(self, col: int, place: Place | None) -> dict[str, object]:
        made: dict[str, object] = {"column": col}
        if place is None:
            head = self.spot(self.head, col)
            text = head.text if head else ""
            said = heading_says(self.readers.names.heading(text))
            made |= {f"raw_{k}": v for k, v in said.items() if k != "spread"}
            made |= {"spread": said.get("spread"), "raw_analyte": text}
            made |= {"column_struck": bool(head and head.struck), "told_analyte": self.told(text)}
        else:
            head = self.spot(self.own.cell(place)[0], col)
            said = heading_says(self.readers.names.heading(head.text)) if head else {}
            printed = {k: v for k, v in said.items() if k != "spread"}
            made |= {f"raw_{k}": v for k, v in {**place.facts, **printed}.items()}
        for name, row in self.lines.items():
            if name != "analyte" and (text_below := self.read(name, row, col)):
                made[f"raw_{name}"] = text_below
        return made | {f"{n}_at": col + right for n, (_, right) in self.beside.items() if right}

    def fixed(self) -> dict[str, str]:
        own = self.own
        said = dict(own.table.fixed)
        for name, place in self.of_axis("sheet").items():
            spot = self.spot(*own.cell(place))
            text = _cut(spot.exact, place, own) if spot else None
            if text and name == "analyte":
                said |= {"told_analyte": self.told(text) or ""}
            if text:
                said[name] = self.meaning(name, text) or text if name != "analyte" else text
        return {name: text for name, text in said.items() if text}


def says_any_in(spots: dict[int, Spot], wanted: str) -> bool:
    """Tell whether a line prints a text in one of its cells."""
    return any(says_any(spot, (wanted,)) for spot in spots.values())


def _cut(text: str, place: Place, own: Field) -> str:
    """Cut the part between two texts out of a cell's text."""
    start, end = 0, len(text)
    if place.after:
        at = text.casefold().find(place.after.casefold())
        if at < 0:
            raise own.refuse(f'{own.grid.name(*own.cell(place))} ("{text}") lacks "{place.after}"')
        start = at + len(place.after)
    if place.before and (at := text.casefold().find(place.before.casefold(), start)) >= 0:
        end = at
    return text[start:end].strip(" :-–,;")
