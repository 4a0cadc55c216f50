"""Read "Result", "U" and "LOD" beside the names of samples: below them where they stand side by side.

In the swapped grid, where each sample is a line, these labels are a column too: they say for each
line whether it holds results, or what belongs to the results of the line beside it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from pipeline.names import ATTACHED_FIELDS
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.header_line import Header
from pipeline.recognise.label_kinds import OTHER, label_kind
from schemas.vocabulary import squash

_BESIDE = ATTACHED_FIELDS - {"qualifier"}


def find_kinds(header: Header, found: Columns) -> None:
    """Find the column of nothing but labels for results and for what stands beside them.

    Where the labels of results give units or numbers of replicates, these stand nearest.
    """
    taken = {found.corner, *found.fields.values()}
    for col in range(header.left, found.first_value):
        texts = [s.text for s in _labels(header, col)] if col not in taken else []
        kinds = {label_kind(text, header.readers) for text in texts}
        results = kinds & {"result", "mean"}
        if not results or None in kinds or len(kinds) < 2:
            continue
        found.kinds = col
        found.means = "mean" if "result" in kinds else None
        read = [header.readers.names.heading(text) for text in texts]
        held = [h for h in read if label_kind(h.text, header.readers) in {"result", "mean"}]
        found.fields |= {"unit": col} if any(h.unit for h in held) else {}
        found.fields |= {"replicate": col} if any(h.replicate for h in held) else {}
        return


def _labels(header: Header, col: int) -> Iterator[Spot]:
    """The cells of a column up to the first empty line: what is beyond stands beside the table."""
    row = header.run.row + 1
    while spots := header.grid.rows.get(row):
        if col in spots:
            yield spots[col]
        row += 1


@dataclass
class KindLines:
    """Lines beside results by their labels, until all lines of their samples are known."""

    grid: Grid
    columns: Columns
    readers: Readers
    found: list[tuple[str, int]] = field(default_factory=list)
    others: list[int] = field(default_factory=list)
    labels: dict[int, int] = field(default_factory=dict)
    _last: str | None = None
    _at: int = 0

    def take(self, row: int) -> bool:
        """Keep a line labelled "U", "LOD" or "Remark"; False where it holds results."""
        kind = self._kind(row)
        if kind in _BESIDE:
            self.found.append((kind, row))
        if kind == OTHER or (kind and kind == self.columns.means):
            self.others.append(row)
        return kind in ATTACHED_FIELDS or row in self.others[-1:]

    def _kind(self, row: int) -> str | None:
        """Name what a line is labelled; "U" over "Free | Total" speaks for the line beside it too."""
        if self.columns.kinds is None:
            return None
        spot = self.grid.at(row, self.columns.kinds)
        own = self.grid.rows[row]
        name, form = self.columns.fields.get("sample", 0), self.columns.fields.get("form", 0)
        if spot or name in own or form not in own:
            self._last = label_kind(spot.text, self.readers) if spot else None
            self._at = row
        self.labels[row] = self._at
        return self._last

    def general(self, samples: Sequence[int]) -> dict[str, int]:
        """Map each kind but uncertainties that stands once to its line: it holds for all samples.

        Not so where a merged name spans it or other samples follow: then it is that sample's.
        """
        kinds = [kind for kind, _ in self.found]
        groups = self._groups(samples)
        ones = {groups[r] for r in samples} if len(samples) > 1 and self.found else set()
        name = self.columns.fields.get("sample", 0)
        return {
            kind: row
            for kind, row in self.found
            if kinds.count(kind) == 1
            and kind not in _SPREADS
            and not (
                groups[row] in ones and ((row, name) in self.grid.covers or row < max(samples))
            )
        }

    def attach(self, samples: Sequence[int]) -> dict[int, dict[str, int]]:
        """Map each line of results to the lines beside it: those below its own name and form.

        A line beside several results belongs to the one before it; of replicates a limit belongs to
        each and an uncertainty to none. What has no result below its name belongs to nothing.
        """
        beside: dict[int, dict[str, int]] = {}
        groups = self._groups(samples)
        runs, named = defaultdict[object, list[int]](list), defaultdict[object, list[int]](list)
        for row in samples if self.found else ():
            runs[groups[row]].append(row)
            named[groups[row][1:]].append(row)
        for kind, row in self.found:
            own = runs.get(groups[row]) or named.get(groups[row][1:], [])
            before = [r for r in own if r < row]
            if "replicate" in self.columns.fields and len(own) > 1:
                owners = [] if kind in _SPREADS else own
            else:
                owners = before[-1:] or (own if len(own) == 1 else [])
            for owner in owners:
                beside.setdefault(owner, {}).setdefault(kind, row)
        return beside

    def _groups(self, samples: Sequence[int]) -> dict[int, tuple[object, ...]]:
        """Number the runs of lines that share what names and tells apart the samples, and say it.

        An empty cell goes on with the one before it.
        """
        fields = self.columns.fields
        keys = [fields[n] for n in ("sample", "form") if n in fields]
        groups: dict[int, tuple[object, ...]] = {}
        if not self.found:
            return groups
        last: dict[int, str] = {}
        number = 0
        for row in sorted([*samples, *(row for _, row in self.found)]):
            said = {c: squash(s.text) for c in keys if (s := self.grid.at(row, c))}
            number += any(last.get(c) != text for c, text in said.items())
            last |= said
            groups[row] = (number, *(last.get(c) for c in keys))
        return groups


_SPREADS = {"uncertainty", "deviation"}
