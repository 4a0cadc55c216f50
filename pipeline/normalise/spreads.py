"""Read what stands behind the ±: an expanded uncertainty, a standard deviation, or nobody says."""

from __future__ import annotations

import polars as pl

from pipeline.censoring import read_number
from pipeline.names.patterns import K_FACTOR
from pipeline.normalise.limits import factor_of, split_unit
from pipeline.readers import Readers
from pipeline.settings import Settings
from pipeline.uncertainty import ASSUMED_FACTOR, REPORT, UNEXPLAINED
from pipeline.units import converted

_USUAL_K = 2.0  # JCGM 100:2008, 6.2: k = 2 for about 95 %


def read_spreads(readings: pl.DataFrame, readers: Readers, settings: Settings) -> pl.DataFrame:
    """Add expanded_uncertainty, coverage_factor, standard_uncertainty and uncertainty_source.

    A column headed as uncertainty is expanded with the stated k, else the laboratory's record, else
    k = 2 (JCGM 100:2008, 6.2), and the source then says that it is assumed. A bare ± is U or s as
    the heading or the laboratory's record says; where nobody says, the source is "printed, kind
    unknown" and no uncertainty is taken from it.
    """
    numbers = _numbers(readings)
    records = _records(settings)
    told_k = pl.coalesce("printed_k", "record_k")
    k = told_k.fill_null(_USUAL_K)
    plus_minus = converted(pl.col("printed_uncertainty"), pl.col("unit_factor"))
    meaning = pl.coalesce(
        pl.col("spread").replace({"deviation": "s", "uncertainty": "U"}), "plus_minus"
    )
    return (
        readings.join(
            numbers,
            on=["raw_uncertainty", "raw_deviation", "raw_coverage_factor", "decimal_mark"],
            how="left",
            maintain_order="left",
            nulls_equal=True,
        )
        .join(records, on="lab", how="left", maintain_order="left")
        .with_columns(
            expanded=pl.coalesce(_in_unit("uncertainty"), pl.when(meaning == "U").then(plus_minus)),
            deviation=pl.coalesce(_in_unit("deviation"), pl.when(meaning == "s").then(plus_minus)),
            unexplained=plus_minus.is_not_null() & meaning.is_null(),
        )
        .with_columns(
            expanded_uncertainty=pl.col("expanded"),
            coverage_factor=pl.when(pl.col("expanded").is_not_null()).then(k),
            standard_uncertainty=pl.coalesce(pl.col("expanded") / k, pl.col("deviation")),
        )
        .with_columns(
            uncertainty_source=pl.when(pl.col("expanded").is_not_null() & told_k.is_null())
            .then(pl.lit(ASSUMED_FACTOR))
            .when(pl.col("standard_uncertainty").is_not_null())
            .then(pl.lit(REPORT))
            .when(pl.col("unexplained"))
            .then(pl.lit(UNEXPLAINED))
        )
    )


def _in_unit(name: str) -> pl.Expr:
    """A printed uncertainty in the stored unit; one in percent is of the value."""
    number, relative = pl.col(f"{name}_number"), pl.col(f"{name}_percent")
    return (
        pl.when(relative)
        .then(number / 100.0 * pl.col("value"))
        .otherwise(converted(number, factor_of(f"{name}_unit", f"{name}_factor")))
    )


def _numbers(readings: pl.DataFrame) -> pl.DataFrame:
    columns = ["raw_uncertainty", "raw_deviation", "raw_coverage_factor", "decimal_mark"]
    rows = []
    for uncertainty, deviation, factor, mark in readings.select(columns).unique().iter_rows():
        bare, own_factor = _without_factor(uncertainty)
        spreads = (*_read(bare, mark), *_read(deviation, mark))
        printed_k = _read(own_factor or factor, mark)[0]
        rows.append((uncertainty, deviation, factor, mark, *spreads, printed_k))
    schema = {
        **dict.fromkeys(columns, pl.String()),
        "uncertainty_number": pl.Float64(),
        "uncertainty_percent": pl.Boolean(),
        "uncertainty_unit": pl.String(),
        "uncertainty_factor": pl.Float64(),
        "deviation_number": pl.Float64(),
        "deviation_percent": pl.Boolean(),
        "deviation_unit": pl.String(),
        "deviation_factor": pl.Float64(),
        "printed_k": pl.Float64(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


def _without_factor(text: str | None) -> tuple[str | None, str | None]:
    """Part "1.2 (k=2)" into the uncertainty and its coverage factor."""
    if not text or (found := K_FACTOR.search(text)) is None:
        return text, None
    return text.replace(found.group(0), ""), found.group(1)


def _read(
    text: str | None, mark: str | None
) -> tuple[float | None, bool, str | None, float | None]:
    bare = (text or "").strip().lstrip("±+/- ")
    percent = bare.endswith("%")
    words = bare.rstrip("% ").split()
    sign = "," if "," in bare and "." not in bare else "."
    number = read_number(words[0], mark or sign)[0] if words else None
    return number, percent, *split_unit(bare)[1:]


def _records(settings: Settings) -> pl.DataFrame:
    rows = [
        (name, lab.plus_minus, lab.coverage_factor) for name, lab in settings.laboratories.items()
    ]
    schema = {"lab": pl.String(), "plus_minus": pl.String(), "record_k": pl.Float64()}
    return pl.DataFrame(rows, schema=schema, orient="row")
