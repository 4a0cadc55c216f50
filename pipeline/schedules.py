"""Say when a run is due that comes back every week, every day or every few hours."""

from __future__ import annotations

from datetime import datetime, timedelta

from pipeline.settings import Serving
from pipeline.settings.rules import DAYS

_HOURS = {"week": 168, "day": 24}
_A_MONDAY = datetime(2024, 1, 1)


def last_due(serving: Serving, now: datetime) -> datetime:
    """Give the last time at or before `now` at which a run was due; local time, without a zone."""
    first, step = _first(serving), _step(serving)
    return first + (now - first) // step * step


def next_due(serving: Serving, now: datetime) -> datetime:
    """Give the first time after `now` at which a run is due; local time, without a zone.

    In clock time, so that a week is a week when the clocks change.
    """
    return last_due(serving, now) + _step(serving)


def _step(serving: Serving) -> timedelta:
    return timedelta(hours=_HOURS.get(str(serving.every)) or int(serving.every))


def _first(serving: Serving) -> datetime:
    day = _A_MONDAY + timedelta(days=DAYS.index(serving.day))
    return datetime.combine(day, serving.at)
