"""Names of rows of quality control as laboratories write them, and comments that reject a number."""

from __future__ import annotations

from openpyxl.comments import Comment
from openpyxl.worksheet.worksheet import Worksheet

from corpus.books import book
from corpus.cases import Case, case, cells

_NAMED = {
    "spike": (
        "P1 spike (10 ug/L)", "P1 spike + 10 ppb", "P1 + 10 ug/L", "P1 (+20µg/L)",
        "P1 spiked at 10 µg/L", "P1 fortified", "P1 spk", "Échantillon dopé", "Dotierte Probe 1",
        "Muestra fortificada", "Campione fortificato",
    ),
    "duplicate": ("P1 duplicate (2nd)", "Duplicate of P1", "P1 (duplicate analysis)"),
    "blank": ("Blank (water)", "Blindprobe", "Blanco reactivo", "Bianco reagente"),
    "control": ("IQC 1", "PT sample 5", "QC high (50 ug/L)", "Check std 10 ug/L"),
}  # fmt: skip


@case
def rows_of_quality_control_by_many_names() -> Case:
    named = [(kind, name) for kind, names in _NAMED.items() for name in names]
    lines = [f"{name} | {n}" for n, (_, name) in enumerate(named, 10)]
    drawn = "\n".join(["Free phenols (ug/L)", "Sample | Guaiacol", "P1 | 3", "P2 | 4", *lines])
    told = [
        f'B{n - 5} guaiacol free "{name}" {kind}:{n}' for n, (kind, name) in enumerate(named, 10)
    ]
    told += ["B3 guaiacol free P1 3", "B4 guaiacol free P2 4"]
    return Case(book(("Results", drawn)), cells("\n".join(told)))


@case
def treatments_in_milligrams_are_no_spikes() -> Case:
    drawn = """
Free phenols (ug/L)
Sample       | Guaiacol
W1           | 3
W1 + 50 mg/L | 2
W1 (+2 g/L)  | 1
"""
    expected = cells("""
        B3 guaiacol free W1 3
        B4 guaiacol free "W1 + 50 mg/L" 2
        B5 guaiacol free "W1 (+2 g/L)" 1
    """)
    return Case(book(("Results", drawn)), expected)


@case
def quality_control_under_its_title() -> Case:
    drawn = """
Free phenols (ug/L)
Sample | Guaiacol | Phenol
P1     | 12       | 4
P2     | 13       | 5

Quality control
Method blank   | <0.5 | <0.5
LCS recovery % | 98   | 101
P1 duplicate   | 12.2 | 4.1
"""
    expected = cells("""
        B3 guaiacol free P1 12
        C3 phenol free P1 4
        B4 guaiacol free P2 13
        C4 phenol free P2 5
        B7 guaiacol free "Method blank" blank:[0,0.5]
        C7 phenol free "Method blank" blank:[0,0.5]
        B9 guaiacol free "P1 duplicate" duplicate:12.2
        C9 phenol free "P1 duplicate" duplicate:4.1
    """)
    return Case(book(("Results", drawn)), expected, notices=("LCS recovery %",))


@case
def comment_that_rejects_a_number() -> Case:
    def dress(sheet: Worksheet) -> None:
        sheet["B3"].comment = Comment("do not use: interference", "laboratory")
        sheet["C3"].comment = Comment("checked twice", "laboratory")

    drawn = """
Free phenols (ug/L)
Sample | Guaiacol | Phenol
P1     | 3        | 4
"""
    expected = cells("B3 !rejected_by_laboratory\nC3 phenol free P1 4")
    hints = {"Results!B3": 'its comment says "do not use: interference"'}
    return Case(book(("Results", drawn), dress=dress), expected, hints=hints)
