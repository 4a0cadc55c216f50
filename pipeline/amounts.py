"""Molar amounts of free and bound smoke phenols, one aglycone at a time.

nmol/L = 1000 (ug/L) / (g/mol); grapes give nmol/kg, and the two never meet because the unit stands
in every key. The mass is that of the substance the laboratory expressed its number as.
"""

from __future__ import annotations

from itertools import combinations

import polars as pl

from pipeline import intervals
from pipeline.uncertainty import is_assumed
from schemas.vocabulary import Vocabulary

TOTAL_MINUS_FREE = "total minus free"
GLYCOSIDES = "glycosides"
REPORTED_BOUND = "reported bound"
EQUIVALENTS = "glycosides as equivalents"
_BASIS_OF_FORM = {"free": "free", "total": TOTAL_MINUS_FREE, "bound": REPORTED_BOUND}
_MOLAR_UNIT = {"ug/L": "nmol/L", "ug/kg": "nmol/kg"}
NONE_MISSING = pl.DataFrame(schema={"sample": pl.UInt32, "aglycone": pl.String})
POOL = ["sample", "unit", "method", "basis", "expressed", "aglycone"]
PAIR = ["sample", "unit", "free_method", "bound_method", "bound_basis", "expressed"]


def cover_members(measured: int, wanted: int, spans: dict[str, int]) -> int:
    """Choose which measured names to add up so that no isomer counts twice and most are covered.

    All sets are bit patterns: `spans` gives for each name the isomers it spans, in one bit order;
    the k-th name has bit k in `measured` and in the answer. Among equal coverage the finest split
    wins (three isomers before o- and m+p-cresol before the sum). Names spanning anything outside
    `wanted` are not used.
    """
    usable = [
        (1 << k, span)
        for k, span in enumerate(spans.values())
        if measured >> k & 1 and span & ~wanted == 0
    ]
    best = (0, 0, 0)
    for size in range(1, len(usable) + 1):
        for choice in combinations(usable, size):
            union = 0
            for _, span in choice:
                union |= span
            if union == sum(span for _, span in choice):
                best = max(best, (union.bit_count(), size, sum(bit for bit, _ in choice)))
    return best[2]


def isomer_spans(vocabulary: Vocabulary, group: str) -> dict[str, int]:
    """Give for each name of an isomer group the isomers it spans, as a bit pattern."""
    names = [a for a in vocabulary.analytes.values() if a.group == group and not a.is_glycoside]
    single = [a.name for a in names if not a.members]
    return {
        a.name: sum(1 << single.index(member) for member in a.members or (a.name,)) for a in names
    }


def _isomer_groups(vocabulary: Vocabulary) -> list[str]:
    return sorted({a.group for a in vocabulary.analytes.values() if a.group})


def _group_covers(vocabulary: Vocabulary) -> pl.DataFrame:
    rows: list[tuple[str, int, int]] = []
    for group in _isomer_groups(vocabulary):
        spans = isomer_spans(vocabulary, group)
        whole = max(spans.values())
        for measured in range(1, 1 << len(spans)):
            cover = cover_members(measured, whole, spans)
            spanned = sum(s for k, s in enumerate(spans.values()) if cover >> k & 1)
            rows.append((group, measured, cover if spanned == whole else 0))
    schema = {"aglycone": pl.String, "measured": pl.Int64, "cover": pl.Int64}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _substances(vocabulary: Vocabulary) -> pl.DataFrame:
    bits = {
        name: 1 << k
        for group in _isomer_groups(vocabulary)
        for k, name in enumerate(isomer_spans(vocabulary, group))
    }
    rows = []
    for a in vocabulary.analytes.values():
        species = a.aglycone or a.name
        part = a.name.rsplit(" ", 1)[-1] if a.is_glycoside else ""
        rows.append((a.name, a.molar_mass, a.is_glycoside, species, a.group or species, part,
                     bits.get(species, 0)))  # fmt: skip
    schema = {
        "analyte": pl.String, "molar_mass": pl.Float64, "glycoside": pl.Boolean,
        "species": pl.String, "aglycone": pl.String, "part": pl.String, "bit": pl.Int64,
    }  # fmt: skip
    return pl.DataFrame(rows, schema=schema, orient="row")


def _in_moles(repeats: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    substances = _substances(vocabulary)
    masses = substances.select(expressed_as="analyte", expressed_mass="molar_mass")
    own = pl.col("expressed_as").is_null() | (pl.col("expressed_as") == pl.col("analyte"))
    factor = 1000 / pl.when(own).then("molar_mass").otherwise("expressed_mass")
    basis = (
        pl.when(~pl.col("glycoside"))
        .then(pl.col("form").replace_strict(_BASIS_OF_FORM, default=None))
        .when(own)
        .then(pl.lit(GLYCOSIDES))
        .otherwise(pl.lit(EQUIVALENTS))
    )
    to_aglycone = pl.col("expressed_as") == pl.col("species")
    return (
        repeats.filter(pl.col("unit").is_in(list(_MOLAR_UNIT)))
        .join(substances, on="analyte")
        .join(masses, on="expressed_as", how="left")
        .with_columns(
            basis=basis,
            expressed=pl.when(~own).then(
                pl.when(to_aglycone).then(pl.lit("aglycone")).otherwise("expressed_as")
            ),
            unit=pl.col("unit").replace_strict(_MOLAR_UNIT),
            stated=pl.col("uncertainty_source").is_not_null() & ~is_assumed(),
            assumed=is_assumed(),
            lower=pl.col("lower") * factor,
            upper=pl.col("upper") * factor,
            var_lower=(pl.col("u_lower") * factor).pow(2).fill_null(0.0),
            var_upper=(pl.col("u_upper") * factor).pow(2).fill_null(0.0),
            var_shared=_shared_variance() * factor**2,
        )
        .filter(pl.col("basis").is_not_null(), factor.is_not_null())
    )


def _shared_variance() -> pl.Expr:
    """Give what of the variance every result of the laboratory and method shares; 0 if not known."""
    least = pl.min_horizontal("u_lower", "u_upper")
    return (least**2 - pl.col("u_within") ** 2).clip(lower_bound=0.0).fill_null(0.0)


def _without_double_isomers(rows: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    key = [*POOL, "part"]
    chosen = (
        rows.group_by(key)
        .agg(measured=pl.col("bit").unique().sum())
        .join(_group_covers(vocabulary), on=["aglycone", "measured"], how="left")
        .drop("measured")
        .with_columns(complete=pl.col("cover").min().over(POOL) > 0)
    )
    return rows.join(chosen, on=key, nulls_equal=True).filter(
        ~pl.col("complete") | ((pl.col("bit") & pl.col("cover")) > 0)
    )


def pool_amounts(
    repeats: pl.DataFrame, vocabulary: Vocabulary, missing: pl.DataFrame = NONE_MISSING
) -> pl.DataFrame:
    """Sum molar amounts per sample, method, basis and aglycone.

    Columns: sample, unit (nmol/L or nmol/kg), method, basis (`free` or one of the four bound
    bases), expressed (null: as itself), aglycone, lower, upper, var_lower, var_upper (variance at
    either end), var_shared (what of it all results of the laboratory and method share), stated (all
    have an uncertainty, none the default one), assumed (one has the default one), parts (what was
    summed), cells, loaded_at. Isomers of a group appear as the group; lower and upper are null unless
    all of them are known. Sugars of one aglycone are summed; upper is null where one is `missing`
    (sample, aglycone), since it was held back. Repeats as from `combine_repeats`. Source: amount =
    mass / molar mass, that of the formula by the IUPAC/CIAAW weights of 2021.
    """
    moles = _in_moles(repeats, vocabulary)
    isomer = pl.col("bit") > 0
    columns = [*POOL, "analyte", "lower", "upper", "var_lower", "var_upper", "var_shared", "stated",
               "assumed", "cells", "loaded_at"]  # fmt: skip
    plain = moles.filter(~isomer).select(columns)
    grouped = moles.filter(isomer).pipe(_without_double_isomers, vocabulary)
    grouped = grouped.select(*columns, "complete")
    several = plain.select(pl.len().over(POOL) > 1).to_series()
    alone = plain.filter(~several).with_columns(parts=pl.concat_list("analyte")).drop("analyte")
    whole = pl.col("complete").all()
    summed = (
        pl.concat([plain.filter(several), grouped], how="diagonal")
        .group_by(POOL)
        .agg(
            intervals.ordered_sum("var_lower", "var_upper", "var_shared"),
            pl.col("stated").all(),
            pl.col("assumed").any(),
            lower=pl.when(whole).then(intervals.ordered_sum("lower")),
            upper=pl.when(whole).then(intervals.sum_or_null("upper")),
            parts=pl.col("analyte").sort(),
            cells=pl.col("cells").list.explode(),
            loaded_at=pl.col("loaded_at").max(),
        )
    )
    return pl.concat([alone, summed], how="diagonal").pipe(_open_upwards, missing)


def _open_upwards(amounts: pl.DataFrame, missing: pl.DataFrame) -> pl.DataFrame:
    marked = missing.with_columns(is_missing=pl.lit(True))
    counted = pl.col("basis").is_in([GLYCOSIDES, EQUIVALENTS]) & pl.col("is_missing").fill_null(
        False
    )
    return (
        amounts.join(marked, on=["sample", "aglycone"], how="left")
        .with_columns(upper=pl.when(~counted).then("upper"))
        .drop("is_missing")
    )


def pair_forms(amounts: pl.DataFrame) -> pl.DataFrame:
    """Set the free and the bound form of each aglycone of a sample side by side.

    One row per sample, unit, free_method, bound_method, bound_basis, expressed and aglycone that
    was measured in both forms, with free_*, other_* (the total, or the bound form as measured),
    bound_lower, bound_upper, and `known`: false, and bound null, where isomers of the group are
    missing in either form. Where the total lies below the free form (`below_free`), bound_lower
    is 0 and bound_upper the expanded uncertainty (k = 2) of the difference when both uncertainties
    are stated or recorded, else null. Source: interval arithmetic; u of a difference by JCGM
    100:2008, 5.1.
    """
    free = amounts.filter(pl.col("basis") == "free", pl.col("expressed").is_null())
    other = amounts.filter(pl.col("basis") != "free").rename(
        {"method": "bound_method", "basis": "bound_basis"}
    )
    values = ["lower", "upper", "var_lower", "var_upper", "var_shared", "stated", "assumed",
              "cells", "loaded_at"]  # fmt: skip
    free = free.select("sample", "unit", "aglycone", "method", pl.col(values).name.prefix("free_"))
    pairs = other.rename({name: f"other_{name}" for name in values}).join(
        free.rename({"method": "free_method"}), on=["sample", "unit", "aglycone"]
    )
    return pairs.with_columns(
        cells=pl.concat_list("free_cells", "other_cells"),
        loaded_at=pl.max_horizontal("free_loaded_at", "other_loaded_at"),
    ).pipe(_with_bound)


def _with_bound(pairs: pl.DataFrame) -> pl.DataFrame:
    by_difference = pl.col("bound_basis") == TOTAL_MINUS_FREE
    below = by_difference & intervals.total_below_free(pl.col("other_upper"), pl.col("free_lower"))
    expanded = 2 * (pl.col("other_var_upper") + pl.col("free_var_lower")).sqrt()
    difference = intervals.bound_upper(pl.col("other_upper"), pl.col("free_lower"))
    known = pl.col("free_lower").is_not_null() & pl.col("other_lower").is_not_null()
    bound = pairs.with_columns(
        known=known,
        below_free=below,
        bound_lower=pl.when(by_difference)
        .then(intervals.bound_lower(pl.col("other_lower"), pl.col("free_upper")))
        .otherwise("other_lower"),
        bound_upper=pl.when(below)
        .then(pl.when(pl.col("other_stated") & pl.col("free_stated")).then(expanded))
        .when(by_difference)
        .then(difference)
        .otherwise("other_upper"),
    )
    ends = ("bound_lower", "bound_upper")
    return bound.with_columns(
        pl.when(known | ~by_difference).then(pl.col(end)).alias(end) for end in ends
    )
