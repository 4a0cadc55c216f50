"""How a trend stands in the terminal: one table for each group that is kept apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl


def show_trend(trend: pl.DataFrame, as_json: bool, as_csv: bool) -> None:
    """Print a trend: a heading and a table for each panel, or all of it as JSON or CSV."""
    from pipeline.cli.tables import show
    from pipeline.trends.draw import panel_facts, panel_title, panels

    if as_json or as_csv or trend.is_empty():
        show(trend, as_json, as_csv)
        return
    for place, panel in enumerate(panels(trend)):
        first = panel.row(0, named=True)
        print(f"{'' if place == 0 else chr(10)}{panel_title(first)}: {panel_facts(first)}")
        show(panel, columns=trend_columns(panel), below=_below(panel))


def _below(panel: pl.DataFrame) -> list[str]:
    return [name for name in ("pooled", "note") if name in panel.columns and panel[name].count()]


def trend_columns(panel: pl.DataFrame) -> list[str | pl.Expr]:
    """Choose what a panel's table shows: not what stands in its heading, or says nothing."""
    import polars as pl

    from pipeline.phrases import number
    from pipeline.trends.columns import ESTIMATED

    estimated = pl.col("statistic").is_in(ESTIMATED)
    estimate = pl.when(estimated).then(
        pl.coalesce(
            number(pl.col("median_estimate")), pl.format("< {}", number(pl.col("median_below")))
        )
    )
    censored = pl.format(
        "{} ({} %)", "n_censored", (100 * pl.col("share_censored")).round(0).cast(pl.Int64)
    ).alias("censored")
    ends = [
        f"{name}_{end}" for name in ("median", "minimum", "maximum") for end in ("lower", "upper")
    ]
    return [
        pl.col("by").fill_null("not given"),
        "n",
        censored,
        *(pl.col(end).round_sig_figs(3) for end in ends),
        *([estimate.alias("estimate")] if panel.select(estimated.any()).item() else []),
        *(["slope", "slope_p"] if panel["slope_p"].count() else []),
    ]
