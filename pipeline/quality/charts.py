"""Controls: a material whose content is known, analysed again and again."""

from __future__ import annotations

import polars as pl

from pipeline.control_charts import chart_points, struck_rule
from pipeline.phrases import number
from pipeline.quality.outcomes import measurand, plain_unit, recovery_limits, within
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

    A control printed as a recovery in % is taken as such; without its amount it is judged only
    where the ranges of all levels agree. Controls in a concentration whose expected value the report
    does not print have no row here; those of a proficiency test are judged by their z-score. Source:
    AOAC INTERNATIONAL, Official Methods of Analysis (2012), Appendix F, table A5.
    """
    expected, direct = pl.col("expected"), (pl.col("unit") == "%").fill_null(False)
    printed = qc.filter(
        pl.col("qc_kind") == "control", direct | (expected > 0),
        pl.col("assigned_deviation").is_null(),
    )  # fmt: skip
    ends = {
        name: pl.when(direct).then(name).otherwise(100 * pl.col(name) / expected)
        for name in ("lower", "upper")
    }
    judged = within(*(pl.col(n) for n in ("lower", "upper", "limit_lower", "limit_upper")))
    of = pl.coalesce(pl.format(" of {} expected", number(expected)), pl.lit(""))
    head = pl.format(
        "control {}, {}: {} {}{}",
        "sample_id", measurand(), pl.col("raw_value"), plain_unit(), of,
    )  # fmt: skip
    share = pl.when(~pl.col("direct")).then(pl.format(", {} %", number(pl.col("upper"))))
    limits = pl.format(
        " ({}-{} % expected)", number(pl.col("limit_lower")), number(pl.col("limit_upper"))
    )
    unknown = ", not judged, as the expected range depends on the amount, which is not printed"
    return (
        printed.with_columns(head=head, direct=direct)
        .with_columns(**ends)
        .with_columns(**recovery_limits(expected, rules))
        .with_columns(
            rule=pl.lit("recovery"),
            rule_source=pl.lit("spike"),
            judgement=pl.when(pl.col("limit_upper").is_not_null())
            .then(judged)
            .fill_null("not judged"),
            message=pl.concat_str(
                "head", pl.coalesce(share, pl.lit("")), pl.coalesce(limits, pl.lit(unknown))
            ),
            unit=pl.lit("%"),
        )
    )


def judge_scores(qc: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge rounds of a proficiency test by z, z' and zeta.

    z = (x - x_pt) / sigma_pt; where the uncertainty of x_pt is not below 0.3 sigma_pt, z' instead,
    (x - x_pt) / sqrt(sigma_pt^2 + u_pt^2); and zeta = (x - x_pt) / sqrt(u_x^2 + u_pt^2) beside it
    where the report states the uncertainty of its result. Up to 2 in size passes, below 3 warns,
    from 3 on fails. Rows that carry the assigned value. Source: ISO 13528:2022, 9.4 to 9.6.
    """
    sigma, u_pt = pl.col("assigned_deviation"), pl.col("assigned_uncertainty")
    wide = (u_pt >= rules.uncertain_share * sigma).fill_null(False)
    rounds = qc.filter(
        pl.col("qc_kind") == "control", pl.col("expected").is_not_null(),
        pl.col("value").is_not_null(),
    ).with_columns(off=pl.col("value") - pl.col("expected"))  # fmt: skip
    by_deviation = rounds.filter(sigma > 0).with_columns(
        rule=pl.when(wide).then(pl.lit("z'-score")).otherwise(pl.lit("z-score")),
        score=pl.col("off") / (sigma**2 + pl.when(wide).then(u_pt).otherwise(0.0) ** 2).sqrt(),
    )
    by_uncertainty = rounds.filter(pl.col("standard_uncertainty") > 0, u_pt.is_not_null())
    zeta = by_uncertainty.with_columns(
        rule=pl.lit("zeta-score"),
        score=pl.col("off") / (pl.col("standard_uncertainty") ** 2 + u_pt**2).sqrt(),
    )
    return _scored(pl.concat([by_deviation, zeta]), rules)


def _scored(rounds: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    size = pl.col("score").abs()
    return rounds.with_columns(
        lower="score", upper="score", rule_source=pl.lit("proficiency"),
        limit_lower=pl.lit(-rules.z_fail), limit_upper=pl.lit(rules.z_fail),
        judgement=pl.when(size >= rules.z_fail).then(pl.lit("fail"))
        .when(size > rules.z_warn).then(pl.lit("warn"))
        .otherwise(pl.lit("pass")),
        message=pl.format(
            "proficiency sample {}, {}: {} {} against {} assigned, {} = {}", "sample_id",
            measurand(), number(pl.col("value")), plain_unit(), number(pl.col("expected")),
            pl.col("rule").str.strip_suffix("-score"), number(pl.col("score"), 2),
        ),
        unit=pl.lit("1"),
    )  # fmt: skip
