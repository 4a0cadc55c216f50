"""Write a trend to a file: a table or a chart, by the file's ending."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.errors import WrongUse
from pipeline.trends.columns import headings
from pipeline.trends.draw import FAINT, INK, SOFT, draw_trend
from pipeline.whole_files import replace_whole

# What is drawn on white paper, whoever opens it.
_PRINTED = {INK: "#23211e", SOFT: "#67615a", FAINT: "#ddd8cf"}
# A picture is for looking at; a longer one overruns what programs can open.
MOST_DRAWN = 400


@dataclass(frozen=True)
class Heading:
    """What a reader of the file should know: the grouping, what was chosen, what to beware of."""

    by: str = ""
    chosen: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def _check_drawn(table: pl.DataFrame) -> None:
    if table.is_empty():
        raise WrongUse("there is nothing to draw: no result fits; ask for a table to see why")
    if table.height > MOST_DRAWN:
        raise WrongUse(
            f"{table.height:,} rows are too many for one picture (at most {MOST_DRAWN}); choose"
            " fewer, such as with --vintage or --lab, or take a table (.csv, .xlsx, .parquet)"
        )


def _write_chart(table: pl.DataFrame, path: Path, heading: Heading) -> None:
    import vl_convert

    _check_drawn(table)
    text = json.dumps(draw_trend(table, heading.notes) | {"background": "#ffffff"})
    for stand_in, paint in _PRINTED.items():
        text = text.replace(stand_in, paint)
    if path.suffix.lower() == ".png":
        path.write_bytes(vl_convert.vegalite_to_png(json.loads(text), scale=3))
    else:
        path.write_text(vl_convert.vegalite_to_svg(json.loads(text)), encoding="utf-8")


def _write_page(table: pl.DataFrame, path: Path, heading: Heading) -> None:
    from pipeline.trends.page import render_page

    _check_drawn(table)
    page = render_page(table, heading.by, heading.chosen, heading.notes)
    path.write_text(page, encoding="utf-8")


def _write_workbook(table: pl.DataFrame, path: Path, heading: Heading) -> None:
    from pipeline.digest.workbook import write_table

    about = [("grouped by", heading.by)] if heading.by else []
    about += [("chosen", text) for text in heading.chosen]
    about += [("beware", text) for text in heading.notes]
    write_table(table, "trend", path, headings(table), about)


WRITERS: dict[str, Callable[[pl.DataFrame, Path, Heading], object]] = {
    ".csv": lambda table, path, _: table.write_csv(path),
    ".parquet": lambda table, path, _: table.write_parquet(path),
    ".xlsx": _write_workbook,
    ".svg": _write_chart,
    ".png": _write_chart,
    ".html": _write_page,
}


def write_trend(table: pl.DataFrame, path: Path, heading: Heading | None = None) -> None:
    """Write a trend as a table (.csv, .parquet, .xlsx) or a chart (.svg, .png, .html).

    The ending decides. A workbook, a picture and a page carry the notes of `heading`; the page works
    without a network. The file is written whole or not at all. Raises WrongUse for another ending,
    and for a chart of nothing or of too much.
    """
    writer = WRITERS.get(path.suffix.lower())
    if writer is None:
        known = ", ".join(WRITERS)
        raise WrongUse(
            f"{path.name}: a trend is written as {known}; give the file one of these endings"
        )
    replace_whole(path, lambda half: writer(table, half, heading or Heading()))
