"""Controls: a material whose content is known, analysed again and again."""

from __future__ import annotations

import polars as pl

from pipeline.control_charts import chart_points, struck_rule
from pipeline.phrases import number
from pipeline.quality.outcomes import by_level, measurand, plain_unit, within
from schemas.quality import QualityRules


def judge_charts(qc: pl.DataFrame, reports: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge each point of a control chart by the rules of `rules.chart_rules`.

    lower and upper are its distance from the mean of the points before it, in their standard
    deviations. Not judged below `rules.points` earlier points. Source: ISO 7870-2:2013; Westgard
    et al., Clin. Chem. 27 (1981) 493.
    """
    warns = [rule.name for rule in rules.chart_rules if rule.judgement == "warn"]
    struck, ready = pl.col("struck"), pl.col("before") >= rules.points
    return (
        chart_points(qc, reports, rules)
        .with_columns(struck=struck_rule(rules))
        .with_columns(
            rule=struck.fill_null(rules.chart_rules[0].name),
            rule_source=pl.lit("shewhart"),
            lower=pl.when(ready).then("z"),
            upper=pl.when(ready).then("z"),
            limit_lower=pl.lit(-rules.chart_rules[0].beyond),
            limit_upper=pl.lit(rules.chart_rules[0].beyond),
            judgement=pl.when(~ready | pl.col("z").is_null())
            .then(pl.lit("not judged"))
            .when(struck.is_null())
            .then(pl.lit("pass"))
            .when(struck.is_in(warns))
            .then(pl.lit("warn"))
            .otherwise(pl.lit("fail")),
            message=_charted(rules),
            unit=pl.lit("1"),
        )
    )


def _charted(rules: QualityRules) -> pl.Expr:
    head = pl.format(
        "control {}, {}: {} {}", "sample_id", measurand(), number(pl.col("value")), plain_unit()
    )
    chart = pl.format(
        ", {} standard deviations from the mean {} of the {} before it",
        number(pl.col("z"), 2), number(pl.col("mean")), "before",
    )  # fmt: skip
    few = pl.format(
        ", not judged by its chart, as {} earlier points are fewer than {}",
        "before", pl.lit(rules.points),
    )  # fmt: skip
    same = pl.lit(", not judged by its chart, as all earlier points are equal")
    return head + pl.when(pl.col("before") < rules.points).then(few).otherwise(
        pl.coalesce(chart + pl.coalesce(pl.format(" (rule {})", "struck"), pl.lit("")), same)
    )


def judge_recovery_of_controls(qc: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge controls by what they should give: 100 value / expected, in %, against AOAC's range.

    Controls whose expected value the report does not print have no row here; those of a
    proficiency test are judged by their z-score instead.
    """
    expected = pl.col("expected")
    printed = qc.filter(
        pl.col("qc_kind") == "control", expected.is_not_null(), expected > 0,
        pl.col("assigned_deviation").is_null(),
    )  # fmt: skip
    ends = {name: 100 * pl.col(name) / expected for name in ("lower", "upper")}
    limits = {
        f"limit_{end}": by_level(expected, rules, f"recovery_{side}")
        for end, side in (("lower", "low"), ("upper", "high"))
    }
    judged = within(*(pl.col(n) for n in ("lower", "upper", "limit_lower", "limit_upper")))
    head = pl.format(
        "control {}, {}: {} {} of {} expected",
        "sample_id", measurand(), pl.col("raw_value"), plain_unit(), number(expected),
    )  # fmt: skip
    share = pl.format(
        ", {} % ({}-{} % expected)",
        number(pl.col("upper")), number(pl.col("limit_lower")), number(pl.col("limit_upper")),
    )  # fmt: skip
    return (
        printed.with_columns(head=head, **limits)
        .with_columns(**ends)
        .with_columns(
            rule=pl.lit("recovery"),
            rule_source=pl.lit("spike"),
            judgement=judged.fill_null("not judged"),
            message=pl.col("head") + pl.coalesce(share, pl.lit("")),
            unit=pl.lit("%"),
        )
    )


def judge_scores(qc: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge rounds of a proficiency test: z = (x - x_pt) / sigma_pt.

    Up to 2 in size passes, below 3 warns, from 3 on fails. Rows that carry the assigned value and
    the standard deviation. Source: ISO 13528:2022, 9.4.
    """
    z = (pl.col("value") - pl.col("expected")) / pl.col("assigned_deviation")
    size = pl.col("lower").abs()
    return (
        qc.filter(
            pl.col("qc_kind") == "control", pl.col("expected").is_not_null(),
            pl.col("assigned_deviation") > 0, pl.col("value").is_not_null(),
        )
        .with_columns(lower=z, upper=z)
        .with_columns(
            rule=pl.lit("z-score"), rule_source=pl.lit("proficiency"),
            limit_lower=pl.lit(-rules.z_fail), limit_upper=pl.lit(rules.z_fail),
            judgement=pl.when(size >= rules.z_fail).then(pl.lit("fail"))
            .when(size > rules.z_warn).then(pl.lit("warn"))
            .otherwise(pl.lit("pass")),
            message=pl.format(
                "proficiency sample {}, {}: {} {} against {} assigned, z = {}", "sample_id",
                measurand(), number(pl.col("value")), plain_unit(), number(pl.col("expected")),
                number(pl.col("lower"), 2),
            ),
            unit=pl.lit("1"),
        )
    )  # fmt: skip
