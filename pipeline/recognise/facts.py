"""Find out who reports: the laboratory, the report's number, its revision and date."""

from __future__ import annotations

import re

from pipeline.names import Names
from pipeline.recognise.statements import Statements
from pipeline.recognise.tables import Table
from schemas.vocabulary import squash

_REVISION = re.compile(
    r"^\s*(?:rev(?:ision)?\.?|version|issue|no\.?|n°)?\s*([0-9]+(?:\.[0-9]+)?|[A-Z])\b",
    re.IGNORECASE,
)
_REPORT_FIELDS = {"lab", "report_no", "revision", "replaces", "reported_on"}
_LAB_WORDS = re.compile(
    r"\b(laborator(?:y|ies|io)|laboratoire|labor|labs?|analytical|assay(?:ers|s)?|analys[ei]s|oenolog\w*|enolog\w*)\b",
    re.IGNORECASE,
)


def letterhead(said: Statements, names: Names) -> str | None:
    """Take the laboratory's name from the first lines when no label gives it."""
    for row, col, spot in said.loose:
        if row > 4 or (row, col) in said.cells:
            continue
        text = spot.text.strip()
        if spot.kind == "text" and _LAB_WORDS.search(text) and _is_name(text, names):
            return _without_matrix(text, names)
    return None


def _without_matrix(text: str, names: Names) -> str:
    """Leave off what was analysed: "Bench Laboratory, red wine"."""
    name, comma, last = text.rpartition(", ")
    return name if comma and squash(last) in names.vocabulary.matrices else text


def _is_name(text: str, names: Names) -> bool:
    heading = names.heading(text)
    plain = not (heading.field or heading.is_measurand or heading.form or heading.unit)
    return (
        plain
        and ":" not in text
        and not re.search(r"\d", text)
        and len(text) <= 60
        and len(text.split()) >= 2
        and not re.search(r"\b(report|certificate|results|of)\b", text, re.I)
    )


def report_facts(said: Statements) -> dict[str, str]:
    """Pick what the sheet says of the report itself; a revision is cut to its number or letter."""
    facts = {name: value for name in _REPORT_FIELDS if (value := said.first(name))}
    if "revision" in facts and (match := _REVISION.match(facts["revision"])):
        facts["revision"] = match.group(1)
    if "report_no" in facts:
        facts = _revision_in_number(facts)
    if "replaces" in facts:
        undated = _DATED.sub(" ", facts.pop("replaces"))
        number = _NUMBERED.search(undated)
        facts |= {"replaces": number.group(0) if number else undated} if undated.strip() else {}
    return facts


def _revision_in_number(facts: dict[str, str]) -> dict[str, str]:
    """Split "R-1 Rev. 2 of 3 March 2026" into the number, the revision and the day of issue."""
    number = facts["report_no"].rpartition(":")[2]
    if dated := _DAY_BEHIND.search(number):
        facts = {"reported_on": dated.group(1)} | facts
        number = number[: dated.start()]
    if match := _REVISION_INSIDE.search(number):
        facts = {"revision": match.group(1)} | facts
        number = number[: match.start()]
    if amended := _AMENDED.search(number):
        facts = {"revision": amended.group(1)} | facts
        number = number[: amended.start()]
    number = _CONTINUED.sub("", number).split(", ")[0].strip(" ,(")
    number = _SIGN.sub("", number)
    return facts | {"report_no": number}


# A day behind a report's number, in the six languages: "HS-77 vom 5. März 2026".
_DAY_BEHIND = re.compile(
    r"(?:\s*[,|(]\s*|\s+[-\u2013]\s+|\s+(?=[a-z]))"
    r"(?:(?:vom|du|del?|di|do|of|from|dated|issued(?:\s+on)?|datum|date|data|fecha)[\s:]+)?"
    r"(\d{4}-\d\d-\d\d|\d{1,2}[./-]\d{1,2}[./-]\d{2,4}"
    r"|\d{1,2}(?:\.|st|nd|rd|th)?\s+(?:de\s+)?[^\W\d_]{3,}\.?\s+(?:del?\s+)?\d{4}"
    r"|[^\W\d_]{3,}\.?\s+\d{1,2},\s+\d{4})\s*\)?\s*$",
    re.IGNORECASE,
)
_REVISION_INSIDE = re.compile(
    r"[\s,(]+(?:rev(?:ision)?|version|amendment)\b\.?\s*(?:no\.?\s*)?([0-9]+|[A-Z])\b",
    re.IGNORECASE,
)
_AMENDED = re.compile(r"[\s,(]+(amended|revised|corrected|re-?issued?)\b\)?\s*$", re.IGNORECASE)
_CONTINUED = re.compile(r"[\s,(]*(?:continued|cont\.?|page\b.*)\)?$", re.IGNORECASE)
# The sign for "number" before one: "Informe de ensayo nº 45-25".
_SIGN = re.compile(r"^(?:n[°º]\.?|(?:n|no|nr|num)\.|(?:no|nr)(?=\s)|#)\s*(?=\S*\d)", re.IGNORECASE)
# A day is no report's number: "replaces the report of 2026-01-05".
_DATED = re.compile(
    r"(?:\b(?:the\s+)?(?:report\s+)?(?:of|dated|from|du|vom|del?|di)\s+)"
    r"(?:\d{4}-\d\d-\d\d|\d{1,2}[./-]\d{1,2}[./-]\d{2,4})\b",
    re.IGNORECASE,
)
_NUMBERED = re.compile(r"(?:\b[A-Z]{1,5}\s)?[^\s,;]*\d[^\s,;]*")


def column_facts(sheet: str, tables: list[Table]) -> tuple[dict[str, str], list[str]]:
    """Take the laboratory and the report's number from columns that say the same on every line."""
    facts: dict[str, str] = {}
    doubts: list[str] = []
    for table in tables:
        if table.grid.swapped:
            continue
        for name, values in table.report_says().items():
            if len(values) == 1:
                facts.setdefault(name, next(iter(values)))
            elif values:
                said = ", ".join(sorted(values)[:3])
                doubts.append(f"{sheet}: one file names several for {name} ({said}); none is taken")
    return facts, doubts
