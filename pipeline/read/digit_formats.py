"""Fill the digits of a number into the tokens of a format section (ECMA-376 Part 1, 18.8.31)."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction

from pipeline.read.format_sections import Token

BLANK = {"0": "0", "#": "", "?": " "}


def exact(value: float) -> Decimal:
    """Give the 15 significant digits a spreadsheet computes with, ties and all."""
    return Decimal(format(value, ".15g"))


def _round(number: Decimal, places: int) -> Decimal:
    with localcontext() as context:
        context.prec = 400
        return number.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def _literal(token: Token) -> str:
    if token.kind == "pad":
        return " "
    if token.kind in {"fill", "comma"}:
        return ""
    return token.text


def _split(tokens: Sequence[Token]) -> tuple[Sequence[Token], Sequence[Token], bool]:
    for place, token in enumerate(tokens):
        if token.kind == "point":
            return tokens[:place], tokens[place + 1 :], True
    return tokens, (), False


def thousands(tokens: Sequence[Token]) -> int:
    """Count the commas after the last digit or right before the point: each divides by 1000."""
    whole, decimals, _ = _split(tokens)
    return sum(_trailing_commas(part) for part in (whole, decimals))


def _trailing_commas(tokens: Sequence[Token]) -> int:
    kinds = [token.kind for token in tokens if token.kind in {"digit", "comma"}]
    if "digit" not in kinds:
        return 0
    return kinds[::-1].index("digit")


def _groups(whole: Sequence[Token]) -> bool:
    kinds = [token.kind for token in whole if token.kind in {"digit", "comma"}]
    return kinds.count("comma") > _trailing_commas(whole)


def render_digits(value: float, tokens: Sequence[Token]) -> str:
    """Show a number that is not negative in a plain section such as `#,##0.00`."""
    return _fixed(exact(value), tokens)


def _fixed(number: Decimal, tokens: Sequence[Token]) -> str:
    whole, decimals, pointed = _split(tokens)
    percents = sum(token.kind == "percent" for token in tokens)
    places = sum(token.kind == "digit" for token in decimals)
    rounded = _round(number.scaleb(2 * percents - 3 * thousands(tokens)), places)
    left, _, right = format(rounded, "f").partition(".")
    left = "" if left == "0" else left
    shown = _fill_whole(left, whole, _groups(whole)) + ("." if pointed else "")
    return shown + _fill_decimals(right, decimals)


def _fill_whole(digits: str, tokens: Sequence[Token], grouped: bool) -> str:
    places = [place for place, token in enumerate(tokens) if token.kind == "digit"]
    shown: list[str] = []
    rest, written = digits, 0
    for place in range(len(tokens) - 1, -1, -1):
        token = tokens[place]
        if token.kind != "digit":
            shown.append(_literal(token)[::-1])
            continue
        take = len(rest) if place == places[0] else min(1, len(rest))
        piece = rest[len(rest) - take :] or BLANK[token.text]
        rest = rest[: len(rest) - take]
        for digit in reversed(piece):
            if grouped and written and written % 3 == 0:
                shown.append("," if digit.isdigit() else " ")
            shown.append(digit)
            written += 1
    return "".join(shown)[::-1]


def _fill_decimals(digits: str, tokens: Sequence[Token]) -> str:
    kept = len(digits.rstrip("0"))
    shown: list[str] = []
    place = 0
    for token in tokens:
        if token.kind == "digit":
            shown.append(digits[place] if place < kept else BLANK[token.text])
            place += 1
        else:
            shown.append(_literal(token))
    return "".join(shown)


def render_scientific(value: float, tokens: Sequence[Token]) -> str:
    """Show a number that is not negative in a section such as `0.00E+00` or `##0.0E+0`."""
    place = next(i for i, token in enumerate(tokens) if token.kind == "exponent")
    mantissa, power = tokens[:place], tokens[place + 1 :]
    whole, decimals, _ = _split(mantissa)
    width = max(1, sum(token.kind == "digit" for token in whole))
    places = sum(token.kind == "digit" for token in decimals)
    number = exact(value)
    exponent = _exponent(number, width)
    if _round(number.scaleb(-exponent), places) >= Decimal(10) ** width:
        exponent += width
    sign = "-" if exponent < 0 else "+" if "+" in tokens[place].text else ""
    shown = _fixed(number.scaleb(-exponent), mantissa)
    return f"{shown}E{sign}{_fixed(Decimal(abs(exponent)), power)}"


def _exponent(number: Decimal, width: int) -> int:
    return 0 if number == 0 else number.adjusted() // width * width


def render_fraction(value: float, tokens: Sequence[Token]) -> str:
    """Show a number that is not negative as a fraction, in a section such as `# ?/?`."""
    slash = next(i for i, token in enumerate(tokens) if token.kind == "slash")
    start = _first_of_run(tokens, slash)
    whole, above, below = tokens[:start], tokens[start:slash], tokens[slash + 1 :]
    mixed = any(token.kind == "digit" for token in whole)
    part = _nearest(Fraction(exact(value)), below)
    units = part[0] // part[1] if mixed else 0
    top = part[0] - units * part[1]
    if mixed and top == 0:
        return _fill_whole(str(units), whole, False).rstrip()
    shown = _fill_whole(str(units) if units else "", whole, False)
    return f"{shown}{_fill_whole(str(top), above, False)}/{part[1]}"


def _first_of_run(tokens: Sequence[Token], stop: int) -> int:
    start = stop
    while start and tokens[start - 1].kind == "digit":
        start -= 1
    return start


def _nearest(value: Fraction, below: Sequence[Token]) -> tuple[int, int]:
    """Give numerator and denominator: the fixed one of `# ?/16`, else the nearest that fits."""
    fixed = "".join(t.text for t in below if t.text.isdigit())
    if fixed.strip("0"):
        return round(value * int(fixed)), int(fixed)
    width = max(1, sum(token.kind == "digit" for token in below))
    near = value.limit_denominator(10**width - 1)
    return near.numerator, near.denominator
