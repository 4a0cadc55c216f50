"""Drop columns of means that are made of the replicates beside them."""

from __future__ import annotations

from pipeline.recognise.column_kinds import Columns, ValueColumn
from pipeline.recognise.header_line import Header
from pipeline.recognise.label_kinds import label_kind
from schemas.vocabulary import squash


def drop_means(header: Header, found: Columns) -> None:
    """Drop "Guaiacol mean" beside "Guaiacol rep 1" and "rep 2": it is made of them."""
    single = {_meant(v) for v in found.values if _is_single(v)}
    found.values = [
        v
        for v in found.values
        if _is_single(v) or _meant(v) not in single or not _is_mean(header, v)
    ]


def _meant(value: ValueColumn) -> tuple[str | None, str | None]:
    return value.heading.analyte, value.heading.form or value.says.get("form")


def _is_single(value: ValueColumn) -> bool:
    return bool(value.heading.replicate or value.says.get("replicate"))


def _is_mean(header: Header, value: ValueColumn) -> bool:
    words = header.readers.names.vocabulary.row_words
    sub = header.sub_heads.get(value.column)
    named = any(words.get(squash(w)) == "aggregate" for w in value.heading.text.split())
    return named or (sub is not None and label_kind(sub.text, header.readers) == "mean")
