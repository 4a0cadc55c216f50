"""Read the legends around a table: what a lone dash means, which limit "nd" stands for."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pipeline.addresses import cell_name
from pipeline.censoring import Notations
from pipeline.names import Names
from pipeline.recognise.grid import Spot
from schemas.folding import notation_key
from schemas.layout import LEGEND

_DASH_WORD = r"(?i:dash|tiret|gui[oó]n|trattino|strich|tra[cç]o)"
_DASH = re.compile(
    rf"(?:^|[\s,;(\"'])(?:{_DASH_WORD}\s+[\"'(]?)?[-–—]{{1,3}}[\"')]{{0,2}}\s*"
    r"(?:=|:|means|stands for|signifie|significa|bedeutet)\s*([^;,|]+)"
    r"|(?:^|;)\s*(?i:an?\s+)?(?i:dash)\s*(?:=|:|means|indicates|stands for)\s*([^;,|]+)"
    r"|^\s*[(\"']?[-–—]{1,3}[)\"']?\s+((?!\d)[^;,|]+)"
)
_BULLET = re.compile(r"\s*[-–—]{1,3}\s")
_MEANT_BELOW = re.compile(
    r"\W*(?:(?:legend|key|notes?)\W+)?(?P<word>n\.?\s?d\.?|not detected|bdl|n\.?q\.?|blq"
    r"|tr\.?|traces?|trazas|tracce|spuren|vestígios)\s*[:=]\s*"
    r"[^\d<≤]{0,40}?(?:<|≤|\b(?:below|less than|under))\s*(?P<number>\d+(?:[.,]\d+)?)(?P<unit>[^\d;]*)",
    re.IGNORECASE,
)
STEMS = re.compile(
    r"guaia|gaïac|guaya|syring|siring|cresol|phenol|glycosid|rutinos|gentiob", re.IGNORECASE
)


def limits_meant(text: str, names: Names) -> dict[str, str]:
    """Read "nd = not detected (< 0.3 ug/L)" in a legend for the limit that the notation stands for."""
    found: dict[str, str] = {}
    for part in re.split(r"[;\n]", text):
        match = _MEANT_BELOW.fullmatch(part.strip())
        if match is None or STEMS.search(part):
            continue
        units = names.units_in(match["unit"])
        if not units and re.search(r"\w", match["unit"]):
            continue
        name = "loq" if re.search(r"q|^[tsv]", match["word"].lower()) else "lod"
        found.setdefault(name, " ".join([match["number"], *units[:1]]))
    return found


def dash_meaning(texts: list[str], notations: Notations) -> str | None:
    """Find what a lone dash means by the sheet's own legend: a kind of notation, or None."""
    bullets = sum(bool(_BULLET.match(text)) for text in texts) > 1
    for text in texts:
        if match := _DASH.search(text):
            if bullets and match.group(3):
                continue
            kind = _kind_meant(next(filter(None, match.groups())), notations)
            if kind not in {"unknown", "number", "blank"}:
                return kind
    return None


def _kind_meant(text: str, notations: Notations) -> str:
    """Read "below the LOD (0.3 ug/L)" or "not tested for this sample" by its first words."""
    plain = re.sub(r"\b(?:the|this|these)\s+|\s*[(\[].*|\.\s*$", "", text).strip(" \"'")
    plain = re.sub(r"\s+(?:for|in|on|by)\s+\S.*$", "", plain)
    plain = re.sub(r"\s+(?:of\s+)?[<≤]?\s*\d+(?:[.,]\d+)?(?:\s\S+)?$", "", plain)
    kind = notations.read(plain, ".").kind
    bare = re.sub(r",|\b(?:but|and)\b", " ", plain)
    return kind if kind != "unknown" or bare == plain else notations.read(bare, ".").kind


_ENTRIES = re.compile(r"\s*(?:[;\n|]|,\s+(?=\S{1,9}\s*[:=]))\s*")
_LEAD = re.compile(
    r"(?:legend|key|notes?|abbreviations?|l[ée]gende|remarques?|abr[ée]viations?|leyenda|notas?"
    r"|abreviaturas|legenda|nota|abbreviazioni|abkürzungen|hinweise?|anmerkung(?:en)?"
    r"|zeichenerklärung)\s*[:.]?\s+(?=\S)",
    re.IGNORECASE,
)
_ENTRY = re.compile(
    r"[\"'«“(]?(?P<token>(?:[<>]\s?)?[^\s\"'«»“”=:]{1,9}(?:\s\w\.)?)[\"'»”)]?"
    r"(?:\s*(?:=|:)\s*|\s+(?:means|stands for|indicates|denotes|signifie|significa|bedeutet"
    r"|steht für)\s+)(?P<meaning>\S.*)",
    re.IGNORECASE | re.DOTALL,
)
_SIGNED = re.compile(r"(?P<token>\*{1,3}|†|‡|§|#)\s+(?P<meaning>\S.*)", re.DOTALL)
# A number that no laboratory measures; a 1 or 2 before a sentence is the sign of a footnote.
_PLACEHOLDER = re.compile(r"[-\u2212]\d+(?:[.,]\d+)?|0+(?:[.,]0+)?|9{2,}(?:[.,]9+)?")
_LIMIT = re.compile(r"[(\[]\s*[<≤]?\s*(\d[^()\[\]]*)[)\]]")
# "over range (calibrated to 0.5 mg/L)": where the range ends.
_TOP = re.compile(
    r"(?:>|\b(?:calibrated|calibration|range)\s+(?:up\s+)?to|\bup to|\babove|\bgreater than|\bmore than)"
    r"\s*(\d+(?:[.,]\d+)?\s*[^\s()\[\];,]*)",
    re.IGNORECASE,
)
# Words of an explanation that goes with what the notation usually means.
_OF_LIMITS = re.compile(
    r"below|under|less|limit|límite|detect|détect|detekt|detet|rilev|rivel|nachweis|quantif|cuantif"
    r"|trace|spur|inf[ée]rior|inf[ée]rieur|unter|bestimmungsgrenze|\b(?:lod|loq|ld|lq|mdl|rl)\b",
    re.IGNORECASE,
)
_AGREES = {
    "not_analysed": re.compile(r"\b(?:not?|non|nicht|não|without|sans|sin|ohne)\b", re.I),
    "above_range": re.compile(r"range|calibra|kalibr|étalonn|calibr|over|above", re.I),
    "rejected": re.compile(r"reject|invalid|rejet|rechaz|verworf|ungültig", re.I),
}
# What stands for each kind of notation when a legend gives another sign its meaning.
_PRINTED = {
    "not_analysed": "not analysed",
    "not_detected": "not detected",
    "below_detection": "<LOD",
    "below_quantification": "<LOQ",
    "below_reporting": "<RL",
    "above_range": "over range",
    "rejected": "rejected",
}


# What a legend says of each sign (`notation_key`): by the kind and text to read, the cell that says so.
Told = dict[str, dict[tuple[str, str], str]]


def read_legend(sheet: str, loose: list[tuple[int, int, Spot]], notations: Notations) -> Told:
    """Read what the signs and letters of a sheet stand for where a legend says other than usual.

    A text that starts with LEGEND gives a known notation a meaning nobody understands.
    """
    found: Told = {}
    for place, token, meaning in _entries(loose, notations):
        printed = _NUMERIC.fullmatch(token) and not _PLACEHOLDER.fullmatch(token)
        if printed:
            continue
        usual, meant = notations.read(token, ".").kind, _kind_meant(meaning, notations)
        if (text := _read_instead(usual, meant, meaning)) is not None:
            told = found.setdefault(notation_key(token), {})
            told.setdefault((meant, text or token), f"{sheet}!{cell_name(*place)}")
    return found


def settle_legends(legends: Iterable[Told]) -> dict[str, str]:
    """Give for each sign the text to read in its place, by all legends that hold for a table.

    The text starts with LEGEND where they contradict each other, and names the cells that do.
    """
    all_told: Told = {}
    for legend in legends:
        for key, told in legend.items():
            all_told[key] = {**(known := all_told.get(key, {})), **told, **known}
    return {key: _agreed(told) for key, told in all_told.items()}


# Two words for one interval.
_ALIKE = {"below_detection": "not_detected"}


def _agreed(told: dict[tuple[str, str], str]) -> str:
    """The one text that is told; a limit beside the same words without one is no contradiction."""
    limits = {_plain(limit): text for _, text in told if (limit := text.partition("(")[2])}
    kinds = {_ALIKE.get(kind, kind) for kind, _ in told}
    first = next(text for _, text in told)
    if len(told) == 1 or (len(kinds) == 1 and len(limits) < 2 and "unknown" not in kinds):
        return next(iter(limits.values()), first)
    sides = [f'"{t.removeprefix(LEGEND).strip()}" in {cell}' for (_, t), cell in told.items()]
    return f"{LEGEND} {' but '.join(sides)}"


def _plain(text: str) -> str:
    return re.sub(r"\s+", "", text.lower().replace(",", "."))


_NUMERIC = re.compile(r"[-\u2212]?\d+(?:[.,]\d+)?")


def _read_instead(usual: str, meant: str, meaning: str) -> str | None:
    """The text to read for a sign: empty where it means what is usual, null where nothing is said."""
    if meant not in _PRINTED:
        agrees = _AGREES.get(usual, _OF_LIMITS).search(meaning)
        known = usual in _PRINTED and not agrees and not re.search(r"\d", meaning)
        return f"{LEGEND} {meaning}"[:80] if known else None
    top = _TOP.search(meaning) if meant == "above_range" else None
    if meant == usual:
        return f"> {top.group(1).strip()}" if top else ""
    if top:
        return f"> {top.group(1).strip()}"
    limit = _LIMIT.search(meaning) if meant not in {"not_analysed", "rejected"} else None
    return f"{_PRINTED[meant]} ({limit.group(1).strip()})" if limit else _PRINTED[meant]


def _entries(
    loose: list[tuple[int, int, Spot]], notations: Notations
) -> list[tuple[tuple[int, int], str, str]]:
    """List the places of signs, and their meanings: in one cell, or in two beside each other."""
    texts = {(row, col): spot.text.strip() for row, col, spot in loose}
    found = []
    for (row, col), text in texts.items():
        beside = texts.get((row, col + 1))
        if beside and _is_sign(text, notations) and _kind_meant(beside, notations) in _PRINTED:
            found.append(((row, col), text.rstrip(" :="), beside.lstrip(" :=")))
        for part in _ENTRIES.split(text):
            bare = _LEAD.sub("", part, count=1) if _LEAD.match(part) else part
            if match := _ENTRY.fullmatch(bare) or _SIGNED.fullmatch(bare):
                meaning = _unclosed(match["meaning"].rstrip(" ."))
                found.append(((row, col), match["token"], meaning))
    return found


def _unclosed(meaning: str) -> str:
    """Drop a bracket that was opened before the sign."""
    return meaning.rstrip(" .)") if meaning.count(")") > meaning.count("(") else meaning


def _is_sign(text: str, notations: Notations) -> bool:
    bare = text.rstrip(" :=")
    return len(bare) <= 9 and (
        notations.read(bare, ".").kind in {*_PRINTED, "blank_mark"}
        or not re.search(r"\w", bare)
        or bool(_PLACEHOLDER.fullmatch(bare))
    )
