"""Read printed units and give the factor into the stored unit."""

from __future__ import annotations

import re
from dataclasses import replace

import polars as pl

from pipeline.names import Names
from pipeline.names.patterns import POWER_OF_UNIT, fold_signs, spell_powers
from schemas.vocabulary import Unit, fold_unit, squash

# What may stand beside a unit without changing it.
_WORDS = re.compile(
    r"\b(?:as|in|of|fw|fresh|weight|wine|berries|grapes|fruit|gae|equivalents?|throughout"
    r"|for all(?: (?:results|analytes|compounds|parameters|samples|values))?"
    r"|unless otherwise (?:stated|noted|indicated|specified))\b",
    re.I,
)
UNIT_COLUMNS: dict[str, pl.DataType] = {
    "raw_unit": pl.String(),
    "unit_name": pl.String(),
    "unit_kind": pl.String(),
    "factor": pl.Float64(),
}


def read_unit(printed: str, names: Names) -> Unit | None:
    """Find the unit a text states; None when there is none or more than one.

    A power of ten before a unit multiplies it; behind a sign for "times" it may have been applied.
    """
    units = names.vocabulary.units
    if power := POWER_OF_UNIT.fullmatch(fold_signs(spell_powers(printed)).strip(" ()[]")):
        unit = units.get(fold_unit(power.group(2)))
        scale = 10.0 ** int(power.group(1))
        return replace(unit, name=printed.strip(), factor=unit.factor * scale) if unit else None
    if unit := units.get(fold_unit(printed)):
        return unit
    found = names.units_in(printed)
    rest = _WORDS.sub(" ", names.without_units(printed))
    plain = not squash(rest) or names.matrix_in(rest) is not None
    return units[fold_unit(found[0])] if len(found) == 1 and plain else None


def converted(number: pl.Expr, factor: pl.Expr) -> pl.Expr:
    """Take a printed number into the stored unit, without what binary fractions add to its digits.

    0.0041 mg/L is 4.1 ug/L and not above a threshold of 4.1; the bare product is
    4.1000000000000005. A decimal number of 15 digits survives a double (IEEE 754-2019, 5.12).
    """
    return pl.when(factor == 1.0).then(number).otherwise((number * factor).round_sig_figs(15))


def unit_table(printed: pl.Series, names: Names) -> pl.DataFrame:
    """Tabulate each distinct printed unit with its name, kind and factor; null when unknown."""
    rows = []
    for text in printed.drop_nulls().unique().to_list():
        unit = read_unit(text, names)
        rows.append((text, unit.name, unit.kind, unit.factor) if unit else (text, None, None, None))
    return pl.DataFrame(rows, schema=UNIT_COLUMNS, orient="row")
