"""Read letters for forms that a legend explains: "Gu F" where the sheet says "F = free"."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.names import Heading, Names
from pipeline.readers import Readers
from pipeline.recognise.grid import Grid

_WORD = r"[^\W\d_]{1,3}"
_CLEAR = r"=|:|\bmeans?\b|\bstands for\b|\bsignifie\b|\bsignifica\b|\bbedeutet\b|\bsteht für\b"
_ENTRY = re.compile(
    rf"(?<![\w-])[(\[\"'«]?(?P<letter>{_WORD})[)\]\"'»]?\s*(?:(?P<clear>{_CLEAR})|[–-])\s*"
    rf"(?P<meaning>[^,;.|\n=:()]+?)(?=\s*(?:[,;.|\n(]|$|\s[(\[\"'«]?{_WORD}[)\]\"'»]?\s*[=:]))"
)


def letters_explained(grids: Sequence[Grid], names: Names) -> dict[str, str]:
    """Map letters to the form that legends give them; one that means two things is left out."""
    told: dict[str, set[str]] = {}
    for grid in grids:
        for text in _legends(grid):
            for match in _ENTRY.finditer(text):
                read = names.heading(match["meaning"])
                if read.is_form_only or match["clear"]:
                    form = (read.form or "") if read.is_form_only else ""
                    told.setdefault(match["letter"], set()).add(form)
    return {
        letter: min(said)
        for letter, said in told.items()
        if len(said) == 1 and "" not in said and not _is_known(names.heading(letter))
    }


def _is_known(read: Heading) -> bool:
    """Tell letters that say something by themselves: "ID", "LOD", "mg"."""
    return bool(read.field or read.is_measurand or read.form or read.unit)


def _legends(grid: Grid) -> set[str]:
    """The texts of a sheet that could explain a letter, in one cell or in two."""
    found = set()
    for spots in grid.rows.values():
        for col, spot in spots.items():
            if spot[2] != "text":
                continue
            if len(spot[0]) > _SHORT:
                found.add(spot[0])
            elif (beside := spots.get(col + 1)) and beside.is_text:
                found.add(f"{spot.text.strip(' =:')} – {beside.text.lstrip(' =:')}")
    return found


# No legend of one cell is as short as "F = fr".
_SHORT = 5


def heed_letters(grid: Grid, letters: Mapping[str, str], readers: Readers) -> Readers:
    """Give readers that read the letters as forms behind names, and alone under or beside names."""
    if not letters:
        return readers
    texts = {s.text for _, _, s in grid.spots() if s.is_text}
    kept = {text: read for text in texts if (read := _lettered(text, letters, readers.names))}
    kept |= {
        text: Heading(text, form=letters[text], read_as=letters[text])
        for text in letters.keys() & texts
        if _heads_forms(grid, text, letters, readers.names)
    }
    return replace(readers, names=readers.names.heeding(kept)) if kept else readers


def _lettered(text: str, letters: Mapping[str, str], names: Names) -> Heading | None:
    """Read "Gu F (ug/L)" as "Gu free (ug/L)"; null where the text says what it is without that."""
    places = [m for m in re.finditer(rf"(?<!\w){_WORD}(?!\w)", text) if m.group() in letters]
    if len(places) != 1 or len(text) > 120:
        return None
    start, end = places[0].span()
    spelled = (
        f"{text[:start].rstrip(' _-–')} {letters[text[start:end]]} {text[end:].lstrip(' _-–')}"
    )
    own, read = names.heading(text), names.heading(spelled.strip())
    plain = own.form is None and own.replicate is None and own.field is None
    if (
        read.analyte is None
        or read.form is None
        or not plain
        or own.analyte not in {None, read.analyte}
    ):
        return None
    return replace(read, text=text, read_as=spelled.strip())


def _heads_forms(grid: Grid, letter: str, letters: Mapping[str, str], names: Names) -> bool:
    """Tell whether every cell with a letter alone stands in a line of such, below or above names.

    Or in a column headed "Form". A sample may be called by one letter too.
    """
    places = [
        (row, col)
        for row, spots in grid.rows.items()
        for col, spot in spots.items()
        if spot[0] == letter and not _explains(grid, row, col, letters, names)
    ]
    return bool(places) and all(
        _is_line_of_forms(grid, row, letters, names) or _is_column_of_forms(grid, col, names)
        for row, col in places
    )


def _explains(grid: Grid, row: int, col: int, letters: Mapping[str, str], names: Names) -> bool:
    beside = grid.rows[row].get(col + 1)
    return (
        beside is not None and names.heading(beside.text).form == letters[grid.rows[row][col].text]
    )


def _is_line_of_forms(grid: Grid, row: int, letters: Mapping[str, str], names: Names) -> bool:
    spots = list(grid.rows[row].values())
    told = {s.text for s in spots if s.text in letters}
    others = [s for s in spots if s.text not in letters]
    near = [s for r in (row - 2, row - 1, row + 1, row + 2) for s in grid.rows.get(r, {}).values()]
    named = any(s.is_text and names.heading(s.text).is_measurand for s in near)
    return len(told) > 1 and named and all(names.heading(s.text.rstrip(" :")).field for s in others)


def _is_column_of_forms(grid: Grid, col: int, names: Names) -> bool:
    fields = {
        names.heading(spots[col].text.rstrip(" :")).field
        for spots in grid.rows.values()
        if col in spots
    }
    return "form" in fields
