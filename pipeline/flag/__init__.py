"""Flag what a winemaker should look at: analyses -> flags.

A flag is one function in a module of the same name: its name is the flag's kind, its docstring the
help text, its keyword arguments are settings with their defaults. A new kind needs no other line.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

import polars as pl

from pipeline.analyses import Analyses
from pipeline.flag.evidence import Evidence, gather
from schemas.frames import FLAGS

if TYPE_CHECKING:
    from pipeline.settings import Settings

Kind = Callable[..., pl.DataFrame]
_ORDER = ["lot", "lab", "sample_id", "sampled_on", "kind", "analyte", "form", "method", "unit",
          "cells", "message"]  # fmt: skip


def kinds() -> Mapping[str, Kind]:
    """List the kinds of flag: every module of this package that holds a function of its name."""
    found: dict[str, Kind] = {}
    for module in iter_modules(__path__):
        function = getattr(import_module(f"{__name__}.{module.name}"), module.name, None)
        if callable(function):
            found[module.name] = function
    return found


def settings_of(kind: Kind, settings: Settings) -> dict[str, object]:
    """Pick the settings a kind asks for by the names of its keyword arguments."""
    parameters = inspect.signature(kind).parameters.values()
    wanted = [p.name for p in parameters if p.kind is inspect.Parameter.KEYWORD_ONLY]
    return {name: getattr(settings, name) for name in wanted}


def raise_flags(evidence: Evidence, settings: Settings) -> pl.DataFrame:
    """Run every kind over the evidence and return all rows, sorted, as FLAGS.

    Two kinds at a time: a chain of expressions keeps one core busy for most of its way.
    """

    def raise_kind(kind: Kind) -> pl.DataFrame:
        return kind(evidence, **settings_of(kind, settings))

    with ThreadPoolExecutor(2) as two:
        frames = list(two.map(raise_kind, kinds().values()))
    return pl.concat([pl.DataFrame(schema=FLAGS), *frames]).sort(_ORDER, maintain_order=True)


def flag(
    analyses: Analyses,
    reports: pl.DataFrame,
    interventions: pl.DataFrame,
    movements: pl.DataFrame,
    settings: Settings,
    *,
    quality: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """Judge the lots' own samples and return FLAGS.

    `analyses` are those of all results (see `pipeline.analyses`), with the instants at which they
    were loaded; `reports` needs report_id, reported_on and loaded_at; `interventions` and
    `movements` are the register's sheets (empty frames where there are none); `quality` is what
    the rules say of quality controls (QUALITY).
    Only samples of kind `lot` enter. One row per lot (else laboratory and sample), kind, analyte
    or set, form, laboratory and method is `current`, that of the latest sample; older ones are
    `superseded`. raised_at is when the newest report of the evidence was loaded, so that a rebuild
    gives the same rows.
    """
    evidence = gather(
        analyses,
        reports,
        interventions,
        movements,
        assume_uncertainty=settings.assume_uncertainty,
        quality=quality,
    )
    return raise_flags(evidence, settings)
