"""Draw a trend as one page that works without a network: charts, and the same numbers as tables."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import polars as pl
import vl_convert
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from pipeline.phrases import shown_unit
from pipeline.trends.columns import ESTIMATED
from pipeline.trends.draw import (
    FAINT,
    INK,
    LOOK,
    SOFT,
    Spec,
    as_said,
    draw_key,
    draw_panel,
    panel_facts,
    panel_title,
    panels,
)  # fmt: skip

_PAINT = {INK: "currentColor", SOFT: "var(--soft)", FAINT: "var(--rule)"}
# By which the panels of a page can be chosen, and how that is called.
_CHOICES = {
    "lab": "Laboratory", "method": "Method", "matrix": "Matrix", "form": "Form", "unit": "Unit",
}  # fmt: skip


@dataclass(frozen=True)
class Panel:
    """A chart and the rows it draws; `kept` holds the values by which it can be chosen."""

    title: str
    facts: str
    unit: str
    kept: dict[str, str]
    chart: Markup
    sure: bool
    rows: list[dict[str, Any]]


def as_svg(chart: Spec) -> Markup:
    """Turn a chart into an inline SVG in the page's colours, without script or outside reference.

    Each mark carries its row as `data-row`, which the row of the table carries too.
    """
    svg = vl_convert.vegalite_to_svg(chart | {"config": LOOK})
    svg = re.sub(r' aria-label="(r\d+-\d+)"', r' data-row="\1"', svg)
    svg = re.sub(r' xmlns(?::xlink)?="[^"]*"| aria-[a-z]+="[^"]*"| role="[^"]*"', "", svg)
    for stand_in, paint in _PAINT.items():
        svg = svg.replace(f'"{stand_in}"', f'"{paint}"')
    return Markup(re.sub(r"^<svg ", '<svg aria-hidden="true" focusable="false" ', svg))


@cache
def _part(name: str) -> str:
    return files("pipeline.trends").joinpath(name).read_text(encoding="utf-8")


def _below(row: dict[str, Any], unit: str) -> str:
    """Say what belongs under a row: what is pooled, an estimate, a slope, a caution."""
    estimate = row["median_estimate"] if row["statistic"] in ESTIMATED else None
    slope = None if row["slope"] is None else f"slope {row['slope']:.3g} {unit} per year"
    ends = [row["slope_lower"], row["slope_upper"]]
    sure = "" if None in ends else f", 95 % {ends[0]:.3g} to {ends[1]:.3g}"
    said = (
        f"pooled {row['pooled']}" if row["pooled"] else None,
        None if estimate is None else f"estimate of the median {estimate:.3g} ({row['statistic']})",
        None if slope is None else f"{slope}{sure}, by chance {row['slope_p']:.2g}",
        row.get("note"),
    )
    return "; ".join(part for part in said if part)


def _panel(group: pl.DataFrame, number: int) -> Panel:
    first = group.row(0, named=True)
    unit = shown_unit(first["unit"])
    rows = as_said(group).to_dicts()
    return Panel(
        panel_title(first),
        panel_facts(first),
        unit,
        {name: first[name] or "not given" for name in _CHOICES},
        as_svg(draw_panel(group, number, titled=False)),
        group["median_confidence_lower"].count() > 0,
        [
            row | {"row": f"r{number}-{place}", "below": _below(row, unit)}
            for place, row in enumerate(rows)
        ],
    )


def _choices(drawn: list[Panel]) -> list[tuple[str, str, list[str]]]:
    """List what the panels differ in, each with its values."""
    found = {name: sorted({panel.kept[name] for panel in drawn}) for name in _CHOICES}
    return [(name, _CHOICES[name], values) for name, values in found.items() if len(values) > 1]


def render_page(
    table: pl.DataFrame, by: str, chosen: tuple[str, ...] = (), notes: tuple[str, ...] = ()
) -> str:
    """Write a trend as one HTML page; nothing in it is fetched from anywhere.

    Pointing at a mark shows its row: samples, censored values, the median's interval and where they
    come from. The tables need no script. `chosen` says what the results were narrowed to.
    """
    drawn = [_panel(group, number) for number, group in enumerate(panels(table))]
    pages = Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined
    )
    return pages.from_string(_part("trend.html.j2")).render(
        title=f"{table['analyte'][0]} by {'laboratory' if by == 'lab' else by or 'group'}",
        by="laboratory" if by == "lab" else by or "group",
        n=table["n"].sum(),
        n_censored=table["n_censored"].sum(),
        chosen=chosen,
        notes=notes,
        panels=drawn,
        choices=_choices(drawn),
        key=as_svg(draw_key()),
        dated="first_sampled_on" in table.columns,
        style=Markup(_part("trend.css")),
        script=Markup(_part("trend.js")),
    )  # fmt: skip
