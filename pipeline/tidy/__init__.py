"""Tidy: lay every recognised table out as Readings, a row per value cell.

This stage joins a value to the headings in whose direction it lies. It reads no meaning into any
text and drops nothing: a blank cell where a sample and an analyte cross is a row too.
"""

from __future__ import annotations

import polars as pl

from pipeline.censoring import decimal_mark
from pipeline.date_evidence import DateEvidence, weigh_dates
from pipeline.tidy.blocks import block_readings
from pipeline.tidy.comments import unheard_comments
from schemas.frames import READINGS
from schemas.layout import NUMBER_FIELDS, Recognised

__all__ = ["date_evidence", "tidy", "unheard_comments"]

TIDY: dict[str, pl.DataType] = {
    **READINGS,
    "spread": pl.String(),
    "other_unit": pl.String(),
    "version": pl.String(),
    "form_in_line": pl.Boolean(),
    "spilled": pl.Boolean(),
    "rival_sample": pl.Boolean(),
    "doubt": pl.String(),
    "merged_at": pl.String(),
    "told_analyte": pl.String(),
    "read_as": pl.String(),
    "meant": pl.String(),
    "date_system": pl.String(),
    "namesake_of": pl.String(),
    "namesake_mark": pl.String(),
    "namesake_sure": pl.Boolean(),
}


def tidy(cells: pl.DataFrame, recognised: Recognised, report_id: str, file: str) -> pl.DataFrame:
    """Lay the tables of a document out as Readings.

    Returns the READINGS columns and `spread` (what a ± inside a cell means by its heading),
    `other_unit` (a second unit printed for the same column), `merged_at` (the first cell of a merged
    range over several results), `version` (reported, corrected or raw by
    its headings), `told_analyte` (which analyte a user's layout says the printed name is), `read_as`
    (the printed name less a mark of replicates), `meant` (what a legend says is to be read for a
    sign), `date_system` (what numbers count days from) and `namesake_of`, `namesake_mark`,
    `namesake_sure` (the sample that a name is a replicate of, or may be). All `raw_*` columns are text.
    """
    sheets = cells.partition_by("sheet", as_dict=True)
    frames = [block_readings(sheets[block.sheet,], block) for block in recognised.blocks]
    readings = pl.concat(frames, how="diagonal")
    missing = [
        pl.lit(None, dtype).alias(n) for n, dtype in TIDY.items() if n not in readings.columns
    ]
    whole = readings.with_columns(missing)
    dates = date_evidence(whole, recognised)
    return whole.with_columns(
        report_id=pl.lit(report_id),
        file=pl.lit(file),
        lab=pl.lit(recognised.facts.get("lab"), pl.String),
        decimal_mark=pl.lit(_decimal_mark(readings), pl.String),
        date_order=pl.lit(dates.order, pl.String),
        date_system=pl.lit(dates.system, pl.String),
    ).select([pl.col(n).cast(dtype) for n, dtype in TIDY.items()])


def _decimal_mark(readings: pl.DataFrame) -> str | None:
    """Find the file's decimal mark from the numbers it stores as text."""
    texts = readings.filter(pl.col("kind") == "text")["raw_value"].unique().to_list()
    for name in NUMBER_FIELDS:
        column = f"raw_{name}"
        if column in readings.columns:
            texts += readings[column].drop_nulls().unique().to_list()
    return decimal_mark(texts)


def date_evidence(readings: pl.DataFrame, recognised: Recognised) -> DateEvidence:
    """Weigh what the report says of its own dates, for its readings as tidied."""
    issued, system = recognised.facts.get("reported_on"), recognised.date_system
    return weigh_dates(readings, issued, recognised.language, system, recognised.date_patterns)
