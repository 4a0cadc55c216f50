"""Several sheets in one workbook: by form, by sample, covers, summaries, lists of terms."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"

FREE3 = "guaiacol o-cresol p-cresol"


@case
def block_per_sheet() -> Case:
    free = """
Sample | Guaiacol (µg/L) | Syringol (µg/L)
S1     | 1.5             | 2.5
"""
    total = """
Sample | Guaiacol (µg/L) | Syringol (µg/L)
S1     | 10.5            | 20.5
"""
    expected = crossing("B2", "guaiacol syringol", "free", {"S1": "1.5 2.5"}, "Free VPs")
    expected |= crossing("B2", "guaiacol syringol", "total", {"S1": "10.5 20.5"}, "Total VPs")
    return Case(book(("Free VPs", free), ("Total VPs", total)), expected)


@case
def certificates_one_sheet_per_sample() -> Case:
    def drawn(sample: str, guaiacol: str, syringol: str) -> str:
        return f"""
Sample: | {sample}
Method: | GC-MS, free volatile phenols
Compound | Concentration (µg/L)
Guaiacol | {guaiacol}
Syringol | {syringol}
"""

    expected = cells("B4 guaiacol free TK-1 3.1\nB5 syringol free TK-1 9", "1")
    expected |= cells("B4 guaiacol free TK-2 4.1\nB5 syringol free TK-2 [0,2]", "2")
    sheets = ("1", drawn("TK-1", "3.1", "9")), ("2", drawn("TK-2", "4.1", "<2"))
    return Case(book(*sheets), expected)


@case
def one_sheet_per_sample_named_by_the_tab() -> Case:
    def drawn(guaiacol: str, syringol: str) -> str:
        return f"""
Free volatile phenols
Compound | Result (µg/L)
Guaiacol | {guaiacol}
Syringol | {syringol}
"""

    expected = cells("B3 !sample_missing\nB4 !sample_missing", "TK-1")
    expected |= cells("B3 !sample_missing\nB4 !sample_missing", "TK-2")
    return Case(book(("TK-1", drawn("3.1", "9")), ("TK-2", drawn("4.1", "8"))), expected)


@case
def glossary_sheet() -> Case:
    results = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 4        | 2
"""
    glossary = """
Compound | CAS     | Molar mass | Threshold (µg/L)
Guaiacol | 90-05-1 | 124.1      | 23
Syringol | 91-10-1 | 154.2      | 570
"""
    expected = crossing("B3", G_S, "free", {"S1": "4 2"})
    return Case(book(("Results", results), ("Compounds", glossary)), expected)


@case
def cover_sheet_speaks_for_the_others() -> Case:
    cover = """
Laboratory: Tressock
Report no: R-7
Matrix: Red wine
Unit: µg/L
"""
    results = """
Sample | Free guaiacol | Free syringol
S1     | 4             | 2
"""
    expected = crossing("B2", G_S, "free", {"S1": "4 2"}, "Data")
    facts = {"report_no": "R-7", "lab": "Tressock"}
    return Case(book(("Cover", cover), ("Data", results)), expected, facts=facts)


@case
def summary_and_detail_sheets() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | {0}      | 2
"""
    expected = cells("B3 !duplicate\nC3 syringol free S1 2", "Summary")
    expected |= cells("B3 !duplicate\nC3 syringol free S1 =2", "Detail")
    sheets = ("Summary", drawn.format("1")), ("Detail", drawn.format("1.04"))
    return Case(book(*sheets), expected)
