"""Flags on one screen: what may call for something line by line, the rest counted by its kind."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

# Flags that can be told with their sentences before they run off a screen.
SCREEN = 12


def in_points(flags: pl.DataFrame) -> pl.DataFrame:
    """Give the growth of a share in percentage points, as shares are in per cent, for people."""
    import polars as pl

    grown = pl.col("kind") == "bound_growth"
    return flags.with_columns(
        pl.col("lower", "upper", "threshold") * pl.when(grown).then(100).otherwise(1),
        unit=pl.when(grown).then(pl.lit("% points")).otherwise(pl.col("unit").cast(pl.String)),
    )


def show_folded(flags: pl.DataFrame, leading: tuple[str | pl.Expr, ...]) -> None:
    """Print flags worth acting on as a line each, then how many others there are of each kind.

    `flags` as chosen and sorted, more than fit a screen; `leading` are the first columns of a line.
    Nothing is left uncounted, and the last line says how to list all of it.
    """
    import polars as pl

    from pipeline.cli.tables import show
    from pipeline.flag.wording import percent

    # Exposure is many lines and nothing to act on by itself; a note calls for nothing.
    folded = (pl.col("kind") == "above_background") | (pl.col("severity") == "note")
    worth, rest = flags.filter(~folded), flags.filter(folded)
    if worth.is_empty():
        print("nothing to act on")
    else:
        chance = percent(pl.col("probability")).alias("probability above")
        show(worth, columns=(*leading, "lower", "upper", "unit", "threshold", chance))
    if rest.height:
        print(f"\nand {rest.height} more, counted:")
        show(_counted(rest))
    print("\nwith their sentences: cinderlot flags --full; of one lot: cinderlot flags --lot L")


def _counted(rest: pl.DataFrame) -> pl.DataFrame:
    import polars as pl

    subject = pl.coalesce("lot", "sample_id")
    return (
        rest.group_by("decision", "kind", "reason")
        .agg(flags=pl.len(), lots=subject.n_unique())
        .sort("decision", "flags", "kind", "reason", descending=[False, True, False, False])
        .with_columns(pl.col("reason").str.replace_all("_", " "))
    )
