"""Where each lot stands: the worst of its current decisions."""

from __future__ import annotations

import polars as pl

JUDGED = ("over_threshold", "odour_activity", "bound_growth", "unit_slip")
# Nothing to judge by is not a doubt about the lot while another decision stands.
NOTHING_TO_JUDGE_BY = (
    "no_threshold", "isomer_sum", "member_missing", "no_baseline", "not_comparable",
)  # fmt: skip
STATES = {3: "above", 2: "undecided", 1: "below", 0: "undecided"}
_READING_ORDER = {3: 0, 2: 1, 0: 2, 1: 3}

_RANK = (
    pl.when(pl.col("decision") == "above")
    .then(3)
    .when(pl.col("decision") == "below")
    .then(1)
    .when(pl.col("reason").is_in(NOTHING_TO_JUDGE_BY).fill_null(False))
    .then(0)
    .otherwise(2)
)
_RATIO = pl.when(pl.col("kind") != "bound_growth").then(pl.col("lower") / pl.col("threshold"))


def with_subject(frame: pl.DataFrame) -> pl.DataFrame:
    """Add `subject` (the lot, else the sample and its laboratory) and `is_lot`."""
    sample = pl.format(
        "sample {} ({})",
        pl.col("sample_id").fill_null("without number"),
        pl.col("lab").fill_null("laboratory unknown"),
    )
    return frame.with_columns(
        subject=pl.coalesce("lot", sample),
        is_lot=pl.col("lot").is_not_null(),
    )


def current(flags: pl.DataFrame) -> pl.DataFrame:
    """Keep current flags, with their subject."""
    return with_subject(flags.filter(pl.col("status") == "current"))


def lot_states(flags: pl.DataFrame) -> pl.DataFrame:
    """Rank subjects, worst first.

    `flags` are current flags with `subject`. Columns: subject, is_lot, rank, state (above,
    undecided, below), n_act (matters above with severity act, each once whatever the laboratories),
    ratio (largest lower end over threshold, no unit, null without one). Rank 0 is "nothing to judge
    by": undecided, after the real doubts.
    """
    acted = (pl.col("decision") == "above") & (pl.col("severity") == "act")
    return (
        flags.filter(pl.col("kind").is_in(JUDGED))
        .with_columns(rank=_RANK, ratio=_RATIO)
        .group_by("subject", "is_lot")
        .agg(
            pl.col("rank").max(),
            n_act=pl.struct("kind", "analyte", "form").filter(acted).n_unique(),
            ratio=pl.col("ratio").max(),
        )
        .with_columns(state=pl.col("rank").replace_strict(STATES, return_dtype=pl.String))
        .sort(
            pl.col("rank").replace_strict(_READING_ORDER), "n_act", "ratio", "subject",
            descending=[False, True, True, False], nulls_last=True,
        )
    )  # fmt: skip
