"""Make analytes of their declared facts: formulas, molar masses, glycosides and their names."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from schemas.terms import Analyte

_ELEMENT = re.compile(r"([A-Z])(\d*)")


def molar_mass(formula: str, weights: Mapping[str, float]) -> float:
    """Sum the standard atomic weights (g/mol) over a formula such as "C7H8O2".

    Source of the weights: IUPAC/CIAAW 2021, abridged.
    """
    return sum(weights[e] * int(n or 1) for e, n in _ELEMENT.findall(formula))


def _add_formulas(first: str, second: str) -> str:
    counts: dict[str, int] = {}
    for element, number in _ELEMENT.findall(first) + _ELEMENT.findall(second):
        counts[element] = counts.get(element, 0) + int(number or 1)
    return "".join(f"{e}{counts[e]}" for e in "CHO" if e in counts)


def _simple_analyte(entry: dict[str, Any], weights: Mapping[str, float]) -> Analyte:
    formula = entry.get("formula")
    extra = [entry[key] for key in ("cas", "short") if key in entry]
    return Analyte(
        name=entry["name"],
        family=entry["family"],
        formula=formula,
        molar_mass=molar_mass(formula, weights) if formula else None,
        cas=entry.get("cas"),
        smoke=entry.get("smoke", False),
        group=entry.get("group"),
        members=tuple(entry.get("members", ())),
        unit=entry.get("unit"),
        spellings=(*entry.get("spellings", ()), *extra),
    )


def _glycoside(
    aglycone: dict[str, Any],
    sugar: dict[str, Any],
    known: Mapping[str, Analyte],
    weights: Mapping[str, float],
) -> Analyte:
    base = known.get(aglycone["name"])
    formula = _add_formulas(aglycone.get("formula") or (base and base.formula) or "", sugar["part"])
    names = [aglycone["name"], *aglycone.get("spellings", ()), *(base.spellings if base else ())]
    words = [sugar["name"], *sugar["spellings"]]
    spellings = [f"{n} {w}" for n in dict.fromkeys(names) for w in dict.fromkeys(words)]
    spellings += [f"{w} of {n}" for n in names[:1] for w in words]
    measured_as = aglycone.get("measured_as", aglycone["name"])
    return Analyte(
        name=f"{aglycone['name']} {sugar['name']}",
        family="glycoside",
        formula=formula,
        molar_mass=molar_mass(formula, weights),
        group=base.group if base else measured_as,
        aglycone=measured_as,
        spellings=(*spellings, aglycone["short"] + sugar["short"]),
    )


def make_analytes(table: dict[str, Any]) -> dict[str, Analyte]:
    """Make every analyte of `analytes.toml`, glycosides as aglycone and sugar, by name."""
    weights = table["atomic_weights"]
    known = {e["name"]: _simple_analyte(e, weights) for e in table["analyte"]}
    made = [_glycoside(a, s, known, weights) for a in table["aglycone"] for s in table["sugar"]]
    extra = table["glycoside_spellings"]
    named = [replace(g, spellings=(*g.spellings, *extra.get(g.name, ()))) for g in made]
    return known | {g.name: g for g in named}
