"""The value axis of a chart's rows: where it ends, how high it is, and where the numbers go."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from pipeline.digest.axis import LETTER, LINE, Columns, Spec, folded
from pipeline.digest.labels import GAP, Label, lifts
from pipeline.digest.model import Mark


@dataclass(frozen=True)
class Scale:
    """The value axis of a row: where it ends, in the unit of the values, and its height in pixels."""

    top: float
    height: int


def mark_rows(marks: tuple[Mark, ...], ceiling: float, lifted: tuple[int, ...] = ()) -> list[Spec]:
    """Lay marks out as rows: slot, series, lower, upper, low, high, label, is_point, lift.

    `low` and `high` span what is drawn: the interval of a censored value (up to `ceiling` where its
    upper end is open), or value less and plus its expanded uncertainty. `lift` is by how many lines
    the number stands higher than above its mark.
    """
    return [
        {
            "slot": m.slot,
            "series": m.series,
            "lower": m.lower,
            "upper": m.upper,
            "low": max(m.lower - (m.spread or 0.0), 0.0) if m.is_point else m.lower,
            "high": m.lower + (m.spread or 0.0) if m.is_point else (m.upper or ceiling),
            "label": m.label,
            "is_point": m.is_point,
            "lift": lift,
        }
        for m, lift in zip(marks, lifted or [0] * len(marks), strict=True)
    ]


def top_of(marks: tuple[Mark, ...], threshold: float | None, room: float) -> float:
    """Give the end of the value axis; `room` is the share of it that the numbers above need."""
    ends = [(m.upper or m.lower) + (m.spread or 0.0) for m in marks]
    open_ends = [2 * m.lower for m in marks if m.upper is None]
    return max([*ends, *open_ends, threshold or 0.0, 1e-9]) / (1 - room)


def _fitted(marks: Iterable[Mark], width: float) -> tuple[Mark, ...]:
    """Set the number of an interval on two lines where its column is too narrow."""
    return tuple(
        replace(m, label=folded(m.label)) if len(m.label) * LETTER + 6 > width else m for m in marks
    )


def _lifted(marks: tuple[Mark, ...], scale: Scale, columns: Columns) -> tuple[int, ...]:
    """Give by how many lines each number is lifted."""
    labels = (
        Label(
            (columns.slots.index(row["slot"]) + 0.5) * columns.slot,
            scale.height * min(row["high"] / scale.top, 1),
            scale.height * row["low"] / scale.top,
            row["label"],
        )
        for row in mark_rows(marks, scale.top)
    )
    return tuple(lifts(list(labels)))


def _scale(marks: tuple[Mark, ...], limit: float | None, height: int, lines: int) -> Scale:
    """Leave room for so many lines above the highest mark; more than one make the row higher."""
    whole = height + (lines - 1) * LINE
    return Scale(top_of(marks, limit, (lines * LINE + GAP) / whole), whole)


def _lines_needed(marks: tuple[Mark, ...], lifted: tuple[int, ...]) -> int:
    above = (m.label.count("\n") + n for m, n in zip(marks, lifted, strict=True))
    return 1 + max(above, default=0)


def fit_rows(
    parts: Iterable[tuple[Mark, ...]], limit: float | None, height: int, columns: Columns
) -> list[tuple[tuple[Mark, ...], tuple[int, ...], Scale]]:
    """Bring rows to one scale: give of each its marks, how their numbers are lifted, and the scale.

    `height` is that of a row, in pixels, where each number stands on one line above its mark.
    """
    fitted = [_fitted(marks, columns.slot) for marks in parts]
    together = tuple(mark for marks in fitted for mark in marks)
    lines = _lines_needed(together, (0,) * len(together))
    while True:
        scale = _scale(together, limit, height, lines)
        lifted = [_lifted(marks, scale, columns) for marks in fitted]
        told = max(map(_lines_needed, fitted, lifted), default=0)
        if told <= lines:
            return [(m, n, scale) for m, n in zip(fitted, lifted, strict=True)]
        lines = told
