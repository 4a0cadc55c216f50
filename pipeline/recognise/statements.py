"""Read the lines around a table: who reports, which form, unit and limits hold, what a dash means."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from pipeline.names import Names
from pipeline.names.listed import matrix_said
from pipeline.names.patterns import LIMIT, PATH_LENGTH, path_unit
from pipeline.readers import Readers
from pipeline.recognise.cell_pairs import NUMBERED, is_numbered, label_field, pairs_in_text
from pipeline.recognise.grid import Grid, Regions, Spot
from pipeline.recognise.legends import STEMS, limits_meant
from schemas.frames import RESULT_FIELDS
from schemas.vocabulary import squash

_LIMITS = {"lod", "loq", "limit"}
_PLAIN_LIMIT = re.compile(r"\s*[<≤=]?\s*\d+(?:[.,]\d+)?\s*")
_DIGIT = re.compile(r"\d")


@dataclass(frozen=True)
class Statement:
    """One thing a line outside the tables says, and where it stands."""

    row: int
    col: int
    field: str
    value: str
    numbered: bool = False


@dataclass
class Statements:
    """Everything the lines outside the tables of one sheet say, in reading order."""

    found: list[Statement] = field(default_factory=list)
    cells: set[tuple[int, int]] = field(default_factory=set)
    loose: list[tuple[int, int, Spot]] = field(default_factory=list)

    @property
    def texts(self) -> list[str]:
        """The words that stand outside all tables, cell by cell."""
        return [spot.text for _, _, spot in self.loose if spot.kind == "text"]

    def first(self, name: str, after: int = 0, before: int = 10**9) -> str | None:
        """The first value of a field between two rows (exclusive)."""
        return next(
            (s.value for s in self.found if s.field == name and after < s.row < before), None
        )

    def only_below(self, name: str, row: int) -> str | None:
        """The value of a field, when the sheet gives it one only, and that below a row."""
        told = [s for s in self.found if s.field == name]
        values = {s.value for s in told}
        return values.pop() if len(values) == 1 and all(s.row > row for s in told) else None

    def last(self, name: str, after: int, before: int) -> str | None:
        """The value of a field nearest above a row."""
        values = [s.value for s in self.found if s.field == name and after < s.row < before]
        return values[-1] if values else None


def read_statements(grid: Grid, names: Names, taken: Regions) -> Statements:
    """Read label and value pairs from the cells that belong to no table.

    A label stands before a colon in its cell, or its value stands in the next cell to the right,
    else in the cell below.
    """
    said = Statements(loose=grid.outside(taken))
    for row, col, spot in said.loose:
        if spot.kind != "text" or (row, col) in said.cells:
            continue
        pairs = pairs_in_text(spot.text, names)
        if not pairs:
            pairs = _pair_with_neighbour(grid, row, col, spot, names, taken, said)
        if not any(name == "path_length" for name, _ in pairs):
            pairs = [*pairs, *_path_in_sentence(spot.text, names)]
        for name, value in pairs:
            if name in _LIMITS and not _PLAIN_LIMIT.fullmatch(names.without_units(value)):
                continue
            if name == "path_length":
                value = _with_path_unit(value.strip(), spot.text)
            numbered = is_numbered(spot.text, names)
            said.found.append(Statement(row, col, name, value.strip(), numbered))
            said.cells.add((row, col))
    return said


def _with_path_unit(value: str, label: str) -> str:
    """Add the unit of "Path length (mm)" to a value that is nothing but a number."""
    unit = path_unit(label) if re.fullmatch(r"[\d.,]+", value) else None
    return f"{value} {unit}" if unit else value


def _path_in_sentence(text: str, names: Names) -> list[tuple[str, str]]:
    """Read "measured in a 1 mm cuvette": a word for the optical path and lengths beside it."""
    lengths = PATH_LENGTH.findall(text)
    words = {w for w, name in names.vocabulary.fields.items() if name == "path_length"}
    spoken = lengths and any(word in squash(text) for word in words)
    return [("path_length", "; ".join(lengths))] if spoken else []


def _pair_with_neighbour(
    grid: Grid, row: int, col: int, spot: Spot, names: Names, taken: Regions, said: Statements
) -> list[tuple[str, str]]:
    label = names.heading(spot.text.rstrip(" :"))
    name = label_field(spot.text, names)
    if name is None or name == "ignored":
        return []
    if name == "unit" and label.unit:
        return [("unit", label.unit)]
    right = [(row, col + spot.col_span + step) for step in range(3)]
    for place in (right[0], (row + spot.row_span, col), *right[1:]):
        value = grid.rows.get(place[0], {}).get(place[1])
        if value is None or place in taken or _is_label(value, names):
            continue
        if place[0] > row and (name in RESULT_FIELDS or _heads_column(grid, place, taken)):
            continue
        if name in NUMBERED and place == right[0] and _goes_on(grid, place, value, names):
            return []
        if names.vocabulary.date_fields & {name} and not _DIGIT.search(value.exact):
            continue
        said.cells.add(place)
        return [(name, value.exact)]
    return []


def _goes_on(grid: Grid, place: tuple[int, int], value: Spot, names: Names) -> bool:
    """Tell whether another value follows: "Sample | A | B" names one for each column below."""
    following = grid.rows[place[0]].get(place[1] + value.col_span)
    return following is not None and ":" not in following.text and not _is_label(following, names)


def _heads_column(grid: Grid, place: tuple[int, int], taken: Regions) -> bool:
    """Tell whether a cell under a label is the first of several: the label heads a column then."""
    below = (place[0] + 1, place[1])
    return below not in taken and grid.rows.get(below[0], {}).get(below[1]) is not None


def _is_label(spot: Spot, names: Names) -> bool:
    return spot.kind == "text" and (
        spot.text.rstrip().endswith(":")
        or names.heading(spot.text.rstrip(" :")).field is not None
        or names.heading(spot.text.partition(":")[0]).field is not None
    )


def read_limits(text: str, names: Names) -> dict[str, str]:
    """Read "LOD 0.5 ug/L; LOQ 1.5 ug/L" as limits for a whole table.

    A line that names analytes or leaves other numbers over is not for the whole table, and nothing
    is taken from it.
    """
    title = names.title(text)
    if not (title.lod or title.loq or title.limit):
        return limits_meant(text, names)
    rest = LIMIT.sub(" ", text)
    if STEMS.search(rest) or re.search(r"\d", names.without_units(rest)):
        return {}
    unit = f" {title.unit}" if title.unit else ""
    return {k: v + unit for k in ("lod", "loq", "limit") if (v := getattr(title, k))}


_SENTENCE = re.compile(
    r"^(?:all|the|tous|todos|alle|tutti)\s+(?:\w+\s+){0,2}(?:results|values|concentrations|résultats|resultados|ergebnisse|risultati)\b",
    re.IGNORECASE,
)


def whole_sentences(said: Statements, readers: Readers) -> dict[str, str]:
    """Read sentences such as "All results are free phenols in ug/L", wherever they stand."""
    found: dict[str, str] = {}
    for _, _, spot in said.loose:
        if spot.kind == "text" and _SENTENCE.match(spot.text.strip()):
            found = said_by(spot, readers) | found
    return found


_QUALITY_CONTROL = re.compile(r"\b(?i:quality control)\b|\bQC\b")
_SAID = ("form", "unit", "lod", "loq", "limit", "expressed_as", "coverage_factor", "spread")


def said_by(spot: Spot, readers: Readers) -> dict[str, str]:
    """Read a cell over, under or beside a table for what it says of the results there."""
    title, heading = readers.names.title(spot.text), readers.names.heading(spot.text)
    titled = (
        heading.unit and readers.names.vocabulary.field_levels.get(heading.field or "") == "sample"
    )
    if heading.field not in {None, "unit", "result"} and title.form is None and not titled:
        return {}
    if heading.is_measurand:
        return {}
    sure = heading if heading.spelled is None or heading.is_measurand else title
    said = {k: v for k in _SAID if (v := getattr(sure, k) or getattr(title, k))}
    if is_of_quality_control(spot.text):
        said["sample_kind"] = "quality control"
    speaks = bool(said) or readers.names.is_generic(spot.text)
    matrix = matrix_said(spot.text, speaks, readers.names)
    return said | ({"matrix": matrix} if matrix else {})


def is_of_quality_control(title: str) -> bool:
    """Tell the title of a table or of lines of quality control."""
    return bool(_QUALITY_CONTROL.search(title))
