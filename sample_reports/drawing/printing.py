"""Turn a measured number into what the sheet prints and what the author knows it to mean."""

from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from drawing.facts import Odd

NOT_ANALYSED = ("", "NT", "N/A")


@dataclass(frozen=True)
class Limits:
    """LOD and LOQ in the printed unit; None when the report states none."""

    lod: Decimal | None
    loq: Decimal | None


@dataclass(frozen=True)
class Style:
    """How a laboratory writes numbers and what it writes below its limits."""

    below_lod: str
    below_loq: str  # empty: the number itself is printed, as an estimate
    stored: int = 1
    shown: int = 1
    comma: bool = False


@dataclass(frozen=True)
class Printed:
    """One value cell: the cell's content, its look, and its meaning in the printed unit."""

    text: str
    stored: Decimal | str | None
    places: int = 1
    outcome: str = "result"
    reason: str = ""
    value: Decimal | None = None
    censoring: str = ""
    lower: Decimal | None = None
    upper: Decimal | None = None
    struck: bool = False


def print_number(number: Decimal, style: Style, censoring: str = "none") -> Printed:
    """Print a quantified number; what is stored may carry more places than are shown."""
    value = clear_of_ties(quantize(number, style.stored), style)
    text = f"{quantize(value, style.shown):f}"
    shown = text.replace(".", ",") if style.comma else text
    stored: Decimal | str = shown if style.comma else value
    return Printed(
        shown, stored, style.shown, value=value, censoring=censoring, lower=value, upper=value
    )


def print_measured(number: Decimal, limits: Limits, style: Style) -> Printed:
    """Print a measured number, or the laboratory's words for one below a limit."""
    value = clear_of_ties(quantize(number, style.stored), style)
    if limits.lod is not None and value < limits.lod:
        return print_words(style.below_lod, limits, style)
    if limits.loq is not None and value < limits.loq:
        if style.below_loq:
            return print_words(style.below_loq, limits, style)
        return print_number(value, style, "estimated")
    return print_number(value, style)


def print_words(words: str, limits: Limits, style: Style) -> Printed:
    """Print words such as n.d., <LOQ, trace or <{lod}, with the interval they stand for."""
    text = fill_limits(words, limits, style)
    if words in ("n.d.", "ND", "<LOD", "<{lod}"):
        return censored(text, "left", Decimal(0), limits.lod)
    if words == "<{loq}":
        return censored(text, "left", Decimal(0), limits.loq)
    return censored(text, "interval", limits.lod, limits.loq)


def fill_limits(words: str, limits: Limits, style: Style) -> str:
    """Put the limits' numbers into the words."""
    text = words.format(lod=limits.lod, loq=limits.loq)
    return text.replace(".", ",") if style.comma and "{" in words else text


def censored(text: str, kind: str, lower: Decimal | None, upper: Decimal | None) -> Printed:
    """Print a text that stands for an interval."""
    return Printed(text, text, censoring=kind, lower=lower, upper=upper)


def print_text(text: str) -> Printed:
    """Print a text that is no result: not analysed, an error value, n.d. without a limit."""
    if text in NOT_ANALYSED:
        return Printed(text, text or None, outcome="not_analysed")
    reason = "excel_error" if text.startswith("#") else "limit_unknown"
    return Printed(text, text, outcome="held", reason=reason)


def hold(printed: Printed, reason: str) -> Printed:
    """Keep what is printed, but mark it as a value that must be held."""
    return replace(
        printed,
        outcome="held",
        reason=reason,
        value=None,
        lower=None,
        upper=None,
        censoring="",
    )


def apply_odd(printed: Printed, odd: Odd | None, style: Style) -> Printed:
    """Change a value cell as its declared oddity says; others pass unchanged."""
    if odd is None:
        return printed
    if odd.what in ("blank", "text"):
        return print_text(odd.text)
    if odd.what == "value":
        return print_number(Decimal(odd.text), style)
    if odd.what == "struck":
        return replace(hold(printed, "struck_out"), struck=True)
    return printed


def quantize(number: Decimal, places: int) -> Decimal:
    """Round half up to a number of places."""
    return number.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def clear_of_ties(value: Decimal, style: Style) -> Decimal:
    """Move a stored number off the middle between two shown ones: programs round it unlike."""
    tie = style.stored > style.shown and value != quantize(value, style.shown)
    half = Decimal(5).scaleb(-style.shown - 1)
    if tie and abs(value - quantize(value, style.shown)) == half:
        return value + Decimal(1).scaleb(-style.stored)
    return value
