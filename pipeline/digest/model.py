"""What a digest says, before it is drawn as a page or written as a workbook."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

import polars as pl

from pipeline.digest.lots import Finding, Subject
from pipeline.digest.paths import Course, Mark
from pipeline.digest.picking import Picking
from schemas.judgement import NextStep

__all__ = [
    "MOST_DETAILED", "Batch", "Change", "Counts", "Course", "Digest", "Finding", "Gap", "Held",
    "Mark", "Reserve", "Subject",
]  # fmt: skip

# The worst lots are told in full; a longer page is no longer read, the workbook has them all.
MOST_DETAILED = 100
MOST_NAMED = 12


@dataclass(frozen=True)
class Counts:
    """The numbers of the first line."""

    lots: int
    flagged: int
    undecided: int
    held: int
    reports: int
    without_panel: int
    without_lot: int
    without_lot_flagged: int = 0
    free_only: int = 0
    changed_since: int = 0
    retests_due: int = 0
    lots_waiting: int = 0
    suspected: int = 0
    lots_doubted: int = 0
    registered: int = 0


@dataclass(frozen=True)
class Gap:
    """Something that was not looked at: a line each, and `names` of what the lines are about."""

    title: str
    lines: tuple[str, ...]
    next_step: str
    names: tuple[str, ...]


@dataclass(frozen=True)
class Held:
    """Values held back for one reason."""

    reason: str
    count: int
    next_step: str


@dataclass(frozen=True)
class Change:
    """How one lot stands against the last digest that was published."""

    kind: str
    subject: str
    what: str
    by: str = ""

    @property
    def text(self) -> str:
        """Say what changed, and the report that changed it."""
        return f"{self.what} ({self.by})" if self.by else self.what


@dataclass(frozen=True)
class Reserve:
    """A lot whose bound part is large while no free phenol is above a threshold."""

    subject: str
    facts: str
    size: str
    fraction: str
    basis: str
    compared: str
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Batch:
    """A report's values of one method and day, with the controls that failed or warned."""

    name: str
    failed: int
    findings: tuple[str, ...]
    lots: tuple[str, ...]
    sources: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """Say whether a control failed or only warned."""
        return "failed" if self.failed else "warned"

    @property
    def named_lots(self) -> str:
        """Name the lots of the batch; of many the first and how many more."""
        if len(self.lots) > MOST_NAMED:
            return f"{', '.join(self.lots[:MOST_NAMED])} and {len(self.lots) - MOST_NAMED} more"
        return ", ".join(self.lots)


@dataclass(frozen=True)
class Digest:
    """Everything the page and the workbook say; `state` names it by its facts."""

    made_at: datetime
    previous_at: datetime | None
    counts: Counts
    gaps: tuple[Gap, ...]
    held: tuple[Held, ...]
    changes: tuple[Change, ...]
    flagged: tuple[Subject, ...]
    undecided: tuple[Subject, ...]
    below: tuple[Subject, ...]
    reserves: tuple[Reserve, ...]
    notices: tuple[Finding, ...]
    unjudged: tuple[tuple[str, str], ...]
    settings: tuple[tuple[str, str], ...]
    tables: dict[str, pl.DataFrame] = field(default_factory=dict)
    batches: tuple[Batch, ...] = ()
    picking: tuple[Picking, ...] = ()
    assumed: tuple[str, ...] = ()
    next_steps: tuple[NextStep, ...] = ()
    unknown_varieties: tuple[str, ...] = ()
    state: str = ""
