"""What is shown, as a file: comma-separated values, Parquet or a workbook."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import polars as pl
from starlette.responses import Response

from pipeline.errors import WrongUse
from pipeline.page.asked import Pairs, read_view
from pipeline.page.comparing import compared
from pipeline.page.listing import counted
from pipeline.page.site import Site
from pipeline.store import Store

# What is left out of a file is lost to whoever opens it: too much is refused, never cut.
MOST = {"csv": 1_000_000, "parquet": 1_000_000, "xlsx": 50_000}
KINDS = {
    "csv": "text/csv; charset=utf-8",
    "parquet": "application/vnd.apache.parquet",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def _comparison(site: Site, store: Store, pairs: Pairs, kind: str) -> pl.DataFrame:
    return compared(site, store, read_view(pairs), estimates=True)[1]


def _results(site: Site, store: Store, pairs: Pairs, kind: str) -> pl.DataFrame:
    asked = read_view(pairs)
    if asked.marks:
        return site.browse(store).page(asked.marked(), asked.order, 0, len(asked.marks))
    n, most = counted(site, store, asked)[0], MOST[kind]
    if n > most:
        raise WrongUse(
            f"{n:,} results are too many for one {kind} file (at most {most:,}); choose more "
            "filters, another kind of file, or take the view results with pipeline.store.read_view"
        )
    return site.browse(store).page(asked.selection(), asked.order, 0, most)


_TABLES = {"comparison": _comparison, "results": _results}


def as_bytes(table: pl.DataFrame, name: str, kind: str) -> bytes:
    """Write a table as a file of a kind and give its bytes."""
    if kind == "csv":
        return table.write_csv().encode()
    if kind == "parquet":
        target = io.BytesIO()
        table.write_parquet(target)
        return target.getvalue()
    from pipeline.digest.workbook import write_table

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{name}.xlsx"
        write_table(table, name, path)
        return path.read_bytes()


def download(site: Site, store: Store, file: str, pairs: Pairs) -> Response:
    """Give what a view shows, all of its pages, as a file named `results.csv` or the like.

    Raises WrongUse for another file, and for more rows than such a file should have.
    """
    name, _, kind = file.partition(".")
    if name not in _TABLES or kind not in KINDS:
        raise WrongUse(f'there is no "{file[:80]}" to be had; use the links below a table')
    content = as_bytes(_TABLES[name](site, store, pairs, kind), name, kind)
    headers = {"content-disposition": f'attachment; filename="cinderlot-{name}.{kind}"'}
    return Response(content, media_type=KINDS[kind], headers=headers)
