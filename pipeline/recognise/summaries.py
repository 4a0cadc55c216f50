"""Tell lines that sum up, limit or compare from lines of samples, by the cell that names them."""

from __future__ import annotations

import re

from pipeline.names import Heading
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.grid import Grid, Spot
from schemas.vocabulary import squash, squash_words
from schemas.wordings import words_of

# Columns that say for which samples a line of limits or units holds.
_PARTICULAR = ("matrix", "method", "variety", "stage", "sample_kind", "form", "treatment")
_NUMBERED = re.compile(r"([A-Za-z]+)([0-9]+)")
# What a summary is called after: "S1 mean", "S1 (mean)", "S1 - avg."; "Mean S1", "Average of S1".
_WORD_LAST = re.compile(r"(?P<rest>.+?)[\s_:,–-]+[(\[]?(?P<word>[^\W\d_][^\s()\[\]]{2,})[)\]]?")
_WORD_FIRST = re.compile(
    r"(?P<word>[^\W\d_][^\s:()]{2,})(?:\s+(?:of|for|de|di|von|da))?[\s:]+[(\[]?(?P<rest>[^()\[\]]+)[)\]]?"
)
_LEADS = {squash_words(words) for words in words_of("sums", "leads")}
_SUMMED = {squash_words(words) for words in words_of("sums", "of")}
_MEANS = {squash(word) for word in words_of("summaries", "means")}
_BRACKETED = re.compile(r"\s*[(\[][^()\[\]]*[)\]]\s*$")


def said_for(grid: Grid, row: int, columns: Columns, readers: Readers) -> dict[int, str]:
    """What a line of limits says of the samples it holds for, by column."""
    places = {columns.fields[n] for n in _PARTICULAR if n in columns.fields}
    places -= {columns.fields.get("sample", 0)}
    spots = {c: s for c in places if (s := grid.at(row, c))}
    heading = readers.names.heading
    return {c: squash(s.text) for c, s in spots.items() if not heading(s.text.rstrip(" :")).field}


def summarises(
    grid: Grid, row: int, samples: list[int], columns: Columns, readers: Readers
) -> bool:
    """Tell "S1 SD" below "S1", or "Mean S1" beside "S1 a" and "S1 b", from the name of a sample."""
    column = columns.fields.get("sample")
    own = grid.at(row, column) if column is not None else None
    if column is None or not own:
        return False
    last = grid.at(samples[-1], column) if samples else None
    if last and own.text.startswith(last.text) and own.text != last.text:
        word = squash(own.text[len(last.text) :])
        if readers.names.vocabulary.row_words.get(word) == "aggregate":
            return True
    return _sums_up_replicates(own.text, grid, column, readers)


def _sums_up_replicates(text: str, grid: Grid, column: int, readers: Readers) -> bool:
    """Tell the mean of two replicates or more that bear the rest of its name; a total is a form.

    "Mean W-2" beside the sample W-2 is a mean too, and so is one with another word for it.
    """
    for match in (_WORD_LAST.fullmatch(text.strip()), _WORD_FIRST.fullmatch(text.strip())):
        word = squash(match["word"]) if match else ""
        if match is None or readers.names.vocabulary.row_words.get(word) != "aggregate":
            continue
        if not readers.names.heading(match["word"]).form:
            named = word in _MEANS and grid.printed_like(column)[squash(match["rest"])] > 0
            return named or grid.replicated(column)[match["rest"].lower()] > 1
    return False


def is_sum_with_unit(text: str, read: Heading, readers: Readers) -> bool:
    """Tell the headings "Sum (ug/L)" and "Mean [ug/L]"; "Total (ug/L)" may be a form."""
    word = squash(re.split(r"[(\[]", text)[0])
    summary = readers.names.vocabulary.row_words.get(word) == "aggregate"
    return summary and read.unit is not None and read.form is None


def sums_phenols(text: str, readers: Readers) -> bool:
    """Tell "Total volatile phenols" or "Sum of guaiacols (ug/L)", which names no analyte.

    "Total phenols" may be the phenolics of a wine, and is not told.
    """
    bare = readers.names.without_units(_BRACKETED.sub("", text))
    words = squash_words(bare.replace("Σ", "sum ")).split()
    forms = readers.names.vocabulary.form_words
    for lead in range(min(3, len(words) - 1), 0, -1):
        if " ".join(words[:lead]) not in _LEADS:
            continue
        rest = words[lead:]
        rest = rest[1:] if rest[0] in forms else rest
        rest = rest[:-1] if len(rest) > 1 and rest[-1] in forms else rest
        if " ".join(rest) in _SUMMED:
            return True
    return False


def is_in_series(named: Spot | None, grid: Grid, columns: Columns) -> bool:
    """Tell the sample "R2" beside "R1" or "R3" from the statistic that is written the same."""
    match = _NUMBERED.fullmatch(named.text.strip()) if named else None
    if match is None:
        return False
    names = grid.printed(columns.fields.get("sample", 0))
    return any(f"{match[1]}{int(match[2]) + step}" in names for step in (-1, 1))


def is_aggregate(named: Spot | None, stub: dict[int, Spot], readers: Readers) -> bool:
    """Tell a line of means, totals, thresholds or recoveries by the cell that would name the sample."""
    words = readers.names.vocabulary.row_words
    for spot in [named] if named else list(stub.values()):
        key = squash(_BRACKETED.sub("", spot.text) or spot.text)
        if spot.kind == "text" and (
            (words.get(key) == "aggregate" and spot.text.strip() not in {"X", "x"})
            or key.startswith(("meanof", "averageof", "recovery"))
            or "threshold" in key
            or "%" in spot.text
            or _speaks_of_summary(spot.text, readers)
        ):
            return True
    return False


def _speaks_of_summary(text: str, readers: Readers) -> bool:
    """Tell "LOD (red wine)", "S1 SD" or "Certified value" by a word that no sample is named with."""
    inside = readers.names.vocabulary.row_inside
    words = squash_words(text).split()
    spans = {" ".join(words[i : i + n]) for n in (1, 2, 3) for i in range(len(words))}
    if any(inside.get(span) == "aggregate" for span in spans):
        return True
    return len(words) > 1 and inside.get(words[-1]) == "last"
