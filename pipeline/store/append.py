"""Add reports, derived tables and digests: whole, or not at all."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

import duckdb
import polars as pl

from pipeline.errors import FileRefused
from pipeline.register.keys import name_key
from pipeline.store.connect import first_row
from pipeline.store.packing import pack
from pipeline.store.succession import lab_key, named_numbers, number_key, printed_rank
from schemas.frames import FLAGS, FRACTIONS, PANELS, QUALITY, SUSPECTS
from schemas.report import Report

Added = Literal["new", "known", "renewed"]
# Rows that the engine keeps together.
_PART = 122_880
PARTS = ("sample", "measure", "held", "held_context", "corrected", "unused", "report")
HELD = (
    "held_id", "sheet", "cell", "raw_sample", "raw_analyte", "raw_value", "raw_unit",
    "reason_code", "reason", "hint",
)  # fmt: skip
UNUSED = ("sheet", "cell", "raw_sample", "raw_analyte", "raw_value", "outcome")
LOT_KEY = name_key(pl.col("lot")).alias("lot_key")


def now() -> datetime:
    """Give the present instant in UTC, without zone, as the store keeps it."""
    return datetime.now(UTC).replace(tzinfo=None)


def insert(con: duckdb.DuckDBPyConnection, table: str, frame: pl.DataFrame) -> None:
    """Append a frame's rows; the columns go by name."""
    if frame.is_empty():
        return
    columns = ", ".join(f'"{name}"' for name in frame.columns)
    con.register("incoming", _in_parts(frame))
    try:
        con.execute(f"INSERT INTO base.{table} ({columns}) SELECT {columns} FROM incoming")
    finally:
        con.unregister("incoming")


def _in_parts(frame: pl.DataFrame) -> pl.DataFrame:
    """Cut a large frame into parts, which the engine packs side by side; a whole one it does not."""
    starts = range(0, frame.height, _PART)
    return pl.concat((frame.slice(start, _PART) for start in starts), rechunk=False)


def insert_line(con: duckdb.DuckDBPyConnection, table: str, line: Mapping[str, Any]) -> None:
    """Append one row; the columns go by name."""
    marks = ", ".join("?" for _ in line)
    con.execute(f"INSERT INTO base.{table} ({', '.join(line)}) VALUES ({marks})", [*line.values()])


def next_number(con: duckdb.DuckDBPyConnection, table: str, column: str) -> int:
    """Give the next running number of a table."""
    row = first_row(con, f"SELECT coalesce(max({column}), 0) + 1 FROM base.{table}")
    return int(row[0]) if row else 1


def split_stored(report: Report, load_no: int) -> dict[str, pl.DataFrame]:
    """Split a report's numbers into samples, columns and values, with keys of their own."""
    parts, first = report.packed or pack(report.stored), load_no << 32
    load = pl.lit(load_no, pl.Int32).alias("load_no")
    return {
        "sample": parts.samples.with_columns(_moved("sample_key", first), load, LOT_KEY),
        "measure": parts.measures.with_columns(_moved("measure_key", first), load),
        "result": parts.values.with_columns(
            _moved(name, first) for name in ("value_key", "sample_key", "measure_key")
        ),
    }


def _moved(key: str, first: int) -> pl.Expr:
    return pl.col(key).cast(pl.Int64) + first


def _check_count(report: Report) -> None:
    known = sum(report.outcomes.values()) + report.held.height
    if known != report.n_values:
        raise FileRefused(
            report.file,
            f"{report.n_values} values were counted but {known} are accounted for, so nothing of "
            "it was stored; this is a fault of the program, please report it",
        )


@dataclass(frozen=True)
class Earlier:
    """What is stored of the same bytes: its number, when it came in, and how it was judged."""

    load_no: int
    loaded_at: datetime
    lab_key: str | None
    judged_with: str | None
    lacks_context: bool


def _earlier(con: duckdb.DuckDBPyConnection, sha256: str) -> Earlier | None:
    query = """SELECT load_no, loaded_at, lab_key, judged_with,
        load_no IN (SELECT load_no FROM base.held ANTI JOIN base.held_context USING (held_id))
        FROM base.report WHERE sha256 = ?"""
    row = first_row(con, query, [sha256])
    return Earlier(*row) if row else None


def _is_renewed(earlier: Earlier, report: Report) -> bool:
    """A laboratory once known is not lost; another takes its place, for it may have been wrong."""
    if earlier.lacks_context and report.context.height:
        return report.lab is not None or earlier.lab_key is None
    if lab_key(report.lab) == earlier.lab_key:
        return report.judged_with != earlier.judged_with
    return report.lab is not None


def _forget(con: duckdb.DuckDBPyConnection, load_no: int) -> None:
    con.execute("DELETE FROM base.result WHERE value_key >> 32 = ?", [load_no])
    for table in PARTS:
        con.execute(f"DELETE FROM base.{table} WHERE load_no = ?", [load_no])


def _heading(report: Report, load_no: int, loaded_at: datetime) -> dict[str, Any]:
    return {
        "load_no": load_no,
        "report_id": report.report_id,
        "file": report.file,
        "sha256": report.sha256,
        "lab": report.lab,
        "report_no": report.report_no,
        "revision": report.revision,
        "replaces": report.replaces,
        "layout": report.layout,
        "reported_on": report.reported_on,
        "loaded_at": loaded_at,
        "n_values": report.n_values,
        "notices": json.dumps(report.notices, ensure_ascii=False),
        "lab_key": lab_key(report.lab),
        "no_key": number_key(report.report_no),
        "printed_rank": printed_rank(report.report_no, report.revision, report.replaces),
        "named": named_numbers(report.replaces),
        "judged_with": report.judged_with,
    }


def add_report(con: duckdb.DuckDBPyConnection, report: Report) -> Added:
    """Append one report inside the caller's transaction; 'known' when its bytes are stored.

    'renewed' when they are, but a laboratory is given that was not known or was another, or the
    settings that judge have changed: the stored values are replaced, and keep the instant at which
    the report came in.
    """
    earlier = _earlier(con, report.sha256)
    if earlier and not _is_renewed(earlier, report):
        return "known"
    _check_count(report)
    mark_stale(con)
    if earlier:
        _forget(con, earlier.load_no)
    load_no = earlier.load_no if earlier else next_number(con, "report", "load_no")
    insert_line(con, "report", _heading(report, load_no, earlier.loaded_at if earlier else now()))
    for table, rows in split_stored(report, load_no).items():
        insert(con, table, rows)
    load = pl.lit(load_no, pl.Int32).alias("load_no")
    insert(con, "held", report.held.select(load, *HELD))
    insert(con, "held_context", report.context.with_columns(load))
    insert(con, "unused", report.unused.select(load, *UNUSED))
    return "renewed" if earlier else "new"


def mark_stale(con: duckdb.DuckDBPyConnection) -> None:
    """Say that what is derived no longer follows from what is stored."""
    con.execute("DELETE FROM base.derived")


def stored_lab(con: duckdb.DuckDBPyConnection, report_id: str) -> str | None:
    """Give the laboratory under which a report is stored, null where it is unknown."""
    row = first_row(con, "SELECT lab FROM base.report WHERE report_id = ?", [report_id])
    return row[0] if row else None


def _naive(frame: pl.DataFrame) -> pl.DataFrame:
    instants = pl.col("raised_at").dt.convert_time_zone("UTC").dt.replace_time_zone(None)
    return frame.with_columns(instants)


def replace_derived(
    con: duckdb.DuckDBPyConnection,
    fractions: pl.DataFrame,
    flags: pl.DataFrame,
    made_with: str | None,
    panels: pl.DataFrame | None = None,
    record: pl.DataFrame | None = None,
    quality: pl.DataFrame | None = None,
    suspects: pl.DataFrame | None = None,
) -> None:
    """Put new derived tables in the place of all old ones, in the caller's transaction."""
    mark_stale(con)
    insert_line(con, "derived", {"made_with": made_with})
    for table in ("fraction", "flag", "panel", "own_uncertainty", "quality", "suspect"):
        con.execute(f"DELETE FROM base.{table}")
    insert(con, "fraction", fractions.select(list(FRACTIONS)))
    insert(con, "flag", _naive(flags.select(list(FLAGS))))
    if panels is not None:
        insert(con, "panel", panels.select(list(PANELS)))
    if record is not None:
        insert(con, "own_uncertainty", record)
    if quality is not None:
        insert(con, "quality", quality.select(list(QUALITY)))
    if suspects is not None and suspects.height:
        _insert_suspects(con, suspects.select(list(SUSPECTS)))


def _insert_suspects(con: duckdb.DuckDBPyConnection, suspects: pl.DataFrame) -> None:
    con.register("incoming", suspects)
    try:
        con.execute(
            """INSERT INTO base.suspect
            SELECT v.value_key, i.power, i.evidence
            FROM incoming i JOIN base.report r USING (report_id)
            JOIN base.measure m ON m.load_no = r.load_no AND m.sheet = i.sheet
            JOIN base.result v ON v.measure_key = m.measure_key AND v.cell = i.cell
            WHERE v.value_key NOT IN (SELECT value_key FROM base.set_aside) AND v.value_key NOT IN
                (SELECT replaces FROM base.settled WHERE replaces IS NOT NULL)"""
        )
    finally:
        con.unregister("incoming")


def record_digest(
    con: duckdb.DuckDBPyConnection, flags: pl.DataFrame, summary: Mapping[str, Any]
) -> int:
    """Keep the flags a published digest showed and its summary (plain values); give its number."""
    number = next_number(con, "digest", "digest_no")
    told = json.dumps(dict(summary), ensure_ascii=False, default=str)
    insert_line(con, "digest", {"digest_no": number, "written_at": now(), "summary": told})
    shown = _naive(flags.select(list(FLAGS)))
    insert(con, "digest_flag", shown.with_columns(pl.lit(number, pl.Int32).alias("digest_no")))
    return number
