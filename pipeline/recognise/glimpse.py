"""Name what single cells say by vocabulary alone, where no table was recognised."""

from __future__ import annotations

import polars as pl

from pipeline.names import Heading
from pipeline.readers import Readers
from pipeline.recognise.headers import SAMPLE_HEADINGS
from pipeline.recognise.roles import ROLES

_LIMITS = {"lod", "loq", "limit"}


def glimpse(cells: pl.DataFrame, readers: Readers) -> pl.DataFrame:
    """Give the role that each cell would have by its own words: sheet, row, col, role.

    analyte, sample, unit, limit, field and title for known words; unread for what reads as a
    result; unused for the rest.
    """
    rows = [
        (sheet, row, col, _role(text, kind, readers))
        for sheet, row, col, text, kind in cells.select(
            "sheet", "row", "col", "text", "kind"
        ).iter_rows()
    ]
    return pl.DataFrame(rows, schema=ROLES, orient="row")


def with_unread(roles: pl.DataFrame, cells: pl.DataFrame, readers: Readers) -> pl.DataFrame:
    """Mark as `unread` what no table took although it reads as a number."""
    places = ["sheet", "row", "col"]
    numbers = cells.filter(pl.col("kind").is_in(["number", "error", "formula"]))
    marked = numbers.select(*places, pl.lit(True).alias("is_number"))
    return roles.join(marked, on=places, how="left", maintain_order="left").select(
        *places,
        role=pl.when((pl.col("role") == "unused") & pl.col("is_number"))
        .then(pl.lit("unread"))
        .otherwise("role"),
    )


def _role(text: str, kind: str, readers: Readers) -> str:
    if kind != "text":
        return "unread" if readers.is_result(text, kind) else "unused"
    heading = readers.names.heading(text.rstrip(" :"))
    if not heading.is_measurand and not heading.field and readers.is_result(text, kind):
        return "unread"
    return _role_of(heading)


def _role_of(heading: Heading) -> str:
    if heading.is_measurand:
        return "analyte"
    if heading.field in SAMPLE_HEADINGS:
        return "sample"
    if heading.field in _LIMITS:
        return "limit"
    if heading.field == "unit" or heading.is_unit_only:
        return "unit"
    if heading.field:
        return "field"
    return "title" if heading.form else "unused"
