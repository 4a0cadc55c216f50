"""Draw a report with analytes down and one column per sample, each row with its own unit."""

from dataclasses import dataclass, replace
from decimal import Decimal

from openpyxl import Workbook
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
from drawing.printing import Limits, Printed, Style, apply_odd, print_measured

SHEET = "Analysis"
HEADS = ("Parameter", "Fraction", "Unit", "LOD", "LOQ")
ABOUT = ("Client reference", "Laboratory number", "Lot", "Matrix", "Date sampled")
FIRST_ABOUT, HEAD_ROW, FIRST_ROW = 6, 11, 12
PARAMETERS = (
    ("2-Methoxyphenol (guaiacol)", "guaiacol", "free"),
    ("4-Methylguaiacol", "4-methylguaiacol", "free"),
    ("4-Ethylguaiacol", "4-ethylguaiacol", "free"),
    ("4-Ethylphenol", "4-ethylphenol", "free"),
    ("Phenol", "phenol", "free"),
    ("o-Cresol", "o-cresol", "free"),
    ("m- + p-Cresol", "m+p-cresol", "free"),
    ("2,6-Dimethoxyphenol (syringol)", "syringol", "free"),
    ("Guaiacol rutinoside", "guaiacol rutinoside", "glycosides"),
    ("4-Methylguaiacol rutinoside", "4-methylguaiacol rutinoside", "glycosides"),
    ("Phenol rutinoside", "phenol rutinoside", "glycosides"),
    ("Cresol rutinosides", "cresol rutinoside", "glycosides"),
    ("Syringol gentiobioside", "syringol gentiobioside", "glycosides"),
    ("4-Methylsyringol gentiobioside", "4-methylsyringol gentiobioside", "glycosides"),
)
FRACTIONS = {"free": "free", "glycosides": "glycoside"}
# The instrument's own unit went into the report for these: liquid, grapes, power of ten.
OWN_UNITS = {
    "4-ethylphenol": ("ng/mL", "ng/g", 0),
    "syringol gentiobioside": ("mg/L", "mg/kg", -3),
}
MATRICES = {
    "grape": "Grapes",
    "must": "Must",
    "red wine": "Red wine",
    "white wine": "White wine",
    "rose wine": "Rosé wine",
}


@dataclass(frozen=True)
class Line:
    """One analyte row: its printed name, unit, limits in that unit, and power of ten."""

    row: int
    name: str
    analyte: str
    form: str
    unit: str
    power: int
    limits: Limits


def draw(facts: Facts, report: Report) -> tuple[bytes, Ledger]:
    """Draw the workbook of a report and its author's account."""
    book, page = new_book(SHEET, report.issued)
    drawing = Drawing(page, facts, report, Ledger())
    put_letterhead(page, report.lab["name"], "Smoke markers in grapes, must and wine")
    put_about(page, report)
    for column, sample in enumerate(report.samples, start=len(HEADS) + 1):
        put_sample(page, column, sample)
    for line in lay_lines(report):
        put_line(page, line)
        for column, sample in enumerate(report.samples, start=len(HEADS) + 1):
            known = named(sample, line.name, line.unit, line.analyte, line.form, line.limits)
            drawing.put_known(line.row, column, known, print_one(facts, report, sample, line))
    put_notes(book)
    page.freeze_panes = page.cell(FIRST_ROW, len(HEADS) + 1).coordinate
    widen(page, {1: 32, 2: 12, 3: 9, 4: 8, 5: 19})
    widen(page, {len(HEADS) + 1 + index: 14 for index in range(len(report.samples))})
    return to_bytes(book), drawing.ledger


def put_about(page: Worksheet, report: Report) -> None:
    """Write the report's own facts in two rows, and the labels of the sample block."""
    put(page, 3, 1, "Report no.", bold=True)
    put(page, 3, 2, report.number)
    put(page, 3, 4, "Issued", bold=True)
    put(page, 3, 5, report.issued)
    put(page, 4, 1, "Client", bold=True)
    put(page, 4, 2, "Harkelby Cellar")
    put(page, 4, 4, "Revision", bold=True)
    put(page, 4, 5, report.revision)
    for row, label in enumerate(ABOUT, start=FIRST_ABOUT):
        put_heading(page, row, len(HEADS), label)
    for column, label in enumerate(HEADS, start=1):
        put_heading(page, HEAD_ROW, column, label)


def put_sample(page: Worksheet, column: int, sample: Sample) -> None:
    """Write who and what a column is."""
    about: tuple[Content, ...] = (
        sample.printed_reference,
        sample.lab_number,
        sample.lot.name,
        MATRICES[sample.matrix],
        sample.sampled_on,
    )
    for row, content in enumerate(about, start=FIRST_ABOUT):
        put_boxed(page, row, column, content).alignment = CENTRE
    put_heading(page, HEAD_ROW, column, "Result")


def lay_lines(report: Report) -> list[Line]:
    """Give each analyte its row, unit and limits."""
    grapes = report.stage == "harvest"
    without = report.declared.get("without_limits", "")
    lines = []
    for row, (name, analyte, form) in enumerate(PARAMETERS, start=FIRST_ROW):
        liquid, solid, power = OWN_UNITS.get(analyte, ("µg/L", "µg/kg", 0))
        limits = Limits(None, None) if analyte == without else scaled(report.lab[form], power)
        lines.append(Line(row, name, analyte, form, solid if grapes else liquid, power, limits))
    return lines


def scaled(limits: Facts, power: int) -> Limits:
    """Return a laboratory's limits in the unit of the row."""
    return Limits(
        Decimal(str(limits["lod"])).scaleb(power), Decimal(str(limits["loq"])).scaleb(power)
    )


def put_line(page: Worksheet, line: Line) -> None:
    """Write the heading cells of one analyte row."""
    for column, content in enumerate((line.name, FRACTIONS[line.form], line.unit), start=1):
        put_boxed(page, line.row, column, content)
    put_limit(page, line.row, 4, line.limits.lod)
    put_limit(page, line.row, 5, line.limits.loq)


def print_one(facts: Facts, report: Report, sample: Sample, line: Line) -> Printed:
    """Print what was measured in the unit of the row, with the declared oddity of the cell.

    A row that states no limits is still judged by the laboratory's own: `<0.2`, or a number.
    """
    places = 1 - line.power
    style = Style(below_lod="<{lod}", below_loq="", stored=places, shown=places)
    number = measured(facts, report.lab, sample, line.analyte, line.form)
    own = scaled(report.lab[line.form], line.power)
    printed = print_measured(Decimal(repr(number)).scaleb(line.power), own, style)
    if printed.censoring == "estimated" and line.limits.loq is None:
        printed = replace(printed, censoring="none")
    return apply_odd(printed, report.odd(sample, line.analyte, line.form), style)


def put_notes(book: Workbook) -> None:
    """Write a second sheet of text, without any result."""
    page = book.create_sheet("Notes")
    lines = (
        "Free phenols by gas chromatography with isotope-labelled internal standards.",
        "Glycosides by liquid chromatography, each against its own standard, as the glycoside.",
        "A number between LOD and LOQ is an estimate.",
        "m- and p-Cresol are not separated on our column and are given as their sum.",
    )
    for row, line in enumerate(lines, start=1):
        put(page, row, 1, line)
    widen(page, {1: 90})
