"""Choose which results of the store a trend is taken from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import TYPE_CHECKING

import polars as pl

from pipeline.errors import WrongUse
from schemas.vocabulary import load_vocabulary

if TYPE_CHECKING:
    from pipeline.store import Browser, Store

_WORDS = {"vintage": "vintage", "variety": "variety", "matrix": "matrix", "lab": "laboratory"}


@dataclass(frozen=True)
class Choice:
    """Which results count: one of some values in each column, days of sampling; empty is all."""

    vintage: tuple[str, ...] = ()
    variety: tuple[str, ...] = ()
    matrix: tuple[str, ...] = ()
    lab: tuple[str, ...] = ()
    since: date | None = None
    until: date | None = None

    def columns(self) -> dict[str, tuple[str, ...]]:
        """Give the columns in which something is chosen."""
        return {name: getattr(self, name) for name in _WORDS if getattr(self, name)}


def _stored(name: str, typed: str, known: list[str]) -> str:
    """Find a value as it is stored, whatever its capitals; raise WrongUse for one that is not."""
    folded = {value.casefold(): value for value in known}
    key = typed.strip().casefold()
    if key in folded:
        return folded[key]
    near = get_close_matches(key, folded, n=1, cutoff=0.6)
    hint = f"did you mean {folded[near[0]]}?" if near else f"known: {', '.join(known[:12])}"
    raise WrongUse(
        f'no result is of {_WORDS[name]} "{typed}"; {hint if known else "none is known at all"}'
    )


def _known(browser: Browser, name: str) -> list[str]:
    if name == "matrix":
        return list(load_vocabulary().matrix_words)
    return [value for value in browser.facets((name,))[name] if value is not None]


def _sampled(choice: Choice) -> pl.Expr:
    day = pl.col("sampled_on")
    return (pl.lit(True) if choice.since is None else day >= choice.since) & (
        pl.lit(True) if choice.until is None else day <= choice.until
    )


def choose_results(
    store: Store, analyte: str, by: str, choice: Choice, *, sample_kind: str = "lot"
) -> tuple[pl.DataFrame, int]:
    """Take the chosen results of one analyte, and count those left out for want of a day.

    The frame is what `trend` takes over `by`. Both days count. Raises WrongUse for a value that no
    result has, with the nearest one, and for a period that ends before it begins.
    """
    if choice.since and choice.until and choice.since > choice.until:
        raise WrongUse(f"--since {choice.since} is after --until {choice.until}; exchange them")
    browser = store.browse()
    chosen = {
        name: [_stored(name, value, _known(browser, name)) for value in values]
        for name, values in choice.columns().items()
    }
    found = browser.for_trend({"analyte": [analyte], "sample_kind": [sample_kind], **chosen}, by)
    if choice.since is None and choice.until is None:
        return found, 0
    return found.filter(_sampled(choice)), found["sampled_on"].null_count()
