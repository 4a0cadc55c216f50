"""What the markers say of exposure to smoke, in one line; never of what can be tasted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.digest.words import plural

KIND = "above_background"


def exposure(rows: Iterable[Mapping[str, Any]], variety: str | None) -> str:
    """Say how many markers of a lot lie above the background of unexposed fruit or wine.

    `rows` are the lot's current flags. Where laboratories or samples differ the one with most
    markers above is told; empty where no background was looked for, because the matrix has none.
    """
    samples: dict[tuple[Any, Any], list[Mapping[str, Any]]] = {}
    for row in rows:
        if row["kind"] == KIND:
            samples.setdefault((row["lab"], row["sample_id"]), []).append(row)
    if not samples:
        return "" if variety else "not judged: the variety is not known"
    return _told(max(samples.values(), key=_weight))


def _above(rows: list[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return [row for row in rows if row["decision"] == "above"]


def _weight(rows: list[Mapping[str, Any]]) -> tuple[bool, int, int, str]:
    above = _above(rows)
    exposed = any(row["severity"] == "warn" for row in above)
    return exposed, len(above), len(rows), str(rows[0]["sample_id"])


def _told(rows: list[Mapping[str, Any]]) -> str:
    compared = [row for row in rows if row["reason"] != "no_background"]
    if not compared:
        return "not judged: no background is known for this variety"
    above = _above(compared)
    of = f"of {plural(len(compared), 'marker')}"
    open_rows = sum(row["decision"] == "undecided" for row in compared)
    doubt = f"; {open_rows} undecided" if open_rows else ""
    if not above:
        return f"none {of} is above the background of unexposed samples{doubt}"
    said = f"{len(above)} {of} above the background of unexposed samples{doubt}"
    if any(row["severity"] == "warn" for row in above):
        return f"{said}: a sign of smoke, not of its taste"
    return f"{said}: no sign of smoke by themselves"
