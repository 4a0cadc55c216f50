"""Check what was written into one line: words, names, units, and whether it is half-filled."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.doses import PER_HECTOLITRE
from pipeline.readers import Readers
from pipeline.review.parse import Entry, Line
from pipeline.settings.reading import did_you_mean
from schemas.settlements import DECISIONS
from schemas.vocabulary import FORMS, fold_unit, squash

_CORRECTS = (
    "corrected value", "unit", "analyte", "form", "sample", "date", "dose", "replicate",
    "path length", "matrix",
)  # fmt: skip
_PATH = re.compile(r"^\d+(?:[.,]\d+)?\s*[mc]m$")
_DOSE = re.compile(r"^\d+(?:[.,]\d+)?\s*(\S.*)$")
_CORRECTION_OF = {
    name: f"corrected_{name.removeprefix('corrected ').replace(' ', '_')}" for name in _CORRECTS
}
_NOT_READ = {
    "error": "holds an error of the spreadsheet; write the text itself",
    "formula": "holds a formula that was not calculated; write the text itself",
    "date": "was turned into a date by the spreadsheet; write it as text, with an apostrophe first",
    "boolean": "holds true or false; write the text itself",
}
YES = "yes"
# What else people write for a decision.
_ALSO = {
    "corrected": "correct",
    "confirmed": "confirm",
    "dismissed": "dismiss",
    **dict.fromkeys(("ask", "asked", "ask laboratory", "ask the lab", "ask lab"), "ask"),
}
_WORDS = "; choose a word of the sheet words"
_LONGEST = {"who": 80, "note": 1000, "sample": 200, "replicate": 20}


@dataclass(frozen=True)
class Fault:
    """Why a line cannot be used, and where that stands."""

    at: str
    message: str

    def __str__(self) -> str:
        return f"{self.at}: {self.message}"


def in_order(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Sort faults as a person reads the workbook: by sheet, row and column."""
    return tuple(sorted(faults, key=_place))


def _place(fault: Fault) -> tuple[str, int, int, str, str]:
    sheet, _, cell = fault.at.partition("!")
    found = re.match(r"([A-Z]+)(\d+)", cell)
    letters, row = (found[1], int(found[2])) if found else ("", 0)
    return sheet, row, len(letters), letters, str(fault)


@dataclass(frozen=True)
class Said:
    """A checked decision: `given` has the columns of GIVEN; `teaches` asks for a new name."""

    decision: str
    given: Mapping[str, Any]
    teaches: bool = False


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
        found = _READ[name](line.given[name], readers)
        if isinstance(found, Fault):
            return found
        given |= found
    return Said(decision, given, _teaches(line))


def _text(line: Line, name: str) -> str | None:
    entry = line.given.get(name)
    return entry.text.replace(";", ",") if entry else None


def _teaches(line: Line) -> bool:
    return "teach" in line.given and line.given["teach"].text.lower() == "yes"


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
    if teach and teach.text.lower() not in ("yes", "no"):
        return Fault(teach.at, f'teach "{teach.text}" is none; write yes or no')
    if decision == "correct" and not corrects:
        return Fault(
            line.at("decision"),
            f"half-filled: correct, but nothing says what is right; give {_either(_of(line))}",
        )
    if decision != "correct" and (extra := [*corrects, *(["teach"] if _teaches(line) else [])]):
        return Fault(
            line.given[extra[0]].at,
            f"{extra[0]} does not go with {line.given['decision'].text}; clear it, or write correct",
        )
    if _teaches(line) and "analyte" not in line.given:
        return Fault(line.at("analyte"), "half-filled: teach needs the analyte that is meant")
    return None


def _of(line: Line) -> list[str]:
    return [name for name in _CORRECTS if name in line.columns]


def _either(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


def _value(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    if entry.number is not None:
        return {"corrected_value": f"{entry.number:.15g}", "corrected_number": entry.number}
    # Without the file's decimal mark: who writes 1,234 here may follow another custom.
    said = readers.notations.read(entry.text, None)
    if said.kind == "ambiguous":
        return Fault(
            entry.at,
            f'corrected value "{entry.text}" can be read in two ways; '
            "write it as a number, or without a mark for thousands",
        )
    if said.kind in ("blank", "blank_mark", "not_analysed"):
        return Fault(
            entry.at,
            f'corrected value "{entry.text}" says that nothing was analysed; write dismiss instead',
        )
    if said.kind in ("unknown", "range"):
        return Fault(
            entry.at,
            f'corrected value "{entry.text}" is neither a number nor a notation such as <0.5 or '
            "n.d.",
        )
    return {"corrected_value": entry.text}


def _unit(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    units = readers.names.vocabulary.units
    if unit := units.get(fold_unit(entry.text)):
        return {"corrected_unit": unit.name}
    near = did_you_mean(entry.text, sorted({u.name for u in units.values()}))
    return Fault(entry.at, f'unit "{entry.text}" is in no vocabulary{near or _WORDS}')


def _analyte(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    words = readers.names.vocabulary
    if hint := words.ambiguous.get(squash(entry.text)):
        return Fault(entry.at, f'analyte "{entry.text}" may be more than one: {hint}')
    named = entry.text if entry.text in words.analytes else words.names.get(squash(entry.text))
    if named:
        return {"corrected_analyte": named}
    near = did_you_mean(entry.text, list(words.analytes))
    return Fault(entry.at, f'analyte "{entry.text}" is in no vocabulary{near or _WORDS}')


def _form(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    if entry.text.lower() in FORMS:
        return {"corrected_form": entry.text.lower()}
    return Fault(entry.at, f'form "{entry.text}" is none{did_you_mean(entry.text, list(FORMS))}')


def _sample(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    return {"corrected_sample": entry.text}


def _date(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    try:
        days = [date.fromisoformat(part.strip()).isoformat() for part in entry.text.split(",")]
    except ValueError:
        return Fault(entry.at, f'date "{entry.text}" is none; write a day such as 2026-03-01')
    return {"corrected_date": ", ".join(days)}


def _dose(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    said = _DOSE.match(entry.text)
    if said and said.group(1).replace(" ", "").lower() in PER_HECTOLITRE:
        return {"corrected_dose": entry.text}
    units = ", ".join(PER_HECTOLITRE)
    return Fault(entry.at, f'dose "{entry.text}" cannot be used; write a number and one of {units}')


def _replicate(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    if entry.text.lower() == "no":
        return Fault(entry.at, "replicate is yes, or the laboratory's mark such as 1; clear it")
    return {"corrected_replicate": YES if entry.text.lower() == YES else entry.text}


def _path_length(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    if _PATH.match(entry.text.lower()):
        return {"corrected_path_length": entry.text.lower()}
    return Fault(
        entry.at, f'path length "{entry.text}" is none; write a number and mm or cm, such as 10 mm'
    )


def _matrix(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    known = readers.names.vocabulary.matrix_words
    if entry.text.lower() in known:
        return {"corrected_matrix": entry.text.lower()}
    near = did_you_mean(entry.text.lower(), list(known))
    return Fault(entry.at, f'matrix "{entry.text}" is none{near or _WORDS}')


_READ = {
    "replicate": _replicate,
    "path length": _path_length,
    "matrix": _matrix,
    "date": _date,
    "dose": _dose,
    "corrected value": _value,
    "unit": _unit,
    "analyte": _analyte,
    "form": _form,
    "sample": _sample,
}
