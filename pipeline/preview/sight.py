"""What was seen in one file: each cell with its role, and what each value was read as."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import polars as pl

from schemas.layout import Clues


class Role(NamedTuple):
    """How a role is shown: its letter, its colour on a terminal, its fill in a copy, its meaning."""

    letter: str
    colour: str | None
    fill: str | None
    meaning: str


# Colours differ in hue and lightness; none says good or bad, and each goes with its letter.
ROLES = {
    "value": Role("V", "blue", "BBDDF2", "a result that is stored"),
    "held": Role("H", "orange", "F2A93B", "a value that is held back: see the reason"),
    "qc": Role("Q", "teal", "A9D8CC", "a result of quality control, stored apart from samples"),
    "absent": Role("E", "grey", "ECECEC", "a blank or a sign that nothing was analysed"),
    "out of scope": Role("O", "grey", "DDDDDD", "a measurand that is counted and not stored"),
    "analyte": Role("A", "purple", "E3C7DE", "a name of what was measured"),
    "unknown": Role("X", "orange", "F2A93B", "a name in no vocabulary: its values are held"),
    "sample": Role("S", "rose", "F3DCE3", "what names the sample"),
    "unit": Role("U", "sky", "DDF0F7", "a unit"),
    "limit": Role("L", "sky", "CFE3E8", "a detection, quantification or reporting limit"),
    "field": Role("F", "sky", "E4ECF7", "another heading, or a fact of a sample or result"),
    "title": Role("T", "olive", "EEE8C8", "a title that speaks for a table"),
    "metadata": Role("M", "olive", "F5F1DC", "what the report says of itself"),
    "aggregate": Role(
        "G",
        "grey",
        "E5DFD5",
        "a mean, a total, a heading repeated, or left out by a layout: not read",
    ),
    "note": Role("N", "grey", "F2F2F2", "a note"),
    "unread": Role("?", "orange", "FBE3B8", "reads as a result, but no table took it"),
    "unused": Role("-", "grey", None, "not used"),
}

# What `judged` says of a value cell; null where it does not apply.
JUDGED = {
    "outcome": pl.String(),
    "sample": pl.String(),
    "analyte": pl.String(),
    "form": pl.String(),
    "value": pl.Float64(),
    "lower": pl.Float64(),
    "upper": pl.Float64(),
    "unit": pl.String(),
    "qc_kind": pl.String(),
    "reason_code": pl.String(),
    "reason": pl.String(),
    "hint": pl.String(),
}
SEEN = {
    "sheet": pl.String(),
    "row": pl.Int32(),
    "col": pl.Int32(),
    "text": pl.String(),
    "hidden": pl.Boolean(),
    "row_span": pl.Int32(),
    "col_span": pl.Int32(),
    "role": pl.String(),
    **JUDGED,
}


@dataclass(frozen=True)
class Sight:
    """What was seen in one file: its cells with their roles and what they were read as (SEEN).

    `refusal` says why the file would not be loaded; null when it would. `clues` are what a layout
    for one of its sheets could be drafted from.
    """

    file: str
    cells: pl.DataFrame = field(default_factory=pl.DataFrame)
    layout: str | None = None
    notices: tuple[str, ...] = ()
    refusal: str | None = None
    clues: Clues | None = None


@dataclass(frozen=True)
class Piece:
    """A piece of text and the colour it should have on a terminal; null for none."""

    text: str
    colour: str | None = None


def complete(cells: pl.DataFrame) -> pl.DataFrame:
    """Give a frame of cells every column of SEEN; what is not known is null."""
    missing = [pl.lit(None, dtype).alias(n) for n, dtype in SEEN.items() if n not in cells.columns]
    return cells.with_columns(missing).select(pl.col(n).cast(t) for n, t in SEEN.items())


def with_roles(
    cells: pl.DataFrame, roles: pl.DataFrame, judged: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Give each cell its role and what it was read as; a cell that no table used is `unused`.

    `judged` has sheet, row, col and JUDGED. A value's role becomes what became of it, and a name
    whose values are all held as unknown becomes `unknown`.
    """
    place = ["sheet", "row", "col"]
    known = roles.unique(place, keep="first", maintain_order=True)
    seen = cells.join(known, on=place, how="left", maintain_order="left")
    if judged is not None:
        told = judged.unique(place, keep="first", maintain_order=True)
        seen = seen.join(told, on=place, how="left", maintain_order="left")
    whole = complete(seen.with_columns(pl.col("role").fill_null("unused")))
    return whole.with_columns(role=_refined(judged))


def _refined(judged: pl.DataFrame | None) -> pl.Expr:
    role, outcome = pl.col("role"), pl.col("outcome")
    if judged is None:
        return role
    unknown = judged.filter(pl.col("reason_code") == "analyte_unknown")["analyte"].drop_nulls()
    kinds = {"qc": "qc", "held": "held", "not_analysed": "absent", "out_of_scope": "out of scope"}
    return (
        pl.when(role == "value")
        .then(outcome.replace_strict(kinds, default="value", return_dtype=pl.String))
        .when((role == "analyte") & pl.col("text").is_in(unknown.unique().to_list()))
        .then(pl.lit("unknown"))
        .otherwise(role)
    )


def hidden_lines(cells: pl.DataFrame, axis: str) -> set[int]:
    """List the rows or columns of which every printed cell is hidden."""
    whole = cells.group_by(axis).agg(pl.col("hidden").fill_null(False).all())
    return set(whole.filter("hidden")[axis].to_list())
