"""Load and check the declared facts: analytes, units, matrices, thresholds and the words for them.

Everything here is read once from the TOML files beside this module and handed on as frozen
dataclasses. All mistakes of a file are reported together.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from schemas.folding import fold_notation, fold_unit, squash, squash_words
from schemas.substances import make_analytes
from schemas.terms import Analyte, Background, OdourSet, Threshold, Unit

__all__ = [
    "Analyte",
    "Background",
    "OdourSet",
    "Threshold",
    "Unit",
    "Vocabulary",
    "fold_notation",
    "fold_unit",
    "load_vocabulary",
    "squash",
    "squash_words",
]

# Words and, parted from them, one letter.
_LETTERED = re.compile(r"[^\W\d_]{2}[\s_.-]+[^\W\d_]$")
FORMS = ("free", "bound", "total")
STAGES = (
    "vineyard",
    "harvest",
    "must",
    "fermenting",
    "end of AF",
    "end of MLF",
    "ageing",
    "pre-bottling",
    "bottled",
)
SAMPLE_KINDS = ("lot", "mini-ferment", "bench control", "bench treated", "reference")


@dataclass(frozen=True)
class Vocabulary:
    """All words and facts, ready for look-up by squashed name."""

    analytes: Mapping[str, Analyte]
    units: Mapping[str, Unit]
    fields: Mapping[str, str]
    field_phrases: frozenset[str]
    or_laboratorys: frozenset[str]
    field_levels: Mapping[str, str]
    date_fields: frozenset[str]
    notations: Mapping[str, str]
    two_meanings: tuple[frozenset[str], str]
    letters: Mapping[str, str]
    row_words: Mapping[str, str]
    row_ends: Mapping[str, str]
    row_inside: Mapping[str, str]
    place_words: frozenset[str]
    rows_beside_others: Mapping[str, str]
    rows_of_a_sample: Mapping[str, str]
    statistic_codes: Mapping[str, str]
    detail_words: frozenset[str]
    versions: Mapping[str, str]
    rival_words: frozenset[str]
    form_words: Mapping[str, str]
    form_context: tuple[str, ...]
    matrices: Mapping[str, str]
    matrix_words: Mapping[str, tuple[str, ...]]
    colours: Mapping[str, str]
    basis: Mapping[str, str]
    stages: Mapping[str, str]
    sample_kinds: Mapping[str, str]
    variety_colours: Mapping[str, str]
    varieties: Mapping[str, str]
    out_of_scope: frozenset[str]
    derived: frozenset[str]
    ambiguous: Mapping[str, str]
    reasons: Mapping[str, tuple[str, str]]
    steps_of_corrections: Mapping[str, str]
    thresholds: tuple[Threshold, ...]
    odour_sets: tuple[OdourSet, ...]
    panels: Mapping[str, tuple[str, ...]]
    required: Mapping[str, tuple[str, ...]]
    backgrounds: tuple[Background, ...] = ()
    same_variety: Mapping[str, str] = field(default_factory=dict)
    from_wood: tuple[str, ...] = ()
    taught: Mapping[str, str] = field(default_factory=dict)

    def field_called(self, heading: str) -> str | None:
        """Find the field that a heading calls; "Sample D" is one of a series, not "sampled"."""
        if _LETTERED.search(heading) and squash_words(heading) not in self.field_phrases:
            return None
        key = squash(heading)
        return self.fields.get(key) or self.fields.get(key.rstrip("#"))

    @cached_property
    def names(self) -> dict[str, str]:
        """Map every squashed spelling to its analyte."""
        table: dict[str, str] = {}
        for analyte in self.analytes.values():
            for spelling in (analyte.name, *analyte.spellings):
                table.setdefault(squash(spelling), analyte.name)
        table.update({squash(printed): name for printed, name in self.taught.items()})
        return table


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads(files("schemas").joinpath(name).read_text(encoding="utf-8"))


def _units(table: dict[str, Any]) -> dict[str, Unit]:
    units: dict[str, Unit] = {}
    for entry in table["unit"]:
        unit = Unit(entry["name"], entry["kind"], entry["factor"])
        printed = [entry["name"], *entry.get("spellings", ())]
        for prefix in table.get(entry.get("prefixes", ""), ()):
            printed += [prefix + per for per in table[entry["per"]]]
        for spelling in printed:
            known = units.setdefault(fold_unit(spelling), unit)
            if known != unit:
                raise ValueError(f"units.toml: {spelling!r} is both {known.name} and {unit.name}")
    return units


def _backgrounds(table: dict[str, Any]) -> tuple[Background, ...]:
    shared = ("variety", "matrix", "unit", "source", "percentile", "n")
    return tuple(
        Background(**{k: group[k] for k in shared}, analyte=name, form=form, value=value)
        for group in table["background"]
        for form in FORMS
        for name, value in group.get(form, {}).items()
    )


def _compared_with() -> dict[str, Any]:
    """Read what values are compared with: thresholds, odour sets, backgrounds."""
    limits, clean = _read("thresholds.toml"), _read("backgrounds.toml")
    sets = ((o["name"], o["matrix"], tuple(o["members"])) for o in limits["odour_set"])
    return {
        "thresholds": tuple(Threshold(**t) for t in limits["threshold"]),
        "odour_sets": tuple(OdourSet(*o) for o in sets),
        "backgrounds": _backgrounds(clean),
        "same_variety": {squash(n): names[0] for names in clean["synonyms"] for n in names},
        "from_wood": tuple(clean["from_wood"]),
    }


def _inverted(table: Mapping[str, Iterable[str]]) -> dict[str, str]:
    return {squash(word): name for name, words in table.items() for word in (name, *words)}


def _notations(table: Mapping[str, Any]) -> dict[str, str]:
    kinds = ("not_detected", "below_detection", "below_quantification", "below_reporting",
             "above_range", "not_analysed", "rejected")  # fmt: skip
    return {fold_notation(word): kind for kind in kinds for word in table[kind]}


def _two_meanings(table: Mapping[str, Iterable[str]]) -> tuple[frozenset[str], str]:
    return frozenset(map(fold_notation, table["words"])), "|".join(table["spelled"])


def _headings(fields: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    return {
        "fields": {squash(s): f["name"] for f in fields for s in f["spellings"]},
        "field_phrases": frozenset(squash_words(s) for f in fields for s in f["spellings"]),
        "or_laboratorys": frozenset(squash(s) for f in fields for s in f.get("or_laboratorys", ())),
        "field_levels": {f["name"]: f["level"] for f in fields},
        "date_fields": frozenset(f["name"] for f in fields if f.get("kind") == "date"),
    }


def _reasons(table: dict[str, dict[str, str]]) -> dict[str, Any]:
    return {
        "reasons": {code: (said["means"], said["next"]) for code, said in table.items()},
        "steps_of_corrections": {
            code: said["corrected"] for code, said in table.items() if "corrected" in said
        },
    }


def _lines_of_no_sample(words: Mapping[str, Any]) -> dict[str, Any]:
    inside = words["row_inside"].items()
    return {
        "row_words": _inverted(words["rows"]),
        "row_ends": _inverted(words["row_ends"]),
        "row_inside": {squash_words(w): kind for kind, ws in inside for w in ws},
        "place_words": frozenset(squash(w) for w in words["places"]["words"]),
        "rows_beside_others": _inverted(words["rows_beside_others"]),
        "rows_of_a_sample": _inverted(words["rows_of_a_sample"]),
        "statistic_codes": {squash(w): k for k, ws in words["statistic_codes"].items() for w in ws},
        "detail_words": frozenset(squash_words(w) for w in words["row_details"]["words"]),
    }


@lru_cache(maxsize=8)
def load_vocabulary(taught_file: Path | None = None) -> Vocabulary:
    """Read the shipped vocabulary and, when given, the user's own spellings on top.

    The user's file is TOML: `[analytes]` maps a printed name to a stored analyte. Raises ValueError
    naming every unknown analyte in it.
    """
    analytes = make_analytes(_read("analytes.toml"))
    taught: dict[str, str] = {}
    if taught_file is not None and taught_file.exists():
        taught = tomllib.loads(taught_file.read_text(encoding="utf-8")).get("analytes", {})
        unknown = sorted(set(taught.values()) - set(analytes))
        if unknown:
            raise ValueError(f"{taught_file.name}: no analyte is named {', '.join(unknown)}")
    words, places, fields = _read("qualifiers.toml"), _read("matrices.toml"), _read("fields.toml")
    return Vocabulary(
        analytes=analytes,
        units=_units(_read("units.toml")),
        **_headings(fields["field"]),
        notations=_notations(words),
        two_meanings=_two_meanings(words["two_meanings"]),
        letters={fold_notation(w): kind for kind, ws in words["letters"].items() for w in ws},
        **_lines_of_no_sample(words),
        versions={squash_words(w): kind for kind, ws in words["versions"].items() for w in ws},
        rival_words=frozenset(
            w for ws in (*words["versions"].values(), words["rival_results"]["words"]) for w in ws
        ),
        form_words={squash_words(w): f for f in FORMS for w in words["forms"][f]},
        form_context=tuple(words["forms"]["context"]),
        matrices=_inverted(places["matrix"]),
        matrix_words={m: tuple(ws) for m, ws in places["matrix"].items()},
        colours={squash(k): v for k, v in places["colour"].items()},
        basis=places["basis"],
        stages=_inverted(places["stage"]),
        sample_kinds=_inverted(places["sample_kind"]),
        variety_colours={squash(v): c for c, vs in places["variety_colour"].items() for v in vs},
        varieties={squash(v): v for vs in places["variety_colour"].values() for v in vs},
        out_of_scope=frozenset(squash(n) for n in _read("out_of_scope.toml")["names"]),
        derived=frozenset(squash(n) for n in _read("out_of_scope.toml")["derived"]),
        ambiguous={squash(k): v for k, v in _read("analytes.toml")["ambiguous"].items()},
        **_reasons(_read("reasons.toml")),
        panels={p["name"]: tuple(p["members"]) for p in _read("panels.toml")["panel"]},
        required={p["name"]: tuple(p["required"]) for p in _read("panels.toml")["panel"]},
        taught=taught,
        **_compared_with(),
    )
