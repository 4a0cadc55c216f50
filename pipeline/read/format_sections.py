"""Take a number format code apart into sections of tokens (ECMA-376 Part 1, 18.8.31)."""

import operator
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"?|\\(?P<escaped>.)|_(?P<pad>.)|\*(?P<fill>.)|\[(?P<bracket>[^\]]*)\]'
    r"|(?P<general>General)|(?P<exponent>E[+-])|(?P<half>AM/PM|A/P)|(?P<day>y+|m+|d+|h+|s+|e+)"
    r"|(?P<digit>[0#?])|(?P<point>\.)|(?P<comma>,)|(?P<percent>%)|(?P<slash>/)|(?P<text>@)"
    r"|(?P<stop>;)|(?P<other>.)",
    re.IGNORECASE | re.DOTALL,
)
CONDITION = re.compile(r"\s*(<=|>=|<>|<|>|=)\s*(-?[\d.]+(?:E[+-]?\d+)?)\s*", re.IGNORECASE)
COMPARE: dict[str, Callable[[float, float], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "=": operator.eq,
    "<>": operator.ne,
}
ELAPSED = re.compile(r"h+|m+|s+", re.IGNORECASE)


@dataclass(frozen=True)
class Token:
    """One piece of a format code: a kind and its characters."""

    kind: str
    text: str


@dataclass(frozen=True)
class Section:
    """One section of a format code, ready to be filled in."""

    tokens: tuple[Token, ...]
    condition: tuple[str, float] | None
    kind: str  # number, scientific, fraction, date, general, text, literal

    def holds(self, value: float) -> bool:
        """Tell whether the section's own condition lets the value in."""
        if self.condition is None:
            return True
        sign, bound = self.condition
        return COMPARE[sign](value, bound)


def _tokens(code: str) -> list[list[Token]]:
    sections: list[list[Token]] = [[]]
    for found in TOKEN.finditer(code):
        kind = found.lastgroup or "other"
        if kind == "stop":
            sections.append([])
        else:
            sections[-1].append(_token(kind, found.group(kind)))
    return sections


def _token(kind: str, text: str) -> Token:
    if kind in {"quoted", "escaped", "other"}:
        return Token("literal", text)
    if kind == "bracket":
        return _bracket(text)
    return Token(kind, text)


def _bracket(text: str) -> Token:
    if CONDITION.fullmatch(text):
        return Token("condition", text)
    if ELAPSED.fullmatch(text):
        return Token("elapsed", text)
    if text.startswith("$"):
        return Token("literal", text[1:].split("-")[0])
    return Token("colour", text)


def _kind(tokens: list[Token]) -> str:
    kinds = [token.kind for token in tokens]
    if "general" in kinds:
        return "general"
    if "text" in kinds:
        return "text"
    if "digit" in kinds and not _is_time(tokens):
        if "exponent" in kinds:
            return "scientific"
        return "fraction" if _has_fraction(tokens) else "number"
    return "date" if {"day", "elapsed"} & set(kinds) else "literal"


def _is_time(tokens: list[Token]) -> bool:
    """Tell a fraction of a second (`ss.00`) from the digits of a number."""
    bare = "".join(
        token.text if token.kind in {"day", "elapsed", "digit", "point"} else " "
        for token in tokens
    )
    return bool(re.search(r"s\.0", bare, re.IGNORECASE)) and not re.search(
        r"[0#?]", re.sub(r"s+\.0+", "", bare, flags=re.IGNORECASE)
    )


def _has_fraction(tokens: list[Token]) -> bool:
    kinds = [token.kind for token in tokens]
    if "slash" not in kinds[1:-1]:
        return False
    slash = kinds.index("slash")
    below = tokens[slash + 1]
    return kinds[slash - 1] == "digit" and (below.kind == "digit" or below.text.isdigit())


def _section(tokens: list[Token]) -> Section:
    condition = None
    for token in tokens:
        if token.kind == "condition" and (found := CONDITION.fullmatch(token.text)):
            condition = (found[1], float(found[2]))
    kept = [token for token in tokens if token.kind not in {"condition", "colour"}]
    kind = _kind(kept)
    if kind in {"number", "scientific", "fraction"}:
        kept = [Token("literal", t.text) if t.kind in {"day", "half"} else t for t in kept]
    return Section(tuple(kept), condition, kind)


@lru_cache(maxsize=1024)
def sections(code: str) -> tuple[Section, ...]:
    """Split a format code into its sections; an empty code is `General`."""
    return tuple(_section(tokens) for tokens in _tokens(code or "General")[:4])
