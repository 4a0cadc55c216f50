"""Find units that slipped by a power of ten, by what one report prints and by the record alone.

Limits tell it best: a laboratory's limit for a substance hardly moves, whatever the vintage. What
only other reports could tell is left to `pipeline.suspect`, so that no value is held for the order
of loading.
"""

from __future__ import annotations

import polars as pl

from pipeline.outliers import robust_spread, whole_power
from pipeline.phrases import number
from schemas.quality import SlipRules, load_quality_rules

_COLUMN = ["report_id", "sheet", "raw_unit"]
_ANALYTE = ["report_id", "analyte", "form", "unit"]


def find_slips(readings: pl.DataFrame) -> pl.DataFrame:
    """Add `slip_power` (3: a thousand times too great) and `slip_why`; both null where none is seen.

    Evidence, in this order: the limit against the laboratory's record (and then all values of that
    sheet and printed unit, when most of the recorded ones agree); the limit against the same
    substance's in the other rows of the report; against the other substances' of the same form.
    """
    rules = load_quality_rules().slip
    told = readings.with_columns(
        limit=pl.when(pl.col("has_form").fill_null(False) & (pl.col("limit_printed") > 0)).then(
            pl.col("limit_printed").log10()
        )
    )
    if told["limit"].null_count() == told.height:
        return told.drop("limit").with_columns(
            slip_power=pl.lit(None, pl.Int64), slip_why=pl.lit(None, pl.String)
        )
    return (
        told.pipe(_against_record, rules)
        .pipe(_against_other_rows, rules)
        .pipe(_against_other_substances, rules)
        .with_columns(
            slip_power=pl.coalesce("by_record", "by_column", "by_rows", "by_substances"),
            slip_why=_why(),
        )
        .drop("limit", "by_record", "by_column", "by_rows", "by_substances", "usual_rows",
              "usual_substances", "usual_record")
    )  # fmt: skip


def _against_record(readings: pl.DataFrame, rules: SlipRules) -> pl.DataFrame:
    recorded = (
        pl.when(pl.col("limit_printed_kind") == "loq")
        .then("recorded_loq")
        .when(pl.col("limit_printed_kind") == "lod")
        .then("recorded_lod")
    )
    shift = pl.col("limit") - pl.col("usual_record").log10()
    told = readings.with_columns(usual_record=recorded).with_columns(
        by_record=whole_power(shift, rules.powers, rules.limits_within),
        seen=pl.col("usual_record").is_not_null() & pl.col("limit").is_not_null(),
    )
    votes = (
        told.filter("seen")
        .group_by(_COLUMN)
        .agg(
            by_column=pl.col("by_record").drop_nulls().mode().sort().first(),
            share=pl.col("by_record").is_not_null().mean(),
            one=pl.col("by_record").drop_nulls().n_unique() == 1,
        )
        .filter("one", pl.col("share") > rules.vote)
        .select(*_COLUMN, "by_column")
    )
    return (
        told.join(votes, on=_COLUMN, how="left", nulls_equal=True, maintain_order="left")
        .with_columns(
            by_column=pl.when(~pl.col("seen") & pl.col("has_form").fill_null(False)).then(
                "by_column"
            )
        )
        .drop("seen")
    )


def _against_other_rows(readings: pl.DataFrame, rules: SlipRules) -> pl.DataFrame:
    usual = pl.col("limit").median().over(_ANALYTE)
    enough = pl.col("limit").count().over(_ANALYTE) > rules.other_limits
    shift = pl.col("limit") - usual
    return readings.with_columns(
        usual_rows=10**usual,
        by_rows=pl.when(enough).then(whole_power(shift, rules.powers, rules.limits_within)),
    )


def _against_other_substances(readings: pl.DataFrame, rules: SlipRules) -> pl.DataFrame:
    """Compare each substance's usual limit with those of all substances of its form."""
    each = (
        readings.filter(pl.col("limit").is_not_null())
        .group_by(_ANALYTE)
        .agg(own=pl.col("limit").median())
    )
    family = ["report_id", "form", "unit"]
    compared = each.with_columns(
        usual=pl.col("own").median().over(family),
        spread=robust_spread(pl.col("own")).over(family),
        n=pl.len().over(family),
    )
    shift = pl.col("own") - pl.col("usual")
    slipped = compared.filter(
        pl.col("n") > rules.other_limits, pl.col("spread") <= rules.most_spread
    ).select(
        *_ANALYTE,
        usual_substances=10 ** pl.col("usual"),
        by_substances=whole_power(shift, rules.powers, rules.limits_within),
    )
    return readings.join(
        slipped, on=_ANALYTE, how="left", nulls_equal=True, maintain_order="left"
    ).with_columns(by_substances=pl.when(pl.col("limit").is_not_null()).then("by_substances"))


def _why() -> pl.Expr:
    limit = pl.format("limit {} {}", number(pl.col("limit_printed")), "unit")
    return (
        pl.when(pl.col("by_record").is_not_null())
        .then(pl.format("{} where the laboratory's record says {}", limit,
                        number(pl.col("usual_record"))))
        .when(pl.col("by_column").is_not_null())
        .then(pl.lit("the limits of most values printed in this unit on the sheet stand away from"
                     " the laboratory's record"))
        .when(pl.col("by_rows").is_not_null())
        .then(pl.format("{} where the report's other rows have {}", limit,
                        number(pl.col("usual_rows"))))
        .when(pl.col("by_substances").is_not_null())
        .then(pl.format("{} where the report's other substances have about {}", limit,
                        number(pl.col("usual_substances"))))
    )  # fmt: skip
