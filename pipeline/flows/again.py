"""Open a laboratory's file once more, if it is still what was loaded, to show where a number stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

import polars as pl

from pipeline.errors import FileRefused
from pipeline.find import Source, find
from pipeline.read import read_cells
from pipeline.workers import Workers

MOST_LOOKED_AT = 20_000
SECONDS = 20.0


def _candidates(file: str, folders: Sequence[Path]) -> Iterator[Path]:
    """Give files that may be the wanted one: at its own place in a folder first, then by name.

    `file` comes out of a store and may say anything, so nothing outside the folders is taken.
    """
    outer = Path(file.partition("!")[0])
    for folder in folders:
        path = folder / outer
        if path.is_file() and path.resolve().is_relative_to(folder.resolve()):
            yield path
    for folder in folders:
        inside = islice(folder.rglob("*"), MOST_LOOKED_AT)
        yield from (path for path in inside if path.name == outer.name and path.is_file())


def find_again(file: str, sha256: str, folders: Sequence[Path]) -> Source | FileRefused:
    """Find the file with these bytes under some folders, or say why there is none."""
    changed = None
    for path in _candidates(file, folders):
        sources = find([path]).sources
        same = next((source for source in sources if source.sha256 == sha256), None)
        if same is not None:
            return same
        changed = changed or path
    if changed is not None:
        return FileRefused(
            file, f"the file {changed} is no longer what was loaded: its bytes differ."
        )
    looked = ", ".join(dict.fromkeys(str(folder) for folder in folders))
    return FileRefused(
        file, f"the file is not under {looked}; name its folder with cinderlot page --reports."
    )


def read_again(file: str, sha256: str, folders: Sequence[Path]) -> pl.DataFrame | FileRefused:
    """Give the cells of a file that was loaded before; a refusal when it is gone or has changed.

    It is read in a process of its own with limits, as at its first reading.
    """
    source = find_again(file, sha256, folders)
    if isinstance(source, FileRefused):
        return source
    with Workers(1) as workers:
        return next(cells for _, cells in workers.map(_cells, [source], seconds=SECONDS))


def _cells(source: Source) -> pl.DataFrame:
    return read_cells(source.read_bytes(), source.file).cells.select("sheet", "row", "col", "text")
