"""Strips that show how results spread over values and days, and take a range by dragging."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.digest.words import number
from pipeline.page.asked import Asked
from pipeline.page.site import Site
from pipeline.phrases import shown_unit
from pipeline.store import Store
from pipeline.store.select import DAYS, VALUES

BINS, WIDTH, HEIGHT = 40, 320, 46


@dataclass(frozen=True)
class Column:
    """One bin as drawn: its place, and the heights of known numbers and of intervals on top."""

    x: float
    y: float
    known: float
    spans: float


@dataclass(frozen=True)
class Strip:
    """How the chosen results spread; `low` and `high` are the names of the ends in the address.

    `chosen` is where the range lies on the strip (x and width), null without one; `marks` are
    places and words of its axis.
    """

    title: str
    kind: str
    low: str
    high: str
    start: str
    end: str
    columns: tuple[Column, ...]
    chosen: tuple[float, float] | None
    marks: tuple[tuple[float, str], ...]
    said: str


def _columns(rows: list[dict[str, Any]]) -> tuple[Column, ...]:
    most, step = max(r["n_known"] + r["n_spans"] for r in rows), WIDTH / BINS
    tall = HEIGHT / most
    return tuple(
        Column(
            round(r["place"] * step, 2), round(HEIGHT - (r["n_known"] + r["n_spans"]) * tall, 2),
            round(r["n_known"] * tall, 2), round(r["n_spans"] * tall, 2),
        )
        for r in rows
    )  # fmt: skip


def _range(low: float | None, high: float | None) -> tuple[float, float] | None:
    if low is None and high is None:
        return None
    ends = [min(max(end, 0.0), 1.0) for end in (low or 0.0, 1.0 if high is None else high)]
    return round(WIDTH * ends[0], 2), round(WIDTH * max(ends[1] - ends[0], 0.004), 2)


def _given(asked: Asked, name: str) -> str | None:
    return next(iter(asked.chosen.get(name, ())), None)


def _of_values(found: pl.DataFrame, asked: Asked, unit: str) -> Strip | None:
    rows = found.to_dicts()
    if not rows or not rows[0]["top"]:
        return None
    top = rows[0]["top"]
    ends = [
        None if (end := _given(asked, name)) is None else (max(float(end), 0.0) / top) ** 0.5
        for name in VALUES
    ]
    marks = tuple((WIDTH * share, number(top * share**2)) for share in (0.0, 0.25, 0.5, 0.75, 1.0))
    n = sum(r["n_known"] + r["n_spans"] for r in rows)
    return Strip(
        f"Values, {shown_unit(unit)}", "number", *VALUES, "0", f"{top:.6g}", _columns(rows),
        _range(*ends), marks, f"{n:,} results from 0 to {number(top)} {shown_unit(unit)}",
    )  # fmt: skip


def _of_days(found: pl.DataFrame, asked: Asked) -> Strip | None:
    rows = found.to_dicts()
    if not rows or rows[0]["first"] == rows[0]["last"]:
        return None
    first, last = rows[0]["first"], rows[0]["last"]
    span = (last - first).days
    ends = [
        None
        if (end := _given(asked, name)) is None
        else (date.fromisoformat(end) - first).days / span
        for name in DAYS
    ]
    marks = tuple(
        (WIDTH * share, f"{first + timedelta(days=round(span * share)):%Y-%m}")
        for share in (0.0, 0.5, 1.0)
    )
    n = sum(r["n_known"] + r["n_spans"] for r in rows)
    return Strip(
        "Days of sampling", "date", *DAYS, first.isoformat(), last.isoformat(), _columns(rows),
        _range(*ends), marks, f"{n:,} results from {first} to {last}",
    )  # fmt: skip


def strips(site: Site, store: Store, asked: Asked) -> tuple[list[Strip], list[tuple[str, str]]]:
    """Draw how results of one analyte and form spread, whatever range is chosen of them.

    Where they have several units nothing is drawn: gives the units, each with its address.
    """
    whole = asked.dropping(*DAYS, *VALUES)
    key = whole.link("units", by="vineyard", order="newest", rows=25, every=False, marks=())
    units: list[str] = site.remember(key, lambda: site.browse(store).units(whole.selection()))
    if len(units) != 1:
        links = [(shown_unit(u) or u, asked.narrowed(unit=u).link("/results")) for u in units]
        return [], links
    found: dict[str, pl.DataFrame] = site.remember(
        key.replace("units", "spread", 1),
        lambda: site.browse(store).spread(whole.selection(), units[0], BINS),
    )
    both = (_of_values(found["values"], asked, units[0]), _of_days(found["days"], asked))
    return [strip for strip in both if strip], []
