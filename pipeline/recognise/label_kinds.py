"""Name what a label below a sample's or an analyte's name heads."""

from __future__ import annotations

import re

from pipeline.names import ATTACHED_FIELDS
from pipeline.readers import Readers
from pipeline.recognise.grid import Spot
from pipeline.recognise.summaries import is_aggregate
from schemas.vocabulary import squash

# What is neither a result nor beside one: "RSD (%)", "Recovery".
OTHER = "other"


def label_kind(text: str, readers: Readers) -> str | None:
    """Name what a label heads: result, mean, a field beside a result, or other; null if unknown."""
    read = readers.names.heading(text)
    if read.field in ATTACHED_FIELDS or read.is_form_only:
        return read.field
    word = squash(re.split(r"[(\[]", text)[0])
    if readers.names.vocabulary.row_words.get(word) == "aggregate" and not read.form:
        return "mean" if read.field == "result" else OTHER
    if read.field in {"result", "replicate"} or read.is_unit_only:
        return "result"
    spot = Spot(text, text, "text", 1, 1)
    known = read.field in {"coverage_factor", "ignored"} or is_aggregate(spot, {}, readers)
    return OTHER if known else None
