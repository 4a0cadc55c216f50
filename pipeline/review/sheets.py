"""What the review workbook looks like: its sheets, its columns, and what each is for."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.settlements import DECISIONS

VALUES, GROUPS, NOTES, WORDS = "held values", "groups", "read me", "words"
STORE_MARK = "store"


@dataclass(frozen=True)
class Column:
    """One column: its heading, its meaning, its width in characters, and whether it is filled in.

    `source` is the column of the frame that is shown; null for a column to fill in.
    """

    name: str
    means: str
    width: int
    source: str | None = None

    @property
    def is_filled_in(self) -> bool:
        """Tell whether a person writes into it."""
        return self.source is None


FILL = {
    "decision": Column("decision", f"one of: {', '.join(DECISIONS)}", 19),
    "corrected value": Column(
        "corrected value",
        "the value as it should read: a number, or a notation such as <0.5 or n.d.; "
        "leave it empty where the printed value is right and only the rest was not",
        16,
    ),
    "unit": Column("unit", "the unit of the value, such as ug/L; empty: as printed", 10),
    "factor": Column(
        "factor",
        "of a number whose unit slipped: the factor that its hint suggests, such as 0.001; the "
        "number, its limits and its uncertainty are taken times it",
        8,
    ),
    "analyte": Column("analyte", "what was measured; see the sheet words", 26),
    "form": Column("form", "free, bound or total", 9),
    "sample": Column("sample", "the sample's identifier, as the register has it", 16),
    "date": Column(
        "date",
        "the day, such as 2026-03-01, for a date that could not be read; several, in the order "
        "sampled, received, analysed, with a comma between",
        12,
    ),
    "dose": Column("dose", "the dose of the treatment with its unit, such as 40 g/hL", 11),
    "replicate": Column(
        "replicate",
        "yes, or the laboratory's mark: it is one of several replicates, and their mean decides; "
        "give it to each of them",
        11,
    ),
    "path length": Column(
        "path length", "the optical path of an absorbance with its unit, such as 10 mm", 11
    ),
    "matrix": Column("matrix", "what was analysed, such as red wine; see the sheet words", 12),
    "who": Column("who", "who decides; needed with every decision", 16),
    "note": Column("note", "why, or whom you asked", 30),
    "teach": Column(
        "teach",
        "yes: put the printed name into your vocabulary file as a name of the analyte given here; "
        "layout: write a layout of your own that reads sheets laid out like this one as given here",
        8,
    ),
}
SHOWN = (
    Column("held_id", "identifier of the held value; leave it as it is", 12, "held_id"),
    Column("printed sample", "the sample as printed", 16, "raw_sample"),
    Column("printed analyte", "the analyte as printed", 22, "raw_analyte"),
    Column("printed value", "the value as printed; it stays what it is", 13, "raw_value"),
    Column("printed unit", "the unit as printed", 11, "raw_unit"),
    Column("file", "the laboratory's file", 30, "file"),
    Column("sheet", "the sheet in it", 14, "sheet"),
    Column("cell", "the cell", 7, "cell"),
    Column("reason", "why it was held", 40, "reason"),
    Column("hint", "what to do next", 40, "hint"),
    Column("neighbourhood", "the cells around it, a line per row, itself in « »", 44, "around"),
)
BEHIND = (
    Column("status", "open, or asked: a question to the laboratory is out", 8, "status"),
    Column("reason code", "why it was held, in one word", 20, "reason_code"),
    Column("laboratory", "who sent the report", 28, "lab"),
    Column("group", "the line of the sheet groups it belongs to", 12, "group"),
)
VALUE_COLUMNS = (*SHOWN, *FILL.values(), *BEHIND)
GROUP_COLUMNS = (
    Column("group", "identifier of the group; leave it as it is", 12, "group"),
    Column("values", "how many held values it has", 8, "n"),
    Column("printed analyte", "the analyte as printed", 22, "raw_analyte"),
    Column("printed unit", "the unit as printed", 11, "raw_unit"),
    Column("printed values", "the first of the values", 22, "raw_values"),
    Column("file", "the laboratory's file, or files", 30, "file"),
    Column("sheet", "the sheet in it, or sheets", 14, "sheet"),
    Column("reason", "why they were held", 40, "reason"),
    Column("hint", "what to do next", 40, "hint"),
    *(c for n, c in FILL.items() if n not in ("corrected value", "dose")),
    Column("reason code", "why they were held, in one word", 20, "reason_code"),
    Column("laboratory", "who sent the report", 28, "lab"),
)
# The columns before this one stay in sight.
FROZEN_BEFORE = {VALUES: "printed unit", GROUPS: "printed values"}
COLUMNS = {VALUES: VALUE_COLUMNS, GROUPS: GROUP_COLUMNS}
KEYS = {VALUES: "held_id", GROUPS: "group"}
# What shows that a line was not sorted apart from its neighbours.
CHECKED = {"file": "file", "sheet": "sheet", "cell": "cell", "printed value": "raw_value"}
# A workbook that was taken out before these were known is taken back all the same.
LATER = ("date", "dose", "replicate", "path length", "matrix", "factor")
