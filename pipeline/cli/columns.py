"""Which columns of a frame a table in the terminal shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl


def trend_columns(trend: pl.DataFrame) -> list[str | pl.Expr]:
    """Choose what a trend's table shows: not what says the same, or nothing, in every row."""
    import polars as pl

    estimate = pl.coalesce(
        pl.col("median_estimate").round_sig_figs(4).cast(pl.String),
        pl.format("< {}", pl.col("median_below").round_sig_figs(4)),
    ).alias("estimate")
    ends = [
        f"{name}_{end}" for name in ("minimum", "median", "maximum") for end in ("lower", "upper")
    ]
    apart = [
        name
        for name in ("method", "matrix", "unit", "form", "expressed_as")
        if name == "unit" or trend[name].n_unique() > 1
    ]
    return [
        "by",
        *(["lab"] if trend["lab"].n_unique() > 1 else []),
        *apart,
        "n",
        "n_censored",
        pl.col("share_censored").round(2),
        *ends,
        *((estimate, "statistic") if trend["n_censored"].sum() else ()),
        *(["slope", "slope_p"] if trend["slope_p"].count() else []),
    ]
