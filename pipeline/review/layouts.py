"""Write what was decided in the review workbook as a layout, for sheets that are laid out alike.

Two ways are tried: what was given holds for the whole sheet, or each column (or line) of results has
facts of its own. Whether one of them reads the sheet as decided is for `differences` to say.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from pipeline.addresses import cell_place
from pipeline.names import Names
from pipeline.review.sample_places import Cell, find_samples
from pipeline.review.toml_lines import pairs_of, table, written
from schemas.layout import Clue, Clues

_SAMPLES = ("sample", "sample_name", "lab_sample")
# What may hold for a whole sheet: one that prints another is refused when it is read.
_WHOLE = ("form", "unit", "matrix")
_FACTS = ("analyte", "form", "unit")
Facts = dict[str, Any]


@dataclass(frozen=True)
class Told:
    """What one value cell of a sheet is: as decided, else as read; null where nothing tells.

    `printed` and `printed_form` are the texts of its headings, `given` what a person gave.
    """

    row: int
    col: int
    printed: str | None
    printed_form: str | None
    facts: Mapping[str, str | None]
    given: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Taught:
    """A sheet from which a layout is to be taught.

    `texts` are its cells, `fixed` what it says for all of its table, `lab` the report's laboratory.
    """

    name: str
    remark: str
    clues: Clues
    texts: Mapping[Cell, str]
    fixed: Mapping[str, str]
    told: Sequence[Told]
    lab: str | None
    names: Names

    @cached_property
    def start(self) -> Cell:
        """Where the header begins."""
        return cell_place(self.clues.starts[0].cell)

    @cached_property
    def who(self) -> str | None:
        """The text of a cell that names the laboratory."""
        lab = _folded(self.lab or "")
        return next((t for t in self.texts.values() if lab and lab in _folded(t)), None)

    @property
    def is_turned(self) -> bool:
        """Tell whether the analytes' names run one under the other."""
        return self.clues.analyte == "column"


def hindrance(sheet: Taught) -> str | None:
    """Say why no layout can be written for a sheet; null when one may be."""
    if not sheet.clues.starts or sheet.clues.results is None:
        return "the sheet does not tell where its table begins"
    if sheet.who is None:
        return (
            "the sheet does not print its laboratory, so that the layout could be taken for another "
            "laboratory's sheets; draft one by hand with cinderlot preview --draft"
        )
    return None


def drafts(sheet: Taught) -> Iterator[str]:
    """Write the layouts that may read the sheet as decided, the simplest first, as TOML."""
    yield _written(sheet, ())
    if sheet.clues.results == "crossing":
        yield _written(sheet, tuple(_results(sheet)))


def _written(sheet: Taught, results: Sequence[Facts]) -> str:
    """Write one layout; with `results`, each column or line of them has facts of its own."""
    fixed, anchors = _fixed(sheet, by_column=bool(results))
    when = dict.fromkeys(filter(None, (sheet.who, *_headings(sheet, results), *anchors)))
    apart = "row" if sheet.is_turned else "column"
    meanings = {} if results else _meanings(sheet)
    lines = [
        f"# {sheet.remark}",
        f"name = {written(sheet.name)}",
        f"ignore = {written(_ignored(sheet))}",
        *table("when", {"texts": [_loose(text) for text in when]}),
        *table("fixed", fixed),
        *(line for name, said in meanings.items() for line in table(f"meanings.{name}", said)),
        "",
        "[[table]]",
        *pairs_of(
            {
                "start": sheet.texts[sheet.start],
                "repeats": len(sheet.clues.starts) > 1,
                "results": apart if results else sheet.clues.results,
            }
        ),
        *table("table.fields", _fields(sheet, by_column=bool(results))),
        *(line for made in results for line in ("", "[[table.result]]", *pairs_of(made))),
    ]
    return "\n".join(lines) + "\n"


def _fixed(sheet: Taught, *, by_column: bool) -> tuple[Facts, list[str]]:
    """What holds for the whole sheet, and the texts that say so and have to stand there again."""
    fixed, anchors = Facts(), list[str]()
    for name in _WHOLE:
        given = {value.given[name] for value in sheet.told if name in value.given}
        stated = sheet.clues.stated.get(name)
        if len(given) == 1 and not (by_column and name in _FACTS):
            fixed[name] = given.pop()
        elif not given and stated and name in sheet.fixed and not _labelled(sheet, name):
            fixed[name] = sheet.fixed[name]
            anchors.append(sheet.texts.get(cell_place(stated.cell), ""))
    return fixed, anchors


def _fields(sheet: Taught, *, by_column: bool) -> Facts:
    made = Facts()
    for clue in sheet.clues.fields:
        said = sheet.names.heading(clue.text.rstrip(" :")).field
        name = said if clue.name == "sample" and said in _SAMPLES else clue.name
        if name and not (by_column and name == "analyte"):
            made.setdefault(name, _place(clue))
    for name in sheet.fixed:
        if place := _labelled(sheet, name):
            made.setdefault(name, place)
    samples = [(v.row, v.col, v.given["sample"]) for v in sheet.told if "sample" in v.given]
    starts = [cell_place(clue.cell) for clue in sheet.clues.starts]
    if samples and (place := find_samples(samples, sheet.texts, starts)):
        made = {n: p for n, p in made.items() if n not in _SAMPLES} | {"sample": place}
    return made


def _place(clue: Clue) -> Facts:
    """Place a field by its heading where it has one of its own, else by steps from the start."""
    place: Facts = {"axis": clue.axis}
    if clue.right or clue.down:
        return place | _steps(clue.down, clue.right)
    heads = clue.axis == "column" or clue.name not in ("analyte", "sample")
    return place | ({"heading": clue.text} if heads else {})


def _steps(down: int, right: int) -> Facts:
    ways = ((down, "down", "up"), (right, "right", "left"))
    return {(more if steps > 0 else less): abs(steps) for steps, more, less in ways if steps}


def _labelled(sheet: Taught, name: str) -> Facts | None:
    """Place what the sheet says for its whole table beside its label; null where it has none."""
    value, count = sheet.fixed.get(name), Counter(map(_folded, sheet.texts.values()))
    first, last = sheet.start[0], max((v.row for v in sheet.told), default=0)
    for (row, col), text in sheet.texts.items():
        label = sheet.texts.get((row, col - 1), "")
        if first <= row <= last or not value:
            continue
        if text.strip() == value and count[_folded(label)] == 1:
            return {"axis": "sheet", "heading": label, "right": 1}
        label, mark, rest = text.partition(":")
        if mark and rest.strip() == value:
            return {"axis": "sheet", "heading": f"{label}:*", "after": ":"}
    return None


def _results(sheet: Taught) -> Iterator[Facts]:
    """Give each column (or line) of results its place, and what is known of all of its values."""
    head, axis = sheet.start, "row" if sheet.is_turned else "column"
    for at in sorted({v.row if sheet.is_turned else v.col for v in sheet.told}):
        values = [v for v in sheet.told if (v.row if sheet.is_turned else v.col) == at]
        cell = (at, head[1]) if sheet.is_turned else (head[0], at)
        steps = _steps(cell[0] - head[0], cell[1] - head[1])
        text = sheet.texts.get(cell)
        place = {"heading": text} if text and _is_single(sheet, text) else steps
        facts = {n: {v.facts.get(n) for v in values} - {None} for n in _FACTS}
        known = {n: said.pop() for n, said in facts.items() if len(said) == 1}
        yield {"axis": axis, **place, **known}


def _is_single(sheet: Taught, text: str) -> bool:
    return sum(_folded(t) == _folded(text) for t in sheet.texts.values()) == 1


def _headings(sheet: Taught, results: Sequence[Facts]) -> list[str]:
    """The texts of the header that tell sheets laid out alike: not what changes from week to week."""
    named = [
        clue.text for clue in sheet.clues.fields
        if clue.name not in ("analyte", "") and not (clue.name == "sample" and clue.axis != "column")
    ]  # fmt: skip
    texts = [
        sheet.texts[sheet.start],
        *named,
        *(str(r["heading"]) for r in results if "heading" in r),
    ]
    return [text for text in texts if text.strip()]


def _ignored(sheet: Taught) -> list[str]:
    """The texts on the line of the names that are neither of results nor of a field; of a list none."""
    if sheet.clues.results != "crossing":
        return []
    fields = {cell_place(clue.cell) for clue in sheet.clues.fields if clue.name}
    along = 1 if sheet.is_turned else 0
    values = {v.row if sheet.is_turned else v.col for v in sheet.told}
    texts = [
        text for place, text in sheet.texts.items()
        if place[along] == sheet.start[along] and place[1 - along] not in values
        and place not in fields and text != sheet.texts[sheet.start] and "*" not in text
    ]  # fmt: skip
    return list(dict.fromkeys(texts))


def _meanings(sheet: Taught) -> dict[str, dict[str, str]]:
    """What printed words mean by what was given for their values; not where two were given."""
    found: dict[str, dict[str, set[str]]] = {"analyte": {}, "form": {}}
    for value in sheet.told:
        for name, printed in (("analyte", value.printed), ("form", value.printed_form)):
            if printed and name in value.given:
                found[name].setdefault(printed, set()).add(value.given[name])
    single = {n: {p: min(m) for p, m in said.items() if len(m) == 1} for n, said in found.items()}
    return {name: said for name, said in single.items() if said}


def _folded(text: str) -> str:
    return " ".join(text.casefold().split()).rstrip(" :")


def _loose(text: str) -> str:
    """Let any number stand where the text has one, for it changes from report to report."""
    return re.sub(r"\d+(?:[.,/-]\d+)*", "*", " ".join(text.split()))
