"""Work out once per state of a store what its pages ask for again and again."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import duckdb
import polars as pl

from pipeline.store.ask import in_utc
from pipeline.store.select import OF_REPORT


@dataclass(frozen=True)
class Kept:
    """What costs most to work out and is small: samples resolved, values sent twice or corrected.

    `repeats` are left out: values sent twice, and those in whose place a correction stands. Good
    for as long as the store's file stays as it is.
    """

    samples: pl.DataFrame
    repeats: pl.DataFrame
    corrections: pl.DataFrame
    replaced: pl.DataFrame


def take_frame(con: duckdb.DuckDBPyConnection, sql: str, *values: Any) -> pl.DataFrame:
    """Give the answer to a question, its times in UTC."""
    # Not by `sql`: with values it copies the whole answer through Python's own objects.
    return in_utc(con.execute(sql, list(values)).pl())


def work_out(con: duckdb.DuckDBPyConnection) -> Kept:
    """Work out what is kept; its two long questions are asked side by side."""
    with ThreadPoolExecutor(1) as beside, con.cursor() as second:
        repeats = beside.submit(take_frame, second, "SELECT value_key FROM base.repeat")
        settled = take_frame(con, "SELECT * FROM base.settled WHERE value_key IS NOT NULL")
        # A store of an older program corrects held values only.
        stored = settled["replaces"] if "replaces" in settled.columns else settled["value_key"][:0]
        replaced = stored.drop_nulls().to_frame("value_key")
        return Kept(
            take_frame(con, f"SELECT * EXCLUDE ({OF_REPORT}) FROM base.resolved_sample"),
            pl.concat([repeats.result(), replaced]),
            settled.select("value_key"),
            replaced,
        )
