"""Frame contracts: one per arrow between the stages.

Cells -> Readings -> Results | Held -> Fractions -> Flags. All `raw_*` columns are text as printed;
dates end in `_on`, instants in `_at`, identifiers in `_id`. A null means "not recognised" or "not
given", never zero.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import polars as pl

from schemas.derived import FLAGS, FRACTIONS, PANELS, QUALITY, SUSPECTS
from schemas.rules import rules

__all__ = [
    "CELLS",
    "FLAGS",
    "FRACTIONS",
    "HELD",
    "PANELS",
    "QUALITY",
    "READINGS",
    "RESULTS",
    "RESULT_FIELDS",
    "SAMPLE_FIELDS",
    "SUSPECTS",
    "judged_schema",
]

if TYPE_CHECKING:
    import pandera.polars as pa  # half a second, needed only where values are judged

CELLS: dict[str, pl.DataType] = {
    "sheet": pl.String(),
    "row": pl.Int32(),
    "col": pl.Int32(),
    "text": pl.String(),
    "number": pl.Float64(),
    "date": pl.Date(),
    "kind": pl.String(),
    "shown_wins": pl.Boolean(),
    "hidden": pl.Boolean(),
    "struck": pl.Boolean(),
    "note": pl.String(),
    "raised": pl.String(),
    "row_span": pl.Int32(),
    "col_span": pl.Int32(),
}

# Fields a row, a column or a sheet may carry for each value (printed text, dates as ISO when typed).
SAMPLE_FIELDS = (
    "sample", "sample_name", "lab_sample", "lot", "region", "grower", "vineyard", "block",
    "variety", "vintage", "matrix", "stage", "sample_kind", "treatment", "dose", "dose_unit",
    "trial", "replicate", "sampled_on", "received_on", "analysed_on", "parent_sample",
)  # fmt: skip
# In place of "reported" or "corrected", for a number that a person gave.
GIVEN_VERSION = "given"
RESULT_FIELDS = (
    "analyte", "form", "unit", "lod", "loq", "limit", "uncertainty", "deviation", "coverage_factor",
    "method", "qualifier", "expressed_as", "path_length", "illuminant", "observer", "expected",
    "added", "assigned_deviation", "assigned_uncertainty",
)  # fmt: skip

READINGS: dict[str, pl.DataType] = {
    "report_id": pl.String(),
    "file": pl.String(),
    "lab": pl.String(),
    "sheet": pl.String(),
    "cell": pl.String(),
    "row": pl.Int32(),
    "col": pl.Int32(),
    "raw_value": pl.String(),
    "number": pl.Float64(),
    "date": pl.Date(),
    "kind": pl.String(),
    "shown_wins": pl.Boolean(),
    "hidden": pl.Boolean(),
    "struck": pl.Boolean(),
    "note": pl.String(),
    "raised": pl.String(),
    "decimal_mark": pl.String(),
    "date_order": pl.String(),
    "dash_means": pl.String(),
    **{f"raw_{name}": pl.String() for name in SAMPLE_FIELDS + RESULT_FIELDS},
}

RESULTS: dict[str, pl.DataType] = {
    "report_id": pl.String(),
    "lab": pl.String(),
    "report_no": pl.String(),
    "revision": pl.String(),
    "method": pl.String(),
    "sample_id": pl.String(),
    "lab_sample_id": pl.String(),
    "sample_kind": pl.String(),
    "lot": pl.String(),
    "region": pl.String(),
    "grower": pl.String(),
    "vineyard": pl.String(),
    "block": pl.String(),
    "variety": pl.String(),
    "vintage": pl.Int32(),
    "matrix": pl.String(),
    "stage": pl.String(),
    "sampled_on": pl.Date(),
    "received_on": pl.Date(),
    "analysed_on": pl.Date(),
    "analyte": pl.String(),
    "form": pl.String(),
    "expressed_as": pl.String(),
    "value": pl.Float64(),
    "unit": pl.String(),
    "censoring": pl.String(),
    "limit_kind": pl.String(),
    "lod": pl.Float64(),
    "loq": pl.Float64(),
    "lower": pl.Float64(),
    "upper": pl.Float64(),
    "standard_uncertainty": pl.Float64(),
    "uncertainty_source": pl.String(),
    "expanded_uncertainty": pl.Float64(),
    "coverage_factor": pl.Float64(),
    "replicate": pl.String(),
    "treatment": pl.String(),
    "dose": pl.Float64(),
    "dose_unit": pl.String(),
    "path_length": pl.Float64(),
    "illuminant": pl.String(),
    "observer": pl.String(),
    "qualifier": pl.String(),
    "raw_analyte": pl.String(),
    "raw_value": pl.String(),
    "raw_unit": pl.String(),
    "file": pl.String(),
    "sheet": pl.String(),
    "cell": pl.String(),
}

HELD: dict[str, pl.DataType] = {
    "held_id": pl.String(),
    "report_id": pl.String(),
    "file": pl.String(),
    "sheet": pl.String(),
    "cell": pl.String(),
    "raw_sample": pl.String(),
    "raw_analyte": pl.String(),
    "raw_value": pl.String(),
    "raw_unit": pl.String(),
    "reason_code": pl.String(),
    "reason": pl.String(),
    "hint": pl.String(),
}


def _fails(name: str, wrong: pl.Expr) -> pa.Check:
    """Make a check of a rule that is true where the row is wrong; null counts as right."""
    import pandera.polars as pa

    return pa.Check(
        lambda data: data.lazyframe.select(~wrong.fill_null(False)), name=name, error=name
    )


@cache
def judged_schema() -> pa.DataFrameSchema:
    """Give the contract of rows that are kept: each check is named by its reason_code."""
    import pandera.polars as pa

    return pa.DataFrameSchema(
        {
            "row_id": pa.Column(pl.UInt32, unique=True),
            "raw_value": pa.Column(pl.String),
            "sheet": pa.Column(pl.String),
            "cell": pa.Column(pl.String),
        },
        checks=[_fails(name, wrong) for name, wrong in rules().items()],
        strict=False,
    )
