"""What the register says was done to a lot between two samples."""

from __future__ import annotations

import polars as pl

_SPAN = ["lot", "base_day", "day"]


def _interventions(interventions: pl.DataFrame) -> pl.DataFrame:
    dose = pl.format("{} {}", pl.col("dose").cast(pl.String).str.replace(r"\.0$", ""), "dose_unit")
    details = pl.concat_str([pl.col("agent"), dose], separator=" ", ignore_nulls=True).replace(
        "", None
    )
    return interventions.select(
        "lot",
        on="done_on",
        event=pl.concat_str([pl.col("kind"), pl.format("({})", details)], separator=" ",
                            ignore_nulls=True),
        adds=pl.col("kind") == "wood",
    )  # fmt: skip


def _blends(movements: pl.DataFrame) -> pl.DataFrame:
    volume = pl.col("volume_l").cast(pl.String).str.replace(r"\.0$", "")
    return movements.filter(pl.col("kind") == "blend").select(
        lot="to_lot",
        on="moved_on",
        event=pl.coalesce(
            pl.format("blend of {} L from {}", volume, "from_lot"),
            pl.format("blend from {}", "from_lot"),
            pl.lit("blend"),
        ),
        adds=pl.lit(True),
    )


def list_events(
    rows: pl.DataFrame, interventions: pl.DataFrame, movements: pl.DataFrame
) -> pl.DataFrame:
    """Add `events`, in words and by date (null: none), and `added`: a blend or wood among them.

    `rows` has lot, base_day, day; an event counts after the first day up to and including the
    second. An event without a date cannot be placed and is not named.
    """
    parts = [
        make(frame)
        for make, frame in ((_interventions, interventions), (_blends, movements))
        if frame.height
    ]
    if not parts:
        return rows.with_columns(events=pl.lit(None, pl.String), added=pl.lit(False))
    within = (
        rows.select(_SPAN)
        .unique()
        .join(pl.concat(parts), on="lot")
        .filter(pl.col("on") > pl.col("base_day"), pl.col("on") <= pl.col("day"))
        .sort("on", "event")
        .group_by(_SPAN)
        .agg(
            events=pl.format("{} on {}", "event", "on").str.join(", "),
            added=pl.col("adds").fill_null(False).any(),
        )
    )
    return rows.join(within, on=_SPAN, how="left").with_columns(pl.col("added").fill_null(False))
