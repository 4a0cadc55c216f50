"""Let the method of each line tell its form where nothing else does, and doubt what contradicts."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from pipeline.readers import Readers
from schemas.layout import Mark


def say_forms_of_methods(
    lines: pl.DataFrame, columns: pl.DataFrame, fixed: Mapping[str, str], readers: Readers
) -> tuple[pl.DataFrame, tuple[Mark, ...]]:
    """Add the form that "Total volatile phenols, acid hydrolysis" states to lines without one.

    A line whose method states another form than the title of the table is doubtful. Where a
    heading or a column of forms speaks, the lines stay as they are.
    """
    told = columns["raw_form"].null_count() < columns.height or "raw_form" in lines.columns
    if told or "raw_method" not in lines.columns:
        return lines, ()
    methods = lines["raw_method"].drop_nulls().unique().to_list()
    forms = {text: form for text in methods if (form := readers.names.title(text).form)}
    if not forms:
        return lines, ()
    said = pl.col("raw_method").replace_strict(forms, default=None, return_dtype=pl.String)
    if "form" not in fixed:
        return lines.with_columns(raw_form=said), ()
    names = readers.names
    known = names.heading(fixed["form"]).form or names.title(fixed["form"]).form
    others = lines.filter(said != known) if known else lines.clear()
    places = columns["column"].to_list()
    marks = [
        Mark(line, column, method[:60], True)
        for line, method in others.select("line", "raw_method").iter_rows()
        for column in places
    ]
    return lines, tuple(marks)
