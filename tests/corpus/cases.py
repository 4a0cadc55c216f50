"""What a case of the corpus is: the bytes of a file, and what a careful reader finds in it."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from corpus.places import moved

# The short names of what becomes of a cell that is no result.
UNUSED = {"-": "not_analysed", "scope": "out_of_scope"}
QC = ("blank", "spike", "duplicate", "control")
_INTERVAL = re.compile(r"\[([^,]+),([^\]]+)\]")


@dataclass(frozen=True)
class Value:
    """What one cell means. `more` names further columns of the stored row."""

    outcome: str
    analyte: str | None = None
    form: str | None = None
    sample_id: str | None = None
    value: float | None = None
    unit: str | None = None
    lower: float | None = None
    upper: float | None = None
    censoring: str | None = None
    reason_code: str | None = None
    qc_kind: str | None = None
    more: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Case:
    """One file: its bytes, and each value cell ("Sheet!B3") with what it means.

    `refused`: words that the one sentence of a refusal must hold; nothing is loaded then.
    `notices`: words of which each must stand in some notice. `facts`: what the report says of itself.
    `hints`: words in the reason or the hint of a held cell.
    """

    content: bytes
    expected: Mapping[str, Value] = field(default_factory=dict)
    file: str = "report.xlsx"
    refused: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    facts: Mapping[str, object] = field(default_factory=dict)
    hints: Mapping[str, str] = field(default_factory=dict)
    name: str = ""


MADE: list[tuple[str, Callable[[], Case]]] = []


def case(make: Callable[[], Case]) -> Callable[[], Case]:
    """Enter a function that makes a case into the corpus, under its own name."""
    MADE.append((make.__name__, lambda: replace(make(), name=make.__name__)))
    return make


def meaning(token: str, analyte: str | None, form: str | None, sample: str, unit: str) -> Value:
    """Read the short form of one value.

    `12.3` a number, `~0.3` a number below the limit of quantification, `[0,0.5]` left-censored,
    `[0.5,1.5]` an interval, `>500` right-censored, `-` not analysed, `scope` out of scope,
    `!reason` held, `=12.3` sent again, `blank:12.3` a quality control.
    """
    if token in UNUSED:
        return Value(UNUSED[token])
    if token.startswith("!"):
        return Value("held", reason_code=token[1:])
    kind, colon, rest = token.partition(":")
    if colon and kind in QC:
        return replace(meaning(rest, analyte, form, sample, unit), outcome="qc", qc_kind=kind)
    if token.startswith("="):
        return replace(meaning(token[1:], analyte, form, sample, unit), outcome="repeated")
    named = Value("result", analyte, form, sample, unit=unit)
    if match := _INTERVAL.fullmatch(token):
        low, high = float(match[1]), float(match[2])
        return replace(named, lower=low, upper=high, censoring="interval" if low else "left")
    if token.startswith(">"):
        return replace(named, lower=float(token[1:]), censoring="right")
    number = float(token.lstrip("~"))
    censoring = "estimated" if token.startswith("~") else "none"
    return replace(named, value=number, lower=number, upper=number, censoring=censoring)


def _form(word: str) -> str | None:
    return None if word == "none" else word


def cells(text: str, sheet: str = "Results", unit: str = "ug/L") -> dict[str, Value]:
    """Read expectations one per line: `B2 guaiacol free S1 12.3`, or `B2 !form_unknown`.

    A form "none" is null. A sixth word is the unit; names with spaces stand in quotes.
    """
    found = {}
    for line in filter(None, map(str.strip, text.splitlines())):
        cell, *words = shlex.split(line)
        if len(words) == 1:
            found[f"{sheet}!{cell}"] = meaning(words[0], None, None, "", unit)
            continue
        analyte, form, sample, token, *own = words
        found[f"{sheet}!{cell}"] = meaning(token, analyte, _form(form), sample, [*own, unit][0])
    return found


def crossing(
    first: str,
    analytes: str | Iterable[str],
    form: str | None,
    samples: Mapping[str, str],
    sheet: str = "Results",
    *,
    unit: str = "ug/L",
    down: bool = False,
) -> dict[str, Value]:
    """Expect a table from its first value cell on: a line of short values for each sample.

    `down`: analytes run down and samples across.
    """
    names = analytes.split() if isinstance(analytes, str) else list(analytes)
    found = {}
    for i, (sample, tokens) in enumerate(samples.items()):
        for j, (analyte, token) in enumerate(zip(names, tokens.split(), strict=True)):
            cell = moved(first, j, i) if down else moved(first, i, j)
            found[f"{sheet}!{cell}"] = meaning(token, analyte, form, sample, unit)
    return found


def more(expected: Mapping[str, Value], cell: str, **columns: object) -> dict[str, Value]:
    """Expect further columns of the stored row of one cell ("Results!B3")."""
    value = expected[cell]
    return {**expected, cell: replace(value, more={**value.more, **columns})}
