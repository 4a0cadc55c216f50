"""Convert printed numbers into the stored unit of their matrix, or say why that cannot be done."""

from __future__ import annotations

import polars as pl

from pipeline.normalise.unit_evidence import prefer_the_cell, told_by_others
from pipeline.readers import Readers
from pipeline.settings import Settings
from pipeline.units import converted, unit_table


def convert_units(readings: pl.DataFrame, readers: Readers, settings: Settings) -> pl.DataFrame:
    """Add value, unit and unit_factor; null value where the unit is missing, unknown or unfit.

    Liquids are stored in ug/L, grapes in ug/kg, and the one is never made from the other; colour and
    phenolics keep the unit of their definition (absorbance per 1 cm: OIV-MA-AS2-07B). A liquid
    reported per mass is converted only with the density of the laboratory's record (kg/L).
    `unit_problem` is unit_missing, unit_unknown, unit_conflict or unit_basis.
    """
    names = readers.names
    printed = readings.with_columns(
        raw_unit=pl.coalesce("cell_unit", "heading_unit", "raw_unit"),
        stated_unit=pl.col("raw_unit"),
    )
    texts = pl.concat([printed[c] for c in ("raw_unit", "stated_unit", "other_unit")])
    table = unit_table(texts, names)
    named = (
        printed.join(table, on="raw_unit", how="left", maintain_order="left", nulls_equal=True)
        .pipe(_also_named, table, "stated_unit")
        .pipe(_also_named, table, "other_unit")
        .pipe(prefer_the_cell)
        .pipe(_decide_matrix)
        .join(_densities(settings), on="lab", how="left", maintain_order="left")
    )
    return (
        named.with_columns(unit=_target_unit())
        .with_columns(unit_problem=_problem(), unit_factor=_factor())
        .with_columns(
            value=converted(pl.col("printed_number"), pl.col("unit_factor") * _per_path()),
            qualifier=_marks(),
        )
    )


def _also_named(readings: pl.DataFrame, table: pl.DataFrame, column: str) -> pl.DataFrame:
    other = table.select(
        pl.col("raw_unit").alias(column),
        pl.col("unit_name").alias(f"{column}_name"),
        pl.col("unit_kind").alias(f"{column}_kind"),
        pl.col("factor").alias(f"{column}_factor"),
    )
    return readings.join(other, on=column, how="left", maintain_order="left")


def _decide_matrix(readings: pl.DataFrame) -> pl.DataFrame:
    """Take a liquid whose matrix nothing tells for wine, of its variety's usual colour; mark it."""
    per_volume = pl.col("unit_kind").is_in(
        ["mass per volume", "amount per volume", "absorbance", "number"]
    )
    per_mass = pl.col("unit_kind").is_in(["mass per mass", "amount per mass"])
    told = pl.col("matrix")
    unprinted = told.is_null() & pl.col("raw_matrix").is_null()
    basis = pl.when(unprinted & (pl.col("unit_kind") == "ratio")).then(_basis_of_samples())
    wine = (told == "wine") | (unprinted & per_volume) | (basis == "wine")
    why = told_by_others(unprinted & per_mass, unprinted & per_volume)
    return readings.with_columns(
        matrix_printed=told, basis_why=why, beside_samples=basis.is_not_null()
    ).with_columns(
        matrix=pl.when(pl.col("basis_why").is_not_null())
        .then(None)
        .when((unprinted & per_mass) | (basis == "grape"))
        .then(pl.lit("grape"))
        .when(wine & pl.col("variety_matrix").is_not_null())
        .then(pl.col("variety_matrix"))
        .when(wine)
        .then(pl.lit("wine"))
        .otherwise(told),
    )


def _basis_of_samples() -> pl.Expr:
    """What quality control was measured beside: wine where every sample is a liquid, or grape.

    Null for samples, and where a sample of the report names no matrix or they are of both kinds.
    """
    control, grape = pl.col("qc_kind").is_not_null(), pl.col("matrix") == "grape"
    samples = ~control
    named = (pl.col("matrix").is_not_null() | control).all() & samples.any()
    only = {
        k: (m | control).all().over("report_id") for k, m in (("grape", grape), ("wine", ~grape))
    }
    told = pl.when(only["grape"]).then(pl.lit("grape")).when(only["wine"]).then(pl.lit("wine"))
    return pl.when(control & named.over("report_id")).then(told)


def _densities(settings: Settings) -> pl.DataFrame:
    rows = [(name, lab.density) for name, lab in settings.laboratories.items()]
    return pl.DataFrame(rows, schema={"lab": pl.String(), "density": pl.Float64()}, orient="row")


def _is_grape() -> pl.Expr:
    return (pl.col("matrix") == "grape").fill_null(False)


def _is_recovery() -> pl.Expr:
    """Tell a spike or control of which only the recovery is printed, in percent."""
    return pl.col("qc_kind").is_in(["spike", "control"]).fill_null(False) & pl.col(
        "raw_unit"
    ).str.contains(r"^\s*(?:%|percent|recovery)").fill_null(False)


def _target_unit() -> pl.Expr:
    return (
        pl.when(_is_recovery())
        .then(pl.lit("%"))
        .when(pl.col("own_unit").is_not_null())
        .then(pl.col("own_unit"))
        .when(_is_grape())
        .then(pl.lit("ug/kg"))
        .when(pl.col("matrix").is_not_null())
        .then(pl.lit("ug/L"))
    )


def _problem() -> pl.Expr:
    own, kind = pl.col("own_unit"), pl.col("unit_kind")
    differ = pl.lit(False)
    for other in ("stated_unit_name", "other_unit_name"):
        differ = differ | (pl.col(other) != pl.col("unit_name")).fill_null(False)
    dimensionless = own.is_in(["AU", "1"]).fill_null(False)
    fits = (
        pl.when(own == "mg/L")
        .then((kind == "mass per volume") & (pl.col("factor") >= 1000.0))
        .when(dimensionless)
        .then(kind.is_in(["absorbance", "number"]) | kind.is_null())
        .when(pl.col("matrix").is_null())
        .then(pl.lit(False))
        .when(kind == "ratio")
        .then(pl.col("matrix_printed").is_not_null() | pl.col("beside_samples"))
        .when(_is_grape())
        .then(kind.is_in(["mass per mass", "amount per mass"]))
        .otherwise(
            kind.is_in(["mass per volume", "amount per volume"])
            | (kind.is_in(["mass per mass", "amount per mass"]) & pl.col("density").is_not_null())
        )
    )
    absorbance = (own == "AU").fill_null(False)
    long = (pl.col("path_length") > 0).fill_null(False)
    return (
        pl.when(_is_recovery())
        .then(None)
        .when(pl.col("raw_unit").is_null() & ~dimensionless)
        .then(pl.lit("unit_missing"))
        .when(absorbance & pl.col("raw_path_length").is_not_null() & ~long)
        .then(pl.lit("unit_missing"))
        .when(absorbance & _per_centimetre() & (pl.col("path_length") != 1.0))
        .then(pl.lit("unit_conflict"))
        .when(kind.is_null() & pl.col("raw_unit").is_not_null())
        .then(pl.lit("unit_unknown"))
        .when(differ)
        .then(pl.lit("unit_conflict"))
        .when(~fits.fill_null(False))
        .then(pl.lit("unit_basis"))
    )


def _factor() -> pl.Expr:
    """The factor from the printed into the stored unit; nmol by the substance's molar mass (g/mol)."""
    kind, factor = pl.col("unit_kind"), pl.col("factor")
    amount = factor * pl.col("molar_mass") / 1000.0
    by_amount = (
        pl.when(kind.is_in(["amount per volume", "amount per mass"])).then(amount).otherwise(factor)
    )
    liquid_per_mass = kind.is_in(["mass per mass", "amount per mass"]) & ~_is_grape()
    density = pl.when(liquid_per_mass).then(pl.col("density")).otherwise(1.0)
    return (
        pl.when(_is_recovery())
        .then(1.0)
        .when(pl.col("own_unit") == "mg/L")
        .then(factor / 1000.0)
        .when(pl.col("own_unit").is_not_null())
        .then(1.0)
        .otherwise(by_amount * density)
    )


def _per_path() -> pl.Expr:
    """One over the optical path in cm of an absorbance; 1 where none is printed."""
    centimetres = pl.col("path_length")
    is_absorbance = (pl.col("own_unit") == "AU").fill_null(False)
    return pl.when(is_absorbance & (centimetres > 0)).then(1.0 / centimetres).otherwise(1.0)


def _per_centimetre() -> pl.Expr:
    """Tell a unit such as AU/cm: the number was brought to 1 cm already, whatever the path was."""
    return pl.col("raw_unit").str.contains(r"(?i)(?:/|per |\()\s*(?:1\s*)?cm\b").fill_null(False)


# The mass in a litre or kilogram that a ratio stands for.
_OF_RATIOS = {"ppm": "mg", "ppb": "ug", "ppt": "ng"}


def _marks() -> pl.Expr:
    """Join the report's remark, the mark behind the number and what had to be assumed."""
    ratio = pl.when((pl.col("unit_kind") == "ratio") & pl.col("unit").is_not_null()).then(
        pl.format(
            "{} taken as {}{}",
            "raw_unit",
            pl.col("unit_name").replace(_OF_RATIOS),
            pl.col("unit").str.slice(2),
        )
    )
    assumed = pl.when(pl.col("matrix") != pl.col("matrix_printed").fill_null("")).then(
        pl.format("matrix assumed: {}", pl.col("matrix"))
    )
    density = pl.when(
        pl.col("unit_kind").is_in(["mass per mass", "amount per mass"])
        & ~_is_grape()
        & pl.col("density").is_not_null()
    ).then(pl.format("converted with density {} kg/L", pl.col("density")))
    parts = [
        pl.col("raw_qualifier"),
        pl.col("cell_qualifier"),
        pl.col("raised"),
        pl.format('comment: "{}"', pl.col("note").str.replace_all(r"\s+", " ").str.strip_chars()),
        pl.col("unit_told"),
        ratio,
        assumed,
        density,
    ]
    joined = pl.concat_str(parts, separator="; ", ignore_nulls=True)
    return pl.when(joined == "").then(None).otherwise(joined)
