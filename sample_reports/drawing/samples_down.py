"""Draw a report with samples down and panels of analytes across, under two heading rows."""

from dataclasses import dataclass
from decimal import Decimal

from openpyxl.worksheet.worksheet import Worksheet

from drawing.book import (
    CENTRE,
    Content,
    Drawing,
    new_book,
    put,
    put_boxed,
    put_heading,
    put_letterhead,
    put_limit,
    to_bytes,
    widen,
)
from drawing.chemistry import measured
from drawing.facts import Facts, Report, Sample
from drawing.ledger import Ledger, named
from drawing.printing import Limits, Style, apply_odd, print_measured

SHEET = "Results"
ABOUT = ("Lab no.", "Client reference", "Lot", "Matrix", "Stage", "Sampled")
PHENOLS = (
    ("Guaiacol", "guaiacol", "µg/L", 1),
    ("4-Methylguaiacol", "4-methylguaiacol", "µg/L", 1),
    ("Phenol", "phenol", "µg/L", 1),
    ("o-Cresol", "o-cresol", "µg/L", 1),
    ("m-Cresol", "m-cresol", "µg/L", 1),
    ("p-Cresol", "p-cresol", "µg/L", 1),
    ("Syringol", "syringol", "µg/L", 1),
    ("4-Methylsyringol", "4-methylsyringol", "µg/L", 1),
)
COLOUR = (
    ("A420 (1 cm)", "A420", "", 2),
    ("A520 (1 cm)", "A520", "", 2),
    ("A620 (1 cm)", "A620", "", 2),
    ("Total phenolics (mg/L)", "total phenolics", "mg/L", 0),
)
TITLES = {
    "free": "Free volatile phenols (µg/L)",
    "total": "Total volatile phenols after acid hydrolysis (µg/L)",
    "colour": "Colour and phenolics",
}
TITLE_ROW, HEAD_ROW, LOD_ROW, LOQ_ROW, FIRST_ROW = 11, 12, 13, 14, 15


@dataclass(frozen=True)
class Column:
    """One analyte column: where it stands, its printed name, its panel, unit and places."""

    at: int
    name: str
    analyte: str
    panel: str
    unit: str
    places: int


def draw(facts: Facts, report: Report) -> tuple[bytes, Ledger]:
    """Draw the workbook of a report and its author's account."""
    book, page = new_book(SHEET, report.issued)
    drawing = Drawing(page, facts, report, Ledger())
    put_letterhead(page, report.lab["name"], "Volatile phenols and colour of wine")
    put_about(page, report)
    columns = lay_columns(report)
    put_headings(page, report, columns)
    for row, sample in enumerate(report.samples, start=FIRST_ROW):
        put_sample(page, row, sample)
        for column in columns:
            put_result(drawing, row, column, sample)
    put_notes(page, FIRST_ROW + len(report.samples) + 1, report)
    page.freeze_panes = page.cell(FIRST_ROW, len(ABOUT) + 1).coordinate
    widen(page, {1: 15, 2: 17, 3: 11, 4: 11, 5: 13, 6: 13})
    widen(page, {column.at: 18 if column.name.startswith("4-") else 11 for column in columns})
    return to_bytes(book), drawing.ledger


def put_about(page: Worksheet, report: Report) -> None:
    """Write the report's own facts, one to a row."""
    lines = (
        ("Laboratory", report.lab["name"]),
        ("Report number", report.number),
        ("Date of issue", report.issued),
        ("Revision", report.revision),
        ("Client", "Harkelby Cellar"),
        ("Condition", f"{len(report.samples)} wines, received cool and sealed"),
    )
    for row, (label, content) in enumerate(lines, start=4):
        put(page, row, 1, label, bold=True)
        put(page, row, 2, content)


def lay_columns(report: Report) -> list[Column]:
    """Give each ordered analyte its column, panel after panel."""
    laid: list[Column] = []
    for panel in report.panels:
        for name, analyte, unit, places in COLOUR if panel == "colour" else PHENOLS:
            laid.append(Column(len(ABOUT) + 1 + len(laid), name, analyte, panel, unit, places))
    return laid


def put_headings(page: Worksheet, report: Report, columns: list[Column]) -> None:
    """Write panel titles, analyte names and the rows of limits."""
    for at, about in enumerate(ABOUT, start=1):
        put_heading(page, TITLE_ROW, at, None)
        put_heading(page, HEAD_ROW, at, about)
        put_boxed(page, LOD_ROW, at, "LOD" if at == 1 else None)
        put_boxed(page, LOQ_ROW, at, "LOQ" if at == 1 else None)
    page.merge_cells(None, TITLE_ROW, 1, TITLE_ROW, len(ABOUT))
    for panel in report.panels:
        span = [column.at for column in columns if column.panel == panel]
        for at in span:
            put_heading(page, TITLE_ROW, at, TITLES[panel] if at == span[0] else None)
        page.merge_cells(None, TITLE_ROW, span[0], TITLE_ROW, span[-1])
    for column in columns:
        limits = limits_of(report, column.panel)
        put_heading(page, HEAD_ROW, column.at, column.name)
        put_limit(page, LOD_ROW, column.at, limits.lod)
        put_limit(page, LOQ_ROW, column.at, limits.loq)
    page.row_dimensions[TITLE_ROW].height = 20
    page.row_dimensions[HEAD_ROW].height = 42


def limits_of(report: Report, panel: str) -> Limits:
    """Return the limits printed under a panel; colour has none."""
    if panel == "colour":
        return Limits(None, None)
    limits = report.lab[panel]
    return Limits(Decimal(str(limits["lod"])), Decimal(str(limits["loq"])))


def put_sample(page: Worksheet, row: int, sample: Sample) -> None:
    """Write who and what a row is."""
    about: tuple[Content, ...] = (
        sample.lab_number,
        sample.printed_reference,
        sample.lot.name,
        f"{sample.lot.colour.capitalize()} wine",
        sample.stage,
        sample.sampled_on,
    )
    for column, content in enumerate(about, start=1):
        cell = put_boxed(page, row, column, content)
        if column > 2:
            cell.alignment = CENTRE


def put_result(drawing: Drawing, row: int, column: Column, sample: Sample) -> None:
    """Print what was measured, with the declared oddity of the cell, and note it."""
    report, panel = drawing.report, column.panel
    limits = limits_of(report, panel)
    words = report.declared.get("not_detected", "n.d.")
    style = Style(words, "<LOQ", stored=column.places + 1, shown=column.places)
    number = measured(drawing.facts, report.lab, sample, column.analyte, panel)
    printed = print_measured(Decimal(repr(number)), limits, style)
    printed = apply_odd(printed, report.odd(sample, column.analyte, panel), style)
    known = named(sample, column.name, column.unit, column.analyte, panel, limits)
    drawing.put_known(row, column.at, known, printed)


def put_notes(page: Worksheet, row: int, report: Report) -> None:
    """Write the notes under the table."""
    words = report.declared.get("not_detected", "n.d.")
    lines = (
        report.declared.get("note", ""),
        f"{words} = not detected (below LOD). <LOQ = detected, below LOQ. Empty = not ordered.",
        "Free: solid-phase extraction and gas chromatography. Total: the same after acid "
        "hydrolysis, pH 1.0, 100 °C, 4 h.",
        "Results refer to the samples as received. Approved for the laboratory. End of report.",
    )
    for offset, line in enumerate(filter(None, lines)):
        put(page, row + offset, 1, line)
