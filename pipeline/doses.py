"""Doses of treatments: mass in g/hL, volume in mL/hL, any other in the unit it is said in."""

from __future__ import annotations

import polars as pl

PER_HECTOLITRE: dict[str, tuple[float, str]] = {
    "g/hl": (1.0, "g/hL"),
    "g/l": (100.0, "g/hL"),
    "mg/l": (0.1, "g/hL"),
    "kg/hl": (1000.0, "g/hL"),
    "g/100l": (1.0, "g/hL"),
    "kg/1000l": (100.0, "g/hL"),
    "ml/hl": (1.0, "mL/hL"),
    "ml/l": (100.0, "mL/hL"),
    "l/hl": (1000.0, "mL/hL"),
}


def _folded(unit: pl.Expr) -> pl.Expr:
    return unit.str.replace_all(r"\s", "").str.to_lowercase()


def is_vague(unit: pl.Expr) -> pl.Expr:
    """Tell whether a unit says neither mass nor volume, as ppm does."""
    return _folded(unit).is_in(["ppm", "p.p.m."]).fill_null(False)


def dose_factor(unit: pl.Expr) -> pl.Expr:
    """Give the factor into the unit of `dose_unit`; 1 for a unit that is kept."""
    factors = {name: factor for name, (factor, _) in PER_HECTOLITRE.items()}
    return _folded(unit).replace_strict(factors, default=1.0, return_dtype=pl.Float64)


def dose_unit(unit: pl.Expr) -> pl.Expr:
    """Give g/hL for a mass, mL/hL for a volume, any other unit as it is."""
    units = {name: unit for name, (_, unit) in PER_HECTOLITRE.items()}
    stored = _folded(unit).replace_strict(units, default=None, return_dtype=pl.String)
    return pl.coalesce(stored, unit)
