"""Open the store's file: wait for a lock, create what is missing, refuse what is not ours."""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import Any

import duckdb

from pipeline.errors import CinderlotError, StoreBusy
from pipeline.store.describe import comments

SCHEMA_VERSION = 1
_LOCKED = re.compile(r"Could not set lock|Conflicting lock", re.IGNORECASE)
_PID = re.compile(r"PID (\d+)")
_FULL = re.compile(
    r"No space left|disk full|Could not (?:write|truncate|sync)|File too large", re.I
)
_NOT_OURS = re.compile(r"not a valid DuckDB database", re.IGNORECASE)
_DAMAGED = re.compile(r"attempted to read|could not read enough|corrupt|checksum", re.IGNORECASE)
_NEWER_FILE = re.compile(r"version number|storage version", re.IGNORECASE)
_NO_FOLDER = re.compile(r"No such file or directory", re.IGNORECASE)
_CONFIG = {"autoinstall_known_extensions": "false", "enable_external_access": "false"}
# A checkpoint rewrites the tail of every column: better once at closing than every few reports.
_CHECKPOINT_AT = "256MB"


def first_line(error: Exception) -> str:
    """Give the first line of a message, without the name of the error's kind."""
    line = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
    return re.sub(r"^\w+ Error: (?:\w+ Error: )?", "", line)


def _busy(path: Path, error: Exception) -> StoreBusy:
    found = _PID.search(str(error))
    who = f"process {found.group(1)}" if found else "another process"
    return StoreBusy(f"{path}: {who} is using the store; wait until it is done and try again")


def explain(path: Path, error: Exception) -> CinderlotError:
    """Turn an error of the database engine into a sentence with what to do next."""
    text = str(error)
    if _LOCKED.search(text):
        return _busy(path, error)
    if _FULL.search(text):
        return StoreBusy(f"{path}: the disk is full or the file may not grow; make room, try again")
    if _NOT_OURS.search(text):
        return CinderlotError(f"{path}: this is not a store; name another file with --db")
    if _DAMAGED.search(text):
        return CinderlotError(
            f"{path}: the file is damaged or was copied only in part; put a whole copy in its place"
            " or name another with --db"
        )
    if _NEWER_FILE.search(text):
        return CinderlotError(f"{path}: written by a newer program; update cinderlot, try again")
    if _NO_FOLDER.search(text):
        return StoreBusy(f"{path}: the folder {path.parent} does not exist; make it first")
    if "different configuration" in text:
        return StoreBusy(f"{path}: this process has the store open already; close it first")
    return StoreBusy(f"{path}: the store cannot be used: {first_line(error)}")


def open_file(path: Path, *, read_only: bool, wait: float) -> duckdb.DuckDBPyConnection:
    """Open the file, trying again while another process holds it, for `wait` seconds at most.

    Raises StoreBusy when it stays locked or cannot be written, CinderlotError when there is no
    store or it is not one of ours.
    """
    if path.stem.casefold() == "base":  # The engine takes it for the schema of the same name.
        raise CinderlotError(f"{path}: tables inside go by this name; give the store another name")
    if read_only and not path.exists():
        raise CinderlotError(f"{path}: there is no store yet; load a report first")
    until, pause = time.monotonic() + wait, 0.02
    while True:
        try:
            return duckdb.connect(str(path), read_only=read_only, config=dict(_CONFIG))
        except duckdb.Error as error:
            if not _LOCKED.search(str(error)) or time.monotonic() + pause > until:
                raise explain(path, error) from None
        time.sleep(pause)
        pause = min(pause * 1.5, 0.5)


@contextmanager
def transaction(con: duckdb.DuckDBPyConnection, path: Path) -> Iterator[None]:
    """Make all that happens inside one change: whole, or not at all."""
    try:
        con.execute("BEGIN TRANSACTION")
        yield
        con.execute("COMMIT")
    except duckdb.Error as error:
        _roll_back(con)
        raise explain(path, error) from None
    except BaseException:
        _roll_back(con)
        raise


def _roll_back(con: duckdb.DuckDBPyConnection) -> None:
    try:
        con.execute("ROLLBACK")
    except duckdb.Error:
        return  # The engine has already given the transaction up.


def first_row(
    con: duckdb.DuckDBPyConnection, sql: str, values: Sequence[Any] = ()
) -> tuple[Any, ...] | None:
    """Give a query's first row; all are fetched, since an answer half read blocks duckdb 2.0."""
    rows = con.execute(sql, list(values)).fetchall()
    return rows[0] if rows else None


def definitions() -> tuple[str, str]:
    """Give the tables and views as SQL, and a digest that changes whenever they do."""
    sql = files("schemas").joinpath("store.sql").read_text(encoding="utf-8")
    sql = "\n".join([sql, *comments()])
    return sql, hashlib.sha256(sql.encode()).hexdigest()


def _stored_version(con: duckdb.DuckDBPyConnection, path: Path) -> tuple[int, str] | None:
    tables = con.execute("SELECT schema_name, table_name FROM duckdb_tables()").fetchall()
    if ("base", "version") in tables:
        row = first_row(con, "SELECT schema_version, definitions FROM base.version")
        return (row[0], row[1]) if row else None
    if tables:
        raise CinderlotError(f"{path}: this is another program's database; name another with --db")
    return None


def is_renewed(con: duckdb.DuckDBPyConnection, path: Path) -> bool:
    """Tell whether tables and views are those of this program."""
    found = _stored_version(con, path)
    return found is not None and found[1] == definitions()[1]


def prepare(con: duckdb.DuckDBPyConnection, path: Path, *, read_only: bool) -> None:
    """Create or renew tables and views where they differ from this program's.

    Raises CinderlotError when the store is newer than this program, or not a store.
    """
    found = _stored_version(con, path)
    if found and found[0] > SCHEMA_VERSION:
        raise CinderlotError(f"{path}: written by a newer cinderlot; update the program, try again")
    if read_only:
        if found is None:
            raise CinderlotError(f"{path}: there is nothing in the store; load a report first")
        return
    con.execute(f"SET checkpoint_threshold = '{_CHECKPOINT_AT}'")
    sql, digest = definitions()
    if found is None or found[1] != digest:
        with transaction(con, path):
            con.execute(sql)
            # What an older program derived may lack what this one asks of it.
            con.execute("DELETE FROM base.derived")
            con.execute("DELETE FROM base.version")
            con.execute("INSERT INTO base.version VALUES (?, ?)", [SCHEMA_VERSION, digest])
