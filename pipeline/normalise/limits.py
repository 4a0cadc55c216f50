"""Find the limits that hold for a result and turn it into an interval."""

from __future__ import annotations

import re

import polars as pl

from pipeline.censoring import read_number
from pipeline.normalise.joint_limits import part_joint_limits
from pipeline.settings import Settings
from pipeline.units import converted

_BELOW = ["not_detected", "below_detection", "below_quantification", "below_reporting"]


def censor(readings: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Add lod, loq, lower, upper, censoring and limit_kind (all in the stored unit).

    A limit is known from the cell, the column or line, the heading, a footnote, then the
    laboratory's record in the settings. lower and upper are null where no limit is known. Nothing
    is substituted: `<x` is [0, x], "below LOQ" is [LOD, LOQ], "not detected" is [0, LOD].
    """
    limits = part_joint_limits(readings).with_columns(limit_why=pl.lit(None, pl.String))
    for name in ("lod", "loq", "limit"):
        limits = _read_limit(limits, name)
    limits = limits.join(
        _recorded(settings),
        on=["lab", "analyte", "form"],
        how="left",
        maintain_order="left",
        nulls_equal=True,
    )
    own = converted(pl.col("printed_limit"), pl.col("unit_factor"))
    own_is_loq = (pl.col("printed_limit_kind") == "loq").fill_null(
        pl.col("notation") == "below_quantification"
    )
    return (
        limits.with_columns(**_printed(own, own_is_loq))
        .with_columns(
            lod=pl.coalesce(pl.when(~own_is_loq).then(own), "lod", "recorded_lod"),
            loq=pl.coalesce(pl.when(own_is_loq).then(own), "loq", "recorded_loq"),
        )
        .with_columns(upper=_upper(), lower=_lower())
        .with_columns(censoring=_censoring())
        .with_columns(limit_kind=_limit_kind())
        .with_columns(
            value=pl.when(pl.col("censoring").is_in(["none", "estimated"])).then("value"),
            lower=pl.when(pl.col("upper").is_null() & (pl.col("censoring") != "right"))
            .then(None)
            .otherwise("lower"),
        )
    )


def _read_limit(readings: pl.DataFrame, name: str) -> pl.DataFrame:
    """Read the printed limit of a value, in its own unit where it carries one.

    "1.000" and "1,000" are one or a thousand: the file's decimal mark and its numbers must not
    speak against each other, else the limit stays null and `limit_why` says so.
    """
    texts = readings.with_columns(text=pl.coalesce(f"raw_{name}", f"heading_{name}"))
    factor = factor_of("limit_unit", "limit_factor")
    return (
        texts.join(
            _limit_table(texts),
            on=["text", "decimal_mark"],
            how="left",
            maintain_order="left",
            nulls_equal=True,
        )
        .with_columns(
            read=_settled(
                converted(pl.col("limit_number"), factor), converted(pl.col("in_thousands"), factor)
            )
        )
        .with_columns(
            pl.col("read").alias(name if name != "limit" else "reporting_limit"),
            limit_why=pl.coalesce(
                "limit_why",
                pl.when(pl.col("in_thousands").is_not_null() & pl.col("read").is_null()).then(
                    pl.format('the limit "{}" can be read in two ways', "text")
                ),
            ),
        )
        .drop("text", "limit_number", "limit_unit", "limit_factor", "in_thousands", "read")
    )


def _limit_table(texts: pl.DataFrame) -> pl.DataFrame:
    """Tabulate each distinct printed limit; `in_thousands` where its mark may part thousands."""
    rows = []
    for text, mark in texts.select("text", "decimal_mark").drop_nulls("text").unique().iter_rows():
        printed, unit, factor = split_unit(text)
        two_ways = read_number(printed, None)[1]
        number = read_number(printed, _sign(printed) if two_ways else mark or ".")[0]
        thousands = number * 1000 if two_ways and number is not None else None
        rows.append((text, mark, number, thousands, unit, factor))
    schema = {
        "text": pl.String(),
        "decimal_mark": pl.String(),
        "limit_number": pl.Float64(),
        "in_thousands": pl.Float64(),
        "limit_unit": pl.String(),
        "limit_factor": pl.Float64(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


def _sign(printed: str) -> str:
    return "." if "." in printed else ","


def _settled(decimal: pl.Expr, thousands: pl.Expr) -> pl.Expr:
    """Choose between both readings of a limit by the file's mark and the numbers it limits.

    A number is hardly ever given where it lies far below its limit: within the analyte's numbers in
    the report the nearer reading is meant.
    """
    numbers = pl.col("value").filter(pl.col("notation") == "number")
    group = ["report_id", "analyte", "form"]
    least = pl.coalesce(numbers.min().over(group), numbers.min().over("report_id"))
    small = (least * _FAR < thousands).fill_null(False)
    great = (least >= thousands).fill_null(False)
    marked = pl.col("decimal_mark")
    sign = (
        pl.when(pl.col("text").str.contains(".", literal=True))
        .then(pl.lit("."))
        .otherwise(pl.lit(","))
    )
    as_decimal = (small & (marked == sign).fill_null(True)) | (
        (marked == sign).fill_null(False) & ~great
    )
    as_thousands = great & (marked != sign).fill_null(True)
    return (
        pl.when(thousands.is_null() | as_decimal).then(decimal).when(as_thousands).then(thousands)
    )


# A number this many times smaller than a limit speaks against the limit.
_FAR = 30.0


def _printed(own: pl.Expr, own_is_loq: pl.Expr) -> dict[str, pl.Expr]:
    """The limit the report itself prints for a value, and which one it is: lod, loq or other."""
    own_lod, own_loq = pl.when(~own_is_loq).then(own), pl.when(own_is_loq).then(own)
    less = pl.when(pl.col("notation") == "less").then("value")
    found = {
        "lod": pl.coalesce(own_lod, "lod"),
        "loq": pl.coalesce(own_loq, "loq"),
        "other": pl.coalesce("reporting_limit", less),
    }
    kinds = [pl.when(limit.is_not_null()).then(pl.lit(kind)) for kind, limit in found.items()]
    return {
        "limit_printed": pl.coalesce(*found.values()),
        "limit_printed_kind": pl.coalesce(kinds),
    }


_FACTORS = {"ug": 1.0, "ng": 0.001, "mg": 1000.0}
_RATIOS = {"ppb": 1.0, "ppt": 0.001, "ppm": 1000.0}
_UNIT_LIKE = re.compile(r"[a-z]?mol|[numkp]?g\s*(?:/|[a-zA-Z]+-1)|[nu]M\b|pp[bmt]|%")


def split_unit(text: str) -> tuple[str, str | None, float | None]:
    """Split "0.5 ug/L" into number, unit and the unit's factor into ug per litre or kilogram.

    The unit is null where none is printed, the factor where it is no mass per litre or kilogram.
    """
    bare = re.sub(r"^[^\d]*?(?=[\d.,]*\d)", "", text).strip(" )]")
    number, _, unit = bare.partition(" ")
    folded = unit.strip().replace("μ", "u").replace("µ", "u")
    if not _UNIT_LIKE.match(folded):
        return number, None, None
    if folded in {"ng/mL", "ng/ml", "ng/g"}:
        return number, folded, 1.0
    by_mass = _FACTORS.get(folded[:2]) if "/" in folded or "-1" in folded else None
    return number, folded, _RATIOS.get(folded[:3], by_mass)


def factor_of(unit: str, factor: str) -> pl.Expr:
    """The factor of a limit or uncertainty: its own unit's, else the result's when it is the same."""
    result = pl.col("raw_unit").str.replace_all("[µμ]", "u").str.strip_chars()
    same = pl.col(unit).is_null() | (pl.col(unit) == result).fill_null(False)
    return pl.coalesce(factor, pl.when(same).then("unit_factor"))


def _recorded(settings: Settings) -> pl.DataFrame:
    rows = []
    for lab, record in settings.laboratories.items():
        for key, limits in record.limits.items():
            analyte, _, form = key.partition("/")
            forms = [form] if form else ["free", "bound", "total", None]
            rows += [(lab, analyte, f, limits.get("lod"), limits.get("loq")) for f in forms]
    schema = {
        "lab": pl.String(),
        "analyte": pl.String(),
        "form": pl.String(),
        "recorded_lod": pl.Float64(),
        "recorded_loq": pl.Float64(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


def _upper() -> pl.Expr:
    notation = pl.col("notation")
    return (
        pl.when(notation.is_in(["number", "less"]))
        .then("value")
        .when(notation.is_in(["not_detected", "below_detection"]))
        .then(pl.coalesce("lod", "loq", "reporting_limit"))
        .when(notation == "below_quantification")
        .then(pl.col("loq"))
        .when(notation == "below_reporting")
        .then(pl.coalesce("reporting_limit", "loq"))
    )


def _lower() -> pl.Expr:
    notation = pl.col("notation")
    return (
        pl.when(notation.is_in(["number", "greater"]))
        .then("value")
        .when(notation == "below_quantification")
        .then(pl.col("lod").fill_null(0.0))
        .when(notation.is_in([*_BELOW, "less"]))
        .then(0.0)
    )


def _censoring() -> pl.Expr:
    notation = pl.col("notation")
    below_loq = (pl.col("value") < pl.coalesce("loq", "lod")).fill_null(False)
    return (
        pl.when((notation == "number") & (pl.col("printed_estimate") | below_loq))
        .then(pl.lit("estimated"))
        .when(notation == "number")
        .then(pl.lit("none"))
        .when(notation == "greater")
        .then(pl.lit("right"))
        .when((notation == "below_quantification") & pl.col("lod").is_not_null())
        .then(pl.lit("interval"))
        .when(notation.is_in([*_BELOW, "less"]))
        .then(pl.lit("left"))
    )


def _limit_kind() -> pl.Expr:
    """Name the limit an interval ends at: lod, loq, reporting or unknown."""
    upper = pl.col("upper")
    return pl.when(pl.col("censoring").is_in(["left", "interval"])).then(
        pl.when((upper == pl.col("lod")).fill_null(False))
        .then(pl.lit("lod"))
        .when((upper == pl.col("loq")).fill_null(False))
        .then(pl.lit("loq"))
        .when((upper == pl.col("reporting_limit")).fill_null(False))
        .then(pl.lit("reporting"))
        .otherwise(pl.lit("unknown"))
    )
