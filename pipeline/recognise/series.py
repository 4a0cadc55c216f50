"""Tell replicates by the letters or numbers behind their names, and samples before and after.

A lone letter or number may be the mark of a footnote or an isomer. It is a replicate's where one
line or list has the whole series of one name, and the sheet does not explain the mark otherwise.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from pipeline.names import Heading, Names
from pipeline.names.marked import Marked, part_mark
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid
from schemas.vocabulary import squash
from schemas.wordings import any_of

_LETTERS = re.compile(r"[^\W\d_]{3}")
_REPLICATES = re.compile(any_of("repeats", "parts"), re.IGNORECASE)
# "Method 2", "Tank B": what else a mark could tell apart, in running text.
_OTHERS, _OTHERS_OF_LETTERS = any_of("marked", "others"), any_of("marked", "others", "samples")
_ORDER = {"number": "123456789", "letter": "abcdef", "roman": ("i", "ii", "iii", "iv")}
_SIGNS = {"number": "[1-9]", "letter": "[a-fA-F]", "roman": "[IV]{1,3}"}
_ALLOWED = {"volatile phenol"}
# The isomers of this sum are named, so that a mark is none where other names carry it too.
_IN_COMPANY = "m+p-cresol"


def heed_series(grid: Grid, readers: Readers) -> Readers:
    """Give readers that read the marked names of one sheet as replicates, or as two samples.

    The readers themselves where no name is marked. A name counts where every cell that prints it
    stands in a whole series, across or down.
    """
    split = {t: part_mark(t, readers.names) for t in _texts(grid)}
    found = {text: marked for text, marked in split.items() if marked}
    if not found:
        return readers
    told: defaultdict[str, list[bool]] = defaultdict(list)
    lines = _lines(grid)
    whole = {key: _in_series(texts, found, readers.names) for key, texts in lines.items()}
    for row, col, spot in grid.spots():
        if spot.text in found:
            told[spot.text].append(spot.text in whole["row", row] | whole["column", col])
    loose = [t for t in split if t not in found]
    whole_series = [found[text] for text, sure in told.items() if all(sure)]
    explained = {m.style for m in whole_series if is_explained(m, loose)}
    kept = {
        text: _as_heading(text, found[text], readers.names)
        for text, sure in told.items()
        if all(sure) and found[text].style not in explained
    }
    return replace(readers, names=readers.names.heeding(kept)) if kept else readers


def _texts(grid: Grid) -> set[str]:
    """The texts that could be names; a sheet has many numbers as text."""
    texts = {spot.text for _, _, spot in grid.spots() if spot.kind == "text"}
    return {text for text in texts if _LETTERS.search(text)}


def _lines(grid: Grid) -> dict[tuple[str, int], list[str]]:
    """The texts of every row and of every column."""
    lines: defaultdict[tuple[str, int], list[str]] = defaultdict(list)
    for row, col, spot in grid.spots():
        if spot.kind == "text":
            lines["row", row].append(spot.text)
            lines["column", col].append(spot.text)
    return lines


def _in_series(texts: list[str], found: Mapping[str, Marked], names: Names) -> set[str]:
    """The marked names of one line that belong to a whole series there."""
    here = [found[t] for t in texts if t in found]
    if not here:
        return set()
    plain = Counter(squash(t) for t in texts if t not in found)
    groups: defaultdict[tuple[str, tuple[str, ...]], Counter[str]] = defaultdict(Counter)
    for m in here:
        groups[_key(m)][m.style[1] if m.style[0] == "state" else m.mark.lower()] += 1
    whole = {key: _is_whole(key, marks, plain) for key, marks in groups.items()}
    good = {key for key in whole if whole[key] and _may_repeat(key, here, groups, names)}
    spoilt = {style for (_, style), sure in whole.items() if not sure and len(style) > 1}
    return {
        t for t in texts
        if t in found
        and (key := _key(found[t])) in good
        and key[1] not in spoilt
    }  # fmt: skip


def _key(marked: Marked) -> tuple[str, tuple[str, ...]]:
    style = ("state",) if marked.style[0] == "state" else marked.style
    return squash(marked.bare), style


def _is_whole(key: tuple[str, tuple[str, ...]], marks: Counter[str], plain: Counter[str]) -> bool:
    """Tell a, b, c or 1, 2 of one name, each as often; of "duplicate" the name without it."""
    base, style = key
    if style == ("state",):
        return set(marks) == {"before", "after"}
    if not style[2]:
        return len(marks) == 1 and plain[base] == next(iter(marks.values()))
    first = _ORDER.get(style[2], _ORDER["letter"])[: len(marks)]
    return (
        len(marks) > 1
        and set(marks) == set(first)
        and len(set(marks.values())) == 1
        and base not in plain
    )


def _may_repeat(
    key: tuple[str, tuple[str, ...]],
    here: Iterable[Marked],
    groups: Mapping[tuple[str, tuple[str, ...]], Counter[str]],
    names: Names,
) -> bool:
    """Tell whether a mark behind this analyte cannot be an isomer's number."""
    analyte = next(m.analyte for m in here if _key(m) == key)
    facts = names.vocabulary.analytes
    if key[1] == ("state",) or key[1][1] or facts[analyte].family in _ALLOWED:
        return True
    others = {
        m.analyte for m in here if m.style == key[1] and set(groups[_key(m)]) == set(groups[key])
    }
    return analyte == _IN_COMPANY and any(facts[a].family in _ALLOWED for a in others)


def is_explained(marked: Marked, loose: Iterable[str]) -> bool:
    """Tell whether the sheet says what a mark stands for, other than a replicate."""
    if marked.style[0] == "state" or marked.style[1]:
        return False
    kind = marked.style[2]
    mark = f"(?:{marked.mark.lower()}|{marked.mark.upper()})"
    others = _OTHERS if kind == "number" else _OTHERS_OF_LETTERS
    sign = _SIGNS.get(kind, _SIGNS["letter"])
    listed = rf"(?:\s*(?:,|/|&|-|and|und|et|y|e)\s*[\"'(\[]?{sign}[\"')\]]?)*"
    legend = re.compile(
        rf"(?<![\w.,])[\"'(\[]?{mark}[\"')\]]?{listed}\s*(?:[:=–]|-\s|\bmeans?\b|\bare\b|\bis\b)"
        rf"|(?:^|;)\s*[(\[]?{mark}[)\]]|[(\[]{mark}[)\]]\s*\w|^\s*[(\[]?{mark}[)\].]?\s+[^\W\d_]{{3}}|\b(?i:{others})\s+{mark}\b"
    )
    return any(legend.search(t) and not _REPLICATES.search(t) for t in loose)


def _as_heading(text: str, marked: Marked, names: Names) -> Heading:
    read = names.heading(marked.bare)
    if marked.style[0] == "state":
        return replace(read, text=text, read_as=marked.bare, state=marked.mark)
    return replace(read, text=text, read_as=marked.bare, replicate=marked.mark)
