"""The path of a lot through its stages, as it is drawn."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """A value on a chart: a point when `lower` equals `upper`, else an interval.

    Unit as the chart's; a null upper end has no bound; `spread` is the expanded uncertainty, null
    when none is stated.
    """

    slot: str
    series: str
    lower: float
    upper: float | None
    spread: float | None
    label: str

    @property
    def is_point(self) -> bool:
        """Tell whether the value was quantified."""
        return self.upper is not None and self.lower == self.upper


@dataclass(frozen=True)
class Course:
    """A lot's path through its stages; slots in the order of a lot's life."""

    slots: tuple[str, ...]
    title: str
    unit: str
    marks: tuple[Mark, ...]
    threshold: float | None
    panel_title: str
    panel_unit: str
    panel: tuple[Mark, ...]
    notes: tuple[str, ...]
    spoken: str
