"""Control charts: the results of one control material in the order of analysis, with their limits.

A series is one laboratory, method, analyte, form, unit and material; the material is known by the
value it should give, else by its name and level. Limits come from the points before the one judged.
"""

from __future__ import annotations

import math

import polars as pl

from pipeline.phrases import number
from schemas.judgement import load_judgement
from schemas.quality import QualityRules

SERIES = ["lab", "source", "method", "analyte", "form", "unit", "material"]


def chart_points(qc: pl.DataFrame, reports: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Lay out the quantified controls of `qc` (as the view qc_results) as points of their charts.

    Rounds of proficiency tests are no points: each is another material, and has its scores. Adds
    `material`, `source` (the report where the laboratory is unknown), `day` (analysed, else
    reported), `before` (points that came earlier in the series), `mean` and `deviation` of those
    (null below two), `z` = (value - mean) / deviation. A point beyond three deviations of
    those before it does not count towards later limits. `reports` needs report_id and reported_on.
    Source: ISO 7870-2:2013 (limits from the mean and the standard deviation).
    """
    named = pl.col("sample_id").str.strip_prefix(pl.col("report_no").fill_null(""))
    points = (
        qc.filter(
            pl.col("qc_kind") == "control",
            pl.col("value").is_not_null(),
            pl.col("assigned_deviation").is_null(),
        )
        .join(reports.select("report_id", "reported_on"), on="report_id", how="left")
        .with_columns(
            day=pl.coalesce("analysed_on", "reported_on"),
            source=pl.when(pl.col("lab").is_null()).then(pl.col("report_id")),
            material=pl.coalesce(
                pl.format("expected {}", pl.col("expected").round_sig_figs(6)), named
            ),
        )
        .pipe(_with_levels)
        .sort(*SERIES, "day", "report_id", "sheet", "cell", nulls_last=False)
    )
    every = points.with_columns(counts=pl.lit(1)).pipe(_with_limits)
    astray = (pl.col("before") >= rules.points) & (pl.col("z").abs() > rules.chart_rules[0].beyond)
    return (
        every.with_columns(counts=pl.when(astray.fill_null(False)).then(0).otherwise(1))
        .drop("before", "mean", "deviation", "z")
        .pipe(_with_limits)
        .drop("counts")
    )


def _with_levels(points: pl.DataFrame) -> pl.DataFrame:
    """Name the level of a material that is only known by its name and controls several of them.

    Its results fall into groups that lie a factor of `level_gap` apart, and `level_reports` reports
    hold two of the groups side by side: so a chart that jumps, or a single result that is off, makes
    no level (both in schemas/judgement.toml; own choice, no source). A result goes with the level
    whose median is the nearest.
    """
    rules = load_judgement()
    size = pl.when(pl.col("expected").is_null() & (pl.col("value") > 0)).then(
        pl.col("value").log10()
    )
    series = pl.struct(SERIES).rank("dense")
    sized = points.with_columns(size=size, series=series).with_row_index("row")
    rising = sized.filter(pl.col("size").is_not_null()).sort("series", "size", "row")
    jump = pl.col("size") - pl.col("size").shift(1).over("series") > math.log10(rules.level_gap)
    grouped = rising.with_columns(group=jump.fill_null(False).cum_sum().over("series"))
    if grouped.is_empty() or not grouped["group"].max():
        return points
    beside = pl.col("group").n_unique().over("series", "report_id") > 1
    levels = (
        grouped.filter(beside)
        .group_by("series", "group")
        .agg(reports=pl.col("report_id").n_unique(), size=pl.col("size").median())
        .filter(pl.col("reports") >= rules.level_reports)
        .filter(pl.len().over("series") > 1)
        .select("series", "size", level="size")
        .sort("size")
    )
    nearest = rising.select("row", "series", "size").sort("size").join_asof(
        levels, on="size", by="series", strategy="nearest", check_sortedness=False
    )  # fmt: skip
    about = pl.format("{}, about {}", "material", number(10 ** pl.col("level")))
    return (
        sized.join(nearest.select("row", "level"), on="row", how="left", maintain_order="left")
        .with_columns(material=pl.coalesce(about, "material"))
        .drop("row", "series", "size", "level")
    )


def _with_limits(points: pl.DataFrame) -> pl.DataFrame:
    """Add before, mean, deviation and z from the points before each, as far as they count."""
    first = pl.col("value").first().over(SERIES)
    about = (pl.col("value") - first) * pl.col("counts")
    squares = about.pow(2)
    sums = points.with_columns(
        before=(pl.col("counts").cum_sum().over(SERIES) - pl.col("counts")).cast(pl.Int64),
        _first=first,
        _sum=about.cum_sum().over(SERIES) - about,
        _squares=squares.cum_sum().over(SERIES) - squares,
    )
    n = pl.col("before")
    variance = (pl.col("_squares") - pl.col("_sum").pow(2) / n) / (n - 1)
    return (
        sums.with_columns(
            mean=pl.when(n > 1).then(pl.col("_first") + pl.col("_sum") / n),
            deviation=pl.when(n > 1).then(variance.clip(lower_bound=0.0).sqrt()),
        )
        .with_columns(
            z=pl.when(pl.col("deviation") > 0).then(
                (pl.col("value") - pl.col("mean")) / pl.col("deviation")
            )
        )
        .drop("_first", "_sum", "_squares")
    )


def struck_rule(rules: QualityRules) -> pl.Expr:
    """Name the rule that strikes a point of `chart_points`, the gravest first; null where none does.

    Earlier points are measured with the limits of the point judged. Source: ISO 7870-2:2013;
    Westgard et al., Clin. Chem. 27 (1981) 493.
    """
    lags = max(rule.points for rule in rules.chart_rules)
    scores = [
        (pl.col("value").shift(lag).over(SERIES) - pl.col("mean")) / pl.col("deviation")
        for lag in range(lags)
    ]

    def struck(judgement: str) -> list[pl.Expr]:
        return [
            pl.when(_strikes(scores[: r.points], r.at_least, r.beyond)).then(pl.lit(r.name))
            for r in rules.chart_rules
            if r.judgement == judgement
        ]

    together = pl.when(_both_strike(rules.run_rule[1])).then(pl.lit(rules.run_rule[0]))
    apart = pl.when(_range_strikes(rules.range_rule[1])).then(pl.lit(rules.range_rule[0]))
    ready = pl.col("z").is_not_null() & (pl.col("before") >= rules.points)
    return pl.when(ready).then(pl.coalesce(*struck("fail"), together, apart, *struck("warn")))


def _strikes(scores: list[pl.Expr], at_least: int, beyond: float) -> pl.Expr:
    def count(side: int) -> pl.Expr:
        return pl.sum_horizontal(
            ((side * score) > beyond).fill_null(False).cast(pl.Int64) for score in scores
        )

    newest = scores[0]
    return ((newest > 0) & (count(1) >= at_least)) | ((newest < 0) & (count(-1) >= at_least))


# The controls of one day of a report are a run.
_RUN = ["report_id", "lab", "method", "analyte", "form", "day"]


def _range_strikes(beyond: float) -> pl.Expr:
    """Strike the points beyond the limit on either side of a run that has both."""
    both = (pl.col("z").max().over(_RUN) > beyond) & (pl.col("z").min().over(_RUN) < -beyond)
    return both & (pl.col("z").abs() > beyond)


def _both_strike(beyond: float) -> pl.Expr:
    """Strike the points beyond the limit on one side, where two materials of a run lie there."""
    sides = [pl.col("z") > beyond, pl.col("z") < -beyond]
    return pl.any_horizontal(
        side & (pl.col("material").filter(side).n_unique().over(_RUN) > 1) for side in sides
    )
