"""The rules a stored value obeys, as expressions that are true where a row is wrong."""

from __future__ import annotations

import polars as pl

_CENSORED = [
    "not_detected", "below_detection", "below_quantification", "below_reporting", "above_range",
]  # fmt: skip


def rules() -> dict[str, pl.Expr]:
    """Map each reason_code to its rule, in the order in which a reason is given."""
    return {**_of_the_cell(), **_of_the_number(), **_of_the_unit(), **_of_the_rest()}


def _concentration() -> pl.Expr:
    return pl.col("has_form").fill_null(False)


def _carries() -> pl.Expr:
    return pl.col("notation").is_in(["number", "less", "greater"])


def _of_the_cell() -> dict[str, pl.Expr]:
    notation = pl.col("notation")
    return {
        "struck_out": pl.col("struck"),
        "hidden": pl.col("hidden"),
        "rejected_by_laboratory": notation == "rejected",
        "excel_error": notation == "error",
        "formula_uncalculated": notation == "formula",
        "analyte_unknown": pl.col("analyte").is_null(),
        "sample_missing": pl.col("sample_id").is_null(),
        "sample_conflict": pl.col("rival_sample"),
        "not_a_number": notation.is_in(["unknown", "date", "boolean"]) | notation.is_null(),
    }


def _of_the_number() -> dict[str, pl.Expr]:
    value = pl.col("printed_number")
    zero = _carries() & (value == 0) & _concentration()
    return {
        "number_ambiguous": pl.col("notation").is_in(["ambiguous", "range", "blank_mark"])
        | pl.col("spilled")
        | zero,
        "negative": _carries() & (value < 0) & ~pl.col("analyte").is_in(["a*", "b*"]),
        "form_unknown": _concentration() & pl.col("form").is_null(),
    }


def _of_the_unit() -> dict[str, pl.Expr]:
    unit = pl.col("unit_problem")
    ratio = (unit == "unit_basis") & (pl.col("unit_kind") == "ratio")
    dose = pl.col("dose_unit").str.to_lowercase().is_in(["ppm", "p.p.m."])
    return {
        "unit_missing": unit == "unit_missing",
        "unit_unknown": (unit == "unit_unknown") | ratio | dose,
        "unit_conflict": unit == "unit_conflict",
        "unit_basis": unit == "unit_basis",
    }


def _of_the_rest() -> dict[str, pl.Expr]:
    limitless = pl.col("upper").is_null() & (pl.col("censoring") != "right")
    censored = pl.col("notation").is_in(_CENSORED)
    highest = pl.coalesce("upper", "lower")
    return {
        "unit_slip": pl.col("slip_power").is_not_null(),
        "limit_unknown": (censored & limitless) | (pl.col("notation") == "above_range"),
        "date_ambiguous": pl.col("date_problem") == "date_ambiguous",
        "date_invalid": pl.col("date_problem") == "date_invalid",
        # a gram per litre or kilogram of one phenol, limits in the wrong order, more than white
        "impossible": (pl.col("lower") > pl.col("upper"))
        | (pl.col("lod") > pl.col("loq"))
        | (_concentration() & (highest > 1e6))
        | ((pl.col("analyte") == "L*") & (pl.col("value") > 100)),
    }
