"""Keep what a correction of a held value will need: its reading, and the cells around it."""

from __future__ import annotations

import polars as pl

from schemas.report import CONTEXT

_ROWS, _COLS, _LONGEST = 1, 2, 24


def keep_context(held: pl.DataFrame, readings: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    """Give each held value of one report its reading as JSON and the cells around it as text.

    `held` as HELD, `readings` as tidied (one per sheet and cell), `cells` as CELLS. Columns of
    CONTEXT. The cell itself stands between angle quotes; a line starts with its row's number.
    """
    if held.is_empty():
        return pl.DataFrame(schema=CONTEXT)
    places = held.select("held_id", "sheet", "cell").join(
        readings.with_columns(reading=pl.struct(readings.columns).struct.json_encode()).select(
            "sheet", "cell", "row", "col", "reading"
        ),
        on=["sheet", "cell"],
        maintain_order="left",
    )
    around = _around(places, cells)
    return places.join(around, on="held_id", how="left", maintain_order="left").select(
        list(CONTEXT)
    )


def _around(places: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    down = pl.DataFrame({"down": range(-_ROWS, _ROWS + 1)}, schema={"down": pl.Int32})
    across = pl.DataFrame({"across": range(-_COLS, _COLS + 1)}, schema={"across": pl.Int32})
    near = (
        places.select("held_id", "sheet", "row", "col")
        .join(down, how="cross")
        .join(across, how="cross")
        .with_columns(row=pl.col("row") + pl.col("down"), col=pl.col("col") + pl.col("across"))
        .filter(pl.col("row") > 0, pl.col("col") > 0)
    )
    shown = near.join(
        cells.select("sheet", "row", "col", "text"), on=["sheet", "row", "col"], how="left"
    ).with_columns(text=_short(pl.col("text").fill_null("")))
    own = (pl.col("down") == 0) & (pl.col("across") == 0)
    return (
        shown.with_columns(text=pl.when(own).then(pl.format("«{}»", "text")).otherwise("text"))
        .sort("held_id", "row", "col")
        .group_by("held_id", "row", maintain_order=True)
        .agg(pl.col("text").str.join(" | "))
        .with_columns(pl.format("{}: {}", "row", "text").alias("text"))
        .group_by("held_id", maintain_order=True)
        .agg(around=pl.col("text").str.join("\n"))
    )


def _short(text: pl.Expr) -> pl.Expr:
    bare = text.str.replace_all(r"\s+", " ").str.strip_chars()
    cut = pl.concat_str(bare.str.slice(0, _LONGEST - 1), pl.lit("…"))
    return pl.when(bare.str.len_chars() > _LONGEST).then(cut).otherwise(bare)
