"""Settle which column of a list holds its results, where more than one could."""

from __future__ import annotations

from pipeline.names import ATTACHED_FIELDS, Heading
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid, Spot
from schemas.vocabulary import squash, squash_words


def only_numbers(
    grid: Grid, head: int, headings: dict[int, Heading], readers: Readers
) -> dict[int, Heading]:
    """Take the only column of numbers under an unknown heading for the results of a list."""
    unknown = [c for c, h in headings.items() if h.spelled or not (h.field or h.is_measurand)]
    below = _line_below(grid, head)
    numbers = [c for c in unknown if (s := below.get(c)) and readers.is_result(s.text, s.kind)]
    return {c: headings[c] for c in numbers} if len(numbers) == 1 else {}


def with_forms(
    grid: Grid, head: int, headings: dict[int, Heading], readers: Readers
) -> dict[int, Heading]:
    """Take a column under an unknown heading ("State") that holds nothing but forms for them."""
    if any(h.field == "form" or h.form for h in headings.values()):
        return headings
    found = dict(headings)
    for col, heading in headings.items():
        if heading.field or heading.is_measurand or heading.unit:
            continue
        spots = [s for row, line in grid.rows.items() if row > head and (s := line.get(col))]
        read = [readers.names.heading(s.text) for s in spots[:_LOOK] if s.is_text]
        if len(read) == len(spots[:_LOOK]) > 1 and all(h.is_form_only for h in read):
            found[col] = Heading(heading.text, field="form")
            return found
    return headings


# How many lines of a list are looked at for what a column holds.
_LOOK = 50


def only_averages(
    grid: Grid,
    head: int,
    headings: dict[int, Heading],
    results: dict[int, Heading],
    readers: Readers,
) -> bool:
    """Tell whether the only heading for results is an average beside columns of other numbers."""
    words = readers.names.vocabulary.row_words
    averages = [c for c in results if words.get(squash(headings[c].text)) == "aggregate"]
    if len(averages) < len(results):
        return False
    others = [
        c for c, h in headings.items()
        if c not in results and not (h.field or h.is_measurand or h.form or h.unit)
    ]  # fmt: skip
    below = _line_below(grid, head)
    return any((s := below.get(c)) and readers.is_result(s.text, s.kind) for c in others)


def rival_result(
    grid: Grid, head: int, headings: dict[int, Heading], kept: dict[int, Heading], readers: Readers
) -> str | None:
    """Doubt the results where another column of numbers could hold them, such as "Final result"."""
    fields = readers.names.vocabulary.fields
    for col, heading in headings.items():
        words = squash_words(heading.text).split()
        rival = bool(readers.names.vocabulary.rival_words & set(words))
        spoken = rival and any(fields.get(word) == "result" for word in words)
        strange = heading.field is None and not heading.is_measurand
        if col not in kept and spoken and strange and _has_results(grid, head, col, readers):
            return f'"{heading.text}" may hold the result instead'
    return None


def _line_below(grid: Grid, head: int) -> dict[int, Spot]:
    """The first line below a header that is not empty."""
    return grid.rows.get(min((row for row in grid.rows if row > head), default=head + 1), {})


def _has_results(grid: Grid, head: int, col: int, readers: Readers) -> bool:
    spots = (spots[col] for row, spots in grid.rows.items() if row > head and col in spots)
    return any(readers.is_result(spot.text, spot.kind) for spot in spots)


def own_side(
    grid: Grid, head: int, headings: dict[int, Heading], analyte_column: int
) -> dict[int, Heading]:
    """Keep the headings on this side of an empty column when another table stands beyond it."""
    used = {c for row, spots in grid.rows.items() if row >= head for c in spots}
    left = right = analyte_column
    while left - 1 in used:
        left -= 1
    while right + 1 in used:
        right += 1
    own = {c: h for c, h in headings.items() if left <= c <= right}
    beyond = any(
        h.is_measurand or h.field == "analyte" for c, h in headings.items() if c not in own
    )
    return own if beyond else headings


def owner_of(col: int, headings: dict[int, Heading], results: dict[int, Heading]) -> int | None:
    """Find the one result of several that "LOD" or "U" beside it belongs to; null where it is all.

    An uncertainty is one result's, and so is a limit or unit that stands twice or between two. What
    stands twice and begins before the first result belongs to the one that follows.
    """
    name = headings[col].field
    if (
        name not in ATTACHED_FIELDS
        or len(results) < 2
        or all(h.replicate for h in results.values())
    ):
        return None
    alike = [c for c, h in headings.items() if h.field == name]
    before, after = [c for c in results if c < col], [c for c in results if c > col]
    if len(alike) > 1 and min(alike) < min(results):
        return min(after, default=None)
    if before and (len(alike) > 1 or after or name in {"uncertainty", "deviation"}):
        return max(before)
    return None
