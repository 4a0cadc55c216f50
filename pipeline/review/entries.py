"""Read single cells that a person filled in: a value, a unit, an analyte, a day ..."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from pipeline.doses import PER_HECTOLITRE
from pipeline.readers import Readers
from pipeline.review.faults import Fault
from pipeline.review.parse import Entry
from pipeline.settings.reading import did_you_mean
from schemas.vocabulary import FORMS, fold_unit, squash

YES = "yes"
_WORDS = "; choose a word of the sheet words"
_PATH = re.compile(r"^\d+(?:[.,]\d+)?\s*[mc]m$")
_DOSE = re.compile(r"^\d+(?:[.,]\d+)?\s*(\S.*)$")
_FACTOR = re.compile(r"^(?:x|×|times)?\s*(\d+(?:[.,]\d+)?(?:e[+-]?\d+)?)$")


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


def _factor(entry: Entry, readers: Readers) -> dict[str, Any] | Fault:
    said = _FACTOR.match(entry.text.lower())
    written = float(said.group(1).replace(",", ".")) if said else 0.0
    factor = written if entry.number is None else entry.number
    if factor > 0 and factor != 1:
        return {"corrected_factor": factor}
    return Fault(entry.at, f'factor "{entry.text}" is none; write a number such as 0.001')


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


READ = {
    "replicate": _replicate,
    "path length": _path_length,
    "matrix": _matrix,
    "date": _date,
    "dose": _dose,
    "corrected value": _value,
    "unit": _unit,
    "factor": _factor,
    "analyte": _analyte,
    "form": _form,
    "sample": _sample,
}
