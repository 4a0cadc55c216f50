"""Read what a row of quality control says of itself: its parent, what was added, what is expected.

It stands in columns of its own, or in the remark or the name: "target 10.0", "of 61204",
"61204 + 20.0", "spike +20 ug/L of HK25-0406", "S2 dup".
"""

from __future__ import annotations

import re

import polars as pl

from pipeline.readers import Readers
from pipeline.units import unit_table
from schemas.report import CONTROLS
from schemas.vocabulary import Vocabulary, squash

_NUMBER = r"(?<![\w.,])(?P<number>\d+(?:[.,]\d+)?)(?!\d)"
_UNIT = r"\s*(?P<unit>[nuµμm]?g\s*/\s*(?:m?l|hl|kg|g)\b)?"
_AMOUNT = {
    "expected": re.compile(
        r"\b(?:target|expected|assigned|nominal|certified|true|cible|attendue?|esperado|atteso"
        rf"|sollwert)(?:\s+value)?\s*[:=]?\s*{_NUMBER}{_UNIT}",
        re.IGNORECASE,
    ),
    "added": re.compile(
        rf"(?:\+|\b(?:spiked?|fortified|added|addition)(?:\s+(?:with|at|of))?)\s*[:=+]?\s*{_NUMBER}"
        rf"{_UNIT}",
        re.IGNORECASE,
    ),
    "assigned_uncertainty": re.compile(
        r"\bu\s*(?:\(\s*x?_?pt\s*\)|_?x?_?pt)\s*[:=]?\s*" + _NUMBER + _UNIT, re.IGNORECASE
    ),
    "assigned_deviation": re.compile(
        r"(?:\bsigma(?:\s*pt)?|\u03c3(?:\s*pt)?)\s*[:=]?\s*" + _NUMBER + _UNIT,
        re.IGNORECASE,
    ),
}
_PARENT = (
    re.compile(r"\b(?:of|parent(?: sample)?:?)\s+(?P<name>[\w][\w./#-]*\w)", re.IGNORECASE),
    re.compile(r"^\s*(?P<name>(?=\D*\d)[\w][\w./# -]*?\w)\s*\+\s*\d"),
)
_TEXTS = ("raw_qualifier", "raw_sample_name", "raw_sample")


def read_controls(readings: pl.DataFrame, readers: Readers) -> pl.DataFrame:
    """Add what rows of quality control say of themselves: the columns of CONTROLS.

    All are null for samples, and where nothing is printed. Amounts are in the stored unit; one
    without a unit is in the unit of its value. A comma before three digits is not read: it may part
    thousands.
    """
    controls = readings.filter(pl.col("qc_kind").is_not_null())
    empty = [pl.lit(None, dtype).alias(name) for name, dtype in CONTROLS.items()]
    if controls.is_empty():
        return readings.with_columns(empty)
    columns = [f"raw_{name}" for name in CONTROLS] + list(_TEXTS)
    rows = controls.select(columns).unique()
    found = [read_control(row, readers.names.vocabulary) for row in rows.iter_rows(named=True)]
    table = pl.concat([rows, pl.DataFrame(found, schema=_FOUND)], how="horizontal")
    units = unit_table(pl.concat([table[f"{n}_unit"] for n in _AMOUNT]), readers.names)
    for name in _AMOUNT:
        factor = units.select(
            pl.col("raw_unit").alias(f"{name}_unit"), pl.col("factor").alias(f"{name}_factor")
        )
        table = table.join(factor, on=f"{name}_unit", how="left", maintain_order="left")
    return (
        readings.join(table, on=columns, how="left", maintain_order="left", nulls_equal=True)
        .with_columns(
            pl.when(_is_control()).then(_in_stored_unit(name)).alias(name) for name in _AMOUNT
        )
        .with_columns(expected=_expected_amount())
        .with_columns(parent_sample=pl.when(_is_control()).then("parent_sample"))
        .drop(f"{name}_{part}" for name in _AMOUNT for part in ("unit", "factor"))
    )


_FOUND: dict[str, pl.DataType] = {
    "parent_sample": pl.String(),
    **{n: pl.Float64() for n in _AMOUNT},
    **{f"{n}_unit": pl.String() for n in _AMOUNT},
}


def _is_control() -> pl.Expr:
    return pl.col("qc_kind").is_not_null()


def _in_stored_unit(name: str) -> pl.Expr:
    return pl.col(name) * pl.coalesce(f"{name}_factor", "unit_factor")


def _expected_amount() -> pl.Expr:
    """Drop an expected value without unit beside a recovery in percent: 100 is no amount."""
    bare = (pl.col("unit") == "%") & pl.col("expected_factor").is_null()
    return pl.when(~bare.fill_null(False)).then("expected")


def read_control(
    printed: dict[str, str | None], words: Vocabulary
) -> dict[str, str | float | None]:
    """Read one distinct row: the columns of its own first, then remark and names."""
    texts = [text for name in _TEXTS if (text := printed[name])]
    found: dict[str, str | float | None] = {
        "parent_sample": printed["raw_parent_sample"] or _parent(texts, words)
    }
    for name, pattern in _AMOUNT.items():
        own = re.search(_NUMBER + _UNIT, printed[f"raw_{name}"] or "", re.IGNORECASE)
        match = own or next((m for text in texts if (m := pattern.search(text))), None)
        found[name] = _number(match["number"]) if match else None
        found[f"{name}_unit"] = match["unit"] if match else None
    return found


def _number(printed: str) -> float | None:
    whole, comma, rest = printed.partition(",")
    return None if comma and len(rest) == 3 and whole != "0" else float(printed.replace(",", "."))


def _parent(texts: list[str], words: Vocabulary) -> str | None:
    for pattern in _PARENT:
        if match := next((m for text in texts if (m := pattern.search(text))), None):
            return match["name"]
    return next((bare for text in texts[-2:] if (bare := _without_words(text, words))), None)


def _without_words(name: str, words: Vocabulary) -> str | None:
    """Take the word for a duplicate or a spike off a name: "S2 dup" is of S2."""
    parts = [p for p in re.split(r"[\s_()]+|(?<=\w)[-/](?=[A-Za-z]+$)", name) if p]
    ends = ("duplicate", "spike")
    rest = [p for p in parts if words.row_ends.get(squash(p)) not in ends]
    is_made_of = len(rest) < len(parts) and any(any(c.isdigit() for c in p) for p in rest)
    return " ".join(rest) if is_made_of else None
