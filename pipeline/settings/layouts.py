"""Read a user's own layouts: every mistake in every file is told at once, with file and key."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pipeline.settings.layout_rules import (
    BESIDE,
    FACTS,
    FIELDS,
    LAYOUT,
    MEANINGS,
    PLACE,
    RESULT,
    TABLE_KEYS,
    TABLE_ONLY,
    WHEN,
)
from pipeline.settings.reading import Reading, did_you_mean
from pipeline.settings.rules import TEXT, Rule
from schemas.layout import OwnLayout, OwnTable, Place, load_layouts
from schemas.vocabulary import FORMS, fold_unit, squash

QUESTION = "?"
_STEPS = {"right": ("right", 1), "left": ("right", -1), "down": ("down", 1), "up": ("down", -1)}


def read_layouts(folder: Path, reading: Reading) -> tuple[OwnLayout, ...]:
    """Read the layouts of a folder in the order of their files; mistakes go to `reading`."""
    if not folder.is_dir():
        reading.mistakes.append(f"layouts is {str(folder)!r}; expected a folder")
        return ()
    made = [_read(path, reading) for path in sorted(folder.glob("*.toml"))]
    layouts = [layout for layout in made if layout]
    taken = {layout.name: "shipped" for layout in load_layouts()} | {"stacked_panels": "shipped"}
    for layout in layouts:
        if layout.name in taken:
            rival = taken[layout.name]
            where = "a shipped layout" if rival == "shipped" else rival
            reading.mistakes.append(
                f"{layout.file}: name is {layout.name!r}, which {where} has already"
            )
        taken.setdefault(layout.name, layout.file)
    return tuple(layouts)


def _read(path: Path, reading: Reading) -> OwnLayout | None:
    try:
        text = path.read_text(encoding="utf-8")
    except (UnicodeDecodeError, OSError) as error:
        reading.mistakes.append(f"{path.name}: not readable as TOML: {error}")
        return None
    return read_layout(text, path.name, reading)


def read_layout(text: str, file: str, reading: Reading) -> OwnLayout | None:
    """Read one layout out of its text; mistakes go to `reading`, and then there is none."""
    own = replace(reading, mistakes=[])
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        reading.mistakes.append(f"{file}: not readable as TOML: {error}")
        return None
    open_questions = [f'{key} is still "?"; answer it' for key in _questions(table, "")]
    layout = None if open_questions else _layout(_Own(own), table, file)
    mistakes = open_questions or own.mistakes
    reading.mistakes.extend(f"{file}: {line}" for line in mistakes)
    return None if mistakes else layout


def _questions(value: object, key: str) -> Iterator[str]:
    """Name the keys that a draft asks about and nobody has answered."""
    if value == QUESTION:
        yield key
    elif isinstance(value, dict):
        for name, inner in value.items():
            yield from _questions(inner, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list):
        for number, inner in enumerate(value, start=1):
            yield from _questions(inner, f"{key} {number}")


@dataclass(frozen=True)
class _Own:
    """One layout file being read."""

    reading: Reading

    def say(self, mistake: str) -> None:
        self.reading.mistakes.append(mistake)

    def facts(self, table: object, place: str, extra: Mapping[str, Rule]) -> dict[str, str]:
        """Read facts that hold for a table or a column, checked against the vocabulary."""
        given = self.reading.take(table, place, {**FACTS, **extra})
        told = {name: str(value) for name, value in given.items()}
        words = self.reading.vocabulary
        if "unit" in told and fold_unit(told["unit"]) not in words.units:
            self.say(f"{place}unit is {told['unit']!r}; expected a unit such as ug/L")
        if "analyte" in told:
            self.reading.analyte(told["analyte"], f"{place}analyte")
        for name, known in (("matrix", words.matrices), ("stage", words.stages)):
            if name in told and squash(told[name]) not in known:
                near = did_you_mean(told[name], sorted(set(known.values())))
                self.say(f"{place}{name} is {told[name]!r}; expected a known one{near}")
        return told


def _layout(own: _Own, table: dict[str, Any], file: str) -> OwnLayout | None:
    top = own.reading.take(table, "", LAYOUT)
    when = own.reading.take(top["when"], "[when] ", WHEN) if "when" in top else {}
    fixed = own.facts(top.get("fixed", {}), "[fixed] ", {"laboratory": TEXT})
    meanings = _meanings(own, top.get("meanings", {}))
    tables = [
        _table(own, part, f"[[table]] {number}: ", fixed, top.get("ignore", ()))
        for number, part in enumerate(top.get("table", ()), start=1)
    ]
    if own.reading.mistakes or not tables:
        return None
    return OwnLayout(
        name=top["name"],
        file=file,
        texts=when["texts"],
        sheet=when.get("sheet"),
        lab=fixed.get("laboratory"),
        meanings=meanings,
        tables=tuple(made for made in tables if made),
    )


def _meanings(own: _Own, table: dict[str, Any]) -> dict[str, dict[str, str]]:
    given = own.reading.take(table, "[meanings] ", MEANINGS)
    words = own.reading.vocabulary
    known = {
        "form": dict.fromkeys(map(squash, FORMS)),
        "matrix": words.matrices,
        "stage": words.stages,
        "sample_kind": words.sample_kinds,
    }
    read: dict[str, dict[str, str]] = {}
    for name, pairs in given.items():
        place = f"[meanings.{name}] "
        read[name] = own.reading.take(pairs, place, dict.fromkeys(pairs, TEXT))
        for printed, meant in read[name].items():
            if name == "analyte":
                _check_analyte(own, place, printed, meant)
            elif squash(meant) not in known[name]:
                own.say(f"{place}{printed!r} is {meant!r}; expected a known {name}")
    return read


def _check_analyte(own: _Own, place: str, printed: str, meant: str) -> None:
    """Refuse a meaning that contradicts the vocabulary: one of the two must be wrong."""
    if not own.reading.analyte(meant, f"{place}{printed!r}"):
        return
    already = own.reading.vocabulary.names.get(squash(printed))
    if already not in (None, meant):
        own.say(f"{place}{printed!r} is {meant!r}, but the vocabulary knows it as {already}")


def _table(
    own: _Own, table: object, place: str, fixed: Mapping[str, str], ignore: tuple[str, ...]
) -> OwnTable | None:
    given = own.reading.take(table, place, TABLE_KEYS)
    fields = [
        made
        for name, part in own.reading.take(
            given.get("fields", {}), f"{place}fields ", FIELDS
        ).items()
        if (made := _place(own, name, part, f"{place}{name} "))
    ]
    values = [made for made in fields if made.name == "result"]
    values += [
        made
        for number, part in enumerate(given.get("result", ()), start=1)
        if (made := _value(own, part, f"{place}result {number}: "))
    ]
    shared = {n: v for n, v in fixed.items() if n != "laboratory"}
    facts = shared | own.facts(given.get("fixed", {}), f"{place}fixed ", TABLE_ONLY)
    table_made = OwnTable(
        start=given.get("start", ""),
        fields=tuple(f for f in fields if f.name != "result"),
        values=tuple(values),
        results=given.get("results", "crossing"),
        repeats=given.get("repeats", False),
        skip=given.get("skip", 0),
        end=given.get("end"),
        ignore=(*ignore, *given.get("ignore", ())),
        fixed=facts,
    )
    for mistake in _contradictions(table_made):
        own.say(f"{place}{mistake}")
    return table_made


def _value(own: _Own, table: object, place: str) -> Place | None:
    """Read the place of a column of results and what holds for it alone."""
    if not isinstance(table, dict):
        own.say(f"{place}is {table!r}; expected a table of keys")
        return None
    where = {k: v for k, v in table.items() if k in PLACE}
    rest = {k: v for k, v in table.items() if k not in PLACE}
    facts = own.facts(rest, place, {**TABLE_ONLY, **RESULT})
    made = _place(own, "result", {"axis": "column", **where}, place)
    return replace(made, facts=facts) if made else None


def _place(own: _Own, name: str, table: object, place: str) -> Place | None:
    before = len(own.reading.mistakes)
    given = own.reading.take(table, place, PLACE)
    if len(own.reading.mistakes) > before:
        return None
    moved = {"right": 0, "down": 0}
    for key, (way, sign) in _STEPS.items():
        moved[way] += sign * given.pop(key, 0)
    made = Place(name, right=moved["right"], down=moved["down"], **given)
    if made.axis == "value" and (name not in BESIDE or (made.right != 0) == (made.down != 0)):
        own.say(
            f"{place}axis is 'value'; expected one step right, left, up or down, and one of "
            f"{', '.join(sorted(BESIDE))}"
        )
    if made.axis != "sheet" and (made.after or made.before):
        own.say(f"{place}after and before cut the text of a cell with axis = 'sheet' only")
    return made


def _contradictions(table: OwnTable) -> Iterator[str]:
    """Name what cannot be: names and samples on one axis, results without a place."""
    axes = {p.name: p.axis for p in table.fields}
    told = {**table.fixed, **axes}
    analyte, sample = axes.get("analyte"), axes.get("sample", axes.get("lab_sample"))
    if "analyte" not in told and not any("analyte" in v.facts for v in table.values):
        yield "fields analyte is missing; expected its axis: row, column or sheet"
    if table.results == "crossing":
        if analyte not in {"row", "column"}:
            yield "results is 'crossing'; expected fields analyte with axis row or column"
        elif sample == analyte:
            yield f"fields analyte and sample both have axis {sample!r}; expected them to cross"
        if table.values:
            yield "fields result is given; expected results = 'column' or 'row' then"
    elif not table.values:
        yield f"fields result is missing; expected the place of the {table.results} of results"
    elif analyte not in {table.results, "sheet", None}:
        yield f"fields analyte has axis {analyte!r}; expected {table.results!r} or 'sheet'"
