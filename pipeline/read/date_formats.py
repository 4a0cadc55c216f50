"""Show a serial day number through a date or time format (ECMA-376 Part 1, 18.8.31)."""

import calendar
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from pipeline.read.format_sections import Token

LAST_SERIAL = 2958466  # the day after 9999-12-31
TOO_WIDE = "########"
MONTHS = tuple(calendar.month_name)
DAYS = tuple(calendar.day_name)


@dataclass(frozen=True)
class Moment:
    """A day and a time of day; `seconds` counts from the start of the serial numbers."""

    day: int
    month: int
    year: int
    weekday: int
    seconds: Decimal

    @property
    def clock(self) -> Decimal:
        """Seconds since midnight."""
        return self.seconds % 86400


def serial_date(serial: float) -> dt.date | None:
    """Give the day of a serial number of the 1900 system; null outside 1900 to 9999.

    Serial 60 is the 29 February 1900 that never was; spreadsheets keep it, so it is null.
    """
    day = int(serial)
    if not 1 <= serial < LAST_SERIAL or day == 60:
        return None
    return dt.date(1899, 12, 31 if day < 60 else 30) + dt.timedelta(days=day)


def render_date(serial: float, tokens: Sequence[Token]) -> str:
    """Show a serial number as date or time; `########` where no date can be shown."""
    if not 0 <= serial < LAST_SERIAL:
        return TOO_WIDE
    moment = _moment(serial, _places(tokens))
    half = any(token.kind == "half" for token in tokens)
    shown = []
    for place, token in enumerate(tokens):
        shown.append(_piece(moment, tokens, place, token, half))
    return "".join(shown)


def _places(tokens: Sequence[Token]) -> int:
    return min(3, sum(token.kind == "digit" for token in tokens))


def _moment(serial: float, places: int) -> Moment:
    step = Decimal(1).scaleb(-places)
    seconds = (Decimal(format(serial, ".15g")) * 86400).quantize(step, rounding=ROUND_HALF_UP)
    days = int(seconds // 86400)
    weekday = (days - 1) % 7
    if days in {0, 60}:
        return Moment(0 if days == 0 else 29, 1 if days == 0 else 2, 1900, weekday, seconds)
    on = dt.date(1899, 12, 31 if days < 60 else 30) + dt.timedelta(days=days)
    return Moment(on.day, on.month, on.year, weekday, seconds)


def _piece(moment: Moment, tokens: Sequence[Token], place: int, token: Token, half: bool) -> str:
    match token.kind:
        case "elapsed":
            return _elapsed(moment, token.text)
        case "half":
            return _half(moment, token.text)
        case "day":
            if token.text[0] in "mM" and _is_minute(tokens, place):
                return _padded(int(moment.clock // 60 % 60), token.text)
            return _calendar(moment, token.text.lower(), half)
        case "digit":
            return _fraction_digit(moment, tokens, place)
        case "pad":
            return " "
        case "fill":
            return ""
    return token.text


def _padded(number: int, pattern: str) -> str:
    return str(number).zfill(min(2, len(pattern)))


def _calendar(moment: Moment, pattern: str, half: bool) -> str:
    match pattern[0]:
        case "y" | "e":
            year = moment.year
            return str(year) if len(pattern) > 2 or pattern[0] == "e" else f"{year % 100:02d}"
        case "m":
            return _named(moment.month, MONTHS, pattern)
        case "d":
            return _weekday(moment, pattern)
        case "h":
            hour = int(moment.clock // 3600)
            return _padded((hour % 12 or 12) if half else hour, pattern)
    return _padded(int(moment.clock % 60), pattern)


def _named(month: int, names: Sequence[str], pattern: str) -> str:
    match len(pattern):
        case 1 | 2:
            return _padded(month, pattern)
        case 3:
            return names[month][:3]
        case 5:
            return names[month][0]
    return names[month]


def _weekday(moment: Moment, pattern: str) -> str:
    if len(pattern) <= 2:
        return _padded(moment.day, pattern)
    # Serial 1 (1 January 1900) is a Sunday in spreadsheets because of the day that never was.
    name = DAYS[(moment.weekday + 6) % 7]
    return name[:3] if len(pattern) == 3 else name


def _elapsed(moment: Moment, pattern: str) -> str:
    unit = {"h": 3600, "m": 60, "s": 1}[pattern[0].lower()]
    return str(int(moment.seconds // unit)).zfill(len(pattern))


def _half(moment: Moment, pattern: str) -> str:
    late = moment.clock >= 43200
    if "/" in pattern and len(pattern) == 3:
        return pattern[2] if late else pattern[0]
    return "PM" if late else "AM"


def _fraction_digit(moment: Moment, tokens: Sequence[Token], place: int) -> str:
    before = sum(token.kind == "digit" for token in tokens[:place])
    digits = format(moment.seconds % 1, ".3f")[2:]
    return digits[before] if before < len(digits) else "0"


def _is_minute(tokens: Sequence[Token], place: int) -> bool:
    """Tell minutes from months: minutes stand right after hours or right before seconds."""
    if len(tokens[place].text) > 2:
        return False
    kinds = {"day", "elapsed"}
    before = [t.text[0].lower() for t in tokens[:place] if t.kind in kinds]
    after = [t.text[0].lower() for t in tokens[place + 1 :] if t.kind in kinds]
    return before[-1:] == ["h"] or after[:1] == ["s"]
