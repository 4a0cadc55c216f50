"""Pack a report's numbers: what holds for a sample or a column of a report is kept once."""

from __future__ import annotations

import polars as pl

from schemas.report import CONTROLS, Packed

# Columns that hold for a whole sample, and for a whole column of a report: stored once each.
SAMPLE = (
    "sample_id", "lab_sample_id", "sample_kind", "lot", "region", "grower", "vineyard", "block",
    "variety", "vintage", "matrix", "stage", "sampled_on", "received_on", "analysed_on",
    "replicate", "treatment", "dose", "dose_unit", "trial", "namesake_of", "namesake_mark",
)  # fmt: skip
MEASURE = (
    "method", "analyte", "form", "expressed_as", "unit", "censoring", "limit_kind", "lod", "loq",
    "uncertainty_source", "coverage_factor", "path_length", "illuminant", "observer", "qualifier",
    "raw_analyte", "raw_unit", "sheet", "outcome", "qc_kind", *CONTROLS,
)  # fmt: skip
VALUE = (
    "value", "lower", "upper", "standard_uncertainty", "expanded_uncertainty", "raw_value", "cell",
)  # fmt: skip
ASSUMED = pl.col("qualifier").str.contains("matrix assumed: ", literal=True)


def pack(stored: pl.DataFrame) -> Packed:
    """Split stored numbers into samples, columns and values that point at both by a number."""
    stated = stored.select(*SAMPLE, matrix_assumed=ASSUMED.fill_null(value=False))
    samples, sample_key = _number_groups(stated, "sample_key")
    measures, measure_key = _number_groups(stored.select(MEASURE), "measure_key")
    keys = (pl.int_range(pl.len(), dtype=pl.UInt32).alias("value_key"), sample_key, measure_key)
    return Packed(samples, measures, stored.select(*keys, *VALUE))


def _number_groups(rows: pl.DataFrame, key: str) -> tuple[pl.DataFrame, pl.Series]:
    """Number the distinct rows in order of appearance; give them, and each row's number."""
    placed = rows.with_row_index("row_no")
    groups = placed.group_by(rows.columns, maintain_order=True).agg("row_no").with_row_index(key)
    numbers = groups.select(key, "row_no").explode("row_no").sort("row_no")[key]
    return groups.drop("row_no"), numbers
