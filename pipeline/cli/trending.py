"""The command about trends: how an analyte runs over places, lots, laboratories or years."""

from __future__ import annotations

import sys
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.completing import (
    Complete,
    complete_analyte,
    complete_lab,
    complete_variety,
    complete_vintage,
)
from pipeline.cli.options import STORE, AsCsv, AsJson, Command, Db, SettingsFile
from pipeline.errors import WrongUse

if TYPE_CHECKING:
    import polars as pl

    from pipeline.trends import Choice

_LABORATORIES_DIFFER = (
    "Rows of different laboratories are not comparable with each other"
    " (Molecules 27 (2022) 4892); compare within one."
)
_POOLED = (
    "POOLED over {}: nine laboratories differed on the same samples, most for cresols and bound"
    " markers (Favell et al., Molecules 2022, 27, 4892); use these numbers for orientation only."
)
_ANONYMOUS = (
    "Names are replaced by numbers that hold within this output only. That is no guarantee: who"
    " knows the region may recognise a row by its numbers, its variety or its vintage."
)


class Grouping(StrEnum):
    """What a trend is taken over."""

    REGION = "region"
    GROWER = "grower"
    VINEYARD = "vineyard"
    BLOCK = "block"
    VARIETY = "variety"
    LOT = "lot"
    LAB = "lab"
    VINTAGE = "vintage"
    STAGE = "stage"


class Form(StrEnum):
    """In which form an analyte was measured."""

    FREE = "free"
    BOUND = "bound"
    TOTAL = "total"


class Pool(StrEnum):
    """What rows may be thrown together."""

    LAB = "lab"
    METHOD = "method"


def _several(
    name: str, metavar: str, text: str, complete: Complete | None = None
) -> typer.models.OptionInfo:
    return typer.Option(  # type: ignore[no-any-return]
        name, metavar=metavar, help=f"{text}; may be repeated.", autocompletion=complete
    )


def _day(name: str, text: str) -> typer.models.OptionInfo:
    return typer.Option(name, metavar="DATE", formats=["%Y-%m-%d"], help=text)  # type: ignore[no-any-return]


Some = list[str] | None


def trend(
    analyte: Annotated[
        str,
        typer.Argument(
            metavar="ANALYTE", help="Such as guaiacol.", autocompletion=complete_analyte
        ),
    ],
    by: Annotated[
        Grouping | None,
        typer.Option(
            "--by", metavar="WHAT", help=f"What to group by, always needed: {', '.join(Grouping)}."
        ),
    ] = None,
    form: Annotated[
        Form | None,
        typer.Option("--form", metavar="FORM", help="Only this form: free, bound or total."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="A table (.csv, .xlsx, .parquet) or a chart (.svg, .png, .html for a browser).",
        ),
    ] = None,
    vintage: Annotated[
        Some, _several("--vintage", "YEAR", "Only this vintage", complete_vintage)
    ] = None,
    variety: Annotated[
        Some, _several("--variety", "NAME", "Only this variety", complete_variety)
    ] = None,
    matrix: Annotated[Some, _several("--matrix", "NAME", "Only this, such as red wine")] = None,
    lab: Annotated[Some, _several("--lab", "NAME", "Only this laboratory", complete_lab)] = None,
    since: Annotated[datetime | None, _day("--since", "Only sampled on this day or later.")] = None,
    until: Annotated[datetime | None, _day("--until", "Only sampled up to this day.")] = None,
    pool: Annotated[
        list[Pool] | None,
        typer.Option(
            "--pool",
            metavar="WHAT",
            help="Do not keep these apart: lab or method; may be repeated.",
        ),
    ] = None,
    anonymous: Annotated[
        bool,
        typer.Option("--anonymous", help="Numbers for names of places, lots and laboratories."),
    ] = False,
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: AsJson = False,
    as_csv: AsCsv = False,
) -> None:
    """Show how an analyte runs over regions, growers, vineyards, lots, laboratories or years.

    Laboratories, methods, matrices, units and forms are kept apart.
    """
    from pipeline.cli.columns import show_trend
    from pipeline.settings import load_settings
    from pipeline.store import Store
    from pipeline.trends import Choice, Heading, choose_results, resolve_analyte, write_trend
    from pipeline.trends import trend as take_trend
    from schemas.vocabulary import load_vocabulary

    if by is None:
        raise WrongUse(f"--by is missing; name what to group by: {', '.join(Grouping)}")
    words = load_vocabulary(load_settings(settings, db).vocabulary)
    name = resolve_analyte(analyte, words)
    choice = Choice(
        tuple(vintage or ()), tuple(variety or ()), tuple(matrix or ()), tuple(lab or ()),
        since.date() if since else None, until.date() if until else None,
    )  # fmt: skip
    with Store(db, read_only=True) as store:
        rows, undated = choose_results(store, name, by.value, choice)
    pooling = tuple(one.value for one in pool or ())
    found = take_trend(
        rows, name, by.value, form.value if form else None,
        pool=pooling, anonymous=anonymous, vocabulary=words,
    )  # fmt: skip
    notes = (*_suspected(rows, form.value if form else None), *_notes(found, pooling, undated))
    if out is None:
        show_trend(found, as_json, as_csv)
    else:
        write_trend(found, out, Heading(by.value, _chosen(choice, anonymous), notes))
        print(out)
    for note in notes:
        print(note, file=sys.stderr)


def _suspected(rows: pl.DataFrame, form: str | None) -> tuple[str, ...]:
    import polars as pl

    wanted = rows.filter(pl.col("form") == form) if form else rows
    n = wanted["suspected_factor"].count()
    left = "1 result is" if n == 1 else f"{n:,} results are"
    return (f"{left} left out, for the unit may have slipped: cinderlot flags --all.",) if n else ()


def _notes(found: pl.DataFrame, pooling: tuple[str, ...], undated: int) -> tuple[str, ...]:
    from pipeline.trends import mixes_laboratories

    notes = []
    if undated:
        left = (
            "result has no day of sampling and is"
            if undated == 1
            else "results have no day of sampling and are"
        )
        notes.append(f"{undated:,} {left} left out.")
    if pooling:
        plurals = {"lab": "laboratories", "method": "methods"}
        notes.append(_POOLED.format(" and ".join(plurals[p] for p in dict.fromkeys(pooling))))
    if mixes_laboratories(found):
        notes.append(_LABORATORIES_DIFFER)
    if "note" in found.columns:
        few = found["note"].count()
        told = f" {few} of {found.height} rows stand for fewer than 3 samples." if few else ""
        notes.append(_ANONYMOUS + told)
    return tuple(notes)


def _chosen(choice: Choice, anonymous: bool) -> tuple[str, ...]:
    """Say what was chosen; a laboratory's name is no part of an anonymous file."""
    said = [
        "one laboratory" if anonymous and name == "lab" and len(values) == 1
        else f"{len(values)} laboratories" if anonymous and name == "lab"
        else f"{name}: {', '.join(values)}"
        for name, values in choice.columns().items()
    ]  # fmt: skip
    days = (("since", choice.since), ("until", choice.until))
    return (*said, *(f"{word} {day}" for word, day in days if day))


TREND = Command(
    trend,
    "Compare an analyte by vineyard, lot, year ...",
    "cinderlot trend guaiacol --by vineyard",
)
