"""Weigh what a report prints of units: a cell against its heading, a result against its neighbours."""

from __future__ import annotations

import polars as pl


def prefer_the_cell(readings: pl.DataFrame) -> pl.DataFrame:
    """Let a full unit in a cell win over its heading's of the same kind; `unit_told` says so.

    "12 ppb" under ug/L or ug/kg is the heading's unit: there is no other way to read it.
    """
    own, same_kind = (
        pl.col("cell_unit").is_not_null(),
        pl.col("unit_kind") == pl.col("stated_unit_kind"),
    )
    differ = pl.col("unit_name") != pl.col("stated_unit_name")
    wins = (own & differ & same_kind & (pl.col("unit_kind") != "ratio")).fill_null(False)
    alike = (
        own
        & (pl.col("unit_kind") == "ratio")
        & pl.col("stated_unit_kind").is_in(["mass per volume", "mass per mass"])
        & (pl.col("factor") == pl.col("stated_unit_factor"))
    ).fill_null(False)
    told = pl.when(wins | alike).then(
        pl.format("{} in the cell, {} in its heading", "cell_unit", "stated_unit")
    )
    stated = {"unit_name": "stated_unit_name", "unit_kind": "stated_unit_kind"}
    return readings.with_columns(
        unit_told=told,
        **{n: pl.when(alike).then(other).otherwise(n) for n, other in stated.items()},
    ).with_columns(stated_unit_name=pl.when(~wins).then("stated_unit_name"))


def told_by_others(per_mass: pl.Expr, per_volume: pl.Expr) -> pl.Expr:
    """Say which of a sample's results are per litre where this one is per mass, or the other way.

    Only where no matrix is printed, the others are not fewer, and no analyte stands there in both
    ways (then there are two materials).
    """
    sample = ["report_id", "sheet", "sample_id", "raw_stage", "raw_sampled_on"]
    counted = pl.col("has_form").fill_null(False)
    mass, volume = per_mass & counted, per_volume & counted
    name = pl.concat_str("analyte", "form", ignore_nulls=True)
    both = (mass.any() & volume.any()).over([*sample, "analyte", "form"]).any().over(sample)
    n_mass, n_volume = (
        name.filter(mass).n_unique().over(sample),
        name.filter(volume).n_unique().over(sample),
    )
    cells = {
        w: pl.col("cell").filter(k).first().over(sample)
        for w, k in (("mass", mass), ("volume", volume))
    }
    text = '"{}", where other results of this sample are per {} (such as {})'
    return (
        pl.when(both)
        .then(None)
        .when(mass & (n_volume >= n_mass) & (n_volume > 0))
        .then(pl.format(text, "raw_unit", pl.lit("litre"), cells["volume"]))
        .when(volume & (n_mass >= n_volume) & (n_mass > 0))
        .then(pl.format(text, "raw_unit", pl.lit("kilogram"), cells["mass"]))
    )
