"""Draw a report with one result per row, as a workbook or as a semicolon text file."""

import csv
import io
from datetime import date
from decimal import Decimal

from drawing.book import (
    Content,
    new_book,
    put,
    put_boxed,
    put_heading,
    put_letterhead,
    put_limit,
    put_value,
    to_bytes,
    widen,
)
from drawing.export_lines import Line, all_lines
from drawing.facts import Facts, Report
from drawing.ledger import Ledger
from drawing.printing import Printed, Style

SHEET = "Export"
HEADS = (
    "Sample no.",
    "Sample type",
    "Client reference",
    "Matrix",
    "Received",
    "Analysed",
    "Parameter",
    "Fraction",
    "Result",
    "Unit",
    "LOD",
    "LOQ",
    "± U (k = 2)",
    "Method",
    "Remark",
)
RESULT = HEADS.index("Result") + 1
HEAD_ROW = 7
METHODS = {"free": "VP-F2", "total": "VP-T1", "": "BASIC"}
IN_BOOK = Style(below_lod="<LOD", below_loq="<LOQ", stored=1, shown=1)
IN_TEXT = Style(below_lod="<{lod}", below_loq="<{loq}", stored=1, shown=1, comma=True)


def draw(facts: Facts, report: Report) -> tuple[bytes, Ledger]:
    """Draw the workbook or text of a report and its author's account."""
    style = IN_TEXT if report.file.endswith(".csv") else IN_BOOK
    lines = list(all_lines(facts, report, style))
    if style.comma:
        return draw_text(report, lines)
    return draw_book(report, lines)


def about(report: Report) -> tuple[tuple[str, Content], ...]:
    """Return the report's own facts as labels and contents."""
    return (
        ("Laboratory", report.lab["name"]),
        ("Report no.", report.number),
        ("Date of issue", report.issued),
        ("Client", "Harkelby Cellar"),
    )


def contents(report: Report, line: Line) -> tuple[Content | Printed, ...]:
    """Return the cells of a row in the order of the heading."""
    limits = line.known.limits
    method = METHODS[line.fraction]
    return (
        line.sample_no or None,
        line.sample_type,
        line.reference or None,
        line.matrix,
        report.declared["received"],
        report.declared["analysed"],
        line.known.raw_analyte,
        line.fraction or None,
        line.printed,
        line.known.raw_unit or None,
        limits.lod,
        limits.loq,
        line.expanded,
        method,
        line.remark or None,
    )


def draw_book(report: Report, lines: list[Line]) -> tuple[bytes, Ledger]:
    """Draw the export as a workbook."""
    book, page = new_book(SHEET, report.issued)
    put_letterhead(page, report.lab["name"], "Results by sample and parameter")
    for column, (label, fact) in enumerate(about(report)):
        put(page, 4, 1 + 2 * column, label, bold=True)
        put(page, 5, 1 + 2 * column, fact)
    for column, head in enumerate(HEADS, start=1):
        put_heading(page, HEAD_ROW, column, head)
    ledger = Ledger()
    for row, line in enumerate(lines, start=HEAD_ROW + 1):
        for column, content in enumerate(contents(report, line), start=1):
            if isinstance(content, Printed):
                put_value(page, row, column, content)
            elif isinstance(content, Decimal):
                put_limit(page, row, column, content)
            else:
                put_boxed(page, row, column, content)
        ledger.add(SHEET, row, RESULT, line.known, line.printed)
    page.freeze_panes = page.cell(HEAD_ROW + 1, 1).coordinate
    page.auto_filter.ref = f"A{HEAD_ROW}:O{HEAD_ROW + len(lines)}"
    sizes = (17, 14, 17, 11, 13, 13, 18, 10, 9, 8, 7, 7, 11, 9, 24)
    widen(page, dict(enumerate(sizes, start=1)))
    return to_bytes(book), ledger


def draw_text(report: Report, lines: list[Line]) -> tuple[bytes, Ledger]:
    """Draw the export as text: semicolons, decimal commas, day.month.year, Windows-1252."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=";", lineterminator="\r\n")
    for label, content in about(report):
        writer.writerow([label, write(content)])
    writer.writerow([])
    writer.writerow(HEADS)
    ledger = Ledger()
    stem = report.file.removesuffix(".csv")
    for row, line in enumerate(lines, start=len(about(report)) + 3):
        writer.writerow([write(content) for content in contents(report, line)])
        ledger.add(stem, row, RESULT, line.known, line.printed)
    return stream.getvalue().encode("cp1252"), ledger


def write(content: Content | Printed) -> str:
    """Write one content as text."""
    if isinstance(content, Printed):
        return content.text
    if isinstance(content, date):
        return f"{content:%d.%m.%Y}"
    if isinstance(content, Decimal):
        return str(content).replace(".", ",")
    return "" if content is None else str(content)
