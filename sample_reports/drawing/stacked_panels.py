"""Draw a report of several small tables, one under the other, on one sheet."""

from dataclasses import dataclass, replace
from decimal import Decimal

from openpyxl.worksheet.worksheet import Worksheet

from drawing.book import (
    CENTRE,
    Content,
    Drawing,
    new_book,
    number_format,
    put,
    put_boxed,
    put_heading,
    put_letterhead,
    to_bytes,
    widen,
)
from drawing.chemistry import measured
from drawing.facts import Facts, Report, Sample
from drawing.ledger import Ledger, named
from drawing.printing import Limits, Printed, Style, apply_odd, print_measured, quantize

SHEET = "Certificate"
HEADS = ("Lab no.", "Matrix", "Sampled")
COLUMNS = {
    "free": (
        ("Guaiacol", "guaiacol"),
        ("4-Methylguaiacol", "4-methylguaiacol"),
        ("o-Cresol", "o-cresol"),
        ("m-Cresol", "m-cresol"),
        ("p-Cresol", "p-cresol"),
        ("Syringol", "syringol"),
        ("4-Methylsyringol", "4-methylsyringol"),
    ),
    "glycosides": (
        ("SyGG", "syringol gentiobioside"),
        ("MSyGG", "4-methylsyringol gentiobioside"),
        ("PhRG", "phenol rutinoside"),
        ("GuRG", "guaiacol rutinoside"),
        ("CrRG", "cresol rutinoside"),
        ("MGuRG", "4-methylguaiacol rutinoside"),
    ),
}
TITLES = {
    "free": "Free volatile phenols, {unit}",
    "glycosides": "Glycosidically bound phenols (glycosides), {unit}",
}
GROUPS = (("White and rosé", ("white", "rosé")), ("Red", ("red",)))
MATRICES = {"harvest": ("Grapes", "grape"), "must": ("Must", "must")}
WINE = ("Wine", "wine")
LEGEND = (
    "SyGG syringol gentiobioside; MSyGG 4-methylsyringol gentiobioside; PhRG phenol rutinoside;",
    "GuRG guaiacol rutinoside; CrRG cresol rutinosides; MGuRG 4-methylguaiacol rutinoside;",
    "each given as the glycoside, against its own standard.",
)
STYLE = Style(below_lod="n.d.", below_loq="trace", stored=1, shown=1)


@dataclass(frozen=True)
class Panel:
    """One small table: its kind, unit, limits and samples."""

    form: str
    group: str
    unit: str
    limits: Limits
    samples: tuple[Sample, ...]


def draw(facts: Facts, report: Report) -> tuple[bytes, Ledger]:
    """Draw the workbook of a report and its author's account."""
    book, page = new_book(SHEET, report.issued)
    put_letterhead(page, report.lab["name"], "Certificate of analysis: smoke markers")
    for column, (label, content) in enumerate(about(report)):
        put(page, 3, 1 + 3 * column, label, bold=True)
        put(page, 3, 2 + 3 * column, content)
    drawing = Drawing(page, facts, report, Ledger())
    row = 5
    for panel in lay_panels(report):
        row = put_panel(drawing, row, panel)
    for offset, line in enumerate(LEGEND):
        put(page, row + offset, 1, line)
    put(page, row + len(LEGEND) + 1, 1, "Page 1 of 1. This certificate may be copied in full only.")
    widen(page, {1: 14, 2: 12, 3: 13} | dict.fromkeys(range(4, 11), 17))
    page.freeze_panes = "B5"
    return to_bytes(book), drawing.ledger


def about(report: Report) -> tuple[tuple[str, Content], ...]:
    """Return the report's own facts as labels and contents."""
    return (
        ("Report no.:", report.number),
        ("Issued:", report.issued),
        ("Revision:", report.revision),
    )


def lay_panels(report: Report) -> list[Panel]:
    """Order the small tables: kind by kind, whites and rosés before reds."""
    unit = report.declared.get("unit", "µg/kg" if report.stage == "harvest" else "µg/L")
    panels = []
    for form in report.panels:
        limits = Limits(*(Decimal(str(report.lab[form][key])) for key in ("lod", "loq")))
        for group, colours in GROUPS:
            samples = tuple(s for s in report.samples if s.lot.colour in colours)
            if samples:
                panels.append(Panel(form, group, unit, limits, samples))
    return panels


def put_panel(drawing: Drawing, row: int, panel: Panel) -> int:
    """Write one small table from a row on; return the row where the next may begin."""
    page, names = drawing.page, COLUMNS[panel.form]
    put(page, row, 1, TITLES[panel.form].format(unit=panel.unit), bold=True)
    for column, head in enumerate((*HEADS, *(name for name, _ in names)), start=1):
        put_heading(page, row + 1, column, head)
    page.row_dimensions[row + 1].height = 30
    rows = [
        put_sample(drawing, at, sample, panel)
        for at, sample in enumerate(panel.samples, start=row + 2)
    ]
    after = row + 2 + len(rows)
    if panel.form == "glycosides" and len(rows) > 2:
        put_average(page, after, rows)
        after += 1
    put(page, after, 1, footnote(panel))
    return after + 2


def put_sample(drawing: Drawing, row: int, sample: Sample, panel: Panel) -> list[Printed]:
    """Write one sample's row and note its cells; return what was printed."""
    facts, report = drawing.facts, drawing.report
    matrix, meant = MATRICES.get(sample.stage, WINE)
    about: tuple[Content, ...] = (sample.lab_number, matrix, sample.sampled_on)
    for column, content in enumerate(about, start=1):
        put_boxed(drawing.page, row, column, content).alignment = CENTRE
    printed_row = []
    for column, (name, analyte) in enumerate(COLUMNS[panel.form], start=len(HEADS) + 1):
        number = Decimal(repr(measured(facts, report.lab, sample, analyte, panel.form)))
        printed = print_measured(number, panel.limits, STYLE)
        printed = apply_odd(printed, report.odd(sample, analyte, panel.form), STYLE)
        known = named(sample, name, panel.unit, analyte, panel.form, panel.limits)
        known = replace(known, sample_id="", matrix=meant)
        drawing.put_known(row, column, known, printed)
        printed_row.append(printed)
    return printed_row


def put_average(page: Worksheet, row: int, rows: list[list[Printed]]) -> None:
    """Write the mean of the quantified numbers of each column; it is no sample."""
    for column, label in enumerate(("Mean", "", ""), start=1):
        put_boxed(page, row, column, label or None)
    for column, cells in enumerate(zip(*rows, strict=True), start=len(HEADS) + 1):
        numbers = [cell.value for cell in cells if cell.value is not None]
        mean = quantize(sum(numbers, Decimal(0)) / len(numbers), 1) if numbers else None
        put_boxed(page, row, column, mean).number_format = number_format(1)


def footnote(panel: Panel) -> str:
    """Return the line under a table that explains its words and states its limits."""
    return (
        f"{panel.group}. n.d. = not detected; trace = detected, not quantified; "
        f"LOD {panel.limits.lod} {panel.unit}; LOQ {panel.limits.loq} {panel.unit}"
    )
