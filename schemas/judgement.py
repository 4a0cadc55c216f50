"""What decisions are judged with beside thresholds and settings: `judgement.toml`, loaded."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True)
class Event:
    """What was done to a lot: `explains` a change of the bound share, `adds` to the total."""

    words: str
    explains: bool
    adds: bool
    kind: str | None = None
    agents: tuple[str, ...] = ()


@dataclass(frozen=True)
class OtherSource:
    """A source other than smoke, `short` in a word; empty conditions always hold."""

    analytes: tuple[str, ...]
    short: str
    words: str
    source: str
    intervention: str | None = None
    within_days: int | None = None
    variety: tuple[str, ...] = ()
    matrix: tuple[str, ...] = ()


@dataclass(frozen=True)
class NextStep:
    """What a colleague would do: `short` beside a lot, `words` once."""

    name: str
    short: str
    words: str


@dataclass(frozen=True)
class Advice:
    """When steps are said; null or empty conditions always hold."""

    steps: tuple[str, ...]
    kind: str | None = None
    decision: str | None = None
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class Judgement:
    """Shares have no unit; each has its source beside it."""

    control_points: int
    level_gap: float
    level_reports: int
    limit_share: float
    limit_share_source: str
    limit_driven: float
    limit_driven_source: str
    laboratories_source: str
    events: tuple[Event, ...]
    other_sources: tuple[OtherSource, ...]
    next_steps: tuple[NextStep, ...]
    advice: tuple[Advice, ...]


def _frozen(entry: dict[str, Any]) -> dict[str, Any]:
    return {k: tuple(v) if isinstance(v, list) else v for k, v in entry.items()}


@cache
def load_judgement() -> Judgement:
    """Read `judgement.toml` once per process."""
    table = tomllib.loads(files("schemas").joinpath("judgement.toml").read_text(encoding="utf-8"))
    events = tuple(Event(**_frozen(e)) for e in table.pop("event"))
    others = tuple(OtherSource(**_frozen(s)) for s in table.pop("other_source"))
    steps = tuple(NextStep(**_frozen(s)) for s in table.pop("next_step"))
    advice = tuple(Advice(**_frozen(a)) for a in table.pop("advice"))
    return Judgement(**table, events=events, other_sources=others, next_steps=steps, advice=advice)
