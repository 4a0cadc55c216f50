"""What an address asks for: filters, grouping, order and place, and the address of another view."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from difflib import get_close_matches
from typing import Any
from urllib.parse import urlencode

from pipeline.errors import WrongUse
from pipeline.store.select import DAYS, FILTERS, ORDERS, RANGES
from pipeline.trends import DIMENSIONS

# The filters that stand in the form, and how they are called; the others come by following a link.
SHOWN = {
    "analyte": "Analyte", "form": "Form", "vintage": "Vintage", "vineyard": "Vineyard",
    "variety": "Variety", "stage": "Stage", "lab": "Laboratory", "sample_kind": "Kind of sample",
}  # fmt: skip
WORDS = SHOWN | {
    "matrix": "Matrix", "unit": "Unit", "method": "Method", "expressed_as": "Expressed as",
    "sample_id": "Sample", "lot": "Lot", "block": "Block", "grower": "Grower", "region": "Region",
    "from": "Sampled from", "to": "Sampled until", "low": "At least", "high": "At most",
}  # fmt: skip
# How an address says "not given"; an empty value means that nothing was typed.
NONE = "(not given)"
ORDER_WORDS = {
    "newest": "newest first", "oldest": "oldest first", "highest": "highest first",
    "lowest": "lowest first", "lot": "by lot", "lot-down": "by lot, last first",
    "what": "by analyte", "what-down": "by analyte, last first", "stage": "by stage",
    "stage-down": "by stage, last first", "lab": "by laboratory",
    "lab-down": "by laboratory, last first",
}  # fmt: skip
LARGEST = 10_000_000
ROWS = ("25", "100", "250")
LONGEST = 200
# What an address can carry; more rows are better chosen by filters.
MOST_MARKED = 50
Pairs = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Asked:
    """A view: which results are chosen, what they are grouped by, their order, and which page.

    `marks` are the single results to be drawn by themselves, each named by its source cell.
    """

    chosen: Mapping[str, tuple[str | None, ...]] = field(default_factory=dict)
    by: str = "vineyard"
    order: str = "newest"
    page: int = 1
    rows: int = 25
    every: bool = False
    marks: tuple[str, ...] = ()

    def selection(self) -> dict[str, tuple[str | None, ...]]:
        """Give what the store is asked for: the lots' own samples unless a kind was chosen."""
        return {"sample_kind": ("lot",), **self.chosen}

    def marked(self) -> dict[str, tuple[str | None, ...]]:
        """Give what the store is asked for when only the marked results are wanted."""
        return {**self.selection(), "mark": self.marks}

    def link(self, path: str, **changes: Any) -> str:
        """Write the address of a view; `changes` replace the grouping, order or page."""
        view = replace(self, **{"page": 1, **changes})
        pairs = [
            (name, v if v is not None else NONE)
            for name in FILTERS
            for v in view.chosen.get(name, ())
        ]
        plain = Asked()
        pairs += [
            (name, str(getattr(view, name)))
            for name in ("by", "order", "page", "rows")
            if getattr(view, name) != getattr(plain, name)
        ]
        pairs += [("every", "1")] if view.every else []
        pairs += [("mark", mark) for mark in view.marks]
        return f"{path}?{urlencode(pairs)}" if pairs else path

    def narrowed(self, **values: str | None) -> Asked:
        """Choose one value in each of some filters, in the place of what was chosen there."""
        return replace(self, chosen={**self.chosen, **{n: (v,) for n, v in values.items()}}, page=1)

    def dropping(self, *names: str) -> Asked:
        """Take filters out as a whole."""
        kept = {n: v for n, v in self.chosen.items() if n not in names}
        return replace(self, chosen=kept, page=1)

    def without(self, name: str, value: str | None) -> Asked:
        """Take one value out of a filter."""
        kept = tuple(v for v in self.chosen.get(name, ()) if v != value)
        rest = {n: v for n, v in self.chosen.items() if n != name}
        return replace(self, chosen={**rest, name: kept} if kept else rest, page=1)


def _one_of(name: str, value: str, allowed: Sequence[str]) -> str:
    if value in allowed:
        return value
    near = get_close_matches(value, allowed, n=1, cutoff=0.6)
    hint = f"did you mean {near[0]}?" if near else f"use one of {', '.join(allowed)}"
    raise WrongUse(f'{name} "{value[:LONGEST]}" is not known; {hint}')


def _whole(name: str, value: str) -> int:
    if value.isascii() and value.isdigit() and 1 <= int(value[:9]) <= LARGEST and len(value) < 9:
        return int(value)
    raise WrongUse(f'{name} "{value[:LONGEST]}" is no page; use a whole number from 1')


def _end(name: str, value: str) -> str:
    """Read an end of a range: a day, or a finite number."""
    try:
        if name in DAYS:
            return date.fromisoformat(value).isoformat()
        number = float(value)
    except ValueError:
        number = math.nan
    if math.isfinite(number):
        return f"{number:.15g}"
    wanted = "a day such as 2026-03-01" if name in DAYS else "a number such as 1.5"
    raise WrongUse(f'{name} "{value[:LONGEST]}" cannot be read; use {wanted}')


def _marks(marks: tuple[str, ...], mark: str) -> tuple[str, ...]:
    marks = tuple(dict.fromkeys((*marks, mark)))
    if len(marks) > MOST_MARKED:
        raise WrongUse(f"at most {MOST_MARKED} results can be marked; choose them by filters")
    return marks


def read_view(pairs: Pairs) -> Asked:
    """Read a view from the pairs of an address; raise WrongUse for what is not known or too long.

    An empty value is what a form sends where nothing was typed, and asks for nothing.
    """
    chosen: dict[str, tuple[str | None, ...]] = {}
    rest = Asked()
    for name, value in pairs:
        if len(value) > LONGEST:
            raise WrongUse(f"the value of {name[:40]} is too long; shorten the address")
        if not value:
            continue
        if name == "by":
            rest = replace(rest, by=_one_of("by", value, DIMENSIONS))
        elif name == "order":
            rest = replace(rest, order=_one_of("order", value, tuple(ORDERS)))
        elif name == "page":
            rest = replace(rest, page=_whole("page", value))
        elif name == "rows":
            rest = replace(rest, rows=int(_one_of("rows", value, ROWS)))
        elif name == "every":
            rest = replace(rest, every=value == "1")
        elif name == "mark":
            rest = replace(rest, marks=_marks(rest.marks, value))
        elif name in RANGES:
            chosen[name] = (_end(name, value),)
        else:
            known = _one_of("the filter", name, FILTERS)
            wanted = None if value == NONE else value
            chosen[known] = tuple(dict.fromkeys((*chosen.get(known, ()), wanted)))
    return replace(rest, chosen=chosen)


def read_text(pairs: Pairs, name: str) -> str:
    """Read one value from the pairs of an address; empty when it is not there."""
    value = next((v for n, v in pairs if n == name), "")
    if len(value) > 10 * LONGEST:
        raise WrongUse(f"the value of {name} is too long; shorten the address")
    return value
