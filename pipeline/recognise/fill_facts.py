"""Bring what lists of samples and tables of limits say to the lines and columns of results."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from pipeline.readers import Readers
from pipeline.recognise.side_tables import SideTable, limit_facts, sample_facts
from schemas.frames import SAMPLE_FIELDS

_LIMITS = ("lod", "loq", "limit")
Limits = Mapping[tuple[str, str | None], Mapping[str, str]]


def fill_facts(
    lines: pl.DataFrame,
    columns: pl.DataFrame,
    fixed: Mapping[str, str],
    tables: list[SideTable],
    readers: Readers,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Fill the fields that a table of results leaves open from the side tables of the report.

    A sample is found by any of its printed names or numbers; the client's reference then names it.
    A limit is found by analyte and form; one given for no form holds for each.
    """
    lines = _fill_samples(lines, sample_facts(tables))
    limits = limit_facts(tables, readers)
    if not limits:
        return lines, columns
    if "raw_analyte" in lines.columns:
        return _fill_limits(lines, limits, fixed, readers), columns
    return lines, _fill_limits(columns, limits, fixed, readers)


def _fill_samples(lines: pl.DataFrame, facts: Mapping[str, Mapping[str, str]]) -> pl.DataFrame:
    keys = [n for n in ("raw_lab_sample", "raw_sample") if n in lines.columns]
    if not facts or not keys:
        return lines
    rows = [_described(row, keys, facts) for row in lines.iter_rows(named=True)]
    new = {f"raw_{n}": pl.String() for n in SAMPLE_FIELDS if any(f"raw_{n}" in r for r in rows)}
    return pl.DataFrame(rows, schema={**lines.schema, **new}, orient="row")


def _described(
    row: dict[str, Any], keys: Sequence[str], facts: Mapping[str, Mapping[str, str]]
) -> dict[str, Any]:
    said = next((facts[row[key]] for key in keys if row[key] in facts), None)
    if said is None:
        return row
    told = {f"raw_{n}": t for n, t in said.items() if n in SAMPLE_FIELDS and n != "sample"}
    made = {**told, **{n: v for n, v in row.items() if v is not None}}
    if name := said.get("client_sample") or said.get("sample"):
        made["raw_sample"] = name
    number = said.get("lab_sample") or said.get("sample")
    if number and number != made["raw_sample"]:
        made["raw_lab_sample"] = number
    return {n: made.get(n) for n in {*row, *made}}


def _fill_limits(
    frame: pl.DataFrame, limits: Limits, fixed: Mapping[str, str], readers: Readers
) -> pl.DataFrame:
    rows = []
    for row in frame.iter_rows(named=True):
        heading = readers.names.heading(row["raw_analyte"] or "")
        printed = row.get("raw_form") or fixed.get("form") or ""
        form = (
            heading.form or readers.names.heading(printed).form or readers.names.title(printed).form
        )
        analyte = heading.analyte or ""
        said = limits.get((analyte, form)) or limits.get((analyte, None), {})
        known = any(row.get(f"raw_{n}") for n in _LIMITS)
        rows.append(row if known else {**row, **{f"raw_{n}": t for n, t in said.items()}})
    new = {f"raw_{n}": pl.String() for n in _LIMITS}
    return pl.DataFrame(rows, schema={**frame.schema, **new}, orient="row")
