"""Part what stands behind a name: the mark of a replicate, or the state of the wine.

What a mark means only its sheet can tell: here is only where a known name ends.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from schemas.vocabulary import squash
from schemas.wordings import any_of, words_of

if TYPE_CHECKING:
    from pipeline.names import Names

# A figure may be glued to a name, a letter may not: "Guaiacol1".
_GLUED = r"(?P<glued>(?<=[^\W\d_]{3})[1-9])"
_LEAD = r"(?P<lead>\s*[(\[]\s*|\s*[-–_#]\s*|\s*,\s+|\s+)"
_END = r"\.?(?:(?P<close>\s*[)\]])(?=[\s,;]|$)|(?=\s*[,;(\[]|\s*$))"
_WORD = f"(?P<word>{any_of('repeats', 'words')})"
_MARKED = re.compile(
    rf"(?:{_LEAD}(?:{_WORD}\b\.?\s*(?:no\.?|n[°º]|\#)?\s*(?P<number>[a-fA-F1-9])?"
    rf"|(?P<mark>[a-fA-F1-9]|I{{1,3}}|IV))|{_GLUED})" + _END,
    re.IGNORECASE,
)
_SECOND = words_of("repeats", "second")
_BEFORE, _AFTER = any_of("states", "before"), any_of("states", "after")
_STATE = re.compile(
    rf"{_LEAD}(?P<state>(?:(?P<before>{_BEFORE})|(?:{_AFTER}))\b(?:[\s-]+\w+){{0,2}})" + _END,
    re.IGNORECASE,
)
_SIDE = re.compile(rf"(?:(?P<before>{_BEFORE})|(?:{_AFTER}))\b(?:[\s-]+\w+){{0,3}}", re.IGNORECASE)


@dataclass(frozen=True)
class Marked:
    """A name less what stands behind it: `bare` is the rest, `style` how the mark is written."""

    bare: str
    style: tuple[str, ...]
    mark: str
    analyte: str


def part_mark(text: str, names: Names) -> Marked | None:
    """Part "Guaiacol-a (ug/L)" or "Guaiacol after fining"; null where nothing is to be parted."""
    return _states(text, names) or _marks(text, names)


def side_of(text: str) -> str | None:
    """Tell "before" from "after" where a cell says nothing else: "After fining"."""
    match = _SIDE.fullmatch(text.strip())
    return match and ("before" if match["before"] else "after")


def is_series(marks: Sequence[str]) -> bool:
    """Tell a, b, c or 1, 2 in this order, or a state before and after."""
    if len(marks) < 2:
        return False
    signs = "".join(marks)
    sides = [side_of(mark) for mark in marks]
    ordered = signs.lower() in {"abcdef"[: len(marks)], "123456789"[: len(marks)]}
    alike = signs.isdigit() or signs.isupper() or signs.islower()
    return sides == ["before", "after"] or (ordered and alike)


def _marks(text: str, names: Names) -> Marked | None:
    """Part "Guaiacol-a (ug/L)" into a known name and a mark; null where it is known as it stands."""
    for match in _MARKED.finditer(text) if len(text) <= 120 else ():
        alone = match["word"] and not match["number"] and not _second(match)
        # "Phenol, 2" begins like the name of a derivative.
        if _is_open(match) or alone or (match["mark"] and _lead(match) == ","):
            continue
        mark = match["number"] or match["mark"] or match["glued"] or ""
        style = (_lead(match), squash(match["word"] or ""), _kind(mark))
        if marked := _known(text, match, style, mark or squash(match["word"]), names):
            return marked
    return None


def _second(match: re.Match[str]) -> bool:
    return match["word"].lower() in _SECOND


def _lead(match: re.Match[str]) -> str:
    return "glued" if match["lead"] is None else match["lead"].strip()


def _kind(mark: str) -> str:
    if set(mark) <= set("IV"):
        return "roman" if mark else ""
    return "number" if mark.isdigit() else "capital" if mark.isupper() else "letter"


def _is_open(match: re.Match[str]) -> bool:
    return (_lead(match) in {"(", "["}) != bool(match["close"])


def _states(text: str, names: Names) -> Marked | None:
    """Part "Guaiacol after fining" into a known name and the state of the wine."""
    match = _STATE.search(text) if len(text) <= 120 else None
    if match is None or _is_open(match):
        return None
    side = "before" if match["before"] else "after"
    return _known(text, match, ("state", side), match["state"], names)


def _known(
    text: str, match: re.Match[str], style: tuple[str, ...], mark: str, names: Names
) -> Marked | None:
    bare = f"{text[: match.start()]}{text[match.end() :]}".strip()
    read = names.heading(bare)
    own = names.vocabulary.names.get(squash(text))
    plain = read.analyte and not (read.field or read.spelled or read.replicate or read.spread)
    if not plain or own or read.analyte is None:
        return None
    whole = names.heading(text)
    if whole.replicate or whole.analyte not in {None, read.analyte}:
        return None
    if style[0] == "state" and whole.analyte and whole.unit != match["state"]:
        return None
    return Marked(bare, style, mark, read.analyte)
