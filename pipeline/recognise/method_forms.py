"""Let the method of each line tell its form where nothing else does."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from pipeline.readers import Readers


def say_forms_of_methods(
    lines: pl.DataFrame, columns: pl.DataFrame, fixed: Mapping[str, str], readers: Readers
) -> pl.DataFrame:
    """Add the form that "Total volatile phenols, acid hydrolysis" states to lines without one.

    Lines stay as they are where a heading, a title or a column of forms speaks of the form.
    """
    told = "form" in fixed or columns["raw_form"].null_count() < columns.height
    if told or "raw_method" not in lines.columns or "raw_form" in lines.columns:
        return lines
    methods = lines["raw_method"].drop_nulls().unique().to_list()
    forms = {text: form for text in methods if (form := readers.names.title(text).form)}
    said = pl.col("raw_method").replace_strict(forms, default=None, return_dtype=pl.String)
    return lines.with_columns(raw_form=said) if forms else lines
