"""Decisions on held values: taken, taken back, and the result rows that corrections give.

Nothing of a decision is ever changed or deleted; the views tell which one counts.
"""

from __future__ import annotations

import duckdb
import polars as pl

from pipeline.store.append import LOT_KEY, insert, insert_line, mark_stale, next_number, now
from pipeline.store.ask import take
from pipeline.store.connect import first_row
from pipeline.store.packing import pack
from schemas.report import STORED
from schemas.settlements import GIVEN, SETTLEMENTS

_PRINTED = (
    "report_id", "sheet", "cell", "raw_sample", "raw_analyte", "raw_value", "raw_unit",
    "reason_code",
)  # fmt: skip
# A suspected number in the words of the view held; its hint says what a person can decide.
_SUSPECTS = """SELECT suspect_id AS held_id, report_id, file, sheet, cell, sample_id AS raw_sample,
    raw_analyte, raw_value, raw_unit, 'unit_slip' AS reason_code,
    'stored as printed, and not used: its unit may have slipped'
        || coalesce(' (' || evidence || ')', '') AS reason,
    'confirm it where it is right as printed; correct it where it slipped, by the value or unit '
        || 'that is right' || coalesce(printf(', or by the suggested factor %g', suspected_factor), '')
        || '; else ask the laboratory' AS hint,
    status, lab, true AS is_current, true AS is_stored, suspected_factor, held_id AS corrects
    FROM suspects"""
# The factor that the hint of a held value suggests.
_SUGGESTED = """CASE WHEN h.reason_code = 'unit_slip' THEN
    pow(10.0, try_cast(regexp_extract(h.hint, 'times 1e(-?\\d+)', 1) AS INTEGER)) END"""
_KEYS = (("value_key", "result"), ("sample_key", "sample"), ("measure_key", "measure"))


def store_id(con: duckdb.DuckDBPyConnection) -> str:
    """Give what tells this store from others; copies of it share it."""
    row = first_row(con, "SELECT store_id FROM base.identity")
    return str(row[0]) if row else ""


def settleable(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """List every held value, and every stored one that is suspected, with what a decision on it needs.

    Columns of the view held, and: is_stored (a suspected value), suspected_factor, corrects (the
    decision that gave a suspected value, null where it is printed), lab, reading (JSON, null where the
    report was loaded before readings were kept, and of a stored value), around, and of the decision
    that counts, null without one: decision, the columns of GIVEN.
    """
    given = ", ".join(f"t.{name}" for name in ("decision", *GIVEN, "settled_at"))
    return take(
        con,
        f"""WITH meant AS (
            SELECT h.*, r.lab, false AS is_stored, {_SUGGESTED} AS suspected_factor
            FROM held h JOIN base.standing r USING (report_id)
            UNION ALL BY NAME {_SUSPECTS})
        SELECT h.*, x.reading, x.around, {given}
        FROM meant h LEFT JOIN base.held_context x ON x.held_id = h.held_id
        LEFT JOIN base.settled t ON t.held_id = h.held_id
        ORDER BY h.file, h.report_id, h.sheet, h.held_id""",
    )


def known_samples(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """List what each stored report prints of its samples, matrix only where it is printed."""
    return take(
        con,
        """SELECT r.report_id, r.file, r.lab, sa.sample_id, sa.lot, sa.region, sa.grower,
            sa.vineyard, sa.block, sa.variety, sa.vintage,
            CASE WHEN NOT sa.matrix_assumed THEN sa.matrix END AS matrix, sa.stage, sa.sampled_on,
            sa.received_on
        FROM base.sample sa JOIN base.report r USING (load_no)
        WHERE sa.sample_key IN (SELECT sample_key FROM base.result v
            JOIN base.measure m USING (measure_key) WHERE m.outcome <> 'corrected')
        ORDER BY ALL""",
    )


def stored_values(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """List the values of samples that count in reports with held values, as they were stored.

    Columns: report_id and the rest of what tells values of one report apart, value, lower, upper,
    censoring, sheet, cell, and held_id of a correction ('' of a printed value). Without those of
    quality controls.
    """
    return take(
        con,
        """SELECT r.report_id, sa.sample_id, m.analyte, m.form, m.expressed_as, m.unit, m.method,
            sa.replicate, sa.sample_kind, m.qc_kind, sa.treatment, sa.dose, sa.trial,
            sa.sampled_on, sa.analysed_on, v.value, v.lower, v.upper, m.censoring, m.sheet, v.cell,
            coalesce(t.held_id, '') AS held_id
        FROM base.result v JOIN base.sample sa USING (sample_key)
        JOIN base.measure m USING (measure_key) JOIN base.report r ON r.load_no = sa.load_no
        LEFT JOIN base.settled t ON t.value_key = v.value_key
        WHERE m.qc_kind IS NULL AND sa.load_no IN (SELECT load_no FROM base.held)
        AND v.value_key NOT IN (SELECT value_key FROM base.set_aside)
        AND v.value_key NOT IN (SELECT replaces FROM base.settled WHERE replaces IS NOT NULL)""",
    )


def stored_numbers(con: duckdb.DuckDBPyConnection, places: pl.DataFrame) -> pl.DataFrame:
    """Give the results printed in some cells (report_id, sheet, cell), as they were stored.

    Columns of STORED without those of the report's heading, and replaces (the stored value's key).
    """
    con.register("places", places.select("report_id", "sheet", "cell").unique())
    try:
        return take(
            con,
            """SELECT r.report_id, r.file, r.lab, v.* EXCLUDE (value_key, sample_key, measure_key),
                sa.* EXCLUDE (load_no, sample_key, matrix_assumed, lot_key),
                m.* EXCLUDE (load_no, measure_key), v.value_key AS replaces
            FROM places p JOIN base.report r USING (report_id)
            JOIN base.measure m ON m.load_no = r.load_no AND m.sheet = p.sheet
            JOIN base.result v ON v.measure_key = m.measure_key AND v.cell = p.cell
            JOIN base.sample sa ON sa.sample_key = v.sample_key
            WHERE m.outcome = 'result' ORDER BY ALL""",
        )
    finally:
        con.unregister("places")


def unplaced(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """List corrections and confirmations whose report was judged anew, so that their row has to be made anew.

    Columns: held_id, settlement_no, decision, the columns of GIVEN, and where and what was printed.
    Those of stored numbers too, whatever is stored there by now.
    """
    told = ", ".join(("held_id", "settlement_no", "decision", *GIVEN, "settled_at", *_PRINTED))
    return take(
        con,
        f"""SELECT {told} FROM base.valid_settlement ANTI JOIN base.corrected
            USING (load_no, settlement_no) WHERE decision IN ('correct', 'confirm')
        UNION ALL SELECT {told} FROM base.last_settlement ANTI JOIN base.corrected
            USING (settlement_no) WHERE decision = 'correct' AND held_id LIKE 'S-%'
        ORDER BY settlement_no""",
    )


def settle(
    con: duckdb.DuckDBPyConnection, decisions: pl.DataFrame, corrected: pl.DataFrame
) -> None:
    """Append decisions (SETTLEMENTS) and the rows that corrections give, in the caller's hands.

    `corrected` has held_id, replaces and the columns of STORED.
    """
    if decisions.is_empty():
        return
    mark_stale(con)
    first = next_number(con, "settlement", "settlement_no")
    printed = ", ".join(("held_id", *_PRINTED))
    held = take(con, f"SELECT {printed} FROM held UNION ALL SELECT {printed} FROM ({_SUSPECTS})")
    lines = (
        decisions.select(list(SETTLEMENTS))
        .join(held, on="held_id", how="inner", maintain_order="left")
        .with_columns(
            settlement_no=pl.int_range(pl.len(), dtype=pl.Int32) + first, settled_at=pl.lit(now())
        )
    )
    insert(con, "settlement", lines)
    place(con, corrected.join(lines.select("held_id", "settlement_no"), on="held_id"))


def place(con: duckdb.DuckDBPyConnection, corrected: pl.DataFrame) -> None:
    """Append the result rows of corrections.

    `corrected` has beside STORED: settlement_no, and replaces (the stored number in whose place it
    stands; null for a held value).
    """
    if corrected.is_empty():
        return
    mark_stale(con)
    loads = take(con, "SELECT report_id, load_no FROM base.report")
    numbered = corrected.join(loads, on="report_id", maintain_order="left")
    for (load_no,), rows in numbered.group_by("load_no", maintain_order=True):
        _place_in(con, int(str(load_no)), rows)


def _place_in(con: duckdb.DuckDBPyConnection, load_no: int, rows: pl.DataFrame) -> None:
    parts = pack(rows.select(list(STORED)))
    shift = {key: _next_key(con, table, key, load_no) for key, table in _KEYS}
    load = pl.lit(load_no, pl.Int32).alias("load_no")

    def moved(*keys: str) -> list[pl.Expr]:
        return [pl.col(key).cast(pl.Int64) + shift[key] for key in keys]

    insert(con, "sample", parts.samples.with_columns(*moved("sample_key"), load, LOT_KEY))
    insert(con, "measure", parts.measures.with_columns(*moved("measure_key"), load))
    values = parts.values.with_columns(*moved("value_key", "sample_key", "measure_key"))
    insert(con, "result", values)
    numbers = rows.select("settlement_no", "replaces", load)
    insert(con, "corrected", numbers.with_columns(values["value_key"]))


def _next_key(con: duckdb.DuckDBPyConnection, table: str, key: str, load_no: int) -> int:
    query = f"SELECT max({key}) + 1 FROM base.{table} WHERE {key} >> 32 = ?"
    row = first_row(con, query, [load_no])
    return int(row[0]) if row and row[0] is not None else load_no << 32


def undo(con: duckdb.DuckDBPyConnection, held_id: str) -> str | None:
    """Take back all decisions on a held value: give the last one, '' when none was left to take.

    Null when no such value is or was held.
    """
    query = "SELECT decision, settlement_no FROM base.last_settlement WHERE held_id = ?"
    last = first_row(con, query, [held_id])
    if last is None:
        known = """SELECT 1 FROM base.held WHERE held_id = $1
            UNION ALL SELECT 1 FROM base.settlement WHERE held_id = $1
            UNION ALL SELECT 1 FROM suspects WHERE suspect_id = $1"""
        return "" if first_row(con, known, [held_id]) else None
    mark_stale(con)
    line = {"held_id": held_id, "up_to": last[1], "undone_at": now()}
    insert_line(con, "settlement_undo", line)
    return str(last[0])
