"""Take a file in memory through the program's own stages, up to what would be stored."""

from __future__ import annotations

import hashlib
import tempfile
from pathlib import Path
from typing import Any

from pipeline.find import Source
from pipeline.flows.order import Workplace, prepare
from pipeline.settings import Settings
from schemas.report import Report


def read(content: bytes, file: str) -> Report:
    """Prepare one report with no settings at all. Raises FileRefused."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / file
        path.write_bytes(content)
        digest = hashlib.sha256(content).hexdigest()
        source = Source(path, file, None, digest, len(content))
        report = prepare(source, Workplace(Path(folder) / "store.duckdb", Settings()))
    assert isinstance(report, Report), f"{file} was taken for the register"
    return report


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
