"""Heed footnotes: a mark behind a number or heading whose note changes what the number says."""

from __future__ import annotations

import re

from pipeline.readers import Readers
from pipeline.recognise.grid import Spot
from pipeline.recognise.statements import Statements
from pipeline.recognise.tables import Table
from schemas.layout import Mark

_SIGN = r"\*{1,3}|†|‡|§|#|\^[a-z0-9]|\([a-z0-9]\)|\[[a-z0-9]\]|[¹²³⁴⁵ᵃᵇᶜ]"
_NOTE = re.compile(rf"\s*({_SIGN}|[a-e1-5](?=[\s:)=]))\s*[):=.-]?\s*(\S.*)", re.DOTALL)
_BEHIND = re.compile(rf"(?:{_SIGN}|(?<=\d)\s*[a-e])$")
_CHANGES = re.compile(
    r"(?:above|over|exceed\w*|outside|beyond)\s+(?:the\s+)?(?:calibrat\w+|linear\w*|range)"
    r"|(?:below|less than|under|<)\s*(?:the\s+)?(?:LOQ|LOD|limit)"
    r"|\b(?:reject\w*|invalid|not (?:valid|reliable)|do not use|unreliable|divided? by|multipl\w+)\b",
    re.IGNORECASE,
)


def heed_footnotes(table: Table, said: Statements, readers: Readers) -> tuple[Mark, ...]:
    """List the results whose footnote gives a unit or form of its own, or doubts the number.

    The numbers are doubtful: what the note says is for a person to apply.
    """
    notes = _telling_notes(said, readers)
    if not notes:
        return ()
    found = []
    for column in table.value_places():
        heading = _mark_behind(table.grid.at(table.run.row, column), notes)
        for row in table.lines.samples:
            mark = _mark_behind(table.grid.at(row, column), notes) or heading
            if mark:
                found.append(Mark(row, column, f"{mark} {notes[mark]}"[:60], True))
    return tuple(found)


def _telling_notes(said: Statements, readers: Readers) -> dict[str, str]:
    notes = {}
    for _, _, spot in said.loose:
        match = _NOTE.fullmatch(spot.text) if spot.kind == "text" else None
        if match is None:
            continue
        text, title = match.group(2), readers.names.title(match.group(2))
        limits = title.lod or title.loq or title.limit
        if _CHANGES.search(text) or ((title.unit or title.form) and not limits):
            notes[match.group(1)] = text
    return notes


def _mark_behind(spot: Spot | None, notes: dict[str, str]) -> str | None:
    if spot is None or spot.kind != "text":
        return None
    match = _BEHIND.search(spot.text.strip())
    sign = match.group(0).strip() if match else ""
    alike = (sign, sign.strip("^()[]"), f"({sign})")
    return next((s for s in alike if s in notes), None)
