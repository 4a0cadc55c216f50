"""Read text whose columns are aligned by runs of spaces, where every line keeps to the columns.

A field is what stands between two runs of at least two spaces. Fields that overlap from line to line
are one column. A line with two fields in one column, or a column that its header does not name,
leaves the boundaries open: such a file is refused.
"""

import re
from collections.abc import Iterator
from itertools import dropwhile, groupby, pairwise

from pipeline.errors import FileRefused

_FIELD = re.compile(r"\S+(?: \S+)*")
_RULER = re.compile(r"[\s=_+-]*")
_PARTED = re.compile(r"[\t;|]|,\S")
Span = tuple[int, int]
Line = tuple[int, str]


def split_fixed_width(text: str, file: str) -> list[list[str]] | None:
    """Split each line of text at its columns; null where no table is aligned by spaces.

    Raises FileRefused where one is and a line does not keep to its columns.
    """
    lines = text.splitlines()
    tables = [table for table in _paragraphs(lines) if _is_table(table)]
    if not tables:
        return None
    rows = [_labels(line) or [line.strip()] for line in lines]
    for table in tables:
        columns = _columns(table, file)
        for number, line in table:
            rows[number] = _cells(line, columns, number, file)
    return rows


def _paragraphs(lines: list[str]) -> Iterator[list[Line]]:
    """Give the lines between blank ones, without rulers."""
    numbered = list(enumerate(lines))
    for blank, part in groupby(numbered, key=lambda line: not line[1].strip()):
        if not blank:
            plain = [(n, line) for n, line in part if not _RULER.fullmatch(line)]
            yield list(dropwhile(lambda line: _labels(line[1]), plain))


def _labels(line: str) -> list[str]:
    """Split a line of labels with their values, which keeps to no columns: "Lab: X   Report: 7"."""
    fields = [line[start:end] for start, end in _fields(line)]
    return fields if all(":" in field for field in fields) else []


def _fields(line: str) -> list[Span]:
    return [match.span() for match in _FIELD.finditer(line)]


def _is_table(paragraph: list[Line]) -> bool:
    """Tell lines aligned by spaces: several in a row of several fields, under one without separators."""
    several = [line for _, line in paragraph if len(_fields(line)) > 1]
    if len(several) < 2 or _PARTED.search(several[0]) or "\t" in "".join(several):
        return False
    return not any(line[e - 1] in ",;|" for line in several for _, e in _fields(line)[:-1])


def _columns(table: list[Line], file: str) -> list[Span]:
    """Join the fields that overlap from line to line into columns."""
    lines = [(number, _fields(line)) for number, line in table]
    several = [(number, fields) for number, fields in lines if len(fields) > 1]
    columns: list[Span] = []
    for start, end in sorted(span for _, fields in several for span in fields):
        if columns and start < columns[-1][1]:
            columns[-1] = (columns[-1][0], max(end, columns[-1][1]))
        else:
            columns.append((start, end))
    for _, fields in several:
        held = [next(c for c in columns if c[0] <= start < c[1]) for start, _ in fields]
        if len(set(held)) < len(held):
            twice = next(c for c in held if held.count(c) > 1)
            raise _unclear(file, _widest(several, twice), table)
    headed = [c for c in columns if any(c[0] <= start < c[1] for start, _ in several[0][1])]
    if columns[1:] != [c for c in headed if c != columns[0]]:
        odd = next(c for c in columns[1:] if c not in headed)
        number = next(n for n, fields in several if any(odd[0] <= s < odd[1] for s, _ in fields))
        raise _unclear(file, number, table)
    return columns


def _widest(lines: list[tuple[int, list[Span]]], column: Span) -> int:
    """The line with the longest field in a column: the one that reaches over its neighbour."""
    inside = [(e - s, -n) for n, fields in lines for s, e in fields if column[0] <= s < column[1]]
    return -max(inside)[1]


def _cells(line: str, columns: list[Span], number: int, file: str) -> list[str]:
    fields = _fields(line)
    if len(fields) == 1:
        (start, end), last = fields[0], columns[0][1]
        within = [c for c in columns if c[0] <= start and end <= c[1]]
        gaps = [left[1] for left, _ in pairwise(columns)]
        crossed = [gap for gap in gaps if start < gap < end]
        if not within and crossed and all(line[gap] == " " for gap in crossed):
            raise _unclear(file, number, [(number, line)])
        if not within or start < last:
            return [line.strip()]
    return [line[start:end].strip() for start, end in columns]


def _unclear(file: str, number: int, table: list[Line]) -> FileRefused:
    line = next(text for n, text in table if n == number).strip()
    return FileRefused(
        file,
        f"its columns are aligned by spaces, and line {number + 1} does not keep to them "
        f'("{line[:50]}"); ask for it as .csv or .xlsx.',
    )
