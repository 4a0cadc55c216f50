"""Read .ods spreadsheets, which keep beside each value the text a person sees.

Source: Open Document Format 1.3, part 3, chapters 9 (tables) and 19 (attributes).
"""

import datetime as dt
import re
from collections.abc import Iterator
from xml.etree import ElementTree

from pipeline.errors import FileRefused
from pipeline.read.cells import Cell, Document, frame_cells, part_runs
from pipeline.read.number_formats import SILENT
from pipeline.read.ods_looks import OFFICE, TABLE, TEXT, Looks, learn
from pipeline.read.safety import open_zip, parse_xml, read_member, refuse_too_many

CALC_TYPE = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}value-type"
ERROR = re.compile(r"#[A-Z/0!?]+|Err:\d+|#\w+[!?]")
ROW_WRAPPERS = {f"{TABLE}table-{name}" for name in ("row-group", "header-rows", "rows")}
COLUMN_WRAPPERS = {f"{TABLE}table-{name}" for name in ("column-group", "header-columns", "columns")}


def read_ods(content: bytes, file: str) -> Document:
    """Read an OpenDocument spreadsheet."""
    archive = open_zip(content, file)
    if "META-INF/manifest.xml" in archive.namelist() and b"encryption-data" in read_member(
        archive, "META-INF/manifest.xml", file
    ):
        raise FileRefused(file, "it is protected by a password; save a copy without one.")
    body = parse_xml(read_member(archive, "content.xml", file), "content.xml", file)
    looks = Looks()
    if "styles.xml" in archive.namelist():
        learn(looks, parse_xml(read_member(archive, "styles.xml", file), "styles.xml", file))
    learn(looks, body)
    tables = body.findall(f"{OFFICE}body/{OFFICE}spreadsheet/{TABLE}table")
    cells = [cell for table in tables for cell in _table_cells(table, looks, file)]
    if not cells:
        raise FileRefused(file, "no cell holds anything; ask for the results as figures in cells.")
    return Document(frame_cells(cells), tuple(_notices(tables, looks, cells)), "ods")


def _repeat(element: ElementTree.Element, what: str) -> int:
    return int(element.get(f"{TABLE}number-{what}-repeated", "1"))


def _is_hidden(element: ElementTree.Element) -> bool:
    return element.get(f"{TABLE}visibility", "visible") != "visible"


def _inner(
    parent: ElementTree.Element, wanted: str, wrappers: set[str]
) -> Iterator[ElementTree.Element]:
    for child in parent:
        if child.tag == wanted:
            yield child
        elif child.tag in wrappers:
            yield from _inner(child, wanted, wrappers)


def _hidden_columns(table: ElementTree.Element) -> list[tuple[int, int]]:
    hidden, at = [], 1
    for column in _inner(table, f"{TABLE}table-column", COLUMN_WRAPPERS):
        count = _repeat(column, "columns")
        if _is_hidden(column):
            hidden.append((at, at + count - 1))
        at += count
    return hidden


def _table_cells(table: ElementTree.Element, looks: Looks, file: str) -> Iterator[Cell]:
    name = table.get(f"{TABLE}name", "")
    whole = not looks.shown.get(table.get(f"{TABLE}style-name", ""), True)
    columns = _hidden_columns(table)
    row, written = 1, 0
    for line in _inner(table, f"{TABLE}table-row", ROW_WRAPPERS):
        count = _repeat(line, "rows")
        found = list(_row_cells(line, looks))
        written += count * len(found)
        refuse_too_many(written, file, f'sheet "{name}"')
        for down in range(count if found else 0):
            for cell in found:
                hidden = whole or _is_hidden(line)
                hidden = hidden or any(first <= cell.col <= last for first, last in columns)
                yield cell._replace(sheet=name, row=row + down, hidden=hidden)
        row += count


def _row_cells(line: ElementTree.Element, looks: Looks) -> Iterator[Cell]:
    at = 1
    for element in line:
        if element.tag not in {f"{TABLE}table-cell", f"{TABLE}covered-table-cell"}:
            continue
        count = _repeat(element, "columns")
        cell = _cell(element, looks) if element.tag == f"{TABLE}table-cell" else None
        if cell is not None:
            for right in range(min(count, 20_000)):
                yield cell._replace(col=at + right)
        at += count


def _cell(element: ElementTree.Element, looks: Looks) -> Cell | None:
    runs = list(_paragraphs(element, looks))
    text, raised = part_runs((part, position) for part, position, _ in runs)
    text = text.strip()
    kind, number, date = _value(element, text)
    if kind is None:
        return None
    if kind == "formula":
        text = element.get(f"{TABLE}formula", "")
    note = element.find(f"{OFFICE}annotation")
    return Cell(
        "",
        0,
        0,
        text,
        number,
        date,
        kind,
        shown_wins=number is not None and _says(text),
        struck=any(crossed for *_, crossed in runs)
        or looks.is_struck(element.get(f"{TABLE}style-name")),
        note=None if note is None else _note(note),
        raised=raised,
        row_span=int(element.get(f"{TABLE}number-rows-spanned", "1")),
        col_span=int(element.get(f"{TABLE}number-columns-spanned", "1")),
    )


def _value(
    element: ElementTree.Element, text: str
) -> tuple[str | None, float | None, dt.date | None]:
    formula = element.get(f"{TABLE}formula")
    typed = element.get(f"{OFFICE}value-type")
    if element.get(CALC_TYPE) == "error" or (formula and ERROR.fullmatch(text)):
        return "error", None, None
    if formula and typed is None and not text:
        return "formula", None, None
    if typed in {"float", "percentage", "currency"}:
        return "number", float(element.get(f"{OFFICE}value", "nan")), None
    if typed == "date":
        return "date", None, _date(element.get(f"{OFFICE}date-value", ""))
    if typed == "boolean":
        return "boolean", None, None
    return ("text" if text else None), None, None


def _date(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text[:10])
    except ValueError:
        return None


def _says(text: str) -> bool:
    bare = re.sub(r"(?<=\d)E[+-]?(?=\d)", "", text)
    return any(not character.isdigit() and character not in SILENT for character in bare)


def _paragraphs(element: ElementTree.Element, looks: Looks) -> Iterator[tuple[str, str, bool]]:
    """Give the runs of text in a cell: characters, their position, whether struck out."""
    for number, paragraph in enumerate(element.findall(f"{TEXT}p")):
        if number:
            yield "\n", "", False
        yield from _runs(paragraph, looks, "", False)


def _runs(
    element: ElementTree.Element, looks: Looks, position: str, crossed: bool
) -> Iterator[tuple[str, str, bool]]:
    if element.text:
        yield element.text, position, crossed
    for child in element:
        if child.tag == f"{TEXT}s":
            yield " " * int(child.get(f"{TEXT}c", "1")), position, crossed
        elif child.tag in {f"{TEXT}tab", f"{TEXT}line-break"}:
            yield "\t" if child.tag.endswith("tab") else "\n", position, crossed
        else:
            style = child.get(f"{TEXT}style-name")
            moved = position or looks.positions.get(style or "", "")
            yield from _runs(child, looks, moved, crossed or looks.is_struck(style))
        if child.tail:
            yield child.tail, position, crossed


def _note(annotation: ElementTree.Element) -> str | None:
    lines = ["".join(part.itertext()) for part in annotation.findall(f"{TEXT}p")]
    return "\n".join(lines).strip() or None


def _notices(tables: list[ElementTree.Element], looks: Looks, cells: list[Cell]) -> Iterator[str]:
    for table in tables:
        name = table.get(f"{TABLE}name", "")
        count = sum(cell.hidden and cell.sheet == name for cell in cells)
        if not looks.shown.get(table.get(f"{TABLE}style-name", ""), True):
            yield f'sheet "{name}" is hidden; what it holds is held back.'
        elif count:
            yield (
                f'sheet "{name}": {count} cells are hidden by a filter or hidden rows or columns; '
                "they are held back."
            )
