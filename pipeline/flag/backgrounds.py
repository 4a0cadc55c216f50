"""What fruit and wine of a variety carry without any smoke, as published and as measured by oneself.

A reference lot counts once, by its highest upper end: what lies below a limit cannot raise the
background above that limit, and nothing is substituted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import polars as pl
import polars.selectors as cs

from pipeline.statistics.binomials import at_least, bound_rank, covered_share
from schemas.vocabulary import Background, Vocabulary, squash

SHARE = 0.99
SURE = 0.95
_MARKER = ["kin", "matrix", "analyte", "form", "unit"]
_OWN = [*_MARKER, "expressed_as", "lab", "method"]
_ROW = {
    "kin": pl.String(), "matrix": pl.String(), "analyte": pl.String(), "form": pl.String(),
    "unit": pl.String(), "threshold": pl.Float64(), "threshold_source": pl.String(),
    "alarm": pl.Float64(),
}  # fmt: skip
# An unexposed sample exceeds a percentile that the source does not name as often as the 99th.
_USUAL = 99.0
_TEXTS = {"variety": pl.String(), "kin": pl.String()}


def kin(varieties: pl.Series, vocabulary: Vocabulary) -> pl.DataFrame:
    """Map printed names of varieties to the one name of each: columns variety, kin."""
    printed = varieties.drop_nulls().unique().sort().to_list()
    names = [_kin(name, vocabulary) for name in printed]
    return pl.DataFrame({"variety": printed, "kin": names}, schema_overrides=_TEXTS)


def _kin(variety: str, vocabulary: Vocabulary) -> str:
    folded = squash(variety)
    return squash(vocabulary.same_variety.get(folded, folded))


def published(backgrounds: Sequence[Background], vocabulary: Vocabulary) -> pl.DataFrame:
    """Lay published backgrounds out: kin, matrix, analyte, form, unit, threshold, its source, alarm.

    `alarm` is the share of unexposed samples that exceed the value. The mass is the analyte's own.
    """
    rows = [
        (_kin(b.variety, vocabulary), b.matrix, b.analyte, b.form, b.unit, b.value,
         _source(b), 1 - (b.percentile or _USUAL) / 100)
        for b in backgrounds
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=_ROW, orient="row").with_columns(
        expressed_as=pl.col("analyte")
    )


def _source(background: Background) -> str:
    if background.percentile is None:
        return background.source
    of = f" of at least {background.n} unexposed samples" if background.n else ""
    return f"{background.percentile:g}th percentile{of}; {background.source}"


def measured(references: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    """Take the backgrounds of one's own reference lots, by laboratory and method.

    threshold is the lowest of the lots' values below which, with 95 % confidence, 99 % of unexposed
    lots lie; below 299 lots there is none, and it is the highest value, with the share it covers in
    the source. n is the number of lots. Where the laboratory, the variety or an upper end is
    unknown nothing is taken. Source: Wilks, Ann. Math. Stat. 12 (1941) 91.
    """
    lots = (
        references.join(kin(references["variety"], vocabulary), on="variety")
        .filter(pl.col("lab").is_not_null(), pl.col("matrix").is_not_null())
        .group_by(*_OWN, "owner")
        .agg(pl.col("upper").max(), is_open=pl.col("upper").is_null().any())
    )
    found = (
        lots.group_by(_OWN)
        .agg(pl.col("upper").sort(), n=pl.len().cast(pl.Int64), is_open=pl.col("is_open").any())
        .filter(~pl.col("is_open"))
    )
    counts = found["n"].unique().sort().to_list()
    ranks = pl.DataFrame(
        [(n, bound_rank(n, SHARE, SURE) or n, _covered(n)) for n in counts],
        schema={"n": pl.Int64(), "rank": pl.Int64(), "covered": pl.String()},
        orient="row",
    )
    return found.join(ranks, on="n").select(
        *_OWN,
        "n",
        threshold=pl.col("upper").list.get(pl.col("rank") - 1),
        threshold_source=pl.format("{} own reference lots of {}; {}", "n", "lab", "covered"),
        alarm=(pl.col("n") + 1 - pl.col("rank")) / (pl.col("n") + 1),
    )


def _covered(n: int) -> str:
    share = SHARE if bound_rank(n, SHARE, SURE) else covered_share(n, SURE)
    highest = "" if share == SHARE else "the highest, "
    # Rounded down: at least so many, never more than the lots can claim.
    percent = math.floor(100 * share + 1e-9)
    return f"{highest}above at least {percent} % of unexposed lots with 95 % confidence"


def compare(
    rows: pl.DataFrame,
    backgrounds: Sequence[Background],
    references: pl.DataFrame,
    vocabulary: Vocabulary,
    enough: int,
) -> pl.DataFrame:
    """Join to rows with `kin` the background that speaks for them; rows without one drop out.

    One's own lots come first where there are `enough` of them, then what is published, then the few
    lots of one's own, which are marked `few`. Adds threshold, threshold_source, alarm, n, few.
    """
    own = measured(references, vocabulary)
    table = published(backgrounds, vocabulary)
    massed = rows.with_columns(mass=pl.coalesce("expressed_as", "analyte"))
    joined = massed.join(own, on=_OWN, how="left", nulls_equal=True).join(
        table.rename({"expressed_as": "mass"}), on=[*_MARKER, "mass"], how="left", suffix="_read"
    )
    mine = (pl.col("n") >= enough).fill_null(False) | pl.col("threshold_read").is_null()
    chosen = (
        pl.when(mine).then(name).otherwise(f"{name}_read").alias(name)
        for name in ("threshold", "threshold_source", "alarm")
    )
    return (
        joined.with_columns(few=mine & (pl.col("n") < enough).fill_null(False))
        .with_columns(chosen)
        .filter(pl.col("threshold").is_not_null())
        .drop("mass", cs.ends_with("_read"))
    )


def chance(counts: pl.DataFrame) -> pl.DataFrame:
    """Add how often chance alone brings `n_above` of `n_markers` about, at most.

    The upper tail of the binomial distribution at the largest `alarm` of the markers, which are
    taken as independent (a screening assumption; common practice, no source).
    """
    seen = counts.select("n_above", "n_markers", "alarm").unique().sort(pl.all())
    tails = [at_least(k, n, p) for k, n, p in seen.iter_rows()]
    return counts.join(
        seen.with_columns(pl.Series("chance", tails, pl.Float64())),
        on=["n_above", "n_markers", "alarm"],
    )
