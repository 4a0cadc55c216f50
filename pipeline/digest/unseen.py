"""What was not looked at, worked out once: lots without a panel, out of date, with open values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.digest.views import Views
from pipeline.digest.waiting import Waiting, doubted_lots, waiting_lots
from pipeline.withheld import is_trusted

_BOUND_FORMS = ("bound", "total")


@dataclass(frozen=True)
class Unseen:
    """Frames and lots behind every gap.

    `tests` as from `last_tests`; `untested` lots of the register without a current panel;
    `free_only` lots of which only free phenols were measured; `changed` treatments and blends
    younger than the lot's last sample; `overdue` decisions whose re-test is due; `waiting` and
    `doubted` the values held back and the suspected numbers, by lot.
    """

    tests: pl.DataFrame
    untested: pl.DataFrame
    free_only: tuple[str, ...]
    changed: pl.DataFrame
    overdue: pl.DataFrame
    waiting: Mapping[str, Waiting]
    doubted: Mapping[str, Waiting]


def find_unseen(views: Views, panel: pl.DataFrame, today: date) -> Unseen:
    """Work out what was not looked at; `panel` holds the phenols of the lots themselves."""
    tests = last_tests(panel)
    return Unseen(
        tests=tests,
        untested=views.lots.join(tests, on="lot", how="anti").sort("lot"),
        free_only=tuple(tests.filter(~pl.col("has_bound").fill_null(False))["lot"]),
        changed=_changed_since(views, tests),
        overdue=_overdue(views, tests, today),
        waiting=waiting_lots(views),
        doubted=doubted_lots(views),
    )


def last_tests(panel: pl.DataFrame) -> pl.DataFrame:
    """Say when each lot was last sampled and whether anything bound was measured.

    Columns: lot, last_on (null when no date is known), has_bound. A suspected number is no test.
    """
    return (
        panel.filter(pl.col("lot").is_not_null(), is_trusted(panel))
        .group_by("lot")
        .agg(
            last_on=pl.col("sampled_on").max(),
            has_bound=pl.col("form").is_in(_BOUND_FORMS).any(),
        )
        .sort("lot")
    )


def _touched(views: Views) -> pl.DataFrame:
    treated = views.interventions.select(
        "lot", happened_on="done_on", what=pl.coalesce("agent", "kind")
    )
    moved = views.movements.filter(
        (pl.col("from_lot") != pl.col("to_lot")).fill_null(True), pl.col("kind") != "rack"
    ).select(
        lot="to_lot",
        happened_on="moved_on",
        what=pl.format("{} with {}", "kind", pl.col("from_lot").fill_null("an unnamed lot")),
    )
    return pl.concat([treated, moved], how="vertical_relaxed").sort("lot", "happened_on")


def _changed_since(views: Views, tests: pl.DataFrame) -> pl.DataFrame:
    return (
        _touched(views)
        .join(tests, on="lot")
        .filter((pl.col("happened_on") > pl.col("last_on")).fill_null(True))
    )


def _overdue(views: Views, tests: pl.DataFrame, today: date) -> pl.DataFrame:
    """Keep decisions of the register whose re-test is due while no newer sample is in."""
    return (
        views.decisions.filter(pl.col("retest_due_on") <= today)
        .join(tests, on="lot", how="left")
        .filter((pl.col("last_on") <= pl.col("decided_on")).fill_null(True))
        .sort("retest_due_on", "lot")
    )
