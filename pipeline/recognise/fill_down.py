"""Carry a sample's name down the lines it heads, where every sample heads the same lines."""

from __future__ import annotations

import polars as pl

from schemas.frames import SAMPLE_FIELDS

_KEYS = ("raw_analyte", "raw_form", "raw_replicate")


def fill_down(lines: pl.DataFrame) -> pl.DataFrame:
    """Fill the samples' names that stand on the first of several lines only.

    That is sure where two samples or more head lines of the same analytes or forms in the same
    order, none of them twice; else the lines stay without a name.
    """
    keys = [name for name in _KEYS if name in lines.columns]
    if not keys or "raw_sample" not in lines.columns or not _has_gaps(lines["raw_sample"]):
        return lines
    group = pl.col("raw_sample").is_not_null().cum_sum().alias("headed")
    told = lines.with_columns(group, one=pl.concat_str(keys, separator="|", ignore_nulls=True))
    groups = told.group_by("headed", maintain_order=True).agg("one")["one"].to_list()
    if len(groups) < 2 or any(g != groups[0] for g in groups) or len(set(groups[0])) < 2:
        return lines
    if len(set(groups[0])) < len(groups[0]) or "" in groups[0]:
        return lines
    fields = [f"raw_{n}" for n in SAMPLE_FIELDS if f"raw_{n}" in lines.columns]
    fields = [n for n in fields if n not in keys and _only_at_heads(told, n)]
    filled = [pl.col(n).first().over("headed") for n in fields]
    return told.with_columns(filled).select(lines.columns)


def _has_gaps(names: pl.Series) -> bool:
    return names.null_count() > 0 and names.first() is not None


def _only_at_heads(told: pl.DataFrame, name: str) -> bool:
    """Tell whether a field stands on no line but those that name a sample."""
    return bool(told.filter(pl.col("raw_sample").is_null())[name].is_null().all())
