"""Lay a table that was found out as its lines and its columns of results."""

from __future__ import annotations

import polars as pl

from pipeline.names import label_unit
from pipeline.names.heading import heading_says, stated_unit
from pipeline.recognise.column_kinds import ValueColumn
from pipeline.recognise.first_lines import NAMES
from pipeline.recognise.name_units import take_name_units
from pipeline.recognise.tables import Table
from schemas.frames import RESULT_FIELDS, SAMPLE_FIELDS
from schemas.layout import ANY_OF, with_unit


def crossing_frames(table: Table) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lay a crossing table out as its lines and its columns of results."""
    described = table.lines.describing
    columns = [_column_row(table, value, described) for value in table.columns.values]
    fields = {n: c for n, c in table.columns.fields.items() if n in SAMPLE_FIELDS + RESULT_FIELDS}
    lines = [line_row(table, row, fields) for row in table.lines.samples]
    fields, lines = add_panels(table, fields, lines)
    if table.grid.swapped:
        fields, lines = take_name_units(fields, lines, table.columns, table.lines, table.names)
    lines = [_doubt_panel(row, columns) for row in lines]
    return frame(lines, "line", fields), pl.DataFrame(columns, schema=column_schema(), orient="row")


def add_panels(
    table: Table, fields: dict[str, int], lines: list[dict[str, object]]
) -> tuple[dict[str, int], list[dict[str, object]]]:
    """Add to each line what the label above it says, where the line says nothing of it."""
    panels = table.lines.panels
    told = sorted({n for said in panels.values() for n in said} - set(fields))
    for name in told:
        lines = [
            row | {f"raw_{name}": panels.get(int(str(row["line"])), {}).get(name)} for row in lines
        ]
    return fields | dict.fromkeys(told, 0), lines


def _doubt_panel(row: dict[str, object], columns: list[dict[str, object]]) -> dict[str, object]:
    """Doubt a line whose label gives another form or unit than a heading of the results."""
    for name in ("form", "unit"):
        said = row.get(f"raw_{name}")
        own = {c[f"raw_{name}"] for c in columns} - {None, said}
        if said and own and not row["line_doubt"]:
            return row | {"line_doubt": f'the label above it says "{said}", its heading does not'}
    return row


def line_row(table: Table, row: int, fields: dict[str, int]) -> dict[str, object]:
    """Read the fields of one line."""
    made: dict[str, object] = {"line": row, "line_struck": False}
    made["spilled"] = table.spills(row)
    made["line_doubt"] = table.lines.doubted.get(row)
    beside = table.lines.beside.get(row, {})
    made |= {f"{name}_line": beside.get(name) for name in BESIDE}
    made |= {f"{name}_line_suffix": label_suffix(table, at) for name, at in beside.items()}
    for name, col in fields.items():
        home = table.lines.named.get(row, row) if name in NAMES else row
        home = table.lines.formed.get(row, row) if name == "form" else home
        home = table.lines.labels.get(row, row) if col == table.columns.kinds else home
        spot = table.grid.at(home, col)
        if spot and spot.struck and name in {"sample", "lab_sample", "analyte"}:
            made["line_struck"] = True
        suffix = table.columns.suffixes.get(col)
        text = spot.said(name) if spot else ""
        text = stated_unit(table.names.heading(text)) if name == "unit" else text
        text = table.names.heading(text).read_as or text if name == "form" else text
        asked = name == "qualifier" and suffix is not None
        several = len(table.columns.values) > 1 and "analyte" not in table.columns.fields
        if asked and several:
            suffix = f"({ANY_OF} {str(suffix)[1:-1]})"
        text = f"{text} {suffix}" if asked else with_unit(text, suffix)
        made[f"raw_{name}"] = text if spot else None
    return made


def frame(rows: list[dict[str, object]], key: str, fields: dict[str, int]) -> pl.DataFrame:
    """Lay lines out as a frame of text columns."""
    schema = {
        key: pl.Int32(),
        "line_struck": pl.Boolean(),
        "spilled": pl.Boolean(),
        "line_doubt": pl.String(),
        "read_as": pl.String(),
        "state": pl.String(),
        **{f"{name}_line": pl.Int32() for name in BESIDE},
        **{f"{name}_line_suffix": pl.String() for name in BESIDE},
        **{f"raw_{name}": pl.String() for name in fields},
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


_COLUMN_TEXTS = (*(n for n in RESULT_FIELDS if n != "qualifier"), "replicate", "treatment")
BESIDE = ("uncertainty", "deviation", "lod", "loq", "limit", "unit")
ATTACHED = ("unit", "lod", "loq", "limit", "uncertainty", "deviation", "qualifier")


def column_schema() -> dict[str, pl.DataType]:
    """The columns that describe the columns of results."""
    return {
        "column": pl.Int32(),
        **{f"raw_{n}": pl.String() for n in _COLUMN_TEXTS},
        "spread": pl.String(),
        "version": pl.String(),
        "read_as": pl.String(),
        "state": pl.String(),
        "column_struck": pl.Boolean(),
        "other_unit": pl.String(),
        **{f"{n}_at": pl.Int32() for n in ATTACHED},
        **{f"{n}_suffix": pl.String() for n in ATTACHED},
    }


def _column_row(table: Table, value: ValueColumn, described: dict[str, int]) -> dict[str, object]:
    """Join what a column's own heading, its lines below and its titles say, the nearest first."""
    own, unit = heading_says(value.heading), value.says.get("sub_unit")
    below = {"unit": unit} if unit else {}
    for name, row in described.items():
        if spot := table.grid.at(row, value.column):
            below[name] = with_unit(spot.stated, label_suffix(table, row))
    says = value.says | below | own
    made: dict[str, object] = {f"raw_{n}": says.get(n) for n in _COLUMN_TEXTS}
    made |= {"raw_analyte": value.raw_analyte} | {n: says.get(n) for n in ("spread", "version")}
    state = made["raw_treatment"] = value.heading.state or value.says.get("state")
    made |= {"column": value.column, "read_as": value.heading.read_as, "state": state}
    head = table.grid.at(table.run.row, value.column)
    made |= {"column_struck": bool(head and head.struck)}
    made["other_unit"] = below.get("unit") if own.get("unit") and below.get("unit") else None
    return made | attached_places(table, value)


def attached_places(table: Table, value: ValueColumn) -> dict[str, object]:
    """Where the limits, unit and uncertainty of a column of results stand, and in which unit."""
    suffixes = table.columns.suffixes
    made: dict[str, object] = {f"{n}_at": value.attached.get(n) for n in ATTACHED}
    return made | {f"{n}_suffix": suffixes.get(value.attached.get(n, 0)) for n in ATTACHED}


def label_suffix(table: Table, row: int) -> str | None:
    """The unit in the label of a line such as "LOD (mg/L)", for its bare numbers."""
    labels = {table.columns.corner, *table.columns.fields.values()}
    spots = [s for c, s in table.grid.rows[row].items() if c in labels and s.kind == "text"]
    kind = table.grid.at(table.lines.labels.get(row, row), table.columns.kinds or 0)
    spots += [kind] if kind and kind.kind == "text" else []
    units = [u for s in spots if (u := label_unit(table.names.heading(s.text.rstrip(" :"))))]
    return units[0] if units else None
