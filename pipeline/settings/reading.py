"""Check the tables of a settings file and gather every mistake."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rapidfuzz import fuzz, process

from pipeline.settings.rules import TABLE, Rule
from schemas.vocabulary import Vocabulary, fold_unit

_NEAR = 60.0  # rapidfuzz ratio from which a name is worth suggesting


def did_you_mean(name: str, known: Sequence[str]) -> str:
    """Say the known name nearest to this one, or all of them when few and none is near."""
    found = process.extractOne(name, known, scorer=fuzz.ratio, score_cutoff=_NEAR)
    if found:
        return f"; did you mean {found[0]}?"
    return f"; known are {', '.join(known)}" if len(known) <= 12 else ""


@dataclass(frozen=True)
class Reading:
    """One settings file being read; `mistakes` gathers what is wrong with it."""

    vocabulary: Vocabulary
    folder: Path
    mistakes: list[str] = field(default_factory=list)

    def take(self, table: object, place: str, rules: Mapping[str, Rule]) -> dict[str, Any]:
        """Check a table against its rules and give what fits."""
        if not isinstance(table, dict):
            self.mistakes.append(f"{place.strip()} is {table!r}; expected {TABLE.expected}")
            return {}
        for key in (k for k in table if k not in rules):
            near = did_you_mean(key, list(rules))
            self.mistakes.append(f"unknown key {place}{key}{near}")
        for key in (k for k, rule in rules.items() if rule.needed and k not in table):
            self.mistakes.append(f"{place}{key} is missing; expected {rules[key].expected}")
        given = {key: rule for key, rule in rules.items() if key in table}
        for key, rule in given.items():
            if not rule.fits(table[key]):
                self.mistakes.append(f"{place}{key} is {table[key]!r}; expected {rule.expected}")
        return {k: rule.keep(table[k]) for k, rule in given.items() if rule.fits(table[k])}

    def analyte(self, name: str, place: str) -> bool:
        """Tell whether the analyte is known; note the nearest one when not."""
        known = name in self.vocabulary.analytes
        if not known:
            near = did_you_mean(name, list(self.vocabulary.analytes))
            self.mistakes.append(f"{place} names {name!r}, which is no stored analyte{near}")
        return known

    def factor(self, unit: str, stored: str, place: str) -> float | None:
        """Give the factor from a printed unit into the stored one; null and noted when none."""
        found, basis = (self.vocabulary.units.get(fold_unit(u)) for u in (unit, stored))
        if found is None or basis is None or found.kind != basis.kind:
            self.mistakes.append(f"{place}unit is {unit!r}; expected a unit such as {stored}")
            return None
        return found.factor / basis.factor

    def path(self, given: str | None, key: str, *, exists: bool = True) -> Path | None:
        """Give a path relative to the settings file; note one that is not there."""
        if given is None:
            return None
        path = self.folder / Path(given).expanduser()
        if exists and not path.exists():
            self.mistakes.append(f"{key} is {given!r}; expected a path that exists ({path})")
        return path
