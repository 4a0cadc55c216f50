"""Read the marks of replicates behind the names in a list with one result per line."""

from __future__ import annotations

from collections import defaultdict

from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.first_lines import NAMES
from pipeline.recognise.grid import Grid
from pipeline.recognise.lines import Lines
from pipeline.recognise.tables import Table
from schemas.vocabulary import squash


def doubt_parted_series(
    grid: Grid, columns: Columns, lines: Lines, readers: Readers
) -> dict[int, str]:
    """Doubt marked names of a sample that lacks one of the series: "Guaiacol-b" without an a."""
    marks: defaultdict[str, set[str]] = defaultdict(set)
    own: defaultdict[tuple[str, ...], dict[int, str]] = defaultdict(dict)
    for row in lines.samples:
        spot = grid.at(row, columns.fields["analyte"])
        read = readers.names.heading(spot.text) if spot and spot.is_text else None
        if read and read.read_as and read.replicate:
            base = squash(read.read_as)
            marks[base].add(read.replicate)
            own[(base, *_sample(grid, columns, lines, row))][row] = read.replicate
    return {
        row: f'the mark "{mark}" behind the name is no series for this sample'
        for (base, *_), rows in own.items()
        if set(rows.values()) != marks[base]
        for row, mark in rows.items()
    }


def _sample(grid: Grid, columns: Columns, lines: Lines, row: int) -> list[str]:
    home = lines.named.get(row, row)
    spots = [grid.at(home, columns.fields[n]) for n in NAMES if n in columns.fields]
    return [*(s.text if s else "" for s in spots), *map(str, lines.panels.get(row, {}).items())]


def add_marks(
    table: Table, fields: dict[str, int], lines: list[dict[str, object]]
) -> tuple[dict[str, int], list[dict[str, object]]]:
    """Add to each line what stands behind the name of its analyte: a replicate's mark, a state."""
    read = [table.names.heading(str(row["raw_analyte"] or "")) for row in lines]
    marked = [
        row | {
            "read_as": h.read_as,
            "state": h.state,
            "raw_replicate": _joined(row.get("raw_replicate"), h.replicate),
            "raw_treatment": row.get("raw_treatment") or h.state,
        }
        for row, h in zip(lines, read, strict=True)
    ]  # fmt: skip
    said = {n for n in ("replicate", "treatment") if any(row[f"raw_{n}"] for row in marked)}
    return fields | dict.fromkeys(said - fields.keys(), 0), marked


def _joined(printed: object, mark: str | None) -> str | None:
    return " ".join(str(text) for text in (printed, mark) if text) or None
