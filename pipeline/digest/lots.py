"""What a digest says of one lot: findings, and what stands beside them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.digest.paths import Course
from pipeline.digest.timeline import Moment
from pipeline.digest.words import GROWTH, plural
from schemas.judgement import NextStep

# A source of so many words stands in full where it is named.
_FEW_WORDS = 5
QUIET = "no growth of the bound share"
# Stands behind a probability that rests on an assumed uncertainty; explained once.
ASSUMED_MARK = "*"
# The unit of a growth, which its value has named when its threshold follows.
POINTS = "\u00a0percentage points"


@dataclass(frozen=True)
class Finding:
    """One current flag in words; texts carry their units."""

    kind: str
    decision: str
    severity: str
    subject: str
    what: str
    message: str
    value: str
    threshold: str
    sure: str
    why: str
    lab: str
    method: str
    sources: tuple[str, ...]
    notes: tuple[str, ...] = ()
    assumed: str = ""
    odds: str = ""
    perhaps: tuple[str, ...] = ()
    size: str = ""

    @property
    def limit(self) -> str:
        """Give the threshold's number without its source."""
        return self.threshold.partition(", ")[0]

    @property
    def source(self) -> str:
        """Give where the threshold comes from."""
        return self.threshold.partition(", ")[2]

    @property
    def whose(self) -> str:
        """Say in two or three words whose the threshold is; the whole source stands in `source`."""
        named = re.match(r"([^,(]+), .*\((\d{4})\)", self.source)
        if named:
            return f"{named[1]} {named[2]}"
        if self.source.startswith("settings"):
            return "settings"
        if "common practice" in self.source:
            return "common practice"
        return self.source if self.source.count(" ") < _FEW_WORDS else ""

    @property
    def chance(self) -> str:
        """Say how sure it is in a number, marked where the uncertainty is assumed."""
        mark = ASSUMED_MARK if self.assumed else ""
        return f"{self.odds}{mark}" if self.odds else ("no uncertainty known" if self.sure else "")

    @property
    def told(self) -> str:
        """Say how sure it is against which number, with a mark where the uncertainty is assumed."""
        above = f"above {self.limit.removesuffix(POINTS)}" if self.limit else "above"
        if self.odds and self.kind == GROWTH:
            return f"{above}; that it rose at all: {self.chance} probable"
        if self.odds:
            return f"{above}: {self.chance} probable"
        return f"{above}; no uncertainty known" if self.sure else ""


@dataclass(frozen=True)
class Subject:
    """A lot, or a sample that no lot is known for."""

    name: str
    is_lot: bool
    state: str
    known: Mapping[str, Any]
    stage: str
    sampled_on: date | None
    labs: str
    why: str
    above: tuple[Finding, ...]
    undecided: tuple[Finding, ...]
    below: tuple[Finding, ...]
    unjudged: tuple[Finding, ...]
    notices: tuple[Finding, ...]
    not_judged: tuple[str, ...]
    bound: str
    growth: tuple[tuple[str, str], ...]
    history: tuple[str, ...]
    tastings: tuple[str, ...]
    exposure: str
    numbers: tuple[tuple[str, ...], ...]
    timeline: tuple[Moment, ...] = ()
    next_steps: tuple[NextStep, ...] = ()
    origin: tuple[str, ...] = ()
    course: Course | None = None
    chart: str = ""
    n_held: int = 0
    held: str = ""
    n_doubted: int = 0
    doubted: str = ""

    @property
    def glance(self) -> str:
        """Give the short name, and beside it how many of its values are in no decision."""
        held = f"{plural(self.n_held, 'value')} held back" if self.n_held else ""
        doubted = f"{self.n_doubted} suspected" if self.n_doubted else ""
        left = ", ".join(part for part in (held, doubted) if part)
        return f"{self.short} ({left})" if left else self.short

    @property
    def facts(self) -> str:
        """Say variety, vintage, vineyard and block, as far as known."""
        return self._facts("variety", "vintage")

    @property
    def facts_of_one_vintage(self) -> str:
        """Say variety, vineyard and block where all lots are of one vintage."""
        return self._facts("variety")

    def _facts(self, *names: str) -> str:
        place = " ".join(str(self.known[n]) for n in ("vineyard", "block") if self.known.get(n))
        parts = (*(self.known.get(name) for name in names), place)
        return ", ".join(str(part) for part in parts if part)

    @property
    def short(self) -> str:
        """Give the name without the laboratory of a sample that has no lot."""
        return self.name if self.is_lot else self.name.partition(" (")[0]

    @property
    def matters(self) -> tuple[tuple[Finding, ...], ...]:
        """Give what is above, the laboratories that say the same of one matter side by side."""
        by_matter: dict[str, list[Finding]] = {}
        for found in self.above:
            by_matter.setdefault(found.what, []).append(found)
        return tuple(tuple(found) for found in by_matter.values())

    @property
    def exposed(self) -> str:
        """Say the exposure in a few words; empty where it was not judged."""
        return "" if self.exposure.startswith("not") else self.exposure.partition(" of unexp")[0]

    @property
    def has_several_labs(self) -> bool:
        """Tell whether more than one laboratory has something above."""
        return len({found.lab for found in self.above}) > 1

    @property
    def at(self) -> str:
        """Name the laboratory where all that is above is of one."""
        return "" if self.has_several_labs else next((found.lab for found in self.above), self.labs)

    @property
    def moved(self) -> tuple[str, ...]:
        """Give where a change since fermentation came from; a lot that stayed says so in `more`."""
        return tuple(line for line in self.origin if not line.startswith(QUIET))

    @property
    def stayed(self) -> tuple[str, ...]:
        """Give, as sentences, that nothing grew since fermentation."""
        quiet = (line for line in self.origin if line.startswith(QUIET))
        return tuple(f"Since fermentation: {line}." for line in quiet)

    @property
    def events(self) -> tuple[Moment, ...]:
        """Give the days on which something was done, tasted or decided."""
        return tuple(moment for moment in self.timeline if not moment.is_sample)

    @property
    def more(self) -> tuple[str, ...]:
        """Give, as sentences, what stands behind the lines of the lot: sources, exposure, days."""
        exposed = (f"Exposure: {self.exposure}.",) if self.exposed else ()
        told = (found.message for found in self.notices)
        days = (f"{moment.on} {moment.what}." for moment in self.events)
        return (*self.notes, *exposed, *self.stayed, *told, *days)

    @property
    def behind(self) -> str:
        """Say what is folded behind the lines of the lot."""
        kinds = (
            ("other sources", self.notes), ("exposure", self.exposed),
            ("growth", self.stayed),
            ("questions", self.notices or self.held or self.doubted),
            ("days", self.events),
        )  # fmt: skip
        return ", ".join((*(name for name, held in kinds if held), "cells"))

    @property
    def headlines(self) -> tuple[str, ...]:
        """Give what is above, one line per matter; where laboratories differ, the worse."""
        worst: dict[str, str] = {}
        for found in self.above:
            worst.setdefault(found.what, f"{found.what} {found.value}")
        return tuple(worst.values())

    @property
    def notes(self) -> tuple[str, ...]:
        """Give what else to know of what is above, each sentence once."""
        return tuple(dict.fromkeys(note for found in self.above for note in found.notes))

    @property
    def perhaps(self) -> tuple[str, ...]:
        """Name in a word each what else than smoke may be behind what is above."""
        return tuple(dict.fromkeys(name for found in self.above for name in found.perhaps))

    @property
    def line(self) -> str:
        """Say how far above the worst matter is, how sure that is, and what else may be behind it.

        Where laboratories differ, it is the worse.
        """
        worst = self.above[0]
        chance = worst.chance.replace("over ", ">")
        if worst.odds and worst.kind == GROWTH:
            chance += " that it rose"
        return ", ".join(
            part for part in (worst.size, chance, *(f"{n}?" for n in self.perhaps)) if part
        )

    @property
    def anchor(self) -> str:
        """Give the name as an identifier a link within the page can point to."""
        return "lot-" + "".join(c if c.isalnum() else f"-{ord(c):x}-" for c in self.name)
