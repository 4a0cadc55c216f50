"""Compare an analyte over vineyards, lots or years: one panel for each group never pooled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl
from markupsafe import Markup

from pipeline.digest.words import day, interval
from pipeline.page.asked import WORDS, Asked, Pairs, read_view
from pipeline.page.drawing import Bar, draw
from pipeline.page.filtering import form, known_values
from pipeline.page.site import Site
from pipeline.phrases import shown_unit
from pipeline.store import Store
from pipeline.store.select import VALUES
from pipeline.trends import APART, DIMENSIONS, trend

PANELS = 6
FEW_ROWS, MOST_ROWS = 30, 300
USUAL = "guaiacol"
_KEYS = ("analyte", *APART, "sample_kind")


@dataclass(frozen=True)
class Line:
    """One row of a panel's table."""

    row: str
    name: str
    link: str
    n: int
    under: str
    lowest: str
    median: str
    highest: str
    sampled: str


@dataclass(frozen=True)
class Panel:
    """The rows of one analyte, form, laboratory, method, matrix and unit, drawn and listed."""

    title: str
    facts: str
    unit: str
    chart: Markup
    lines: tuple[Line, ...]
    more: int


def compared(
    site: Site, store: Store, asked: Asked, *, estimates: bool = False
) -> tuple[Asked, pl.DataFrame]:
    """Give the view with its analytes (the usual one where none is chosen) and its trends.

    The frame is that of `trend`, one under the other for each analyte; `estimates` are in a
    download only, since a page shows none of them.
    """
    analytes = asked.chosen.get("analyte", ())
    if not analytes:
        known = [name for name in known_values(site, store)["analyte"] if name]
        analytes = (USUAL if USUAL in known or not known else known[0],)
        asked = asked.narrowed(analyte=analytes[0])

    def work() -> pl.DataFrame:
        rows = site.browse(store).for_trend(asked.selection(), asked.by)
        return pl.concat(
            trend(rows, name, asked.by, sample_kind=kind, estimates=estimates).with_columns(
                sample_kind=pl.lit(kind)
            )
            for name in analytes
            for kind in asked.selection()["sample_kind"]
            if name and kind
        )

    key = asked.link("estimates" if estimates else "trend", page=1, every=False)
    table: pl.DataFrame = site.remember(key, work)
    return asked, table


def _share(n: int, n_censored: int) -> str:
    counted = f"{n_censored} of {n}, " if n_censored else ""
    return f"{counted}{100 * n_censored / n:.0f}\u00a0%"


def _line(place: str, row: dict[str, Any], asked: Asked) -> Line:
    said = {
        end: interval(row[f"{end}_lower"], row[f"{end}_upper"], None)
        for end in ("minimum", "median", "maximum")
    }
    group = {asked.by: row["by"], **{name: row[name] for name in _KEYS if name != asked.by}}
    return Line(
        place, "not given" if row["by"] is None else row["by"],
        asked.narrowed(**group).link("/results", by="vineyard"),
        row["n"], _share(row["n"], row["n_censored"]),
        said["minimum"], said["median"], said["maximum"],
        day(row["last_sampled_on"]),
    )  # fmt: skip


def _bar(place: str, row: dict[str, Any]) -> Bar:
    return Bar(
        place, row["by"] or "not given", row["median_lower"], row["median_upper"],
        row["minimum_lower"], row["maximum_upper"],
    )  # fmt: skip


def panel(number: int, group: pl.DataFrame, asked: Asked) -> Panel:
    """Lay out the rows that may stand on one axis; the first of them where there are many."""
    first = group.row(0, named=True)
    shown = group.head(MOST_ROWS if asked.every else FEW_ROWS)
    rows = [(f"r{number}-{i}", row) for i, row in enumerate(shown.iter_rows(named=True))]
    other = first["expressed_as"] if first["expressed_as"] not in (None, first["analyte"]) else None
    facts = (
        first["lab"] or "laboratory unknown", first["method"],
        f"expressed as {other}" if other else None,
        None if first["sample_kind"] == "lot" else f"{first['sample_kind']} samples",
    )  # fmt: skip
    title = " ".join(p for p in (first["form"], first["analyte"]) if p)
    return Panel(
        f"{title}, {first['matrix'] or 'matrix not given'}",
        ", ".join(f for f in facts if f),
        shown_unit(first["unit"]),
        draw([_bar(place, row) for place, row in rows], shown_unit(first["unit"])),
        tuple(_line(place, row, asked) for place, row in rows),
        group.height - shown.height,
    )  # fmt: skip


def compare_view(site: Site, store: Store, pairs: Pairs) -> tuple[str, dict[str, Any]]:
    """Show how chosen analytes run over vineyards, lots, stages ..., with their tables."""
    # A median over a chosen range of values would say more of the range than of the wine.
    wanted = read_view(pairs).dropping(*VALUES)
    asked, table = compared(site, store, wanted)
    groups = table.partition_by(_KEYS, maintain_order=True)
    groups.sort(key=lambda g: (-int(g["n"].sum()), g.select(_KEYS).row(0, named=False)[1] or ""))
    start = (asked.page - 1) * PANELS
    some = groups[start : start + PANELS]
    return "compare", {
        "title": f"{' and '.join(filter(None, asked.chosen['analyte']))} by {WORDS[asked.by].lower()}",
        "form": form(site, store, asked, "/"),
        "is_usual": "analyte" not in wanted.chosen,
        "by": asked.by, "by_words": WORDS[asked.by].lower(),
        "dimensions": [(name, WORDS[name].lower()) for name in DIMENSIONS],
        "panels": [panel(i, group, asked) for i, group in enumerate(some)],
        "first": start + 1, "last": start + len(some), "found": len(groups),
        "before": asked.link("/", page=asked.page - 1) if asked.page > 1 else None,
        "after": asked.link("/", page=asked.page + 1) if start + PANELS < len(groups) else None,
        "all_rows": asked.link("/", page=asked.page, every=True),
        "downloads": _downloads(asked),
    }  # fmt: skip


def _downloads(asked: Asked) -> list[tuple[str, str]]:
    kinds = ("csv", "parquet", "xlsx")
    return [(kind, asked.link(f"/download/comparison.{kind}")) for kind in kinds]
