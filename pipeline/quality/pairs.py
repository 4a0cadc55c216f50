"""Spikes and duplicates: a control beside the sample it was made of."""

from __future__ import annotations

import polars as pl

from pipeline.phrases import interval, number
from pipeline.quality.outcomes import (
    by_level,
    is_judged_at_any_level,
    measurand,
    plain_unit,
    recovery_limits,
    within,
)
from schemas.quality import QualityRules

_KEY = ["report_id", "analyte", "form", "expressed_as", "unit", "method"]
_OWN = ["own_lower", "own_upper", "own_loq", "own_cells"]
# HorRat compares with the curve that is not cut off at low levels.
_HORWITZ = -0.15


def _squashed(name: str) -> pl.Expr:
    return pl.col(name).str.to_lowercase().str.replace_all(r"[^\pL\pN]", "")


def with_parents(qc: pl.DataFrame, results: pl.DataFrame) -> pl.DataFrame:
    """Set beside each spike and duplicate what is reported of its parent sample.

    The same report's number goes first, else that of the only other report of the laboratory that
    gives one. Adds own_lower, own_upper, own_loq and own_cells, null without a parent or its number.
    Replicates of the parent are averaged end by end.
    """
    named = pl.concat(
        results.with_columns(parent_key=_squashed(name)) for name in ("sample_id", "lab_sample_id")
    ).unique(["report_id", "cells", "parent_key"])
    made_of = qc.filter(pl.col("qc_kind").is_in(["spike", "duplicate"])).with_columns(
        parent_key=_squashed("parent_sample")
    )
    named = named.join(made_of, on="parent_key", how="semi")
    own = named.group_by(*_KEY, "lab", "parent_key").agg(
        own_lower=pl.col("lower").sort().mean(),
        own_upper=pl.when(pl.col("upper").is_not_null().all()).then(pl.col("upper").sort().mean()),
        own_loq=pl.col("loq").max(),
        own_cells=pl.col("cells").sort().str.join("; "),
    )
    return (
        made_of.join(own.drop("lab"), on=[*_KEY, "parent_key"], how="left", nulls_equal=True,
                     maintain_order="left")
        .pipe(_from_other_reports, own)
        .with_columns(
            cells=pl.concat_str("cells", "own_cells", separator="; ", ignore_nulls=True),
            why=pl.when(pl.col("parent_sample").is_null())
            .then(pl.lit("the report does not say of which sample"))
            .when(pl.col("own_lower").is_null() & (pl.col("elsewhere") > 1))
            .then(pl.format("several reports of the laboratory have a value of {}", "parent_sample"))
            .when(pl.col("own_lower").is_null())
            .then(pl.format("no report of the laboratory has such a value of {}", "parent_sample")),
        )
    )  # fmt: skip


def _from_other_reports(made_of: pl.DataFrame, own: pl.DataFrame) -> pl.DataFrame:
    """Fill in a parent that only one other report of the same laboratory has; add `elsewhere`."""
    key = ["lab", *_KEY[1:], "parent_key"]
    elsewhere = (
        own.filter(pl.col("lab").is_not_null())
        .group_by(key)
        .agg(pl.col(_OWN).first().name.suffix("_other"), elsewhere=pl.len())
    )
    alone = pl.col("own_lower").is_null() & (pl.col("elsewhere") == 1)
    filled = [pl.when(alone).then(f"{name}_other").otherwise(name).alias(name) for name in _OWN]
    return (
        made_of.join(elsewhere, on=key, how="left", nulls_equal=True, maintain_order="left")
        .with_columns(filled)
        .drop(pl.selectors.ends_with("_other"))
    )


def judge_spikes(paired: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge spikes by their recovery, 100 (spiked - unspiked) / added, in %.

    A sample that is censored gives an interval. The range is AOAC's at the level added; a recovery
    printed in % without the amount is judged only where all ranges agree. Not judged where the
    addition is small beside what the sample holds already. Source: AOAC INTERNATIONAL, Official
    Methods of Analysis (2012), Appendix F, table A5.
    """
    added, direct = pl.col("added"), pl.col("unit") == "%"
    ends = {
        "lower": 100 * (pl.col("lower") - pl.col("own_upper")) / added,
        "upper": 100 * (pl.col("upper") - pl.col("own_lower")) / added,
    }
    small = ~direct & (added < rules.smallest_share * pl.col("own_lower"))
    why = (
        pl.when(direct & added.is_null() & ~is_judged_at_any_level(rules))
        .then(pl.lit("the expected range depends on the amount added, which is not printed"))
        .when(direct)
        .then(None)
        .when(added.is_null())
        .then(pl.lit("the report does not say how much was added"))
        .when(pl.col("why").is_not_null())
        .then("why")
        .when(small.fill_null(False))
        .then(pl.lit("little was added beside what the sample holds"))
    )
    return (
        paired.filter(pl.col("qc_kind") == "spike")
        .with_columns(
            pl.when(direct).then(name).otherwise(end).alias(name) for name, end in ends.items()
        )
        .with_columns(why=why, **recovery_limits(added, rules))
        .with_columns(rule=pl.lit("recovery"), rule_source=pl.lit("spike"), unit=pl.lit("%"))
        .pipe(_with_outcome, _spiked())
    )


def _spiked() -> pl.Expr:
    amount = pl.coalesce(pl.format("{} added", number(pl.col("added"))), pl.lit("spike"))
    of = pl.coalesce(pl.format(" to {}", "parent_sample"), pl.lit(""))
    return pl.format("recovery of {}, {}{}:", measurand(), amount, of)


def _with_outcome(rows: pl.DataFrame, head: pl.Expr) -> pl.DataFrame:
    """Judge [lower, upper] in `unit` by the limits; `why` says what keeps a row from it."""
    ends = pl.col("lower"), pl.col("upper")
    told = within(*ends, pl.col("limit_lower"), pl.col("limit_upper"))
    judged = pl.when(pl.col("why").is_null() & ends[0].is_not_null()).then(told)
    across = pl.lit("what is below a limit leaves it open")
    found = pl.format(" {} {}", interval(*ends), plain_unit())
    limits = number(pl.col("limit_lower")), number(pl.col("limit_upper"))
    allowed = pl.coalesce(
        pl.format(" ({}-{} {} expected)", *limits, plain_unit()),
        pl.format(" ({} {} at most)", limits[1], plain_unit()),
        pl.lit(""),
    )
    return rows.with_columns(judgement=judged.fill_null("not judged")).with_columns(
        message=head
        + pl.when(pl.col("why").is_not_null())
        .then(pl.coalesce(found, pl.lit("")) + pl.format(" not judged, as {}", "why"))
        .when(pl.col("judgement") == "not judged")
        .then(found + allowed + pl.format(", not judged, as {}", across))
        .otherwise(found + allowed)
    )


def judge_duplicates(paired: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge duplicates by their difference.

    Both well above the limit of quantification (`near_limit` times): 200 |a - b| / (a + b) in %
    against the repeatability limit r = 2.8 s_r, at least `difference`. Else |a - b| itself against
    the limit of quantification. Two results below their limits pass. Sources: ISO 5725-6:1994, 4.1;
    s_r by AOAC, Official Methods of Analysis (2012), Appendix F, table A4; near the limit common
    practice.
    """
    rows = paired.filter(pl.col("qc_kind") == "duplicate").with_columns(
        **_difference(), limit=pl.max_horizontal("loq", "own_loq")
    )
    both_known = (pl.col("lower") == pl.col("upper")) & (pl.col("own_lower") == pl.col("own_upper"))
    far = both_known & (
        pl.min_horizontal("lower", "own_lower") >= rules.near_limit * pl.col("limit").fill_null(0.0)
    )
    mean = (pl.col("lower") + pl.col("own_lower")) / 2
    relative = 100 * pl.col("gap_upper") / mean
    allowed = pl.max_horizontal(
        pl.lit(float(rules.difference)), rules.factor * by_level(mean, rules, "rsd_r")
    )
    none_found = (pl.col("lower") == 0) & (pl.col("own_lower") == 0)
    far = far.fill_null(False)
    return (
        rows.with_columns(
            rule=pl.when(far).then(pl.lit("repeatability")).otherwise(pl.lit("near limit")),
            rule_source=pl.when(far).then(pl.lit("repeatability")).otherwise(pl.lit("near_limit")),
            unit=pl.when(far).then(pl.lit("%")).otherwise("unit"),
            lower=pl.when(far).then(relative).when(none_found).then(0.0).otherwise("gap_lower"),
            upper=pl.when(far).then(relative).when(none_found).then(0.0).otherwise("gap_upper"),
            limit_lower=pl.lit(None, pl.Float64),
            limit_upper=pl.when(far).then(allowed).otherwise("limit"),
            why=pl.coalesce(
                "why",
                pl.when(pl.col("limit").is_null() & ~far & ~none_found).then(
                    pl.lit("no limit of quantification is printed")
                ),
            ),
        )
        .pipe(_with_outcome, pl.format("duplicates of {}, {}:",
              pl.col("parent_sample").fill_null("a sample"), measurand()))
    )  # fmt: skip


def _difference() -> dict[str, pl.Expr]:
    """|a - b| of two intervals, as an interval."""
    apart = pl.max_horizontal(
        pl.col("lower") - pl.col("own_upper"), pl.col("own_lower") - pl.col("upper"), pl.lit(0.0)
    )
    most = pl.max_horizontal(
        pl.col("upper") - pl.col("own_lower"), pl.col("own_upper") - pl.col("lower")
    )
    known = pl.col("own_lower").is_not_null()
    return {"gap_lower": pl.when(known).then(apart), "gap_upper": pl.when(known).then(most)}


def judge_horrat(paired: pl.DataFrame, rules: QualityRules) -> pl.DataFrame:
    """Judge a laboratory's duplicates together: HorRat(r) = RSD_r / (2 C^-0.15).

    RSD_r in % is the root mean square of 100 |a - b| / (sqrt 2 mean) over quantified pairs of a
    method, analyte, form and unit; C is their mean mass fraction (1 ug/L taken as 1e-9). Outside
    the range is a warning of the whole series; fewer pairs than needed are not judged. Source: AOAC
    INTERNATIONAL, Official Methods of Analysis (2012), Appendix F.
    """
    known = (pl.col("lower") == pl.col("upper")) & (pl.col("own_lower") == pl.col("own_upper"))
    mean = (pl.col("lower") + pl.col("own_lower")) / 2
    pairs = paired.filter(
        pl.col("qc_kind") == "duplicate", known.fill_null(False), pl.col("lab").is_not_null()
    ).with_columns(mean=mean, rsd=((pl.col("lower") - pl.col("own_lower")) / mean).pow(2) / 2)
    return (
        pairs.filter(pl.col("unit").is_in(["ug/L", "ug/kg"]))
        .group_by("lab", "method", "analyte", "form", "unit", maintain_order=True)
        .agg(
            n=pl.len(),
            rsd=100 * pl.col("rsd").sort().mean().sqrt(),
            level=pl.col("mean").sort().mean(),
            cells=pl.col("cells").sort().str.join("; "),
        )
        .with_columns(lower=pl.col("rsd") / (2 * (pl.col("level") * 1e-9).pow(_HORWITZ)))
        .with_columns(
            upper="lower", unit=pl.lit("1"), qc_kind=pl.lit("duplicate"), rule=pl.lit("HorRat"),
            rule_source=pl.lit("horrat"), limit_lower=pl.lit(rules.horrat[0]),
            limit_upper=pl.lit(rules.horrat[1]),
            judgement=pl.when(pl.col("n") < rules.pairs).then(pl.lit("not judged"))
            .when(pl.col("lower").is_between(*rules.horrat)).then(pl.lit("pass"))
            .otherwise(pl.lit("warn")),
            message=pl.format(
                "HorRat of {} over {} pairs of duplicates: {} ({}-{} expected){}", measurand(), "n",
                number(pl.col("lower")), pl.lit(rules.horrat[0]), pl.lit(rules.horrat[1]),
                pl.when(pl.col("n") < rules.pairs)
                .then(pl.lit(f", not judged below {rules.pairs} pairs")).otherwise(pl.lit("")),
            ),
        )
    )  # fmt: skip
