"""What each key of the settings file accepts."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import time
from typing import Any


@dataclass(frozen=True)
class Rule:
    """What a key accepts: in words, as a test, and how the value is kept."""

    expected: str
    fits: Callable[[Any], bool]
    keep: Callable[[Any], Any] = lambda value: value
    needed: bool = False


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _number(expected: str, fits: Callable[[float], bool], needed: bool = False) -> Rule:
    return Rule(f"a number {expected}", lambda v: _is_number(v) and fits(v), float, needed)


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def word(words: Sequence[str], needed: bool = False) -> Rule:
    """Accept one of some words."""
    return Rule(f"one of {', '.join(words)}", lambda v: v in words, needed=needed)


def are_texts(value: object) -> bool:
    """Tell whether a value is a list of texts."""
    return isinstance(value, list) and all(map(_is_text, value))


def is_address(value: object) -> bool:
    """Tell whether a value can be an e-mail address, in the letters every mail server takes."""
    return isinstance(value, str) and re.fullmatch(r"[!-?A-~]+@[A-Za-z0-9.-]+", value) is not None


TEXT = Rule("a text in quotation marks", _is_text)
NEEDED_TEXT = Rule(TEXT.expected, _is_text, needed=True)
TEXTS = Rule("a list of texts", are_texts, tuple)
ADDRESSES = Rule(
    "a list of e-mail addresses",
    lambda v: isinstance(v, list) and all(map(is_address, v)),
    tuple,
)
TABLE = Rule("a table of keys", lambda v: isinstance(v, dict))
TABLES = Rule("one or more tables in double brackets", lambda v: isinstance(v, list))
TOP = {"decision": TABLE, "growth": TABLE, "threshold": TABLES, "odour_set": TABLES,
       "exposure": TABLE, "background": TABLES,
       "laboratory": TABLE, "layouts": TEXT, "vocabulary": TEXT, "inbox": TEXT, "serve": TABLE,
       "email": TABLE,
       "recipients": ADDRESSES, "recipient": TABLES}  # fmt: skip
DECISION = {
    "confidence": _number("from 0.5 to below 1", lambda v: 0.5 <= v < 1),
    "assume_uncertainty": Rule("true or false", lambda v: isinstance(v, bool)),
}
GROWTH = {
    "minimum": _number("from 0 to 1", lambda v: 0 <= v <= 1),
    "false_discovery_rate": _number("over 0 and below 1", lambda v: 0 < v < 1),
}
_WHOLE = Rule("a whole number above 0", lambda v: type(v) is int and v > 0)
EXPOSURE = {
    "markers": _WHOLE,
    "false_alarm": _number("over 0 and below 1", lambda v: 0 < v < 1),
    "references": _WHOLE,
}
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_TRUTH = Rule("true or false", lambda v: isinstance(v, bool))
SERVE = {
    "every": Rule(
        '"week", "day" or a whole number of hours, from 1',
        lambda v: v in ("week", "day") or (type(v) is int and v > 0),
    ),
    "day": word(DAYS),
    "at": Rule(
        'a time such as "07:00"',
        lambda v: _is_text(v) and re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", v) is not None,
        time.fromisoformat,
    ),
    "out": TEXT,
    "send": _TRUTH,
    "settle": _number("of seconds, from 1 to 3600", lambda v: 1 <= v <= 3600),
}
EMAIL = {
    "server": NEEDED_TEXT,
    "sender": Rule("an e-mail address", is_address, needed=True),
    "port": Rule("a port number", lambda v: type(v) is int and 0 < v < 65536),
    "encryption": word(("starttls", "tls", "none")),
    "user": TEXT,
}
RECIPIENT = {
    "address": Rule("an e-mail address", is_address, needed=True),
    "vineyards": TEXTS,
    "lots": TEXTS,
}
POSITIVE = _number("above 0", lambda v: 0 < v < float("inf"))
LABORATORY = {
    "density": _number("in kg/L, from 0.7 to 1.5", lambda v: 0.7 <= v <= 1.5),
    "plus_minus": word(("U", "s")),
    "coverage_factor": POSITIVE,
    "methods": TABLE,
    "controls": TABLE,
    "limits": TABLE,
    "confirmed": TEXTS,
}
LIMITS = {"lod": POSITIVE, "loq": POSITIVE, "unit": TEXT}
RELATIVE = _number("over 0 and below 1", lambda v: 0 < v < 1)
METHOD = {"relative": RELATIVE, "absolute": POSITIVE, "within": RELATIVE, "unit": TEXT}
CONTROL = {
    "value": Rule(POSITIVE.expected, POSITIVE.fits, float, needed=True),
    "uncertainty": POSITIVE,
    "unit": TEXT,
}
