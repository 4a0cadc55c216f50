"""Take files in memory through the program's own stages, up to what would be stored."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pipeline.errors import FileRefused
from pipeline.find import Source
from pipeline.flows.order import Workplace, prepare
from pipeline.settings import Settings
from schemas.report import Report

Read = Report | FileRefused


def read_all(files: Sequence[tuple[bytes, str]]) -> list[Read]:
    """Prepare several reports together, with no settings at all; a refusal stands in its place."""
    with tempfile.TemporaryDirectory() as folder:
        sources = []
        for number, (content, file) in enumerate(files):
            path = Path(folder) / f"{number}"
            path.write_bytes(content)
            digest = hashlib.sha256(content).hexdigest()
            sources.append(Source(path, file, None, digest, len(content)))
        prepared = prepare(sources, Workplace(Path(folder) / "store.duckdb", Settings()))
    reports = [p for p in prepared if isinstance(p, Report | FileRefused)]
    assert len(reports) == len(files), "a report was taken for the register"
    return reports


def read(content: bytes, file: str) -> Read:
    """Prepare one report by itself."""
    return read_all([(content, file)])[0]


def rows_of(report: Report) -> dict[str, dict[str, Any]]:
    """Each value cell ("Sheet!B3") with what became of it; every cell is counted once."""
    found: dict[str, dict[str, Any]] = {}
    frames = (report.stored, report.held, report.unused)
    for row in (row for frame in frames for row in frame.iter_rows(named=True)):
        place = f"{row['sheet']}!{row['cell']}"
        assert place not in found, f"{place} was counted twice"
        found[place] = {"outcome": "held", **row}
    assert len(found) == report.n_values
    return found
