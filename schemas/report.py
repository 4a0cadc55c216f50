"""What one laboratory report becomes before it is stored."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

import polars as pl

from schemas.frames import RESULTS

# What a row of quality control says of itself beside its number, in the stored unit.
CONTROLS: dict[str, pl.DataType] = {
    "parent_sample": pl.String(),
    "expected": pl.Float64(),
    "added": pl.Float64(),
    "assigned_deviation": pl.Float64(),
    "assigned_uncertainty": pl.Float64(),
}

# Rows of a report that are kept as numbers; `outcome` is result, qc or repeated. `namesake_of` is
# the sample that this one may be a replicate of, where only the register can tell.
STORED: dict[str, pl.DataType] = {
    **RESULTS,
    "outcome": pl.String(),
    "qc_kind": pl.String(),
    "trial": pl.String(),
    "namesake_of": pl.String(),
    "namesake_mark": pl.String(),
    **CONTROLS,
}

# Cells of a report that carry no number to keep; `outcome` is not_analysed or out_of_scope.
UNUSED: dict[str, pl.DataType] = {
    "report_id": pl.String(),
    "file": pl.String(),
    "sheet": pl.String(),
    "cell": pl.String(),
    "raw_sample": pl.String(),
    "raw_analyte": pl.String(),
    "raw_value": pl.String(),
    "outcome": pl.String(),
}

# What is kept of a held value beside its text: the reading with its headings as JSON, and the cells
# around it as lines of text.
CONTEXT: dict[str, pl.DataType] = {
    "held_id": pl.String(),
    "reading": pl.String(),
    "around": pl.String(),
}


@dataclass(frozen=True)
class Packed:
    """A report's stored numbers with what holds for a sample or a column kept once."""

    samples: pl.DataFrame
    measures: pl.DataFrame
    values: pl.DataFrame


@dataclass(frozen=True)
class Report:
    """One report, read and judged: every value cell is in exactly one of the three frames.

    For the way from one process to another `stored` may be empty and `packed` hold its rows.
    `judged_with` changes when the settings or the vocabulary that judged it do.
    """

    report_id: str
    file: str
    sha256: str
    lab: str | None
    report_no: str | None
    revision: str | None
    replaces: str | None
    layout: str
    reported_on: date | None
    n_values: int
    stored: pl.DataFrame
    held: pl.DataFrame
    unused: pl.DataFrame
    notices: tuple[str, ...] = ()
    packed: Packed | None = None
    judged_with: str | None = None
    context: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=CONTEXT))

    @cached_property
    def outcomes(self) -> dict[str, int]:
        """Count what became of the values, without those held."""
        counted = Counter(self.unused["outcome"].to_list())
        if self.packed is None:
            return dict(counted + Counter(self.stored["outcome"].to_list()))
        went = self.packed.measures.select("measure_key", "outcome")
        rows = self.packed.values.group_by("measure_key").len().join(went, on="measure_key")
        summed = rows.group_by("outcome").agg(pl.col("len").sum())
        return dict(counted + Counter(dict(summed.iter_rows())))
