"""Take apart what a heading has in brackets: a path length, a replicate's number, a unit."""

from __future__ import annotations

import re
from typing import Any

from pipeline.names.pairs import look_up_equivalent
from pipeline.names.patterns import (
    CONFIDENCE,
    FACTOR_BEFORE,
    FACTOR_BEHIND,
    IN_BRACKETS,
    PATH,
    PATH_LENGTH,
    REPLICATE,
    UNIT_LIKE,
    fold_signs,
)
from schemas.vocabulary import Vocabulary, fold_unit, squash

_LAST = re.compile(r"(.{3,}?)\s*[(\[]([^()\[\]]{1,30})[)\]]?$")


def take_brackets(rest: str, stated: dict[str, Any], vocabulary: Vocabulary) -> str:
    """Split off a path length, a replicate's number, and a unit that no vocabulary knows."""
    rest = CONFIDENCE.sub(" ", rest)
    for content in IN_BRACKETS.findall(rest):
        unit, _, matrix = content.rpartition(" ")
        if fold_unit(unit) in vocabulary.units and squash(matrix) in vocabulary.matrices:
            rest = rest.replace(content, unit)
            continue
        said = _bracketed(content, vocabulary)
        if said:
            stated |= said
            rest = rest.replace(f"({content})", " ").replace(f"[{content}]", " ")
    if match := REPLICATE.search(rest):
        stated["replicate"] = match.group(1)
        rest = rest[: match.start()]
    if "%" in rest and "unit" not in stated:
        stated["unit"] = "%"
        rest = rest.replace("%", " ")
    return rest.strip()


def take_factor(rest: str, stated: dict[str, Any], units: re.Pattern[str]) -> str:
    """Split off a unit with a factor: "(10^-3 mg/L)", "x 1000 (ug/L)", "(mg/L x 10^3)"."""
    for unit in units.finditer(fold_signs(rest)):
        before = FACTOR_BEFORE.search(rest[: unit.start(1)])
        behind = FACTOR_BEHIND.match(rest, unit.end(1))
        if before or behind:
            start = before.start() if before else unit.start()
            end = behind.end() if behind else unit.end()
            stated["unit"] = re.sub(r"[\s()\[\]]+", " ", rest[start:end]).strip()
            return f"{rest[:start]} {rest[end:]}"
    return rest


def _bracketed(content: str, vocabulary: Vocabulary) -> dict[str, str]:
    unit = vocabulary.units.get(fold_unit(content))
    if path := PATH.fullmatch(content.strip()):
        return {"path_length": path.group(1)}
    lengths = PATH_LENGTH.findall(content)
    per = PATH_LENGTH.sub(" ", content).strip(" ,;/")
    absorbance = vocabulary.units.get(fold_unit(per))
    if unit is None and len(lengths) == 1 and absorbance and absorbance.kind == "absorbance":
        return {"path_length": lengths[0], "unit": per}
    known = unit and unit.kind in {"absorbance", "number"}
    if known or UNIT_LIKE.fullmatch(content.strip()):
        return {"unit": content.strip()}
    return {}


def split_last(text: str) -> tuple[str, str | None]:
    """Split "Guaiacol (furlong)" into the name and what stands in the last brackets."""
    match = _LAST.fullmatch(text)
    return (match.group(1), match.group(2).strip()) if match else (text, None)


# "ug SGG eq./L": the mass, the substance it is given in, and the volume or mass it is in.
_INSIDE = re.compile(
    r"(?<!\w)(?P<mass>[µμunmpk]?(?:g|mol))\s+(?P<what>[^\d\W][^/;,\[\]]{1,50}?)[\s-]*"
    r"\b(?:[eé]q|[eé]quiv|[eéä]quivalen\w*)\b\.?\s*/\s*(?P<per>L|l|kg)(?!\w)"
)


def bring_out_equivalent(text: str, vocabulary: Vocabulary) -> str:
    """Write "ug SGG eq./L" as "ug/L as SGG equivalents"; unchanged where the substance is unknown."""
    match = _INSIDE.search(text)
    if match is None or not look_up_equivalent(match["what"], vocabulary):
        return text
    plain = f"{match['mass']}/{match['per']} as {match['what']} equivalents"
    return f"{text[: match.start()]}{plain}{text[match.end() :]}"
