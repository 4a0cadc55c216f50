"""Numbers above the marks of a chart: lifted by lines where they would touch each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.digest.axis import LETTER, LINE

# From a mark to the number above it; half the width of a mark; most lines a number is lifted by.
GAP, _MARK, _MOST_LIFTS = 7, 6, 3


@dataclass(frozen=True)
class Box:
    """What a number or a mark covers, in pixels; heights from the ground up."""

    left: float
    right: float
    bottom: float
    top: float

    def touches(self, other: Box) -> bool:
        """Tell whether two boxes share some of their area."""
        across = self.left < other.right and other.left < self.right
        return across and self.bottom < other.top and other.bottom < self.top


@dataclass(frozen=True)
class Label:
    """A number to write: the middle of its column, top and foot of its mark, in pixels, and its text."""

    middle: float
    above: float
    foot: float
    text: str

    @property
    def mark(self) -> Box:
        """Give what the mark below the number covers."""
        return Box(self.middle - _MARK, self.middle + _MARK, self.foot - _MARK, self.above + _MARK)

    def lifted(self, lines: int) -> Box:
        """Give what the number covers when it is lifted by so many lines."""
        rows = self.text.split("\n")
        half = 0.5 * LETTER * max(map(len, rows)) + 1
        bottom = self.above + GAP + lines * LINE
        return Box(self.middle - half, self.middle + half, bottom, bottom + len(rows) * LINE - 4)


def lifts(labels: Sequence[Label]) -> list[int]:
    """Give by how many lines each number is lifted so that it touches neither number nor mark.

    `labels` from left to right. Where nothing helps, a number stays where it is.
    """
    placed: list[Box] = []
    chosen: list[int] = []
    for label in labels:
        others = [*placed, *(other.mark for other in labels if other is not label)]
        free = (
            lines
            for lines in range(_MOST_LIFTS + 1)
            if not any(label.lifted(lines).touches(box) for box in others)
        )
        chosen.append(next(free, 0))
        placed.append(label.lifted(chosen[-1]))
    return chosen
