"""Look over the register's rows together: keys that stand twice, lots that are not listed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import polars as pl

from pipeline.register.keys import name_key
from pipeline.register.parse import Table, place
from pipeline.register.sheets import SHEETS, Sheet


def _key_part(name: str) -> pl.Expr:
    # A laboratory's identifiers may differ by case only; names of lots and laboratories do not.
    return pl.col(name) if name == "sample_id" else name_key(pl.col(name))


def keep_keys(sheet: Sheet, table: Table) -> Table:
    """Keep the first of rows that say the same; rows of one key that differ are faults."""
    if not sheet.key or not table.cols:
        return table
    content = list(sheet.schema)
    distinct = table.rows.unique(content, keep="first", maintain_order=True)
    folded = [_key_part(name).alias(f"_{name}") for name in sheet.key]
    keyed = distinct.with_columns(folded)
    by = [f"_{name}" for name in sheet.key]
    again = keyed.with_columns(first=pl.col("row").first().over(by)).filter(
        pl.col("row") != pl.col("first")
    )
    col, key = table.cols[sheet.key[-1]], " and ".join(sheet.key)
    faults = tuple(
        f"{place(sheet.name, row, col)}: differs from row {first} with the same {key}; "
        "keep one of them"
        for row, first in again.select("row", "first").iter_rows()
    )
    return replace(table, rows=distinct, faults=table.faults + faults)


@dataclass(frozen=True)
class Stray:
    """A lot that a sheet names and the sheet lots does not have; `line` says so with its cell."""

    sheet: str
    lot: str
    line: str


def stray_lots(tables: Mapping[str, Table]) -> tuple[Stray, ...]:
    """List lots that other sheets name and the sheet lots does not have."""
    known = tables["lots"].rows.select(name_key(pl.col("lot"))).to_series().drop_nulls().implode()
    found: list[Stray] = []
    for sheet in SHEETS[1:]:
        rows, cols = tables[sheet.name].rows, tables[sheet.name].cols
        for name in (c for c in sheet.schema if c in ("lot", "from_lot", "to_lot")):
            strange = rows.filter(pl.col(name).is_not_null() & ~name_key(pl.col(name)).is_in(known))
            found += [
                Stray(
                    sheet.name,
                    lot,
                    f'{place(sheet.name, row, cols[name])}: the lot "{lot}" is '
                    "not known; add it to the sheet lots or correct the name",
                )
                for row, lot in strange.select("row", name).iter_rows()
            ]
    return tuple(found)


def backwards(exposures: Table) -> tuple[str, ...]:
    """List exposures that end before they begin."""
    rows = exposures.rows.filter(pl.col("to") < pl.col("from"))["row"]
    return tuple(
        f"{place('exposures', row, exposures.cols['to'])}: to lies before from; correct one of them"
        for row in rows
    )
