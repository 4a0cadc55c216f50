"""Read the legends around a table: what a lone dash means, which limit "nd" stands for."""

from __future__ import annotations

import re

from pipeline.censoring import Notations
from pipeline.names import Names

_DASH = re.compile(
    r"(?:^|[\s,;(\"'])(?:(?i:dash)\s+\(?)?[-–—]{1,3}[\"')]{0,2}\s*(?:=|:|means|stands for)\s*([^;,|]+)"
    r"|(?:^|;)\s*(?i:an?\s+)?(?i:dash)\s*(?:=|:|means|indicates|stands for)\s*([^;,|]+)"
    r"|^\s*[(\"']?[-–—]{1,3}[)\"']?\s+((?!\d)[^;,|]+)"
)
_BULLET = re.compile(r"\s*[-–—]{1,3}\s")
_MEANT_BELOW = re.compile(
    r"\W*(?:(?:legend|key|notes?)\W+)?(?P<word>n\.?\s?d\.?|not detected|bdl|n\.?q\.?|blq)\s*[:=]\s*"
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
        name = "loq" if "q" in match["word"].lower() else "lod"
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
    return notations.read(plain, ".").kind
