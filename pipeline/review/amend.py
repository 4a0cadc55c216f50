"""Put what a person gives in the place of a stored number whose unit was suspected of a slip.

No reading is kept of stored numbers, and none is needed: sample, analyte and form are beyond doubt.
A unit or factor takes amount, limits and uncertainty along; a value is read like any other.
"""

from __future__ import annotations

import polars as pl

from pipeline.names import Names
from pipeline.phrases import number
from pipeline.tidy import TIDY
from pipeline.units import converted, unit_table
from schemas.frames import GIVEN_VERSION

AMOUNTS = (
    "value", "lower", "upper", "lod", "loq", "standard_uncertainty", "expanded_uncertainty",
)  # fmt: skip
_READ = ("value", "lower", "upper", "censoring", "limit_kind")
_SPREAD = ("standard_uncertainty", "uncertainty_source", "expanded_uncertainty", "coverage_factor")
_KINDS = {
    "ug/L": ["mass per volume", "amount per volume"],
    "ug/kg": ["mass per mass", "amount per mass"],
}
_LEFT_OUT = "uncertainty left out, which was that of the printed number"


def rescaled(rows: pl.DataFrame, factor: str) -> pl.DataFrame:
    """Take amounts, limits and uncertainties times a column; where it is null they stay."""
    times = pl.col(factor)
    return rows.with_columns(
        pl.when(times.is_not_null())
        .then(converted(pl.col(name), times))
        .otherwise(name)
        .alias(name)
        for name in AMOUNTS
    )


def with_factors(kept: pl.DataFrame, names: Names) -> pl.DataFrame:
    """Add `times`, from the stored number to the right one, and `why` where a unit gives none.

    `kept` has analyte, unit, raw_unit and the columns of GIVEN. Both are null beside a given value.
    """
    table = unit_table(pl.concat([kept["raw_unit"], kept["corrected_unit"]]), names)
    molar = pl.col("analyte").replace_strict(
        {name: a.molar_mass for name, a in names.vocabulary.analytes.items()},
        default=None,
        return_dtype=pl.Float64,
    )
    told = kept
    for place, column in (("old", "raw_unit"), ("new", "corrected_unit")):
        named = table.select(
            pl.col("raw_unit").alias(column), *(pl.col(n).alias(f"{place}_{n}")
                                                for n in ("unit_kind", "factor"))
        )  # fmt: skip
        told = told.join(named, on=column, how="left", maintain_order="left")
        amount = pl.col(f"{place}_unit_kind").str.starts_with("amount")
        whole = pl.col(f"{place}_factor") * pl.when(amount).then(molar / 1000).otherwise(1.0)
        told = told.with_columns(
            pl.when(_fits(f"{place}_unit_kind", ratio=place == "old")).then(whole).alias(place)
        )
    by_unit = pl.col("corrected_unit").is_not_null() & pl.col("corrected_value").is_null()
    ratio = (pl.col("new") / pl.col("old")).round_sig_figs(12)
    return told.with_columns(
        times=pl.coalesce("corrected_factor", pl.when(by_unit).then(ratio)),
        why=pl.when(by_unit).then(_hindrance(ratio)),
    )


def _fits(kind: str, *, ratio: bool) -> pl.Expr:
    """Tell units of the stored number's basis; ppb as printed was read by its matrix already."""
    fits = [
        (pl.col("unit") == unit) & pl.col(kind).is_in([*kinds, *(["ratio"] if ratio else [])])
        for unit, kinds in _KINDS.items()
    ]
    return pl.any_horizontal(fits).fill_null(value=False)


def _hindrance(ratio: pl.Expr) -> pl.Expr:
    return (
        pl.when(pl.col("new").is_null())
        .then(pl.format('unit "{}" does not fit a number stored in {}', "corrected_unit", "unit"))
        .when(pl.col("old").is_null())
        .then(
            pl.format(
                'from the printed unit "{}" it takes more than a factor; give the value too',
                pl.col("raw_unit").fill_null(""),
            )
        )
        .when(ratio == 1.0)
        .then(
            pl.format(
                "the number is the same in {}; confirm it where it is right as printed",
                "corrected_unit",
            )
        )
    )


def given_readings(kept: pl.DataFrame) -> pl.DataFrame:
    """Lay given values out as readings, beside what the stored numbers say of themselves."""
    limits = {f"raw_{n}": pl.format("{} {}", _plain(n), "unit") for n in ("lod", "loq")}
    rows = kept.select(
        "report_id", "file", "lab", "sheet", "cell",
        raw_value="corrected_value",
        number="corrected_number",
        kind=pl.when(pl.col("corrected_number").is_null()).then(pl.lit("text"))
        .otherwise(pl.lit("number")),
        raw_sample="sample_id", raw_matrix="matrix", raw_analyte="analyte", raw_form="form",
        raw_expressed_as="expressed_as", raw_method="method",
        raw_unit=pl.coalesce("corrected_unit", "raw_unit"),
        version=pl.lit(GIVEN_VERSION),
        **limits,
        **{n: pl.lit(False) for n in ("shown_wins", "hidden", "struck", "spilled", "rival_sample")},
    )  # fmt: skip
    missing = [pl.lit(None, t).alias(n) for n, t in TIDY.items() if n not in rows.columns]
    return rows.with_columns(missing).select(pl.col(n).cast(t) for n, t in TIDY.items())


def _plain(name: str) -> pl.Expr:
    """Write a number so that no mark of it may part thousands."""
    return pl.col(name).round_sig_figs(12).cast(pl.Decimal(38, 12)).cast(pl.String)


def with_given_values(kept: pl.DataFrame, read: pl.DataFrame) -> pl.DataFrame:
    """Put what was read of given values into their rows, and leave out the old uncertainty.

    A printed limit that lies above its value gives `why`: it would have to move along.
    """
    at = ["report_id", "sheet", "cell"]
    told = read.select(*at, *(pl.col(n).alias(f"{n}_read") for n in _READ))
    limit = pl.coalesce("lod", "loq")
    below = (pl.col("value_read") < limit).fill_null(value=False)
    spread = pl.any_horizontal(pl.col(n).is_not_null() for n in _SPREAD[:1] + _SPREAD[2:3])
    remark = pl.concat_str("qualifier", pl.lit(_LEFT_OUT), separator="; ", ignore_nulls=True)
    return (
        kept.join(told, on=at, how="inner", maintain_order="left")
        .with_columns(
            *(pl.col(f"{n}_read").alias(n) for n in _READ),
            qualifier=pl.when(spread).then(remark).otherwise("qualifier"),
            why=pl.when(below).then(
                pl.format(
                    "its limit of {} {} lies above it; give unit or factor, which take the limit"
                    " along",
                    number(limit),
                    "unit",
                )
            ),
        )
        .with_columns(pl.lit(None, kept.schema[n]).alias(n) for n in _SPREAD)
    )
