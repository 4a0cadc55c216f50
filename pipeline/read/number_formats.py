"""Show a stored number as a spreadsheet shows it, in a neutral locale with a decimal point.

A format code has up to four sections, parted by `;`, each a row of tokens. The section that
applies to a value is chosen first, then its tokens are filled in. Source of the rules:
ECMA-376 Part 1, 18.8.30 (numFmt) and 18.8.31 (numFmts).
"""

import math
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import lru_cache

from pipeline.read.date_formats import render_date
from pipeline.read.digit_formats import (
    render_digits,
    render_fraction,
    render_scientific,
    thousands,
)
from pipeline.read.format_sections import Section, Token, sections

FILL: dict[str, Callable[[float, Sequence[Token]], str]] = {
    "number": render_digits,
    "scientific": render_scientific,
    "fraction": render_fraction,
}
SILENT = frozenset(" \u00a0\u202f-+()',.:/_$€£¥")


def _numeric(code: str) -> tuple[Section, ...]:
    every = sections(code)
    if len(every) == 4:
        return every[:3]
    return tuple(s for s in every if s.kind != "text") or every


def choose(value: float, code: str) -> tuple[Section, bool]:
    """Choose the section that applies, and whether the value's own minus sign is shown."""
    parts = _numeric(code)
    if any(part.condition for part in parts):
        return _choose_by_condition(value, parts)
    if len(parts) == 1 or value > 0:
        return parts[0], value < 0
    if value < 0:
        return parts[1], False
    return (parts[2] if len(parts) > 2 else parts[0]), False


def _choose_by_condition(value: float, parts: tuple[Section, ...]) -> tuple[Section, bool]:
    for place, part in enumerate(parts):
        if part.condition is None and place == 1 and len(parts) > 2 and value >= 0:
            continue
        if part.holds(value):
            return part, value < 0 and not _only_negative(part)
    return parts[-1], value < 0


def _only_negative(part: Section) -> bool:
    if part.condition is None:
        return False
    sign, bound = part.condition
    return (sign in {"<", "="} and bound <= 0) or (sign == "<=" and bound < 0)


@lru_cache(maxsize=65536)
def render(value: float, format_code: str) -> str:
    """Show a number through a format code, in an en-US locale, spaces for padding kept.

    Dates are serial days of the 1900 system. A value that the format cannot show (a negative
    date) gives `########`, as in a spreadsheet.
    """
    section, minus = choose(value, format_code)
    if section.kind == "date":
        return render_date(value, section.tokens)
    if section.kind in FILL:
        shown = FILL[section.kind](abs(value), section.tokens)
        minus = minus and any(digit in shown for digit in "123456789")
    else:
        shown = _render_around(general(abs(value)), section.tokens)
    return f"-{shown}" if minus else shown


def render_text(text: str, format_code: str) -> str:
    """Show a text cell through the text section of its format (`"<"@`), if it has one."""
    every = sections(format_code)
    if len(every) == 4:
        section = every[3]
    else:
        section = every[-1]
        if section.kind != "text":
            return text
    return _render_around(text, section.tokens)


def _render_around(text: str, tokens: tuple[Token, ...]) -> str:
    show = {"general": text, "text": text, "pad": " ", "fill": ""}
    return "".join(show.get(token.kind, token.text) for token in tokens)


def general(value: float) -> str:
    """Show a number as the format `General` does, in at most about 11 characters.

    Whole numbers of up to 15 digits stay whole and small numbers stay decimal, where a
    spreadsheet would turn to `1.2E+11`: a sample number must stay readable.
    """
    if not math.isfinite(value):
        return "#NUM!"
    if value == int(value) and abs(value) < 1e15:
        return str(int(value))
    if not 1e-9 <= abs(value) < 1e15:
        return _short_scientific(value)
    digits = 9 if abs(value) < 1 else 10
    return _plain(format(value, f".{digits}g"))


def _short_scientific(value: float) -> str:
    mantissa, exponent = format(value, ".5E").split("E")
    return f"{mantissa.rstrip('0').rstrip('.')}E{int(exponent):+03d}"


def _plain(text: str) -> str:
    shown = format(Decimal(text), "f")
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


@lru_cache(maxsize=1024)
def is_date_format(format_code: str) -> bool:
    """Tell whether positive numbers in this format are shown as dates or times."""
    return sections(format_code)[0].kind == "date"


def _says(section: Section) -> bool:
    literals = (token.text for token in section.tokens if token.kind == "literal")
    if any(character not in SILENT for text in literals for character in text):
        return True
    return any(token.kind == "percent" for token in section.tokens)


@lru_cache(maxsize=1024)
def adds_meaning(format_code: str) -> bool:
    """Tell whether any section of the format adds `<`, `>`, `%`, letters or other signs."""
    return any(_says(part) for part in _numeric(format_code) if part.kind != "date")


@lru_cache(maxsize=65536)
def shown_wins(value: float, format_code: str) -> bool:
    """Tell whether the section that shows this very value adds `<`, `>`, `%`, letters or signs.

    A number shown in thousands (`0,`) counts too: what a person reads is another number.
    """
    section, _ = choose(value, format_code)
    return section.kind != "date" and (_says(section) or _scales(section))


def _scales(section: Section) -> bool:
    return section.kind == "number" and thousands(section.tokens) > 0
