"""What the register says was done to a lot between two samples."""

from __future__ import annotations

import polars as pl

from schemas.judgement import Event, load_judgement

_SPAN = ["lot", "base_day", "day"]
_EVENTS = {"lot": pl.String, "on": pl.Date, "event": pl.String, "kind": pl.String,
           "agent": pl.String}  # fmt: skip


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
        kind="kind",
        agent=pl.col("agent").str.to_lowercase(),
    )  # fmt: skip


def _movements(movements: pl.DataFrame) -> pl.DataFrame:
    volume = pl.col("volume_l").cast(pl.String).str.replace(r"\.0$", "")
    return movements.filter(pl.col("kind").is_not_null()).select(
        lot="to_lot",
        on="moved_on",
        event=pl.coalesce(
            pl.format("{} of {} L from {}", "kind", volume, "from_lot"),
            pl.format("{} from {}", "kind", "from_lot"),
            "kind",
        ),
        kind="kind",
        agent=pl.lit(None, pl.String),
    )


def _fits(event: Event) -> pl.Expr:
    if event.agents:
        return pl.col("agent").str.contains_any(list(event.agents)).fill_null(False)
    return (pl.col("kind") == event.kind).fill_null(False)


def _with_meaning(events: pl.DataFrame) -> pl.DataFrame:
    """Add words, explains and adds of the first line of schemas/judgement.toml that fits."""
    known = sorted(load_judgement().events, key=lambda event: not event.agents)

    def of(name: str, otherwise: pl.Expr) -> pl.Expr:
        given = [pl.when(_fits(event)).then(pl.lit(getattr(event, name))) for event in known]
        return pl.coalesce(*given, otherwise).alias(name)

    return events.with_columns(
        of("words", pl.lit(None, pl.String)),
        of("explains", pl.lit(False)),
        of("adds", pl.lit(False)),
    )


def list_events(
    rows: pl.DataFrame, interventions: pl.DataFrame, movements: pl.DataFrame
) -> pl.DataFrame:
    """Add what was done in between: `events`, `meaning`, `explained` and `added`.

    `events` in words and by date (null: none), `meaning` what such events do to smoke phenols
    (null: nothing is known of them), `explained`: one of them can change the bound share by itself,
    `added`: one of them can add to the total. `rows` has lot, base_day, day; an event counts after
    the first day up to and including the second. One without a date cannot be placed and is not
    named.
    """
    parts = [
        make(frame).cast(_EVENTS)  # type: ignore[arg-type]
        for make, frame in ((_interventions, interventions), (_movements, movements))
        if frame.height
    ]
    within = (
        rows.select(_SPAN)
        .unique()
        .join(pl.concat([pl.DataFrame(schema=_EVENTS), *parts]), on="lot")
        .filter(pl.col("on") > pl.col("base_day"), pl.col("on") <= pl.col("day"))
        .pipe(_with_meaning)
        .sort("on", "event")
        .group_by(_SPAN)
        .agg(
            events=pl.format("{} on {}", "event", "on").str.join(", "),
            meaning=pl.col("words").drop_nulls().unique(maintain_order=True).str.join("; "),
            explained=pl.col("explains").any(),
            added=pl.col("adds").any(),
        )
    )
    return rows.join(within, on=_SPAN, how="left").with_columns(
        pl.col("meaning").replace("", None), pl.col("explained", "added").fill_null(False)
    )
