"""The register: what the cellar knows of its lots and samples, in one workbook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import polars as pl

from pipeline.errors import FileRefused
from pipeline.register.checks import Stray, backwards, keep_keys, stray_lots
from pipeline.register.parse import (
    Table,
    find_headings,
    read_sheet,
    sheet_cells,
    sheets_beside,
)
from pipeline.register.sheets import SHEETS
from pipeline.register.template import register_template

__all__ = [
    "Register",
    "RegisterRefused",
    "Stray",
    "is_register",
    "read_register",
    "register_template",
    "sheets_beside",
]


class RegisterRefused(FileRefused):
    """Say which rows of the register cannot be used; nothing of it is stored."""

    def __init__(self, file: str, faults: tuple[str, ...]) -> None:
        lines = "\n".join(f"  {fault}" for fault in faults)
        plural = "s" if len(faults) != 1 else ""
        super().__init__(file, f"{len(faults)} fault{plural}, nothing of it was stored\n{lines}")
        self.args = (file, faults)
        self.faults = faults


@dataclass(frozen=True)
class Register:
    """The register's sheets as frames; `notices` are worth saying but hinder nothing.

    `columns` names for each sheet the columns that the workbook has; the others are null because
    nothing is said of them. A sheet that is not named has all of them. `strays` are lots that other
    sheets name and the sheet lots does not; whether they are known, the store can tell.
    """

    file: str
    lots: pl.DataFrame
    samples: pl.DataFrame
    movements: pl.DataFrame
    interventions: pl.DataFrame
    tastings: pl.DataFrame
    decisions: pl.DataFrame
    exposures: pl.DataFrame
    notices: tuple[str, ...] = ()
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    strays: tuple[Stray, ...] = ()


def is_register(cells: pl.DataFrame) -> bool:
    """Tell whether a workbook's cells are a register: sheets lots and samples with headings."""
    return all(find_headings(sheet_cells(cells, s.name), s) is not None for s in SHEETS[:2])


def read_register(cells: pl.DataFrame, file: str) -> Register:
    """Read a register from a workbook's cells.

    Raises RegisterRefused listing every bad row with its sheet and cell, FileRefused when a needed
    sheet is missing.
    """
    if missing := [s.name for s in SHEETS[:2] if sheet_cells(cells, s.name).is_empty()]:
        raise FileRefused(
            file,
            f"not the register, for it has no filled sheet {' and none '.join(missing)}; cinderlot "
            "init writes an empty register, and a report is loaded with cinderlot load",
        )
    tables: dict[str, Table] = {s.name: keep_keys(s, read_sheet(cells, s)) for s in SHEETS}
    faults = [fault for table in tables.values() for fault in table.faults]
    faults += backwards(tables["exposures"])
    if faults:
        raise RegisterRefused(file, tuple(faults))
    frames = {name: table.rows.drop("row") for name, table in tables.items()}
    said = tuple(notice for table in tables.values() for notice in table.notices)
    columns = {s.name: tuple(c for c in s.schema if c in tables[s.name].cols) for s in SHEETS}
    return Register(file=file, **frames, notices=said, columns=columns, strays=stray_lots(tables))
