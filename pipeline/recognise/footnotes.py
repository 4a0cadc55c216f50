"""Heed footnotes: a mark behind a number or heading whose note changes what the number says."""

from __future__ import annotations

import re

from pipeline.names.equivalents import substances_meant
from pipeline.readers import Readers
from pipeline.recognise.grid import Spot
from pipeline.recognise.statements import Statements
from pipeline.recognise.tables import Table
from schemas.layout import LEGEND, Mark
from schemas.vocabulary import squash

_SIGN = r"\*{1,3}|†|‡|§|#|\^[a-z0-9]|\([a-z0-9]\)|\[[a-z0-9]\]|[¹²³⁴⁵ᵃᵇᶜ]"
_NOTE = re.compile(rf"\s*({_SIGN}|[a-e1-5](?=[\s:)=]))\s*[):=.-]?\s*(\S.*)", re.DOTALL)
_BEHIND = re.compile(rf"(?:{_SIGN}|(?<=\d)\s*[a-e])$")
_PARTS = re.compile(rf"\s*[;\n]\s*(?=(?:{_SIGN}|[\w./]{{1,12}}\s*[:=]))")
_LEGEND = re.compile(
    r"\s*(?:key|legend|notes?)?\s*:?\s*[\"']?"
    r"(N\.?/?A\.?|N\.?T\.?|(?:blank|empty) cells?|cells left (?:blank|empty))[\"']?"
    r"\s*(?:[:=–-]|means?|are|is)\s*(.+)",
    re.IGNORECASE | re.DOTALL,
)
_BELOW = re.compile(
    r"<|\b(?:below|less than|under|not above|not detect\w*|non d[ée]tect\w*|LOD|LOQ|limit\w*)\b",
    re.IGNORECASE,
)
_CHANGES = re.compile(
    r"(?:above|over|exceed\w*|outside|beyond)\s+(?:the\s+)?(?:calibrat\w+|linear\w*|range)"
    r"|(?:below|less than|under|<)\s*(?:the\s+)?(?:(?:quantification|quantitation|detection"
    r"|reporting)\s+)?(?:LOQ|LOD|limit|LQ|LD)"
    r"|(?:inf[ée]rieur\w*\s+(?:à la|au|al)|inferior\s+(?:al|ao)|por debajo del|abaixo do"
    r"|unter(?:halb)?\s+der|kleiner)\s+(?:limite|límite|seuil|bestimmungsgrenze|nachweisgrenze)"
    r"|\b(?:reject\w*|invalid|not (?:valid|reliable)|do not use|unreliable|contaminat\w*"
    r"|withdrawn|divided? by|multipl\w+)\b",
    re.IGNORECASE,
)


_TO_DO = re.compile(
    r"\b(?:must|should|needs? to|have to|has to|to|please)\s+(?:still\s+)?(?:be\s+)?"
    r"(?:multipl(?:y|ied)|divided?)\b",
    re.IGNORECASE,
)
# A look that carries meaning: "yellow = below LOQ". Colours and typefaces of cells are not read.
_LOOK = re.compile(
    r"\b(?:yellow|gr[ae]y|orange|red|blue|green|pink|shaded|highlighted|colou?red|bold|italics?"
    r"|jaune|gris|rouge|gras|italique|gelb|grau|rot|fett|kursiv|amarillo|rojo|negrita|cursiva"
    r"|giallo|grigio|rosso|grassetto|corsivo)"
    r"(?:\s+(?:cells?|values?|numbers?|results?|figures?|text|type|font|background|fill|shading))*"
    r"\s*(?:[:=\u2013-]|means?\b|indicates?\b|denotes?\b|marks?\b|are\b|is\b)\s*(.+)",
    re.IGNORECASE | re.DOTALL,
)
_UNSURE = re.compile(r"\b(?:estimat\w*|trace\w*|suspect\w*|uncertain)\b", re.IGNORECASE)


def heed_footnotes(table: Table, said: Statements, readers: Readers) -> tuple[Mark, ...]:
    """List the results whose footnote gives a unit or form of its own, or doubts the number.

    The numbers are doubtful: what the note says is for a person to apply.
    """
    notes = _telling_notes(said, readers)
    found = _heed_legends(table, said) + _heed_orders(table, said)
    if not notes:
        return tuple(found)
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
        for part in _PARTS.split(spot.text) if spot.kind == "text" else []:
            match = _NOTE.fullmatch(part)
            if match is None:
                continue
            text, title = match.group(2), readers.names.title(match.group(2))
            limits = title.lod or title.loq or title.limit
            unit = title.unit if title.unit != "%" else None
            equal = substances_meant(text, readers.names) is not None
            if _CHANGES.search(text) or ((unit or title.form) and not limits) or equal:
                notes[match.group(1)] = text
    return notes


def _heed_legends(table: Table, said: Statements) -> list[Mark]:
    """Doubt what stands for "not analysed" where the report's own legend says below a limit."""
    legends = [
        (match.group(1), part.strip())
        for _, _, spot in said.loose
        for part in (_PARTS.split(spot.text) if spot.kind == "text" else [])
        if (match := _LEGEND.match(part)) and _BELOW.search(match.group(2))
    ]
    if not legends:
        return []
    keys = {"" if re.search("cell", word, re.I) else squash(word): text for word, text in legends}
    found = []
    for row in table.lines.samples:
        for column in table.value_places():
            spot = table.grid.at(row, column)
            key = squash(spot.text) if spot and spot.kind == "text" else "" if not spot else None
            if key in keys:
                found.append(Mark(row, column, f"{LEGEND} {keys[key]}"[:80], True))
    return found


def _heed_orders(table: Table, said: Statements) -> list[Mark]:
    """Doubt every result where a sentence has them multiplied yet, or tells some by their look."""
    order = next((text for text in said.texts if _TO_DO.search(text) or _tells_by_look(text)), None)
    places = [(r, c) for r in table.lines.samples for c in table.value_places()] if order else []
    return [Mark(row, column, str(order)[:60], True) for row, column in places]


def _tells_by_look(text: str) -> bool:
    look = _LOOK.search(text)
    tells = (_BELOW, _CHANGES, _UNSURE)
    return look is not None and any(pattern.search(look.group(1)) for pattern in tells)


def _mark_behind(spot: Spot | None, notes: dict[str, str]) -> str | None:
    if spot is None or spot.kind != "text":
        return None
    match = _BEHIND.search(spot.text.strip())
    sign = match.group(0).strip() if match else ""
    alike = (sign, sign.strip("^()[]"), f"({sign})")
    return next((s for s in alike if s in notes), None)
