"""Patterns by which a printed heading is taken apart."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Any

from schemas.vocabulary import Vocabulary, squash_words

SPACE = re.compile(r"\s+")
CAS = re.compile(r"\(?\s*(?:CAS[^\d(]{0,6})?(\d{2,7}-\d{2}-\d)\s*\)?", re.IGNORECASE)
LIMIT = re.compile(
    r"[(\[]?\s*\b(LOD|LOQ|LLD|MDL|L\.O\.D\.|L\.O\.Q\.|LOR|RL|NWG|BG|LD|LQ|LC|limit of detection"
    r"|detection limit|limit of quantification|limit of quantitation|quantification limit"
    r"|quantitation limit|reporting limit|limite de d[eé]tection|limite de quantification"
    r"|l[ií]mite de detecci[oó]n|l[ií]mite de cuantificaci[oó]n|limite di (?:rivelabilit|rilevabilit)à"
    r"|limite di quantificazione|limite de detec?[cç][aã]o|limite de quantifica[cç][aã]o"
    r"|Nachweisgrenze|Bestimmungsgrenze)\b\s*(?:[:=<≤(]|is|was|of|von|de|di)?\s*(\d+(?:[.,]\d+)?)",
    re.IGNORECASE,
)
LIMIT_KINDS = {"lod": "lod", "lld": "lod", "mdl": "lod", "nwg": "lod", "ld": "lod",
                "limitofdetection": "lod", "detectionlimit": "lod", "loq": "loq", "bg": "loq",
                "lq": "loq", "lc": "loq", "lor": "limit", "rl": "limit",
                "reportinglimit": "limit", "limitededetection": "lod", "limitededeteccion": "lod",
                "limitedirivelabilita": "lod", "limitedirilevabilita": "lod", "nachweisgrenze": "lod",
                "limitededetecao": "lod", "limitededeteccao": "lod"}  # fmt: skip
EQUIVALENT = re.compile(
    r"(?:(?:expressed|calculated|reported)\s+)?\bas\s+(.{3,60}?)\s*(?:equivalents?|equiv\.?|eq\.?)?\s*[)\]]*$"
    r"|\bin\s+(.{3,60}?)\s+(?:equivalents?|equiv\.?|eq\.)\s*[)\]]*$"
    r"|[,;(]\s*([^,;(]{3,60}?)\s+(?:equivalents?|equiv\.?|eq\.)\s*[)\]]*$",
    re.IGNORECASE,
)
K_FACTOR = re.compile(r"[,(]?\s*\bk\s*=\s*(\d(?:[.,]\d+)?)\s*\)?")
# The level of an uncertainty, which is no unit: "U (k=2, 95 %)", "95 % confidence".
CONFIDENCE = re.compile(
    r"[,;]?\s*\b(?:9[059]|95[.,]4\d?)\s*%(?:\s*(?:confidence(?:\s+(?:level|interval))?|c\.?i\.?|c\.?l\.?)(?![\w.]))?",
    re.IGNORECASE,
)
SPREAD = re.compile(
    r"(?:±|\+/-|\+-)\s*\(?(SD|s|StDev|standard deviation|SE|U|u|MU|uncertainty|expanded uncertainty)?"
    r"(?:\s*,?\s*\(?k\s*=\s*\d)?\)?\s*$",
    re.IGNORECASE,
)
IN_BRACKETS = re.compile(r"[(\[]([^()\[\]]{1,30})[)\]]")
PATH = re.compile(r"(\d+(?:[.,]\d+)?\s*(?:mm|cm))(?:\s*(?:path|cell|cuvette))?", re.IGNORECASE)
PATH_LENGTH = re.compile(r"(?<![\d.,/])\d+(?:[.,]\d+)?\s*[mc]m\b", re.IGNORECASE)
UNIT_LIKE = re.compile(
    r"(?:[pnuµμmk?\ufffd]?g|[nuµμm]?mol|[µμum]?L)\s*(?:/|per)\s*\w{1,12}", re.IGNORECASE
)
STRANGE_UNIT = re.compile(rf"[(\[]?\s*(?:{UNIT_LIKE.pattern}|pp[bmt]\b)", re.IGNORECASE)
REPLICATE = re.compile(r"[\s,;(-]*\brep(?:l(?:icate)?)?\.?\s*([0-9]|[a-c])\)?\s*$", re.IGNORECASE)
# Words in a title that look like a form and are none, and titles that speak of what was not done.
NO_FORM = re.compile(
    r"\b(?:feel\s+free|\w+-free|free[\s-]+(?:of|from|to|run|so2|sulphur|sulfur)"
    r"|bound\s+for|total\s+(?:of|number|volume|weight|samples?|pages?|acidity|so2)"
    r"|totale?\s+d(?:e|i|es)?\W?\s*(?:muestras|amostras|campioni|[eé]chantillons))\b",
    re.IGNORECASE,
)
DENIED = re.compile(
    r"\bnot\s+(?:be\s+)?(?:measured|determined|analysed|analyzed|reported|included|requested)\b",
    re.IGNORECASE,
)
MULTIPLE = re.compile(
    r"[x×*]\s*\d|10\s*\^|\b10\s*-\s*\d|10[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]|\d\s*[x×*](?!\w)|(?i:\bdry\s+(?:weight|matter)\b|\bdw\b)"
)
_POWER = r"10\s*(?:\^|\*\*)\s*\(?[-+−–]?\d{1,2}\)?"
# A power of ten directly before a unit is part of it (common practice, no source).
POWER_OF_UNIT = re.compile(r"10\s*(?:\^|\*\*)\s*\(?([-+]?\d{1,2})\)?\s*[·*]?\s*(\D.*)")
FACTOR_BEFORE = re.compile(
    rf"[(\[]?\s*(?:{_POWER}|(?<![^\W\d_])[x×*·]\s*(?:{_POWER}|10\s?[-−–]\s?\d{{1,2}}|10+)[\s)\],]*[(\[]?"
    r"|10[-−–]\d{1,2})\s*[·*x×]?\s*$",
    re.IGNORECASE,
)
FACTOR_BEHIND = re.compile(
    rf"\s*[x×*·]\s*(?:{_POWER}|10\s?[-−–]\s?\d{{1,2}}|10+)\s*[)\]]?", re.IGNORECASE
)
_RAISED = re.compile(r"(?<=\b10)([⁺⁻]?[⁰¹²³⁴-⁹]{1,2})(?![⁰¹²³⁴-⁹])")
_PLAIN = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")
FOOTNOTE = re.compile(
    r"(?:(?<=[^\W\d_]{3})(?:\s*[*†‡§]+|[¹²³⁰⁴-⁹ᵃ-ᶜ]+|\s\([\da-e]\))|(?<=[)\]])\s*[*†‡§]+)$"
    r"|(?<=[^\W\d_]{3})(?:[*†‡§]+|[¹²³⁰⁴-⁹ᵃ-ᶜ]+)(?=\s+[(\[])"
)
BRACKETED = re.compile(r"([^()\[\]]{2,}?)\s*[(\[]([^()\[\]]{2,})[)\]]")
TITLE_SPREAD = re.compile(
    r"(?:±|\+/-)\s*(SD|s\.?d\.?|StDev|standard deviations?|U|MU|expanded uncertainty|uncertainty)\b",
    re.IGNORECASE,
)
DEVIATIONS = {"sd", "s.d.", "s.d", "s", "stdev", "standard deviation", "standard deviations"}
# Anything that could be a name, a unit or a limit; a sample number such as "S-101" is none.
WORDY = re.compile(r"[^\W\d_]{3}|[/µμ%(\[]|pp[bmt]\b")
SUM_OR_FORM = "does total mean the sum of the isomers or the total form?"
# "Guaiacol in ug/L", once the unit is taken.
BEFORE_UNIT = re.compile(r"\s+(?:in|en|em)\s*$", re.IGNORECASE)
EMPTY = re.compile(r"[\[(]\s*[\])]")
# Between the two halves of a heading in two languages.
TWOFOLD = re.compile(r"\s+[/|–-]\s+|\s*[\r\n]+\s*")
FILLER = re.compile(
    r"\b(conc(?:entration)?|result|level|content|amount|analyte|compound|teneur|gehalt|fraction"
    r"|form|aglycone|fracción|frazione|fraktion)s?\b\.?",
    re.IGNORECASE,
)


def path_unit(text: str) -> str | None:
    """The unit of an optical path that a label such as "Path length (mm)" gives."""
    found = set(re.findall(r"(?<![^\W\d_])[mc]m\b", text.lower()))
    return found.pop() if len(found) == 1 else None


def spell_powers(text: str) -> str:
    """Write the raised exponent of ten behind a caret, before folding lets it become digits."""
    return _RAISED.sub(lambda m: "^" + m.group(1).translate(_PLAIN), text)


def rest_of_limits(text: str) -> str:
    """Drop limits with the unit behind each, so that what is left is the results' own."""
    return re.sub(LIMIT.pattern + r"\s*[^\s,;)]*", " ", text, flags=re.IGNORECASE)


# "guaiacol_free_ug_l": how exports call a column, its unit last.
_JOINED = re.compile(r"[^\W_]+(?:[+-][^\W_]+)*(?:_[^\W_]+(?:[+-][^\W_]+)*)+")
_UNIT_LAST = re.compile(r"_([nuµμm]g)_?(?:per_)?(m?l|kg|g)$", re.IGNORECASE)
_LETTERS = {"l": "L", "ml": "mL", "kg": "kg", "g": "g"}


def part_words(text: str) -> str:
    """Part the words of "guaiacol_free_ug_l", and write its unit in brackets."""
    if _JOINED.fullmatch(text) is None:
        return text
    named = _UNIT_LAST.sub(lambda m: f" ({m[1].lower()}/{_LETTERS[m[2].lower()]})", text)
    return named.replace("_", " ")


def as_printed(text: str) -> str:
    """Fold widths and spaces, but keep the micro sign that was printed."""
    bare = part_words(spell_powers(FOOTNOTE.sub("", text.strip())))
    folded = unicodedata.normalize("NFKC", bare.replace("µ", "\ue000"))
    return SPACE.sub(" ", folded.replace("\ue000", "µ")).strip()


def unit_pattern(vocabulary: Vocabulary) -> re.Pattern[str]:
    """Build the pattern of every unit of a concentration, longest first."""
    kinds = {"mass per volume", "mass per mass", "amount per volume", "amount per mass", "ratio"}
    printed = sorted(
        (u for u, unit in vocabulary.units.items() if unit.kind in kinds), key=len, reverse=True
    )
    return re.compile(
        r"(?<![\w/?\ufffd^])[\[(]?\s*("
        + "|".join(re.escape(u).replace("/", r"\s*/\s*") for u in printed)
        + r")\s*[\])]?(?![\w/])"
    )


def word_pattern(phrases: Iterable[str]) -> re.Pattern[str]:
    """Build the pattern of folded phrases, longest first, whatever signs part their words."""
    words = sorted(phrases, key=len, reverse=True)
    spaced = ("[^a-z0-9+]+".join(map(re.escape, w.split())) for w in words)
    return re.compile(r"(?<![a-z0-9])(?:" + "|".join(spaced) + r")(?![a-z0-9])")


# Words for a matrix that mean something else in a title.
_NOT_IN_TITLES = {"red", "white", "rose", "most", "must", "medium", "jus", "fruit", "tinto"}


def matrix_words(vocabulary: Vocabulary) -> dict[str, str]:
    """Tabulate the words by which a title names a matrix."""
    words = {squash_words(w): m for m, ws in vocabulary.matrix_words.items() for w in (m, *ws)}
    bare = {w.rstrip("s"): m for w, m in words.items() if w not in _NOT_IN_TITLES}
    return {w: m for w, m in bare.items() if w not in _NOT_IN_TITLES}


def fold_letters(text: str) -> str:
    """Fold case and accents letter by letter, so that positions stay those of the text."""
    return "".join(unicodedata.normalize("NFD", c)[0] for c in text.lower()) if text else text


def one_form(forms: set[str]) -> dict[str, Any]:
    """Give the form when exactly one is told."""
    return {"form": next(iter(forms))} if len(forms) == 1 else {}


def fold_signs(text: str) -> str:
    """Write micro signs, minus signs and the exponent -1 in one way; the length stays."""
    return (
        text.replace("μ", "u")
        .replace("µ", "u")
        .replace("−", "-")
        .replace("–1", "-1")
        .replace("⁻¹", "-1")
    )


def spread_kind(match: re.Match[str]) -> str:
    """Tell a standard deviation from an uncertainty by the word a spread is printed with."""
    return "deviation" if (match.group(1) or "").lower() in DEVIATIONS else "uncertainty"
