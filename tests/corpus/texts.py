"""Text files, old workbooks, open-document sheets, wrong endings, and files that are no table."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from xml.sax.saxutils import escape

import xlwt

from corpus.books import book, rows
from corpus.cases import Case, Value, case, cells, crossing

NAMES = "guaiacol syringol"


def expected(sheet: str = "report", **samples: str) -> dict[str, Value]:
    return crossing("B2", NAMES, "free", samples, sheet)


HEAD = "Sample{0}Free guaiacol (µg/L){0}Free syringol (µg/L)\n"


def table(mark: str, *lines: str) -> str:
    return HEAD.format(mark) + "".join(f"{line.replace('|', mark)}\n" for line in lines)


@case
def comma_separated_utf8() -> Case:
    text = table(",", "S1|12.5|<0.5", "S2|3|4.25")
    return Case(text.encode(), expected(S1="12.5 [0,0.5]", S2="3 4.25"), "report.csv")


@case
def comma_separated_with_byte_order_mark() -> Case:
    text = table(",", "S1|12.5|<0.5", "S2|3|4.25")
    return Case(text.encode("utf-8-sig"), expected(S1="12.5 [0,0.5]", S2="3 4.25"), "report.csv")


@case
def semicolons_and_decimal_commas() -> Case:
    text = table(";", "S1|12,5|<0,5", "S2|3|4,25", "S3|1.250|7")
    return Case(
        text.encode("cp1252"),
        expected(S1="12.5 [0,0.5]", S2="3 4.25", S3="1250 7"),
        "report.csv",
    )


@case
def tabs_in_utf16() -> Case:
    text = table("\t", "S1|12.5|<0.5", "S2|3|4.25")
    return Case(text.encode("utf-16"), expected(S1="12.5 [0,0.5]", S2="3 4.25"), "report.txt")


@case
def pipes_in_latin_1() -> Case:
    text = HEAD.format("|") + "S1|12.5|<0.5\nS2|3|4.25\n"
    return Case(text.encode("latin-1"), expected(S1="12.5 [0,0.5]", S2="3 4.25"), "report.txt")


@case
def quoted_decimal_commas_and_line_breaks() -> Case:
    text = (
        'Sample,"Free guaiacol\n(µg/L)","Free syringol\n(µg/L)"\n'
        'S1,"12,5","<0,5"\n"S2\n(tank 4)","3","4,25"\n'
    )
    found = crossing("B2", NAMES, "free", {"S1": "12.5 [0,0.5]"}, "report") | crossing(
        "B3", NAMES, "free", {"S2 (tank 4)": "3 4.25"}, "report"
    )
    return Case(text.encode(), found, "report.csv")


@case
def metadata_lines_before_a_comma_separated_table() -> Case:
    text = (
        "Laboratory,Tressock\nReport number,B-9\n\nFree volatile phenols (µg/L)\n"
        "Sample,Guaiacol,Syringol\nS1,12.5,<0.5\nS2,3,4.25\n"
    )
    found = crossing("B6", NAMES, "free", {"S1": "12.5 [0,0.5]", "S2": "3 4.25"}, "report")
    facts = {"lab": "Tressock", "report_no": "B-9"}
    return Case(text.encode(), found, "report.csv", facts=facts)


@case
def lone_thousands_mark_in_a_text_file() -> Case:
    text = table(",", "S1|1.234|7", "S2|3|4")
    return Case(text.encode(), expected(S1="!number_ambiguous 7", S2="3 4"), "report.csv")


@case
def errors_of_a_spreadsheet_in_a_text_file() -> Case:
    text = table(",", "S1|#N/A|7", "S2|#DIV/0!|#VALUE!")
    found = expected(S1="!excel_error 7", S2="!excel_error !excel_error")
    return Case(text.encode(), found, "report.csv")


@case
def lost_micro_sign() -> Case:
    text = "Sample,Free guaiacol (?g/L),Free syringol (\ufffdg/L)\nS1,1.5,2\n"
    found = cells("B2 !unit_unknown\nC2 !unit_unknown", "report")
    return Case(text.encode(), found, "report.csv")


@case
def decimal_commas_that_part_cells() -> Case:
    text = table(",", "S1|1,5|2,5", "S2|3|4")
    # Nobody can tell which of the five cells of S1 belong together.
    found = cells("B2 !number_ambiguous\nC2 !number_ambiguous", "report")
    found |= crossing("B3", NAMES, "free", {"S2": "3 4"}, "report")
    return Case(text.encode(), found, "report.csv")


@case
def first_line_that_names_the_separator() -> Case:
    text = "sep=;\n" + table(";", "S1|1,5|<0,5")
    return Case(text.encode(), expected(S1="1.5 [0,0.5]"), "report.csv")


@case
def german_text_file() -> Case:
    text = (
        "Probe;Guajakol, frei (µg/L);Syringol, frei (µg/L)\nS1;1,5;n.n.\nNachweisgrenze;0,2;0,3\n"
    )
    return Case(text.encode("cp1252"), expected(S1="1.5 [0,0.3]"), "report.csv")


@case
def old_binary_workbook() -> Case:
    workbook = xlwt.Workbook()
    sheet = workbook.add_sheet("Results")
    drawn = rows("""
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12.5     | <0.5
S2     | 3        | 4.25
""")
    for i, line in enumerate(drawn):
        for j, content in enumerate(line):
            if content is not None:
                sheet.write(i, j, content)
    buffer = io.BytesIO()
    workbook.save(buffer)
    found = crossing("B3", NAMES, "free", {"S1": "12.5 [0,0.5]", "S2": "3 4.25"})
    return Case(buffer.getvalue(), found, "report.xls")


def open_document(table_rows: str, title: str = "Results") -> bytes:
    """The smallest open-document spreadsheet that holds these rows."""
    names = " ".join(
        f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{long}:1.0"'
        for short, long in (("office", "office"), ("table", "table"), ("text", "text"))
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {names}>'
        f'<office:body><office:spreadsheet><table:table table:name="{escape(title)}">'
        f"{table_rows}</table:table></office:spreadsheet></office:body></office:document-content>"
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
    return buffer.getvalue()


def _open_cell(content: object) -> str:
    if content is None:
        return "<table:table-cell/>"
    if isinstance(content, int | float):
        return (
            f'<table:table-cell office:value-type="float" office:value="{content}">'
            f"<text:p>{content:.10g}</text:p></table:table-cell>"
        )
    shown = escape(str(content)).replace("\n", "</text:p><text:p>")
    return (
        f'<table:table-cell office:value-type="string"><text:p>{shown}</text:p></table:table-cell>'
    )


def open_document_of(lines: Iterable[Iterable[object]], title: str = "Results") -> bytes:
    """Save rows as the only sheet of an open document."""
    body = (
        f"<table:table-row>{''.join(map(_open_cell, line))}</table:table-row>" for line in lines
    )
    return open_document("".join(body), title)


@case
def open_document_spreadsheet() -> Case:
    drawn = rows("""
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12.5     | <0.5
S2     |          | 4.25
""")
    found = crossing("B3", NAMES, "free", {"S1": "12.5 [0,0.5]", "S2": "- 4.25"})
    return Case(open_document_of(drawn), found, "report.ods")


@case
def workbook_with_the_wrong_ending() -> Case:
    drawn = """
Sample | Free guaiacol (µg/L) | Free syringol (µg/L)
S1     | 12.5                 | <0.5
"""
    return Case(book(("Results", drawn)), expected("Results", S1="12.5 [0,0.5]"), "report.csv")


@case
def text_with_the_ending_of_a_workbook() -> Case:
    text = table(",", "S1|12.5|<0.5")
    return Case(text.encode(), expected(S1="12.5 [0,0.5]"), "report.xlsx")


@case
def empty_file() -> Case:
    return Case(b"", file="report.xlsx", refused=("empty",))


@case
def truncated_workbook() -> Case:
    whole = book(("Results", "Sample | Free guaiacol (µg/L)\nS1 | 12"))
    return Case(whole[: len(whole) // 2], refused=("report.xlsx",))


@case
def workbook_without_any_table() -> Case:
    drawn = """
Invoice 2025-118
Item | Price
GC-MS analysis | 120
"""
    return Case(book(("Results", drawn)), refused=("Results", "cinderlot preview"))


@case
def table_that_can_be_read_two_ways() -> Case:
    drawn = """
         | Guaiacol | Syringol | o-Cresol
Guaiacol | 1        | 2        | 3
Syringol | 4        | 5        | 6
o-Cresol | 7        | 8        | 9
"""
    return Case(book(("Results", drawn)), refused=("Results", "B1", "A2"))


@case
def columns_aligned_by_spaces() -> Case:
    text = """\
Laboratory: Tressock     Report number: B-9
Issued: 2026-01-05

Free volatile phenols (ug/L)

Sample         Guaiacol    Syringol
-----------------------------------
S1                 12.5        <0.5
S2                  3.0        4.25
Tank 4 rose          nd
LOD                 0.2         0.3

nd = not detected (see the
next page)
"""
    found = crossing(
        "B8", NAMES, "free", {"S1": "12.5 [0,0.5]", "S2": "3 4.25", "Tank 4 rose": "[0,0.2] -"},
        "report",
    )  # fmt: skip
    facts = {"lab": "Tressock", "report_no": "B-9"}
    return Case(text.encode(), found, "report.txt", notices=("aligned by spaces",), facts=facts)


@case
def columns_aligned_by_spaces_with_decimal_commas() -> Case:
    text = """\
Freie Phenole (µg/L)

Probe         Guajakol  Syringol
S1                12,5      <0,5
S2                 3,0     1.250
"""
    found = crossing("B4", NAMES, "free", {"S1": "12.5 [0,0.5]", "S2": "3 1250"}, "report")
    return Case(text.encode("cp1252"), found, "report.txt")


@case
def two_tables_aligned_by_spaces() -> Case:
    text = """\
Free volatile phenols (ug/L)

Sample         Guaiacol    Syringol
S1                 12.5        <0.5

Total volatile phenols (ug/L)

Sample     Guaiacol   Syringol
S1             22.5        5.5
"""
    found = crossing("B4", NAMES, "free", {"S1": "12.5 [0,0.5]"}, "report")
    found |= crossing("B9", NAMES, "total", {"S1": "22.5 5.5"}, "report")
    return Case(text.encode(), found, "report.txt")


@case
def a_line_that_does_not_keep_to_its_columns() -> Case:
    # The long name of the second sample touches its number: the columns are open.
    text = """\
Free volatile phenols (ug/L)

Sample         Guaiacol    Syringol
S1                 12.5        <0.5
Tank 12 of the old cellar 3.0      4.25
"""
    return Case(text.encode(), file="report.txt", refused=("line 5", "aligned by spaces", ".csv"))


@case
def a_number_under_no_heading() -> Case:
    text = """\
Free volatile phenols (ug/L)

Sample         Guaiacol    Syringol
S1                 12.5        <0.5
S2                  3.0        4.25     7
"""
    return Case(text.encode(), file="report.txt", refused=("line 5", "aligned by spaces"))


@case
def commas_padded_with_spaces() -> Case:
    text = """\
Sample,    Free guaiacol (ug/L),    Free syringol (ug/L)
S1,                        12.5,                    <0.5
S2,                         3.0,                    4.25
"""
    return Case(text.encode(), expected(S1="12.5 [0,0.5]", S2="3 4.25"), "report.csv")


@case
def separator_named_in_quotes() -> Case:
    text = '"sep=;"\n' + table(";", "S1|1,5|<0,5")
    return Case(text.encode(), expected(S1="1.5 [0,0.5]"), "report.csv")


@case
def several_tables_behind_lines_of_fewer_fields() -> Case:
    text = (
        "Laboratory;Tressock\r\nReport number;B-9\n\r\nFree volatile phenols (ug/L);;;\r\n"
        "Sample;Guaiacol;Syringol;\r\nS1;1,5;<0,5;\n\n"
        "Total volatile phenols (ug/L)\nSample;Guaiacol;Syringol\r\nS1;11,5;12;;;\r\n"
    )
    found = crossing("B6", NAMES, "free", {"S1": "1.5 [0,0.5]"}, "report")
    found |= crossing("B10", NAMES, "total", {"S1": "11.5 12"}, "report")
    return Case(text.encode(), found, "report.csv", facts={"lab": "Tressock", "report_no": "B-9"})


@case
def tables_of_unequal_width_and_decimal_commas() -> Case:
    text = (
        "Phenols, free (µg/L)\nSample;Guaiacol;Syringol\nS1;12,5;<0,5\n\n"
        "Phenols, total (µg/L)\nSample;Guaiacol;Syringol;o-Cresol;p-Cresol\nS1;55,5;70,25;4,75;6,5\n"
    )
    found = crossing("B3", NAMES, "free", {"S1": "12.5 [0,0.5]"}, "report")
    names = f"{NAMES} o-cresol p-cresol"
    found |= crossing("B7", names, "total", {"S1": "55.5 70.25 4.75 6.5"}, "report")
    return Case(text.encode(), found, "report.csv")
