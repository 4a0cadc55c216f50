"""Check what was written into one line: words, names, units, and whether it is half-filled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.readers import Readers
from pipeline.review.entries import READ
from pipeline.review.faults import Fault
from pipeline.review.parse import Line
from pipeline.settings.reading import did_you_mean
from schemas.settlements import DECISIONS

_CORRECTS = (
    "corrected value", "unit", "factor", "analyte", "form", "sample", "date", "dose", "replicate",
    "path length", "matrix",
)  # fmt: skip
# What headings and titles say, so that a layout can say it for them.
_OF_HEADINGS = ("unit", "analyte", "form", "sample", "matrix")
TEACH = ("yes", "layout", "no")
_CORRECTION_OF = {
    name: f"corrected_{name.removeprefix('corrected ').replace(' ', '_')}" for name in _CORRECTS
}
_NOT_READ = {
    "error": "holds an error of the spreadsheet; write the text itself",
    "formula": "holds a formula that was not calculated; write the text itself",
    "date": "was turned into a date by the spreadsheet; write it as text, with an apostrophe first",
    "boolean": "holds true or false; write the text itself",
}
# What else people write for a decision.
_ALSO = {
    "corrected": "correct",
    "confirmed": "confirm",
    "dismissed": "dismiss",
    **dict.fromkeys(("ask", "asked", "ask laboratory", "ask the lab", "ask lab"), "ask"),
}
_LONGEST = {"who": 80, "note": 1000, "sample": 200, "replicate": 20}


@dataclass(frozen=True)
class Said:
    """A checked decision: `given` has the columns of GIVEN.

    `teaches` asks for a new name, `lays_out` for a layout.
    """

    decision: str
    given: Mapping[str, Any]
    teaches: bool = False
    lays_out: bool = False


def read_given(line: Line, readers: Readers) -> Said | Fault:
    """Check one filled line; the first thing that is wrong counts."""
    for name, entry in line.given.items():
        if entry.struck or entry.kind in _NOT_READ:
            said = _NOT_READ.get(entry.kind, "is struck out; clear it, or write it anew")
            return Fault(entry.at, f"{name} {said}")
        if len(entry.text) > _LONGEST.get(name, 100):
            return Fault(entry.at, f"{name} is longer than {_LONGEST.get(name, 100)} signs")
    decision = _decision(line)
    if isinstance(decision, Fault):
        return decision
    if fault := _unfit(line, decision):
        return fault
    given: dict[str, Any] = dict.fromkeys((*_CORRECTION_OF.values(), "corrected_number", "note"))
    given |= {name: _text(line, name) for name in ("who", "note")}
    for name in (n for n in _CORRECTS if n in line.given):
        found = READ[name](line.given[name], readers)
        if isinstance(found, Fault):
            return found
        given |= found
    return Said(decision, given, _teaches(line, "yes"), _teaches(line, "layout"))


def _text(line: Line, name: str) -> str | None:
    entry = line.given.get(name)
    return entry.text.replace(";", ",") if entry else None


def _teaches(line: Line, *words: str) -> bool:
    return "teach" in line.given and line.given["teach"].text.lower() in words


def _decision(line: Line) -> str | Fault:
    entry = line.given.get("decision")
    if entry is None:
        filled = ", ".join(line.given)
        return Fault(
            line.at("decision"),
            f"half-filled: {filled} is given and no decision; write {_either(list(DECISIONS))}",
        )
    known = DECISIONS | _ALSO
    if entry.text.lower() not in known:
        near = did_you_mean(entry.text.lower(), list(DECISIONS))
        return Fault(entry.at, f'decision "{entry.text}" is none{near}')
    return known[entry.text.lower()]


def _unfit(line: Line, decision: str) -> Fault | None:
    """Say what is missing for the decision, or does not go with it."""
    corrects = [name for name in _CORRECTS if name in line.given]
    teach = line.given.get("teach")
    if "who" not in line.given:
        return Fault(line.at("who"), "half-filled: who decides is missing; write your name")
    if teach and teach.text.lower() not in TEACH:
        return Fault(teach.at, f'teach "{teach.text}" is none; write {_either(TEACH)}')
    if decision == "correct" and not corrects:
        return Fault(
            line.at("decision"),
            f"half-filled: correct, but nothing says what is right; give {_either(_of(line))}",
        )
    if decision != "correct" and (
        extra := [*corrects, *(["teach"] if _teaches(line, "yes", "layout") else [])]
    ):
        return Fault(
            line.given[extra[0]].at,
            f"{extra[0]} does not go with {line.given['decision'].text}; clear it, or write correct",
        )
    if _teaches(line, "yes") and "analyte" not in line.given:
        return Fault(line.at("analyte"), "half-filled: teach needs the analyte that is meant")
    own = [name for name in corrects if name not in _OF_HEADINGS]
    if _teaches(line, "layout") and own:
        return Fault(
            line.given[own[0]].at,
            f"{own[0]} holds for this value alone and cannot be taught as a layout; clear teach",
        )
    return None


def _of(line: Line) -> list[str]:
    return [name for name in _CORRECTS if name in line.columns]


def _either(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"
