"""Tell, from the raw XML of a workbook, what the fast reader would not see or get wrong."""

import re
from dataclasses import dataclass

from openpyxl.utils import column_index_from_string

from pipeline.errors import FileRefused
from pipeline.read.format_sections import sections
from pipeline.read.package import Package, Sheet
from pipeline.read.safety import refuse_too_many

ROOMY, THIN = 2_000_000, 20
CELL_LIMIT = 5_000_000
MERGED_LIMIT = 1_000_000
LAST_ROW, LAST_COL = 1_048_576, 16_384

BEYOND = re.compile(rb'<c r="(?![A-Z]{1,2}[1-9]\d{0,3}")')
NEAR = 702 * 9_999  # what is left when nothing is beyond
REFERENCE = re.compile(rb"""<(?:\w+:)?c\b[^>]*?\br=["']([^"']*)["']""")
GOOD_REFERENCE = re.compile(rb"([A-Z]{1,3})([1-9]\d{0,6})")
STRING_INDEX = re.compile(rb'\bt="s"[^>]*>\s*<(?:\w+:)?v>([^<]*)<')
STRING_ITEM = re.compile(rb"<(?:\w+:)?si[ />]")
FORMULA = re.compile(
    rb"<(?:\w+:)?c\b([^>]*)>\s*<(?:\w+:)?f\b(?:[^>]*/>|.*?</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\b[^>/]*>([^<]+)<)?",
    re.DOTALL,
)
TYPE = re.compile(rb'<c\b[^>]* t="([^"]*)"')
TYPES = frozenset({b"s", b"str", b"inlineStr", b"n", b"b", b"e", b"d"})
HIDDEN = re.compile(rb' (?:hidden|zeroHeight)="(?:1|true)"| (?:ht|width)="0(?:\.0*)?"')
ESCAPED = re.compile(rb"_x[0-9A-Fa-f]{4}_")
MERGED = re.compile(rb'<(?:\w+:)?mergeCell ref="\$?([A-Z]+)\$?(\d+):\$?([A-Z]+)\$?(\d+)"')


@dataclass(frozen=True)
class Extent:
    """How far the cells of a sheet may reach, and whether every cell says where it is."""

    dense: int
    cells: int
    far: str
    regular: bool

    @property
    def is_far(self) -> bool:
        """Tell whether a few cells lie so far out that the used rectangle is mostly empty."""
        return self.dense > max(ROOMY, THIN * self.cells) and self.dense != NEAR


def extent(sheet: Sheet, file: str) -> Extent:
    """Find the true extent of a sheet, whatever its dimension tag says; refuse bad addresses."""
    cells = sheet.body.count(b"<c")
    regular = bool(sheet.body) and cells == sheet.body.count(b'<c r="')
    if regular and not BEYOND.search(sheet.body):
        return Extent(NEAR, cells, "", regular)
    return _exact_extent(sheet, regular, file)


def _exact_extent(sheet: Sheet, regular: bool, file: str) -> Extent:
    found = {_address(sheet, raw, file) for raw in REFERENCE.findall(sheet.xml)}
    if not found:
        return Extent(0, 0, "", regular)
    letters = max({letter for letter, _ in found}, key=lambda name: (len(name), name)).decode()
    row = max(int(number) for number in {number for _, number in found})
    col = column_index_from_string(letters)
    if col > LAST_COL or row > LAST_ROW:
        raise _bad_address(sheet, f"{letters}{row}", file)
    return Extent(row * col, len(found), f"{letters}{row}", regular)


def _address(sheet: Sheet, raw: bytes, file: str) -> tuple[bytes, bytes]:
    if not (found := GOOD_REFERENCE.fullmatch(raw)):
        raise _bad_address(sheet, raw.decode("utf-8", "replace"), file)
    return found[1], found[2]


def _bad_address(sheet: Sheet, address: str, file: str) -> FileRefused:
    return FileRefused(
        file,
        f'sheet "{sheet.name}" has a cell at "{address[:40]}", which no spreadsheet has; '
        "open it in a spreadsheet and save it anew.",
    )


def check_sheet(package: Package, sheet: Sheet, file: str) -> Extent:
    """Refuse a sheet that is too large, or whose texts or styles cannot be found."""
    filled = sheet.xml.count(b"<v>") + sheet.xml.count(b"<is>")
    refuse_too_many(filled, file, f'sheet "{sheet.name}"')
    reach = extent(sheet, file)
    if reach.cells > CELL_LIMIT:
        raise FileRefused(
            file,
            f'sheet "{sheet.name}" has {reach.cells:,} cells, empty ones included, and at most '
            f"{CELL_LIMIT:,} are looked at; delete the rows and columns that hold no results.",
        )
    _check_merged(sheet, file)
    _check_strings(package, sheet, file)
    _check_styles(package, sheet, file)
    return reach


def _check_merged(sheet: Sheet, file: str) -> None:
    for left, top, right, bottom in MERGED.findall(sheet.margins):
        rows = int(bottom) - int(top) + 1
        first, last = (column_index_from_string(letters.decode()[-3:]) for letters in (left, right))
        if rows * (last - first + 1) > MERGED_LIMIT:
            raise FileRefused(
                file,
                f'sheet "{sheet.name}" merges {rows:,} rows into one cell from '
                f"{left.decode()}{int(top)} on; undo that merge.",
            )


def _check_strings(package: Package, sheet: Sheet, file: str) -> None:
    if b't="s"' not in sheet.xml:
        return
    indices = set(STRING_INDEX.findall(sheet.xml))
    known = len(STRING_ITEM.findall(package.strings)) if package.strings else 0
    if any(not index.strip().isdigit() or int(index) >= known for index in indices):
        raise FileRefused(
            file,
            f'the texts of sheet "{sheet.name}" are missing from the file, so its headers cannot '
            "be trusted; fetch the file again or save it anew.",
        )


def _check_styles(package: Package, sheet: Sheet, file: str) -> None:
    known = max(1, len(package.styles.formats))
    if max(sheet.styles, default=0) >= known or sheet.styles & package.styles.unknown:
        raise FileRefused(
            file,
            f'the number formats of sheet "{sheet.name}" are missing from the file, so what its '
            "numbers look like is unknown; open it in a spreadsheet and save it anew.",
        )


def check_types(sheet: Sheet, file: str) -> None:
    """Refuse cells of a type that does not exist; the slow reader would leave them out."""
    if odd := set(TYPE.findall(sheet.body)) - TYPES:
        name = min(odd).decode("utf-8", "replace")[:20]
        raise FileRefused(
            file,
            f'sheet "{sheet.name}" has cells of the unknown type "{name}"; open it in a '
            "spreadsheet and save it anew.",
        )


def has_formulas(sheet: Sheet) -> bool:
    """Tell whether a sheet may hold formulas."""
    return b"<f" in sheet.body or (not sheet.body and b":f" in sheet.xml)


def is_uncached(attributes: bytes, cached: bytes, *, recalculates: bool) -> bool:
    """Tell whether a formula was stored without its result.

    Some writers store 0 for every formula and ask for a recalculation on opening; such a 0 was
    never calculated. A text result may be stored as nothing at all.
    """
    if not cached:
        return b't="str"' not in attributes
    return recalculates and cached == b"0"


def uncached_formulas(package: Package, sheet: Sheet) -> bool:
    """Tell whether a formula of this sheet was stored without the result it had when shown."""
    return has_formulas(sheet) and any(
        is_uncached(attributes, cached, recalculates=package.recalculates)
        for attributes, cached in FORMULA.findall(sheet.xml)
    )


def is_plain(package: Package, extents: dict[str, Extent]) -> bool:
    """Tell whether the fast reader sees all there is to see in this workbook."""
    return (
        not package.from_1904
        and not any("comment" in name.lower() for name in package.names)
        and not (package.strings and _is_rich(package.strings))
        and all(sheet.state == "visible" for sheet in package.sheets)
        and all(
            _is_plain_sheet(package, sheet, extents[sheet.name]) for sheet in package.worksheets
        )
    )


def _is_rich(xml: bytes) -> bool:
    if b"strike" in xml or b"vertAlign" in xml or b"rPh" in xml:
        return True
    return b"_x" in xml and bool(ESCAPED.search(xml))


def _is_plain_sheet(package: Package, sheet: Sheet, reach: Extent) -> bool:
    body = sheet.body
    return (
        reach.regular
        and not reach.is_far
        and b't="e"' not in body
        and b't="d"' not in body
        and not (b"'" in body and b"='" in body)
        and not HIDDEN.search(sheet.margins)
        and not ((b' hidden="' in body or b' ht="0' in body) and HIDDEN.search(body))
        and not (b"inlineStr" in body and _is_rich(body))
        and not any(_is_special(package, style) for style in sheet.styles)
        and not uncached_formulas(package, sheet)
    )


def _is_special(package: Package, style: int) -> bool:
    styles = package.styles
    if style >= len(styles.formats):
        return False
    return styles.struck[style] or _dresses_text(styles.formats[style])


def _dresses_text(code: str) -> bool:
    """Tell whether a format adds something to texts, such as `"<"@`."""
    last = sections(code)[-1]
    return last.kind == "text" and any(token.kind != "text" for token in last.tokens)
