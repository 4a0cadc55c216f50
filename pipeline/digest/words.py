"""Numbers, intervals, probabilities and sources as a person reads them."""

from __future__ import annotations

import math
import re
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from pipeline.phrases import shown_unit

# Calibrated words: Mastrandrea et al., IPCC guidance note on uncertainties (2010), table 1.
_LIKELIHOOD = (
    (0.99, "virtually certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.01, "very unlikely"),
    (0.0, "exceptionally unlikely"),
)

REASONS = {
    "no_threshold": "no threshold is set",
    "colour_unknown": "the colour of the wine is not known",
    "within_uncertainty": "the threshold lies within the uncertainty of the value",
    "limit_above_threshold": "limit too high to tell: it lies above the threshold",
    "above_range": "above the range that was measured; a diluted re-run would tell",
    "limit_above_background": "the laboratory's limit is above the background",
    "few_references": "too few reference lots",
    "no_background": "no background is known for this variety",
    "isomer_sum": "only a sum of isomers was reported",
    "member_missing": "not every member of the set was measured",
    "conflicting_reports": "two reports of the laboratory disagree",
    "isomers_unresolved": "only a sum of isomers was reported, and its split decides",
    "explained": "what was done to the lot can explain it",
    "free_removed": "the share rose by a loss of free phenols",
    "no_baseline": "no earlier wine sample to compare with",
    "unit_slip": "the number stands a power of ten away from what is usual: a slip of the unit?",
    "quality_control": "quality control of its batch failed",
    "not_comparable": "laboratory, method or basis differs from the earlier sample",
}


def number(value: float, uncertainty: float | None = None) -> str:
    """Round to two significant digits of the uncertainty, else to three significant digits.

    `uncertainty` is a standard uncertainty in the value's unit; null when none is stated, and then
    closing zeros, which would claim a precision, go. Source: JCGM 100:2008, 7.2.6.
    """
    if value == 0:
        return "0"
    leading = uncertainty if uncertainty else abs(value)
    digits = (1 if uncertainty else 2) - math.floor(math.log10(leading))
    # Halves go up, as everywhere else, and not to the even digit, as `round` has it.
    rounded = Decimal(repr(value)).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    text = f"{rounded:.{max(digits, 0)}f}"
    if not uncertainty and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text.replace("-", "\u2212")


def with_unit(text: str, unit: str | None) -> str:
    """Join a number and its unit with a space that does not break."""
    return f"{text}\u00a0{shown_unit(unit)}".rstrip("\u00a0")


def interval(
    lower: float | None, upper: float | None, unit: str | None, uncertainty: float | None = None
) -> str:
    """Say a value that is known as [lower, upper]; a null upper end has no bound.

    Equal ends are one number, a lower end of zero is "< upper".
    """
    if lower is None and upper is None:
        return "not known"
    if lower is not None and lower == upper:
        return with_unit(number(lower, uncertainty), unit)
    if upper is None:
        return with_unit(f">\u00a0{number(lower or 0.0)}", unit)
    if not lower:
        return with_unit(f"<\u00a0{number(upper)}", unit)
    return with_unit(f"{number(lower)} to {number(upper)}", unit)


def change(lower: float | None, upper: float | None, unit: str | None) -> str:
    """Say how far something moved, with its sign; a null end has no bound."""
    ends = [
        end if end is None else f"{'+' if end > 0 else ''}{number(end)}" for end in (lower, upper)
    ]
    if lower is None:
        return "by an unknown amount" if upper is None else with_unit(f"{ends[1]} or less", unit)
    if upper is None:
        return with_unit(f"{ends[0]} or more", unit)
    return with_unit(" to ".join(dict.fromkeys(str(end) for end in ends)), unit)


def brief(lower: float, upper: float | None, uncertainty: float | None = None) -> str:
    """Say an interval as shortly as a mark on a chart needs: "26.1", "<0.5", ">50"."""
    if upper is None:
        return f">{number(lower)}"
    if lower == upper:
        return number(lower, uncertainty)
    ends = (number(lower), number(upper))
    return f"<{ends[1]}" if not lower else "\u2013".join(dict.fromkeys(ends))


def share(lower: float | None, upper: float | None) -> str:
    """Say a fraction known as an interval as whole percents; a missing end is left out."""
    ends = [f"{100 * end:.0f}" for end in (lower, upper) if end is not None]
    return f"{' to '.join(dict.fromkeys(ends))}\u00a0%" if ends else "share not known"


def _percent(probability: float) -> int:
    """Round to whole percents, near the ends towards the middle: 94.96 is not yet 95."""
    exact = round(100 * probability, 6)
    rounding = math.floor if exact > 90 else math.ceil if exact < 10 else round
    return rounding(exact)


def odds(probability: float | None) -> str:
    """Say how probable it is that a threshold is exceeded, never 0 % or 100 %; null is empty."""
    if probability is None:
        return ""
    whole = f"{_percent(probability)}"
    if not 0.01 <= probability <= 0.99:
        whole = "over 99" if probability > 0.5 else "under 1"
    return f"{whole}\u00a0%"


# A test of growth tells how surely the share rose at all, not by how much.
GROWTH = "bound_growth"


def likelihood(probability: float, of: str = "of being above") -> str:
    """Say the probability of being above a threshold in calibrated words and as a number.

    Words: Mastrandrea et al., IPCC guidance note on uncertainties (2010), table 1.
    """
    words = next(word for floor, word in _LIKELIHOOD if probability >= floor)
    shown = f"{_percent(probability) / 100:.2f}"
    if probability > 0.99:
        shown = "above 0.99"
    elif probability < 0.01:
        shown = "below 0.01"
    return f"{words} (probability {shown} {of})"


def sureness(probability: float | None, decision: str, kind: str = "") -> str:
    """Say how sure a decision is; without a stated uncertainty the interval alone decides."""
    if probability is not None:
        if kind == GROWTH:
            return likelihood(probability, "of having risen at all")
        return likelihood(probability)
    return "" if decision == "undecided" else "no uncertainty is known: the value itself decides"


def reason(code: str | None) -> str:
    """Say why a decision is open; an unknown code is shown as it stands, null is empty."""
    return "" if code is None else REASONS.get(code, code.replace("_", " "))


def day(value: date | None) -> str:
    """Say a date as ISO text; null is "date not given"."""
    return "date not given" if value is None else value.isoformat()


def plural(count: int, one: str, many: str | None = None) -> str:
    """Say a count with its noun."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def listed(names: list[str]) -> str:
    """Join names with commas and "and"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def sentences(note: str | None) -> tuple[str, ...]:
    """Split a note into its sentences, units as shown; null has none."""
    parts = re.split(r"(?<=\.) (?=[A-Z])", (note or "").replace("ug/", "µg/"))
    return tuple(part for part in parts if part)


def sources(cells: str | None) -> tuple[str, ...]:
    """Say stored references `file|sheet!cell; ...` as one line per file and sheet."""
    places: dict[tuple[str, str], list[str]] = {}
    for reference in (cells or "").split("; "):
        file, _, place = reference.rpartition("|")
        sheet, _, cell = place.rpartition("!")
        if cell:
            places.setdefault((file, sheet), []).append(cell)
    return tuple(f"{f}, sheet {s}, {', '.join(c)}" for (f, s), c in places.items())
