"""Replicates of a sample: one that stands apart is said, never taken out."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from pipeline.outliers import dixon, grubbs
from pipeline.phrases import number
from pipeline.quality.outcomes import measurand
from schemas.quality import QualityRules

_SAME = ["report_id", "lab", "report_no", "method", "analysed_on", "sample_id", "sample_kind",
         "treatment", "dose", "analyte", "form", "expressed_as", "unit"]  # fmt: skip


def judge_replicates(results: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge marked replicates of one report, 3 to 10 quantified ones: Grubbs' G and Dixon's r10.

    Beyond the 5 % critical value (two-sided) is a straggler and warns, beyond the 1 % one an
    outlier and fails. Sets with a replicate below a limit are left out, for both need numbers.
    Source: ISO 5725-2:2019; Grubbs (1969); Rorabacher, Anal. Chem. 63 (1991) 139.
    """
    sets = (
        results.filter(pl.col("replicate").is_not_null())
        .filter(pl.len().over(_SAME).is_in(list(rules.grubbs)))
        .group_by(_SAME)
        .agg(
            n=pl.len(),
            known=pl.col("value").is_not_null().all(),
            grubbs=grubbs(pl.col("value").sort()),
            dixon=dixon(pl.col("value")),
            apart=pl.col("value").sort_by(
                (pl.col("value") - pl.col("value").sort().mean()).abs(), "value"
            ).last(),
            cells=pl.col("cells").sort().str.join("; "),
            qc_kind=pl.lit("replicates").first(),
        )
        .filter("known")
    )  # fmt: skip
    tests = (("grubbs", "Grubbs", rules.grubbs), ("dixon", "Dixon", rules.dixon))
    return pl.concat([_judged(sets, *test) for test in tests])


def _judged(
    sets: pl.DataFrame, name: str, title: str, critical: Mapping[int, tuple[float, float]]
) -> pl.DataFrame:
    usual, strict = (
        pl.col("n").replace_strict({n: c[k] for n, c in critical.items()}, default=None,
                                   return_dtype=pl.Float64)
        for k in (0, 1)
    )  # fmt: skip
    found = pl.col(name)
    return sets.with_columns(
        rule=pl.lit(title), rule_source=pl.lit(name), lower=found, upper=found,
        limit_upper=strict, unit=pl.lit("1"),
        judgement=pl.when(found.is_null()).then(pl.lit("pass"))
        .when(found > strict).then(pl.lit("fail"))
        .when(found > usual).then(pl.lit("warn"))
        .otherwise(pl.lit("pass")),
        message=pl.format(
            "{} replicates of {}, {}: {} {} stands {}{} ({}{}; 5 %: {}, 1 %: {})",
            "n", "sample_id", measurand(), number(pl.col("apart")), pl.col("unit").fill_null(""),
            pl.when(found > usual).then(pl.lit("apart from the others")).otherwise(
                pl.lit("farthest from their mean")),
            pl.when(found > usual).then(pl.lit(", and is kept")).otherwise(pl.lit("")),
            pl.lit(f"{title} "), number(found, 3).fill_null("none"), usual, strict,
        ),
    )  # fmt: skip
