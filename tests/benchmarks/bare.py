"""The bare baseline: a calamine read of each workbook and a DuckDB insert of the rows it holds.

Run in a process of its own: python -m tests.benchmarks.bare FOLDER ROWS STORE
ROWS is a Parquet file with the rows that cinderlot stored for the same folder.
"""

from __future__ import annotations

import sys
from pathlib import Path

import duckdb
import polars as pl
from python_calamine import CalamineWorkbook


def main(folder: Path, rows: Path, store: Path) -> None:
    """Read each workbook to Python values and insert its rows, one transaction per workbook."""
    reports = pl.read_parquet(rows).partition_by("file", as_dict=True)
    with duckdb.connect(str(store)) as con:
        con.register("shape", next(iter(reports.values())))
        con.execute("CREATE TABLE results AS SELECT * FROM shape LIMIT 0")
        for path in sorted(folder.glob("*.xlsx")):
            book = CalamineWorkbook.from_path(path)
            for name in book.sheet_names:
                book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            con.register("report", reports[path.name,])
            con.execute("INSERT INTO results SELECT * FROM report")
            con.unregister("report")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:4]))
