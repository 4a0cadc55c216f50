"""Draw plain laboratory workbooks and save them to the same bytes on every machine."""

import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zipfile import ZIP_STORED, ZipFile, ZipInfo

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from drawing.facts import Facts, Report
from drawing.ledger import Ledger, Named
from drawing.printing import Printed

THIN = Side(style="thin", color="808080")
BOX = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
SHADE = PatternFill("solid", fgColor="E8E8E4")
CENTRE = Alignment(horizontal="center", vertical="center", wrap_text=True)
STAMP = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(</dcterms:)")

Content = str | int | float | Decimal | date | None


@dataclass(frozen=True)
class Drawing:
    """A sheet being drawn: the page, what it is drawn from, and the account kept of it."""

    page: Worksheet
    facts: Facts
    report: Report
    ledger: Ledger

    def put_known(self, row: int, column: int, known: Named, printed: Printed) -> None:
        """Write one value cell and note what it means."""
        put_value(self.page, row, column, printed)
        self.ledger.add(self.page.title, row, column, known, printed)


def new_book(sheet: str, issued: date) -> tuple[Workbook, Worksheet]:
    """Open a workbook with one named sheet, dated by the report it carries."""
    book = Workbook()
    page = book.active
    assert isinstance(page, Worksheet)
    page.title = sheet
    book.properties.creator = "Laboratory"
    book.properties.created = datetime(issued.year, issued.month, issued.day)
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    return book, page


def put(page: Worksheet, row: int, column: int, content: Content, bold: bool = False) -> Cell:
    """Write one cell of text, number or date."""
    cell = page.cell(row, column)
    assert isinstance(cell, Cell)
    cell.value = content
    cell.font = Font(name="Arial", size=10, bold=bold)
    if isinstance(content, date):
        cell.number_format = "dd mmm yyyy"
        cell.alignment = Alignment(horizontal="left")
    return cell


def put_letterhead(page: Worksheet, name: str, subject: str) -> None:
    """Write the laboratory's name and what it reports on in the first two rows."""
    put(page, 1, 1, name, bold=True).font = Font(name="Arial", size=14, bold=True)
    put(page, 2, 1, subject).font = Font(name="Arial", size=10, italic=True)


def put_heading(page: Worksheet, row: int, column: int, text: Content) -> Cell:
    """Write one cell of a table's heading."""
    cell = put(page, row, column, text, bold=True)
    cell.fill, cell.border, cell.alignment = SHADE, BOX, CENTRE
    return cell


def put_boxed(page: Worksheet, row: int, column: int, content: Content) -> Cell:
    """Write one bordered cell of a table's body."""
    cell = put(page, row, column, content)
    cell.border = BOX
    return cell


def put_value(page: Worksheet, row: int, column: int, printed: Printed) -> None:
    """Write one value cell as the laboratory prints it."""
    cell = put_boxed(page, row, column, printed.stored)
    cell.alignment = Alignment(horizontal="right")
    if isinstance(printed.stored, Decimal):
        cell.number_format = number_format(printed.places)
    if printed.struck:
        cell.font = Font(name="Arial", size=10, strike=True)


def put_limit(page: Worksheet, row: int, column: int, limit: Decimal | None) -> None:
    """Write a detection or quantification limit with its own places."""
    cell = put_boxed(page, row, column, limit)
    cell.alignment = Alignment(horizontal="right")
    if limit is not None:
        exponent = limit.as_tuple().exponent
        cell.number_format = number_format(-exponent if isinstance(exponent, int) else 0)


def number_format(places: int) -> str:
    """Return the number format that shows so many places."""
    return f"0.{'0' * places}" if places else "0"


def widen(page: Worksheet, widths: Mapping[int, float]) -> None:
    """Set column widths, in characters."""
    for column, width in widths.items():
        page.column_dimensions[get_column_letter(column)].width = width


def to_bytes(book: Workbook) -> bytes:
    """Save a workbook to bytes that depend on nothing but its content.

    Entries are stored uncompressed, because compressors differ between machines; their
    times and the dates of the document's properties are those of its creation.
    """
    raw = io.BytesIO()
    book.save(raw)
    created = book.properties.created
    stamp = created.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    out = io.BytesIO()
    with ZipFile(raw) as source, ZipFile(out, "w", ZIP_STORED) as target:
        for name in sorted(source.namelist(), key=lambda name: (name[0] != "[", name)):
            entry = ZipInfo(name, (created.year, created.month, created.day, 12, 0, 0))
            entry.create_system, entry.external_attr = 3, 0o644 << 16
            content = source.read(name)
            if name == "docProps/core.xml":
                content = STAMP.sub(rb"\g<1>" + stamp + rb"\g<3>", content)
            target.writestr(entry, content)
    return out.getvalue()
