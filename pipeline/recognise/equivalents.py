"""Read in what substance's mass the lines around a table report its glycosides.

Without standards of their own, laboratories give every glycoside as the amount of one substance:
"as syringol gentiobioside equivalents". Taken for the glycoside's own mass it would be wrong by
up to a factor of three.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import polars as pl

from pipeline.names import Names
from pipeline.names.pairs import look_up_equivalent
from pipeline.recognise.context import END, Surroundings, note_rows
from pipeline.recognise.neighbours import own_statements
from schemas.layout import Mark

_EQUAL = re.compile(
    r"[-\s]*\b(?:[eéä]quivalen\w*|äquivalen\w*|equiv\b\.?|eq(?=\.|\s*/))", re.IGNORECASE
)
_AS = re.compile(
    r"\b(?:expressed|calculated|quantified|quantitated|reported|given|stated|determined)\s+"
    r"(?:as|against|in\s+terms\s+of|using|with)\s+(?:an?\s+)?|\b(?:berechnet|angegeben)\s+als\s+"
    r"|\bexprim[ée]e?s?\s+en\s+|\bexpresad[oa]s?\s+como\s+|\bespress[oiae]\s+come\s+",
    re.IGNORECASE,
)
_OTHER = re.compile(
    r"gall\w+|tann\w+|malvidin\w*|catechin\w*|caffe\w+|tartar\w*|weins\w+|sul[fp]h?ur\w*|glucose(?!-)"
    r"|internal\s+standard|\bd\d+-|deuter\w*|isotop\w*",
    re.IGNORECASE,
)
_LINK = {"of", "de", "di", "von", "d", "as", "in", "en", "als", "come", "como"}
_MARKED = re.compile(r"\s*(?:\*{1,3}|†|‡|§|[¹²³]|\(?[a-e1-5]\)|\^)")


def substances_meant(text: str, names: Names) -> set[str] | None:
    """Name the substances a text gives amounts of; "" where it names one that nothing knows.

    None where it speaks of no such thing, or of acids and other measurands' standards.
    """
    if _MARKED.match(text) or _OTHER.search(text):
        return None
    plain = names.without_units(text)
    found = {_beside(plain, match.start(), match.end(), names) for match in _EQUAL.finditer(plain)}
    for match in _AS.finditer(plain):
        named = _first_named(_words(plain[match.end() :]), names)
        if named in names.vocabulary.analytes or named == "aglycone":
            found = (found - {""}) | {named}
    return found or None


def _beside(text: str, start: int, end: int, names: Names) -> str:
    """The substance named just before or just behind the word for equivalents, "" when unknown."""
    before = _words(text[:start])[-5:]
    for first in range(len(before)):
        if named := look_up_equivalent(" ".join(before[first:]), names.vocabulary):
            return named
    behind = _words(text[end:])
    while behind and behind[0].lower() in _LINK:
        behind = behind[1:]
    return _first_named(behind, names)


def _first_named(words: Sequence[str], names: Names) -> str:
    for count in range(min(5, len(words)), 0, -1):
        if named := look_up_equivalent(" ".join(words[:count]), names.vocabulary):
            return named
    return ""


def _words(text: str) -> list[str]:
    return [w for w in re.split(r"[\s,;:()\[\].–]+|\bd['’]|/(?=\s|$)|-$|^-", text) if w]


def texts_around(around: Surroundings, number: int, names: Names) -> list[str]:
    """List the texts that may say in what mass a table's glycosides are: its own, else the sheet's.

    The sheet's are those above and below all tables, and the cover's; never another table's title.
    """
    table = around.tables[number]
    said = own_statements(around.tables, number, around.said)
    first, last = table.sheet_rows
    top, bottom = around.between(table)
    grid = around.grid
    foreign = set(note_rows(grid, top, first)) if top else set()
    rows = set(range(top + 1, last + 1)) - foreign | set(note_rows(grid, last, bottom))
    near = [spot.text for row, _, spot in said.loose if row in rows and spot.kind == "text"]
    if any(substances_meant(text, names) is not None for text in near):
        return near
    end = max(t.sheet_rows[1] for t in around.tables)
    apart = {*note_rows(grid, 0, around.first_row), *note_rows(grid, end, END)}
    loose = [s.text for row, _, s in around.said.loose if row in apart and s.kind == "text"]
    return [*loose, *(around.cover.texts if around.cover else [])]


def say_equivalents(
    lines: pl.DataFrame, columns: pl.DataFrame, texts: Sequence[str], names: Names
) -> tuple[pl.DataFrame, pl.DataFrame, tuple[Mark, ...]]:
    """Let the glycosides of a table be what the lines around it give amounts of.

    What a heading or a line says itself stays. Where the lines name something unknown, or several
    substances, each glycoside is marked as doubtful: the text then stands in the reason.
    """
    told = {text: meant for text in texts if (meant := substances_meant(text, names)) is not None}
    if not told:
        return lines, columns, ()
    meant = set().union(*told.values())
    if len(meant) == 1 and "" not in meant:
        substance = meant.pop()
        return _with(lines, substance, names), _with(columns, substance, names), ()
    return lines, columns, _doubts(lines, columns, next(iter(told)), names)


def _glycosides(frame: pl.DataFrame, names: Names) -> pl.Expr:
    known = names.vocabulary.analytes
    texts = frame["raw_analyte"].drop_nulls().unique().to_list()
    own = [
        text
        for text in texts
        if (named := names.heading(text)).analyte
        and known[named.analyte].is_glycoside
        and named.expressed_as is None
    ]
    return pl.col("raw_analyte").is_in(own).fill_null(False)


def _with(frame: pl.DataFrame, substance: str, names: Names) -> pl.DataFrame:
    if "raw_analyte" not in frame.columns:
        return frame
    own = (
        pl.col("raw_expressed_as")
        if "raw_expressed_as" in frame.columns
        else pl.lit(None, pl.String)
    )
    told = pl.when(_glycosides(frame, names)).then(pl.lit(substance))
    return frame.with_columns(raw_expressed_as=pl.coalesce(own, told))


def _doubts(
    lines: pl.DataFrame, columns: pl.DataFrame, text: str, names: Names
) -> tuple[Mark, ...]:
    def chosen(frame: pl.DataFrame, key: str) -> list[int]:
        rows = frame.filter(_glycosides(frame, names)) if "raw_analyte" in frame.columns else frame
        return rows[key].to_list()

    in_columns = columns.filter(_glycosides(columns, names)).height
    rows = chosen(lines, "line")
    places = chosen(columns, "column") if in_columns else columns["column"].to_list()
    if not in_columns and "raw_analyte" not in lines.columns:
        return ()
    return tuple(Mark(row, column, text[:60], True) for row in rows for column in places)
