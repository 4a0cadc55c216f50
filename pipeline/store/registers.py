"""Add registers: a newer one updates what it speaks of and leaves the rest as it was."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import duckdb
import polars as pl

from pipeline.register import Register, RegisterRefused, Stray
from pipeline.register.keys import name_key
from pipeline.store.append import LOT_KEY, Added, insert, insert_line, mark_stale, next_number, now
from pipeline.store.connect import first_row
from schemas.vocabulary import load_vocabulary, squash

EVENTS = {
    "movement": "movements",
    "intervention": "interventions",
    "tasting": "tastings",
    "decision": "decisions",
    "exposure": "exposures",
}
LAB_KEY = name_key(pl.col("lab")).alias("lab_key")


def add_register(con: duckdb.DuckDBPyConnection, register: Register) -> Added:
    """Append a register inside the caller's transaction; 'known' when the last one says the same.

    Lots and samples take the newest row of their key; rows a newer register leaves out stay, and so
    does what a column it does not have said of a row. Raises RegisterRefused when a sample is of a
    lot that neither this register nor an earlier one has.
    """
    if faults := tuple(stray.line for stray in strays(con, register) if stray.sheet == "samples"):
        raise RegisterRefused(register.file, faults)
    content, version = _content(register), next_number(con, "register", "version")
    last = first_row(con, "SELECT content FROM base.register ORDER BY version DESC LIMIT 1")
    if last and last[0] == content:
        return "known"
    mark_stale(con)
    lots, samples = _known_lots(con, register), _known_samples(con, register)
    line = {"version": version, "file": register.file, "content": content, "loaded_at": now()}
    insert_line(con, "register", line)
    label = pl.lit(version, pl.Int32).alias("version")
    insert(con, "register_lot", _judged_lots(lots).with_columns(label))
    insert(con, "register_sample", samples.with_columns(label, LAB_KEY, LOT_KEY))
    for table, name in EVENTS.items():
        insert(con, table, getattr(register, name).with_columns(label))
    return "new"


def strays(con: duckdb.DuckDBPyConnection, register: Register) -> tuple[Stray, ...]:
    """List the lots a register speaks of that neither it nor an earlier one has."""
    known = con.sql("SELECT lot_key FROM base.known_lot").pl()["lot_key"]
    lots = pl.DataFrame({"lot": [stray.lot for stray in register.strays]}, {"lot": pl.String})
    unknown = lots.select(~LOT_KEY.is_in(known.implode())).to_series()
    return tuple(s for s, is_unknown in zip(register.strays, unknown, strict=True) if is_unknown)


def _content(register: Register) -> str:
    tables = ("lots", "samples", *EVENTS.values())
    text = [f"{_absent(register, name)}\n{getattr(register, name).write_csv()}" for name in tables]
    return hashlib.sha256("\n".join(text).encode()).hexdigest()


def _absent(register: Register, sheet: str) -> list[str]:
    rows = getattr(register, sheet)
    present = register.columns.get(sheet, rows.columns)
    return [] if rows.is_empty() else [name for name in rows.columns if name not in present]


def _known_lots(con: duckdb.DuckDBPyConnection, register: Register) -> pl.DataFrame:
    known = con.sql("SELECT * FROM base.known_lot").pl()
    return _carry(register.lots.with_columns(LOT_KEY), known, _absent(register, "lots"), "lot_key")


def _known_samples(con: duckdb.DuckDBPyConnection, register: Register) -> pl.DataFrame:
    known, absent = con.sql("SELECT * FROM base.known_sample").pl(), _absent(register, "samples")
    if "lab" not in absent:
        keyed = register.samples.with_columns(LAB_KEY)
        return _carry(keyed, known, absent, "lab_key", "sample_id")
    # Without the column, a line means the one laboratory that is known for its sample, if any.
    alone = known.filter(pl.len().over("sample_id") == 1)
    return _carry(register.samples, alone, absent, "sample_id")


def _carry(
    rows: pl.DataFrame, known: pl.DataFrame, absent: Sequence[str], *key: str
) -> pl.DataFrame:
    carried = rows.drop(absent).join(
        known.select(*key, *absent), on=key, how="left", nulls_equal=True
    )
    return carried.drop(name for name in key if name.endswith("_key"))


def _judged_lots(lots: pl.DataFrame) -> pl.DataFrame:
    colours = load_vocabulary().variety_colours
    usual = [colours.get(squash(name)) if name else None for name in lots["variety"]]
    return lots.with_columns(
        LOT_KEY,
        wine=pl.format("{} wine", "colour"),
        usual_wine=pl.format("{} wine", pl.Series(usual, dtype=pl.String)),
    )
