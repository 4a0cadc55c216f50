"""Derive the bound fraction of each sample: results -> fractions.

Nothing about flags, trends or lots' histories belongs here.
"""

from __future__ import annotations

import polars as pl

from pipeline import intervals
from pipeline.amounts import PAIR, pair_forms, pool_amounts
from pipeline.repeats import combine_repeats, number_samples
from pipeline.withheld import NONE_WITHHELD, open_sums
from schemas.frames import FRACTIONS
from schemas.vocabulary import Vocabulary

NO_RECORD = pl.DataFrame(
    schema={"lab": pl.String, "analyte": pl.String, "relative_uncertainty": pl.Float64}
)
_ENDS = ("free_lower", "free_upper", "bound_lower", "bound_upper")


def derive(
    results: pl.DataFrame,
    vocabulary: Vocabulary,
    record: pl.DataFrame = NO_RECORD,
    *,
    withheld: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """Pair free and bound amounts of each sample and give the bound fraction, as FRACTIONS.

    One row per sample, methods, basis and aglycone measured in both forms, and one named `panel`
    that sums the smoke phenols among them. Amounts in nmol/L, or nmol/kg for grapes; fractions are
    molar, bound / (bound + free). A null upper end is unbounded or unknown (total below free); a
    null fraction end is unknown. A group of isomers that is not wholly known has null amounts and
    stays out of the panel. Rows of all sample kinds. `record` (lab, analyte, relative_uncertainty)
    is the laboratories' own record, see `pipeline.uncertainty`. `withheld` (see
    `pipeline.withheld`) are values held back: a sum of glycosides that misses one has no upper end.
    """
    rows, samples = number_samples(results)
    repeats = combine_repeats(rows, record).filter("latest")
    held_back = NONE_WITHHELD if withheld is None else withheld
    missing = open_sums(rows, held_back, vocabulary)
    pairs = repeats.pipe(pool_amounts, vocabulary, missing).pipe(pair_forms)
    both = pl.concat(
        [
            pairs.select(*PAIR, "aglycone", *_ENDS, "cells"),
            pairs.pipe(_sum_panel, vocabulary.panels["smoke"]),
        ]
    )
    return both.pipe(_with_fraction).join(samples, on="sample").pipe(_as_fractions)


def _sum_panel(pairs: pl.DataFrame, members: tuple[str, ...]) -> pl.DataFrame:
    return (
        pairs.filter(pl.col("aglycone").is_in(list(members)), "known")
        .group_by(PAIR)
        .agg(
            aglycone=pl.lit("panel").first(),
            free_lower=intervals.ordered_sum("free_lower"),
            free_upper=intervals.sum_or_null("free_upper"),
            bound_lower=intervals.ordered_sum("bound_lower"),
            bound_upper=intervals.sum_or_null("bound_upper"),
            cells=pl.col("cells").list.explode(),
        )
    )


def _with_fraction(pairs: pl.DataFrame) -> pl.DataFrame:
    corners = [pl.col(end) for end in ("bound_lower", "bound_upper", "free_lower", "free_upper")]
    return pairs.with_columns(
        bound_fraction_lower=intervals.fraction_lower(*corners),
        bound_fraction_upper=intervals.fraction_upper(*corners),
    )


def _as_fractions(rows: pl.DataFrame) -> pl.DataFrame:
    order = ["sample", "bound_basis", "free_method", "bound_method", "unit", "aglycone",
             "expressed"]  # fmt: skip
    return (
        rows.sort(order)
        .with_columns(cells=pl.col("cells").list.sort().list.join("; "))
        .select(pl.col(name).cast(kind) for name, kind in FRACTIONS.items())
    )
