"""Take the unit off samples' names: "W-7 (ug/L)" over a column of results."""

from __future__ import annotations

from pipeline.names import Names
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.lines import Lines

_Rows = list[dict[str, object]]


def take_name_units(
    fields: dict[str, int], rows: _Rows, columns: Columns, lines: Lines, names: Names
) -> tuple[dict[str, int], _Rows]:
    """Part each sample's name from a unit in brackets behind it, where every name has one.

    Left alone where a column or line of units, or a heading, gives the unit already.
    """
    told = "unit" in fields or "unit" in lines.describing
    if told or any(v.heading.unit or "unit" in v.attached for v in columns.values):
        return fields, rows
    read = [names.heading(str(row.get("raw_sample") or "")) for row in rows]
    if not read or not all(h.unit and h.spelled and not h.is_measurand for h in read):
        return fields, rows
    parted = [
        row | {"raw_sample": h.spelled, "raw_unit": h.unit}
        for row, h in zip(rows, read, strict=True)
    ]
    return fields | {"unit": 0}, parted
