"""Compare two readings of one file cell by cell: what a new layout would read otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from schemas.report import STORED

# What is printed, who decided it and where it came from may differ; what it is may not.
_ASIDE = ("report_id", "lab", "report_no", "revision", "file", "sheet", "cell", "qualifier",
          "outcome")  # fmt: skip
_COMPARED = [n for n in STORED if n not in _ASIDE and not n.startswith("raw_")]
_AT = ["sheet", "cell"]
_FACTS = ("lab", "report_no", "revision", "replaces", "reported_on")
State = Mapping[tuple[str, str], Mapping[str, Any]]


def states(
    stored: pl.DataFrame, held: pl.DataFrame, unused: pl.DataFrame
) -> dict[tuple[str, str], dict[str, Any]]:
    """Say of each value cell what became of it: its outcome, and the columns of a stored number.

    A corrected number counts as what its correction makes of it.
    """
    found: dict[tuple[str, str], dict[str, Any]] = {}
    corrected = pl.when(pl.col("qc_kind").is_null()).then(pl.lit("result")).otherwise(pl.lit("qc"))
    outcome = pl.when(pl.col("outcome") == "corrected").then(corrected).otherwise("outcome")
    for frame in (
        stored.select(*_AT, outcome.alias("outcome"), *_COMPARED),
        held.select(*_AT, outcome=pl.format("held as {}", "reason_code")),
        unused.select(*_AT, "outcome"),
    ):
        for row in frame.iter_rows(named=True):
            found[row.pop("sheet"), row.pop("cell")] = row
    return found


def first_difference(
    before: State, after: State, decided: State, facts: tuple[Mapping[str, Any], Mapping[str, Any]]
) -> str | None:
    """Say what a second reading gives otherwise than decided, or than the first; null where nothing.

    `decided` are the states of the cells that were decided on; `facts` what each reading says of
    the report.
    """
    for name in _FACTS:
        was, now = facts[0].get(name), facts[1].get(name)
        if was != now:
            return f"the report's {name} would be {_shown(now)} and no longer {_shown(was)}"
    for place in sorted({*before, *after}, key=_in_order):
        cell = f"{place[0]}!{place[1]}"
        if why := _difference(before.get(place), after.get(place), decided.get(place)):
            return f"with it {cell} {why}"
    return None


def _difference(
    was: Mapping[str, Any] | None, now: Mapping[str, Any] | None, decided: Mapping[str, Any] | None
) -> str | None:
    if was is None:
        return "would be read too, which is no value of the table"
    if now is None:
        return "would not be read any more"
    wanted = was if decided is None else decided
    if now == wanted:
        return None
    if now["outcome"] != wanted["outcome"]:
        if decided is None and str(was["outcome"]).startswith("held"):
            return f"would be {_said(now)}, although it is {was['outcome']} and not decided; decide it too"
        return f"would be {_said(now)}, not {_said(wanted)}"
    name = next(n for n in wanted if wanted[n] != now.get(n))
    return f"would have {_shown(now.get(name))} as {name}, not {_shown(wanted[name])}"


def _said(state: Mapping[str, Any]) -> str:
    return {"result": "a result", "repeated": "a repeat", "qc": "quality control"}.get(
        state["outcome"], str(state["outcome"]).replace("_", " ")
    )


def _shown(value: object) -> str:
    return "nothing" if value is None else f'"{value}"' if isinstance(value, str) else str(value)


def _in_order(place: tuple[str, str]) -> tuple[str, int, int, str]:
    sheet, cell = place
    letters = cell.rstrip("0123456789")
    return sheet, int(cell[len(letters) :] or 0), len(letters), letters
