"""Make settings of the tables of a settings file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pipeline.settings.layouts import read_layouts
from pipeline.settings.model import Email, Laboratory, Recipient, Serving, Settings
from pipeline.settings.reading import Reading
from pipeline.settings.rules import (
    CONTROL,
    DECISION,
    EMAIL,
    EXPOSURE,
    GROWTH,
    LABORATORY,
    LIMITS,
    METHOD,
    NEEDED_TEXT,
    POSITIVE,
    RECIPIENT,
    RELATIVE,
    SERVE,
    TEXT,
    TEXTS,
    TOP,
    Rule,
    are_texts,
    word,
)
from schemas.vocabulary import FORMS, Background, OdourSet, Threshold, squash


def _threshold(reading: Reading, table: object, number: int) -> Threshold | None:
    place = f"[[threshold]] {number}: "
    words = reading.vocabulary
    sets = {s.name for s in words.odour_sets}
    given = reading.take(table, place, {
        "analyte": NEEDED_TEXT,
        "form": word(FORMS, needed=True),
        "matrix": word(tuple(words.basis), needed=True),
        "value": Rule(POSITIVE.expected, POSITIVE.fits, float, needed=True),
        "unit": NEEDED_TEXT,
        "kind": TEXT,
        "source": TEXT,
    })  # fmt: skip
    name, matrix = given.get("analyte"), given.get("matrix")
    if name is None or (name not in sets and not reading.analyte(name, f"{place}analyte")):
        return None
    if matrix is None or not {"form", "value", "unit"} <= given.keys():
        return None
    own = words.analytes[name].unit if name in words.analytes else "1"
    stored = own or words.basis[matrix]
    factor = reading.factor(given["unit"], stored, place)
    if factor is None:
        return None
    told = {"kind": "set by the user", "source": "settings file", **given}
    return Threshold(**{**told, "value": given["value"] * factor, "unit": stored})


def _background(reading: Reading, table: object, number: int) -> Background | None:
    place = f"[[background]] {number}: "
    words = reading.vocabulary
    given = reading.take(table, place, {
        "variety": NEEDED_TEXT,
        "matrix": word(tuple(words.basis), needed=True),
        "analyte": NEEDED_TEXT,
        "form": word(FORMS, needed=True),
        "value": Rule(POSITIVE.expected, POSITIVE.fits, float, needed=True),
        "unit": NEEDED_TEXT,
        "source": TEXT,
    })  # fmt: skip
    known = "analyte" in given and reading.analyte(given["analyte"], f"{place}analyte")
    if not known or not {"variety", "matrix", "form", "value", "unit"} <= given.keys():
        return None
    stored = words.basis[given["matrix"]]
    factor = reading.factor(given["unit"], stored, place)
    if factor is None:
        return None
    told = {"source": "settings file", **given}
    return Background(**{**told, "value": given["value"] * factor, "unit": stored})


def _same_background(reading: Reading) -> Callable[[Background], object]:
    varieties = reading.vocabulary.same_variety

    def key(line: Background) -> object:
        name = squash(line.variety)
        return squash(varieties.get(name, name)), line.matrix, line.analyte, line.form

    return key


def _odour_set(reading: Reading, table: object, number: int) -> OdourSet | None:
    place = f"[[odour_set]] {number}: "
    matrices = tuple(reading.vocabulary.basis)
    given = reading.take(table, place, {
        "name": NEEDED_TEXT,
        "matrix": word(matrices),
        "members": Rule(TEXTS.expected, lambda v: are_texts(v) and bool(v), tuple, needed=True),
    })  # fmt: skip
    known = [reading.analyte(name, f"{place}members") for name in given.get("members", ())]
    if "name" not in given or not known or not all(known):
        return None
    return OdourSet(given["name"], given.get("matrix", "red wine"), given["members"])


def _names_analyte(reading: Reading, key: str, place: str) -> bool:
    analyte, _, form = key.partition("/")
    if form and form not in FORMS:
        reading.mistakes.append(f"{place}{key}: expected a form of {', '.join(FORMS)} behind /")
    return reading.analyte(analyte, place.strip())


def _amounts(
    reading: Reading, key: str, table: object, place: str, rules: Mapping[str, Rule], needed: str
) -> dict[str, float]:
    """Read the line of an analyte (and form); all but `relative` and `within` goes into the stored unit."""
    given = reading.take(table, f"{place}{key}: ", rules)
    if not _names_analyte(reading, key, place):
        return {}
    unit = given.pop("unit", None)
    stored = reading.vocabulary.analytes[key.partition("/")[0]].unit or "ug/L"
    factor = 1.0 if unit in (None, "ug/kg") else reading.factor(unit, stored, f"{place}{key}: ")
    if not given:
        reading.mistakes.append(f"{place}{key}: expected {needed}")
    return {
        name: amount if name in ("relative", "within") else amount * (factor or 1.0)
        for name, amount in given.items()
    }


def _levels(
    reading: Reading, key: str, entry: object, place: str
) -> dict[str, float] | tuple[dict[str, float], ...]:
    """Read what a control sample holds, or one line for each level of several."""
    if isinstance(entry, list):
        return tuple(_amounts(reading, key, e, place, CONTROL, "a value") for e in entry)
    return _amounts(reading, key, entry, place, CONTROL, "a value")


def _method(
    reading: Reading, key: str, entry: object, place: str
) -> float | dict[str, float] | None:
    """Read one line of the method record: a relative uncertainty, or relative and absolute."""
    if isinstance(entry, dict):
        return _amounts(reading, key, entry, place, METHOD, "relative, absolute or both") or None
    known = _names_analyte(reading, key, place)
    if not RELATIVE.fits(entry):
        reading.mistakes.append(
            f"{place}{key} is {entry!r}; expected {RELATIVE.expected}, or relative and absolute"
        )
        return None
    return float(str(entry)) if known else None


def _laboratory(reading: Reading, name: str, table: object) -> Laboratory:
    place = f'[laboratory."{name}"] '
    given = reading.take(table, place, LABORATORY)
    methods, controls, limits = (given.pop(k, {}) for k in ("methods", "controls", "limits"))
    read = {k: _method(reading, k, v, f"{place}methods ") for k, v in methods.items()}
    return Laboratory(
        name=name,
        methods={key: entry for key, entry in read.items() if entry is not None},
        controls={k: _levels(reading, k, v, f"{place}controls ") for k, v in controls.items()},
        limits={
            k: _amounts(reading, k, v, f"{place}limits ", LIMITS, "lod, loq or both")
            for k, v in limits.items()
        },
        **given,
    )


def _recipients(reading: Reading, top: dict[str, Any]) -> tuple[Recipient, ...]:
    """List who gets the digest, each address once; one that is limited goes before a plain one."""
    tables = [
        reading.take(table, f"[[recipient]] {number}: ", RECIPIENT)
        for number, table in enumerate(top.get("recipient", ()), start=1)
    ]
    limited = {t["address"]: Recipient(**t) for t in tables if "address" in t}
    plain = {name: Recipient(name) for name in top.get("recipients", ())}
    return tuple((plain | limited).values())


def _serving(reading: Reading, table: object) -> Serving:
    given = reading.take(table, "[serve] ", SERVE)
    out = reading.path(given.pop("out", None), "[serve] out", exists=False)
    return Serving(out=out, **given)


def _overlaid(shipped: Sequence[Any], own: Sequence[Any], key: Callable[[Any], object]) -> Any:
    return tuple({key(line): line for line in (*shipped, *filter(None, own))}.values())


def interpret(reading: Reading, table: dict[str, Any]) -> Settings:
    """Make settings of the whole file; mistakes are gathered in `reading`."""
    top = reading.take(table, "", TOP)
    decision = reading.take(top.get("decision", {}), "[decision] ", DECISION)
    growth = reading.take(top.get("growth", {}), "[growth] ", GROWTH)
    renamed = {"minimum": "growth_minimum", "false_discovery_rate": "false_discovery_rate"}
    words = reading.vocabulary
    lines = [_threshold(reading, t, n) for n, t in enumerate(top.get("threshold", ()), start=1)]
    clean = [_background(reading, t, n) for n, t in enumerate(top.get("background", ()), start=1)]
    exposure = reading.take(top.get("exposure", {}), "[exposure] ", EXPOSURE)
    sets = [_odour_set(reading, t, n) for n, t in enumerate(top.get("odour_set", ()), start=1)]
    email = reading.take(top["email"], "[email] ", EMAIL) if "email" in top else {}
    layouts = reading.path(top.get("layouts"), "layouts")
    return Settings(
        **decision,
        **{renamed[key]: value for key, value in growth.items()},
        thresholds=_overlaid(words.thresholds, lines, lambda t: (t.analyte, t.form, t.matrix)),
        **{f"exposure_{key}": value for key, value in exposure.items()},
        backgrounds=_overlaid(words.backgrounds, clean, _same_background(reading)),
        odour_sets=_overlaid(words.odour_sets, sets, lambda s: (s.name, s.matrix)),
        laboratories={
            name: _laboratory(reading, name, lab) for name, lab in top.get("laboratory", {}).items()
        },
        layouts=layouts,
        own_layouts=read_layouts(layouts, reading) if layouts and layouts.exists() else (),
        vocabulary=reading.path(top.get("vocabulary"), "vocabulary"),
        inbox=reading.path(top.get("inbox"), "inbox", exists=False),
        serving=_serving(reading, top.get("serve", {})),
        email=Email(**email) if {"server", "sender"} <= email.keys() else None,
        recipients=_recipients(reading, top),
    )
