"""Ask the store: its views as frames, read-only queries, and what changed between revisions."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import duckdb
import polars as pl
from rapidfuzz import fuzz, process

from pipeline.errors import CinderlotError
from pipeline.register.keys import name_key
from pipeline.store.connect import first_line, first_row
from pipeline.store.describe import VIEWS, documented_columns

INSTANTS = ("loaded_at", "held_at", "raised_at", "settled_at", "undone_at")
# What only people read of a result: nothing is derived from it, and it is a good part of the rows.
FOR_PEOPLE = (
    "revision", "region", "grower", "vineyard", "block", "path_length", "illuminant",
    "observer", "raw_analyte", "raw_value", "suspected_factor",
)  # fmt: skip
NEAR_ENOUGH = 75.0  # rapidfuzz ratio; below it a suggestion misleads more than it helps


@dataclass(frozen=True)
class Published:
    """A digest that was published: when (UTC), its summary, and the flags it showed."""

    written_at: datetime
    summary: dict[str, Any]
    flags: pl.DataFrame


def in_utc(frame: pl.DataFrame) -> pl.DataFrame:
    """Say of every instant that it is UTC, which is how the store keeps them."""
    naive = [n for n, t in frame.schema.items() if isinstance(t, pl.Datetime) and not t.time_zone]
    return frame.with_columns(
        pl.col(n).dt.replace_time_zone("UTC").dt.cast_time_unit("us") for n in naive
    )


def take(con: duckdb.DuckDBPyConnection, sql: str) -> pl.DataFrame:
    """Run one of our own queries."""
    return in_utc(con.sql(sql).pl())


def take_view(con: duckdb.DuckDBPyConnection, name: str) -> pl.DataFrame:
    """Give a view as a frame, in an order that loading does not change."""
    columns = ", ".join(f'"{c}"' for c in documented_columns()[name])
    return take(con, f"SELECT {columns} FROM {name} ORDER BY ALL")


def take_reported(con: duckdb.DuckDBPyConnection, name: str) -> pl.DataFrame:
    """Give `results` or `qc_results` with only those uncertainties that the reports state."""
    columns = ", ".join(f'"{c}"' for c in documented_columns()[name])
    outcome = "result" if name == "results" else "qc"
    return take(
        con,
        f"SELECT {columns} FROM base.told_value WHERE outcome = '{outcome}' "
        "ORDER BY report_id, value_key",
    )


def take_facts(con: duckdb.DuckDBPyConnection) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Give `results` and `qc_results` as `take_reported` does, without what only people read.

    Both at once, for most of the work is to find out which values stand. They are sorted outside
    the engine, which would carry every row through its sort.
    """
    columns = {name: documented_columns()[name] for name in ("results", "qc_results")}
    wanted = [f'"{c}"' for c in columns["qc_results"] if c not in FOR_PEOPLE]
    printed = "CASE WHEN outcome = 'qc' THEN raw_value END AS raw_value"
    rows = take(
        con,
        f"SELECT {', '.join(wanted)}, {printed}, outcome, value_key FROM base.current_value",
    ).sort("report_id", "value_key")
    results, controls = (rows.filter(pl.col("outcome") == name) for name in ("result", "qc"))
    return (
        results.select(c for c in columns["results"] if c not in FOR_PEOPLE),
        controls.drop("outcome", "value_key"),
    )


def ask(con: duckdb.DuckDBPyConnection, sql: str) -> pl.DataFrame:
    """Run one read-only query of a user.

    Raises CinderlotError with the engine's first line when the query is wrong, changes anything or
    gives no table.
    """
    try:
        if len(con.extract_statements(sql)) != 1:
            raise CinderlotError("give exactly one query, such as SELECT * FROM results")
        con.execute("BEGIN TRANSACTION READ ONLY")
        try:
            answer = con.sql(sql)
            if answer is None:
                raise CinderlotError("the query gives no table; write SELECT ...")
            return in_utc(answer.pl())
        finally:
            con.execute("ROLLBACK")
    except duckdb.Error as error:
        raise CinderlotError(f"the query cannot be run: {first_line(error)}") from None


def nearest_name(name: str, known: list[str]) -> str | None:
    """Give the known name that looks most like this one, null when none is near enough."""
    found = process.extractOne(
        name, known, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=NEAR_ENOUGH
    )
    return found[0] if found else None


def unassigned(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """List samples with results but no lot: lab, sample_id, n_results, nearest.

    `nearest` is the most similar sample or lot of the register, null when none is near.
    """
    samples = take(con, "SELECT * FROM unassigned ORDER BY lab, sample_id")
    query = "SELECT sample_id AS name FROM samples UNION SELECT lot FROM lots ORDER BY name"
    known = [name for name in take(con, query)["name"] if name]
    nearest = [nearest_name(name, known) for name in samples["sample_id"]]
    return samples.with_columns(pl.Series("nearest", nearest, dtype=pl.String))


def _of_report(lines: pl.DataFrame, report_id: str | None) -> pl.DataFrame:
    return lines if report_id is None else lines.filter(pl.col("report_id") == report_id)


def amended(con: duckdb.DuckDBPyConnection, report_id: str | None) -> pl.DataFrame:
    """Compare each report (or one) with the report it replaces, value by value.

    Columns: report_id, old_report_id, lab, report_no, revision, sample_id, lot, analyte, form,
    method, replicate, change (changed, added, withdrawn, held), old_value, old_lower, old_upper,
    old_unit, raw_before, value, lower, upper, unit, raw_now, old_cell, new_cell (file|sheet!cell,
    null where the value is not in that report), file, sheet, cell (of the newer, else the older),
    is_current. Values that did not change are left out.
    """
    return _of_report(take_view(con, "amendments"), report_id)


def held_lots(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Say to which lot each held value of a report in force belongs: held_id, lot.

    By the register's line of its sample, else what the report says of the sample elsewhere, else
    the lot printed beside it; null where none of them tells.
    """
    rows = take(
        con,
        """WITH named AS (
            SELECT load_no, unnest([sample_id, lab_sample_id]) AS printed, lot
            FROM base.resolved_sample
            WHERE lot IS NOT NULL AND load_no IN (SELECT load_no FROM base.held)),
        told AS (
            SELECT load_no, printed, min(lot) AS lot FROM named WHERE printed IS NOT NULL
            GROUP BY ALL HAVING count(DISTINCT lot) = 1)
        SELECT h.held_id, coalesce(l.lot, k.lot, t.lot) AS told, x.reading
        FROM base.held h JOIN base.standing r USING (load_no)
        LEFT JOIN base.sample_of_lab k ON k.asking = coalesce(r.lab_key, '')
            AND k.sample_id = trim(h.raw_sample)
        LEFT JOIN base.known_lot l ON l.lot_key = k.lot_key
        LEFT JOIN told t ON t.load_no = h.load_no AND t.printed = trim(h.raw_sample)
        LEFT JOIN base.held_context x ON x.held_id = h.held_id
        WHERE r.is_current""",
    )
    spelled = take(
        con,
        """SELECT lot_key, coalesce(l.lot, n.lot) AS spelled
        FROM base.lot_name n FULL JOIN base.known_lot l USING (lot_key)""",
    )
    printed = rows.with_columns(lot=pl.col("reading").str.json_path_match("$.raw_lot"))
    return (
        printed.with_columns(lot_key=name_key(pl.col("lot")))
        .join(spelled, on="lot_key", how="left")
        .select("held_id", lot=pl.coalesce("told", "spelled", pl.col("lot").str.strip_chars()))
        .unique("held_id")
        .sort("held_id")
    )


def derived_with(con: duckdb.DuckDBPyConnection) -> str | None:
    """Give the settings the derived tables were made with, null when they are out of date."""
    row = first_row(con, "SELECT made_with FROM base.derived")
    return row[0] if row else None


def last_digest(con: duckdb.DuckDBPyConnection) -> Published | None:
    """Give the digest published last, null when there is none."""
    query = "SELECT digest_no, written_at, summary FROM base.digest ORDER BY digest_no DESC LIMIT 1"
    row = first_row(con, query)
    if row is None:
        return None
    query = f"SELECT * EXCLUDE (digest_no) FROM base.digest_flag WHERE digest_no = {int(row[0])}"
    return Published(row[1].replace(tzinfo=UTC), json.loads(row[2]), take(con, query))


def fingerprint(con: duckdb.DuckDBPyConnection) -> str:
    """Digest what every view says, instants aside: equal stores give equal text."""
    state = hashlib.sha256()
    for name in VIEWS:
        rows = take_view(con, name)
        rows = rows.drop([c for c in INSTANTS if c in rows.columns])
        state.update(f"{name}\n{rows.sort(rows.columns).write_csv()}".encode())
    return state.hexdigest()
