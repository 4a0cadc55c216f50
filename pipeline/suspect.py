"""Suspect: results that stand a power of ten away from everything known of their kind.

What only other reports can tell is worked out from all that is stored, never while one report is
loaded: so any order of loading gives the same, and a later report can clear or raise a suspicion. A
suspected result stays stored as printed; free and bound amounts, decisions and growth are made
without it, as without a value held back.
"""

from __future__ import annotations

from collections.abc import Iterable

import polars as pl

from pipeline.outliers import robust_spread, whole_power
from pipeline.phrases import number
from pipeline.published_amounts import add_beyond
from schemas.frames import SUSPECTS
from schemas.quality import SlipRules, load_quality_rules

_SHEET = ["report_id", "sheet", "raw_unit"]
_VALUE = ["analyte", "form", "expressed_as", "unit"]
_GROUPS = (_SHEET, ["report_id", "sheet", "sample_id"], [*_SHEET, *_VALUE])


def suspect(
    results: pl.DataFrame,
    confirmed: Iterable[tuple[str, str]] = (),
    confirmed_cells: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """List the results whose unit may have slipped, with the power of ten and the evidence.

    `results` as the view results; `confirmed` are (laboratory, report number) whose units the
    laboratory has confirmed, `confirmed_cells` (report_id, sheet, cell, held_id) single numbers that
    a person confirmed. A number that a person gave is looked at alone: what the others of its sheet
    do says nothing of it. First a substance's limit against its usual one over the reports of
    the laboratory and method; a limit that is the usual one clears its value. Then the amounts of a
    sheet, a sample or a column together, then a single one, against the history of the lot, else
    of variety and matrix (log10, median and 1.4826 MAD; Iglewicz & Hoaglin 1993). Last, whatever the
    history, against the amounts published of smoke-exposed fruit and wine: so a young lot is
    looked at too.
    """
    rules = load_quality_rules().slip
    told = (
        results.filter(pl.col("unit").is_in(["ug/L", "ug/kg"]), ~_is_confirmed(confirmed))
        .pipe(_without, confirmed_cells)
        .with_columns(
            printed_on="sheet",
            sheet=pl.when(pl.col("held_id").is_not_null())
            .then(pl.format("{}!{}", "sheet", "cell"))
            .otherwise("sheet"),
            amount=pl.when(pl.col("value") > 0).then(pl.col("value").log10()),
            limit=pl.coalesce("loq", "lod").log10(),
        )
        .pipe(_against_usual_limit, rules)
        .pipe(_against_history, rules)
    )
    for place, group in enumerate(_GROUPS):
        told = _vote(told, group, f"by_group_{place}", rules)
    told = add_beyond(told, _GROUPS, rules)
    votes = [f"by_group_{place}" for place in range(len(_GROUPS))]
    power = pl.coalesce(
        "by_limit", pl.when(~pl.col("cleared")).then(pl.coalesce(*votes, "alone", "beyond"))
    )
    return (
        told.with_columns(power=power)
        .filter(pl.col("power").is_not_null())
        .with_columns(evidence=_evidence(votes), sheet="printed_on")
        .select(list(SUSPECTS))
        .sort(["report_id", "sheet", "cell"])
    )


def _without(results: pl.DataFrame, cells: pl.DataFrame | None) -> pl.DataFrame:
    if cells is None or cells.is_empty():
        return results
    at = ["report_id", "sheet", "cell", "held_id"]
    return results.join(cells, on=at, how="anti", nulls_equal=True, maintain_order="left")


def _folded(name: str) -> pl.Expr:
    return pl.col(name).str.strip_chars().str.to_lowercase()


def _is_confirmed(confirmed: Iterable[tuple[str, str]]) -> pl.Expr:
    by_lab: dict[str, list[str]] = {}
    for lab, number_ in confirmed:
        by_lab.setdefault(lab.strip().lower(), []).append(number_.strip().lower())
    each = [
        (_folded("lab") == lab) & _folded("report_no").is_in(numbers)
        for lab, numbers in by_lab.items()
    ]
    return pl.any_horizontal(pl.lit(False), *each).fill_null(False)


def _against_usual_limit(results: pl.DataFrame, rules: SlipRules) -> pl.DataFrame:
    """Add by_limit and cleared: how a limit stands to the median over the laboratory's reports."""
    key = ["lab", "method", *_VALUE]
    usual = (
        results.filter(pl.col("lab").is_not_null(), pl.col("limit").is_not_null())
        .group_by(*key, "report_id")
        .agg(pl.col("limit").median())
        .group_by(key)
        .agg(usual_limit=pl.col("limit").median(), reports=pl.len())
        .filter(pl.col("reports") >= rules.other_limits)
        .drop("reports")
    )
    shift = pl.col("limit") - pl.col("usual_limit")
    return results.join(
        usual, on=key, how="left", nulls_equal=True, maintain_order="left"
    ).with_columns(
        by_limit=whole_power(shift, rules.powers, rules.limits_within),
        cleared=(shift.abs() <= rules.most_spread).fill_null(False),
    )


def _against_history(results: pl.DataFrame, rules: SlipRules) -> pl.DataFrame:
    """Add shift (log10), usual and spread against the lot's own history, else its variety's."""
    told = results.pipe(_history, ["lot"], rules.lot_history, "lot", rules)
    told = told.pipe(_history, ["variety", "matrix"], rules.history, "variety", rules)
    chosen = [
        pl.coalesce(f"{name}_lot", f"{name}_variety").alias(name) for name in ("usual", "spread")
    ]
    shift = pl.col("amount") - pl.col("usual")
    apart = (shift.abs() / pl.col("spread")) > rules.modified_z
    return told.with_columns(chosen).with_columns(
        shift=shift,
        alone=pl.when(apart).then(whole_power(shift, rules.powers, rules.amounts_within)),
    )


def _history(
    results: pl.DataFrame, place: list[str], least: int, name: str, rules: SlipRules
) -> pl.DataFrame:
    """Add usual_{name} and spread_{name} (log10) of groups with enough other quantified amounts.

    Median and MAD bear up to half of wrong values, so the value judged need not be taken out. One
    report alone is no history.
    """
    key = [*place, *_VALUE]
    known = results.filter(pl.col("amount").is_not_null(), pl.col(place[0]).is_not_null())
    # Counting is cheap and a median is not: most groups are too small or of one report.
    enough = (
        known.group_by(key)
        .agg(n=pl.len(), reports=pl.col("report_id").n_unique())
        .filter(pl.col("n") > least, pl.col("reports") > 1)
    )
    groups = (
        known.join(enough, on=key, how="semi", nulls_equal=True)
        .group_by(key)
        .agg(usual=pl.col("amount").median(), spread=robust_spread(pl.col("amount")))
        .filter(pl.col("spread") <= rules.most_spread)
        .select(
            *key,
            pl.col("usual").alias(f"usual_{name}"),
            pl.col("spread").clip(lower_bound=rules.least_spread).alias(f"spread_{name}"),
        )
    )
    return results.join(groups, on=key, how="left", nulls_equal=True, maintain_order="left")


def _vote(results: pl.DataFrame, group: list[str], name: str, rules: SlipRules) -> pl.DataFrame:
    """Add the power of ten that the amounts of a group share, to all of its rows.

    The median shift is a whole power, enough of the amounts have a history, and enough of those
    lie within their spread of it.
    """
    seen = results.filter(pl.col("shift").is_not_null()).with_columns(
        middle=pl.col("shift").median().over(group)
    )
    reach = pl.max_horizontal(3 * pl.col("spread"), pl.lit(rules.amounts_within))
    near = (pl.col("shift") - pl.col("middle")).abs() <= reach
    votes = (
        seen.with_columns(near=near)
        .group_by(group)
        .agg(pl.col("middle").first(), pl.col("near").mean(), n=pl.len())
        .filter(pl.col("n") >= rules.voters, pl.col("near") > rules.vote)
        .select(*group, whole_power(pl.col("middle"), rules.powers, rules.amounts_within).alias(name))
    )  # fmt: skip
    return results.join(votes, on=group, how="left", nulls_equal=True, maintain_order="left")


def _evidence(votes: list[str]) -> pl.Expr:
    by_limit = pl.format(
        "the limit is {} {} where this laboratory usually has {}",
        number(10 ** pl.col("limit")), "unit", number(10 ** pl.col("usual_limit")),
    )  # fmt: skip
    words = ("this sheet", "this sample", "this column")
    together = [
        pl.when(pl.col(vote).is_not_null()).then(
            pl.lit(f"the amounts of {word} stand together that far from their history")
        )
        for vote, word in zip(votes, words, strict=True)
    ]
    alone = pl.when(pl.col("alone").is_not_null()).then(
        pl.format("its history has about {} {}", number(10 ** pl.col("usual")), "unit")
    )
    return pl.coalesce(
        pl.when(pl.col("by_limit").is_not_null()).then(by_limit), *together, alone, "beyond_why"
    )  # fmt: skip
