"""What each key of a layout file accepts."""

from __future__ import annotations

from typing import Any

from pipeline.settings.rules import NEEDED_TEXT, TABLE, TABLES, TEXT, TEXTS, Rule, are_texts, word
from schemas.frames import RESULT_FIELDS, SAMPLE_FIELDS
from schemas.vocabulary import FORMS

# Fields whose cell may stand beside each value.
BESIDE = {"unit", "lod", "loq", "limit", "uncertainty", "deviation", "qualifier"}
_IDENTITY = {"sample", "sample_name", "lab_sample", "lot", "replicate"}
_SOME = Rule(TEXTS.expected, lambda v: are_texts(v) and bool(v), tuple, needed=True)


def _is_count(value: Any) -> bool:
    return type(value) is int and 0 <= value < 10_000


_COUNT = Rule("a whole number from 0", _is_count)
_FLAG = Rule("true or false", lambda v: isinstance(v, bool))
_FACT = Rule("a text or a number", lambda v: isinstance(v, str | int | float) and v != "")

LAYOUT = {
    "name": Rule(
        "a name of letters, digits, - and _",
        lambda v: isinstance(v, str) and v.replace("_", "").replace("-", "").isalnum(),
        needed=True,
    ),
    "title": TEXT,
    "when": Rule(TABLE.expected, TABLE.fits, needed=True),
    "fixed": TABLE,
    "meanings": TABLE,
    "ignore": TEXTS,
    "table": Rule(TABLES.expected, lambda v: isinstance(v, list) and bool(v), needed=True),
}
WHEN = {"texts": _SOME, "sheet": TEXT}
MEANINGS = dict.fromkeys(("analyte", "form", "matrix", "stage", "sample_kind"), TABLE)
TABLE_KEYS = {
    "start": NEEDED_TEXT,
    "repeats": _FLAG,
    "results": word(("crossing", "column", "row")),
    "skip": _COUNT,
    "end": TEXT,
    "ignore": TEXTS,
    "fixed": TABLE,
    "fields": Rule(TABLE.expected, TABLE.fits, needed=True),
    "result": TABLES,
}
FIELDS = dict.fromkeys(("result", *SAMPLE_FIELDS, *RESULT_FIELDS), TABLE)
PLACE = {
    "axis": word(("row", "column", "sheet", "value"), needed=True),
    "heading": TEXT,
    "right": _COUNT,
    "left": _COUNT,
    "up": _COUNT,
    "down": _COUNT,
    "after": TEXT,
    "before": TEXT,
}
# What may hold for a whole sheet; who or what was sampled never does.
_UNFIXED = _IDENTITY | {"analyte", "form", "uncertainty", "deviation", "qualifier"}
FACTS = {
    **{name: _FACT for name in (*SAMPLE_FIELDS, *RESULT_FIELDS) if name not in _UNFIXED},
    "form": word(FORMS),
}
TABLE_ONLY = {"analyte": TEXT}
RESULT = {"sample": TEXT, "replicate": _FACT}
