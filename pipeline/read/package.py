"""The parts of an .xlsx workbook, looked at before a reader is chosen."""

import io
import posixpath
import re
import zipfile
from dataclasses import dataclass
from functools import cached_property
from xml.etree import ElementTree

from openpyxl.styles.numbers import BUILTIN_FORMATS

from pipeline.errors import FileRefused
from pipeline.read.safety import open_zip, parse_xml, read_member, refuse_entities

STRICT = b"http://purl.oclc.org/ooxml/"
LOOSE = b"http://schemas.openxmlformats.org/"
STRICT_TO_LOOSE = (
    (b"spreadsheetml/main", b"spreadsheetml/2006/main"),
    (b"officeDocument/extendedProperties", b"officeDocument/2006/extended-properties"),
    (b"officeDocument/customProperties", b"officeDocument/2006/custom-properties"),
    (b"officeDocument/", b"officeDocument/2006/"),
    (b"drawingml/", b"drawingml/2006/"),
)
OWN = 164  # the first number a workbook may give to a format of its own
TRUE = frozenset({"1", "true"})
STYLE = re.compile(rb' s="(\d+)"')


@dataclass(frozen=True)
class Sheet:
    """One sheet of a workbook and the XML of its part (empty unless a worksheet)."""

    name: str
    state: str  # visible, hidden, veryHidden
    kind: str  # worksheet, chartsheet, dialogsheet, xlMacrosheet
    xml: bytes

    @cached_property
    def body(self) -> bytes:
        """The rows and cells alone; empty when the XML is not written in the usual way."""
        start, end = self.xml.find(b"<sheetData>"), self.xml.rfind(b"</sheetData>")
        return self.xml[start:end] if 0 <= start < end else b""

    @cached_property
    def margins(self) -> bytes:
        """What stands before and after the rows: columns, merged ranges, filters."""
        return self.xml[: self.xml.find(b"<sheetData")] + self.xml[self.xml.rfind(b"</sheetData") :]

    @cached_property
    def styles(self) -> frozenset[int]:
        """The numbers of the styles that occur among the rows and cells."""
        rows = self.body or self.xml
        return frozenset(int(style) for style in set(STYLE.findall(rows)))


@dataclass(frozen=True)
class Styles:
    """Number format and strike-through of each cell style.

    `unknown` styles have a format that was never defined; `conditional` tells that conditions
    may change formats or strike out.
    """

    formats: tuple[str, ...] = ()
    struck: tuple[bool, ...] = ()
    unknown: frozenset[int] = frozenset()
    conditional: bool = False


@dataclass(frozen=True)
class Package:
    """A workbook taken apart; `content` is what a reader may open."""

    content: bytes
    sheets: tuple[Sheet, ...]
    styles: Styles
    strings: bytes | None
    names: frozenset[str]
    from_1904: bool
    recalculates: bool

    @property
    def worksheets(self) -> tuple[Sheet, ...]:
        """The sheets that hold cells."""
        return tuple(sheet for sheet in self.sheets if sheet.kind == "worksheet")


def open_package(content: bytes, file: str) -> Package:
    """Take an .xlsx or .xlsm workbook apart, or refuse it in one sentence."""
    archive = open_zip(content, file)
    home = _home(archive, file)
    source = read_member(archive, home, file)
    if STRICT in source:
        return open_package(_loosen(archive, file), file)
    workbook = parse_xml(source, home, file)
    targets = _targets(archive, home, file)
    names = frozenset(archive.namelist())
    strings = _target_of(targets, "sharedStrings")
    styles = _target_of(targets, "styles")
    return Package(
        content=content,
        sheets=_sheets(archive, workbook, targets, file),
        styles=_styles(archive, styles, file) if styles in names else Styles(),
        strings=_xml(archive, strings, file) if strings in names else None,
        names=names,
        from_1904=_says(workbook, "workbookPr", "date1904"),
        recalculates=_says(workbook, "calcPr", "fullCalcOnLoad"),
    )


def _loosen(archive: zipfile.ZipFile, file: str) -> bytes:
    """Rewrite the Strict names of ISO/IEC 29500 as the Transitional ones readers know."""
    copy = io.BytesIO()
    with zipfile.ZipFile(copy, "w") as loose:
        for name in archive.namelist():
            part = read_member(archive, name, file)
            if name.endswith((".xml", ".rels")):
                for strict, transitional in STRICT_TO_LOOSE:
                    part = part.replace(STRICT + strict, LOOSE + transitional)
            loose.writestr(name, part)
    return copy.getvalue()


def _xml(archive: zipfile.ZipFile, name: str, file: str) -> bytes:
    part = read_member(archive, name, file)
    refuse_entities(part, file)
    return part


def _home(archive: zipfile.ZipFile, file: str) -> str:
    names = archive.namelist()
    if "_rels/.rels" not in names:
        raise FileRefused(
            file, "this archive is no complete workbook; open it in a spreadsheet and save it anew."
        )
    roots = parse_xml(read_member(archive, "_rels/.rels", file), "_rels/.rels", file)
    for relation in roots:
        if relation.get("Type", "").endswith("/officeDocument"):
            return relation.get("Target", "").lstrip("/")
    raise FileRefused(file, "the archive names no workbook; save it anew as .xlsx.")


def _targets(archive: zipfile.ZipFile, home: str, file: str) -> dict[str, tuple[str, str]]:
    """Map relation ids to (type, part name)."""
    folder, name = posixpath.split(home)
    rels = posixpath.join(folder, "_rels", f"{name}.rels")
    found = {}
    for relation in parse_xml(read_member(archive, rels, file), rels, file):
        target = relation.get("Target", "").replace("\\", "/")
        part = target.lstrip("/") if target.startswith("/") else posixpath.join(folder, target)
        kind = relation.get("Type", "").rsplit("/", 1)[-1]
        found[relation.get("Id", "")] = (kind, posixpath.normpath(part))
    return found


def _target_of(targets: dict[str, tuple[str, str]], kind: str) -> str:
    return next((part for found, part in targets.values() if found == kind), "")


def _sheets(
    archive: zipfile.ZipFile,
    workbook: ElementTree.Element,
    targets: dict[str, tuple[str, str]],
    file: str,
) -> tuple[Sheet, ...]:
    sheets = []
    for entry in workbook.iterfind("{*}sheets/{*}sheet"):
        name = entry.get("name", "")
        relation = next((v for k, v in entry.attrib.items() if k.endswith("}id")), "")
        if relation not in targets:
            raise FileRefused(
                file, f'the place of sheet "{name}" is unknown; save the workbook anew as .xlsx.'
            )
        kind, part = targets[relation]
        xml = _sheet_xml(archive, part, name, file) if kind == "worksheet" else b""
        sheets.append(Sheet(name, entry.get("state", "visible"), kind, xml))
    return tuple(sheets)


def _sheet_xml(archive: zipfile.ZipFile, part: str, name: str, file: str) -> bytes:
    if part not in archive.namelist():
        raise FileRefused(
            file, f'the content of sheet "{name}" is missing; save the workbook anew as .xlsx.'
        )
    xml = _xml(archive, part, file)
    if not xml.rstrip().endswith((b"worksheet>", b"/>")):
        raise FileRefused(file, f'sheet "{name}" is cut off; fetch the file again.')
    return xml


def _says(workbook: ElementTree.Element, tag: str, attribute: str) -> bool:
    element = workbook.find(f"{{*}}{tag}")
    return element is not None and element.get(attribute, "").lower() in TRUE


def _styles(archive: zipfile.ZipFile, name: str, file: str) -> Styles:
    root = parse_xml(read_member(archive, name, file), name, file)
    own = {
        int(entry.get("numFmtId", "0")): entry.get("formatCode", "General")
        for entry in root.iterfind("{*}numFmts/{*}numFmt")
    }
    struck = [_is_struck(font) for font in root.iterfind("{*}fonts/{*}font")]
    cells = root.findall("{*}cellXfs/{*}xf")
    numbers = [int(cell.get("numFmtId", "0")) for cell in cells]
    fonts = [int(cell.get("fontId", "0")) for cell in cells]
    return Styles(
        tuple(own.get(number) or BUILTIN_FORMATS.get(number, "General") for number in numbers),
        tuple(struck[font] if font < len(struck) else False for font in fonts),
        frozenset(s for s, number in enumerate(numbers) if number >= OWN and number not in own),
        any(_changes_looks(rule) for rule in root.iterfind("{*}dxfs/{*}dxf")),
    )


def _changes_looks(rule: ElementTree.Element) -> bool:
    font = rule.find("{*}font")
    return rule.find("{*}numFmt") is not None or (font is not None and _is_struck(font))


def _is_struck(font: ElementTree.Element) -> bool:
    mark = font.find("{*}strike")
    return mark is not None and mark.get("val", "1").lower() in TRUE
