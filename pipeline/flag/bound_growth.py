"""Did the bound share of the smoke phenols grow after fermentation?"""

from __future__ import annotations

from statistics import NormalDist

import polars as pl

from pipeline.amounts import PAIR
from pipeline.flag.between import list_events
from pipeline.flag.comparisons import compare_sums, match_baselines
from pipeline.flag.evidence import Evidence, as_flags, mark_newest
from pipeline.flag.growth_tests import movement, with_changes, with_growth_test
from pipeline.flag.growth_wording import growth_sentence
from pipeline.flag.wording import number, write
from pipeline.uncertainty import adjust_p_values

# p values are compared with the others of the same vintage; history is a family of its own.
_FAMILY = ["vintage", "status"]
_NO_END = (
    "a total below its free phenols, a value above the calibration, or a glycoside held back leaves"
    " it without an end"
)


def bound_growth(
    evidence: Evidence,
    *,
    confidence: float = 0.95,
    growth_minimum: float = 0.05,
    false_discovery_rate: float = 0.05,
) -> pl.DataFrame:
    """Compare the bound fraction of each later wine sample of a lot with its baseline.

    The baseline is the lot's sample at the end of alcoholic fermentation, else its earliest later
    wine sample; never grapes, must or fermenting wine (`no_baseline`). Only the same laboratory,
    methods and basis compare, over the smoke phenols both samples have (else `not_comparable`).

    lower and upper are the growth of the fraction. Above: the growth reaches the minimum at the
    least favourable corner, its one-sided p value, adjusted over the vintage's lots (Benjamini &
    Hochberg), is at most the false discovery rate, and bound itself rose beyond its uncertainty at
    the given confidence. Below: the growth stays under the minimum even at the most favourable
    corner, or the fraction rose because free phenols were lost, while bound, which did not rise
    beyond its uncertainty, would not by itself have brought the minimum (`free_removed`). Where values
    under the limits allow both no growth and enough, the samples are `not_comparable`. A growth
    that something in the register can explain (a blend, press fractions, membrane work) stays
    above with the reason `explained` and the severity warn.
    `probability` is 1 - the adjusted p value: how surely the fraction rose at all. Bias that both
    samples share is left out where the laboratory's record or charts tell it from scatter.
    """
    return (
        _compare(evidence)
        .pipe(with_changes)
        .pipe(with_growth_test, growth_minimum)
        .pipe(mark_newest)
        .pipe(adjust_p_values, _FAMILY)
        .pipe(_decide, confidence, growth_minimum, false_discovery_rate)
        .pipe(
            write,
            severity=_severity(),
            message=growth_sentence(confidence, growth_minimum),
            note=_note(),
            threshold=pl.lit(growth_minimum),
            threshold_source=pl.lit("settings: [growth] minimum"),
            unit=pl.lit("1"),
            **movement(confidence),
        )
        .pipe(as_flags)
    )


def _compare(evidence: Evidence) -> pl.DataFrame:
    pairs = evidence.pairs
    matched = match_baselines(pairs)
    sums = compare_sums(matched, pairs)
    own = pairs.group_by(PAIR).agg(
        own_cells=pl.col("cells").list.explode(), own_loaded_at=pl.col("loaded_at").max()
    )
    nothing_shared = pl.col("base").is_not_null() & pl.col("common").is_null()
    methods = pl.concat_str(
        [
            pl.concat_list("free_method", "bound_method").list.drop_nulls()
            .list.unique(maintain_order=True).list.join(" + ").replace("", None),
            pl.col("bound_basis"),
            pl.format("as {}", "expressed"),
        ],
        separator="; ", ignore_nulls=True,
    )  # fmt: skip
    return (
        matched.join(sums, on=PAIR, how="left", nulls_equal=True)
        .join(own, on=PAIR, how="left", nulls_equal=True)
        .with_columns(
            kind=pl.lit("bound_growth"),
            analyte=pl.lit("panel"),
            form=pl.lit("bound"),
            method=methods,
            amount_unit="unit",
            cells=pl.coalesce("cells", "own_cells"),
            loaded_at=pl.coalesce("loaded_at", "own_loaded_at"),
            reason=pl.when(nothing_shared).then(pl.lit("not_comparable")).otherwise("reason"),
            why=pl.when(nothing_shared)
            .then(pl.lit("the two samples share no smoke phenol measured in both forms"))
            .otherwise("why"),
        )
        .pipe(list_events, evidence.interventions, evidence.movements)
    )


def _decide(
    rows: pl.DataFrame, confidence: float, minimum: float, false_discovery_rate: float
) -> pl.DataFrame:
    reach = NormalDist().inv_cdf(1 - false_discovery_rate)
    visible = 1 / (1 + (-(pl.col("base_logit") + reach * pl.col("u_logit"))).exp())
    rose = (pl.col("p_bound_rose") >= confidence).fill_null(False)
    share_grew = (pl.col("q") <= false_discovery_rate) & _reaches("lower", minimum)
    grown = share_grew & rose
    apparent = _reaches("upper", minimum).fill_null(True)
    compared = pl.col("reason").is_null()
    lost = _free_was_lost(confidence) & (_growth_by_bound() < minimum).fill_null(False)
    return (
        rows.with_columns(removed=compared & apparent & ~rose & lost)
        .with_columns(
            decision=pl.when(~compared)
            .then(pl.lit("undecided"))
            .when("removed")
            .then(pl.lit("below"))
            .when(grown)
            .then(pl.lit("above"))
            .when(~apparent)
            .then(pl.lit("below"))
            .otherwise(pl.lit("undecided")),
            probability=1 - pl.col("q"),
            share_grew=share_grew.fill_null(False),
            visible=pl.when(pl.col("p").is_not_null()).then(
                pl.max_horizontal(visible - pl.col("base_fraction_upper"), pl.lit(minimum))
            ),
        )
        .pipe(_with_reason)
    )


def _reaches(end: str, minimum: float) -> pl.Expr:
    # From 0.5 to 0.55 is a growth of 0.05, whatever the last binary digit says.
    return pl.col(end).round(9) >= minimum


def _growth_by_bound() -> pl.Expr:
    """Give how far the fraction could have grown by bound alone, had free stayed as it was."""

    def grown(free: str) -> pl.Expr:
        now, then = pl.col("bound_upper"), pl.col("base_bound_lower")
        return now / (now + pl.col(free)) - then / (then + pl.col(free))

    ends = (grown(f"base_free_{end}") for end in ("lower", "upper"))
    return pl.max_horizontal(*ends).fill_nan(0.0)


def _free_was_lost(confidence: float) -> pl.Expr:
    beyond_uncertainty = (pl.col("p_free_fell") >= confidence).fill_null(False)
    fell = (pl.col("free_upper") < pl.col("base_free_lower")).fill_null(False)
    not_more_bound = (pl.col("bound_upper") <= pl.col("base_bound_lower")).fill_null(False)
    return beyond_uncertainty | (fell & not_more_bound)


def _with_reason(rows: pl.DataFrame) -> pl.DataFrame:
    open_ended = pl.col("lower").is_null() | pl.col("upper").is_null()
    span = pl.format(
        "values under the laboratory's limits leave the growth anywhere between {} and {}",
        number(pl.col("lower"), 2), number(pl.col("upper"), 2),
    )  # fmt: skip
    why = (
        pl.when((pl.col("decision") != "undecided") | pl.col("reason").is_not_null())
        .then("why")
        .when(open_ended)
        .then(pl.lit(_NO_END))
        .when("undetermined")
        .then(span)
    )
    return rows.with_columns(why=why).with_columns(
        reason=pl.when(pl.col("reason").is_not_null())
        .then("reason")
        .when("removed")
        .then(pl.lit("free_removed"))
        .when((pl.col("decision") == "above") & pl.col("explained"))
        .then(pl.lit("explained"))
        .when(pl.col("decision") != "undecided")
        .then(None)
        .when(pl.col("why").is_not_null())
        .then(pl.lit("not_comparable"))
        .otherwise(pl.lit("within_uncertainty"))
    )


def _severity() -> pl.Expr:
    return (
        pl.when((pl.col("decision") == "above") & pl.col("explained"))
        .then(pl.lit("warn"))
        .when(pl.col("decision") == "above")
        .then(pl.lit("act"))
        .when((pl.col("reason") == "within_uncertainty").fill_null(False))
        .then(pl.lit("warn"))
        .otherwise(pl.lit("note"))
    )


def _note() -> pl.Expr:
    text = (
        "Not every uncertainty is known: where none is, the usual scatter between laboratories is"
        " assumed (Horwitz-Thompson), which is wide for two samples of one laboratory."
    )
    whole = (
        "The whole uncertainty of both samples is counted, for nothing tells the laboratory's scatter"
        " from the bias that both share; methods (within) or control samples in the settings would."
    )
    return (
        pl.when("assumed")
        .then(pl.lit(text))
        .when(pl.col("common").is_not_null() & ~pl.col("is_split"))
        .then(pl.lit(whole))
    )
