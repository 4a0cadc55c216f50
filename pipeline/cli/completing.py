"""What a shell may complete: analytes, and names that stand in the store."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import typer

from pipeline.cli.options import STORE
from pipeline.errors import CinderlotError

Complete = Callable[[typer.Context, str], list[str]]
# Who presses the tab key does not wait for a load to end.
_PATIENCE = 0.3


def _fitting(names: list[str], incomplete: str) -> list[str]:
    """Keep the names that go on from what was typed, as the shell wants them written."""
    found = [name for name in names if name.startswith(incomplete)]
    # Other shells quote by themselves.
    in_bash = os.environ.get("_CINDERLOT_COMPLETE") == "complete_bash"
    return [name.replace(" ", "\\ ") if in_bash else name for name in found]


def complete_analyte(incomplete: str) -> list[str]:
    """Complete the name of an analyte of the shipped vocabulary."""
    from schemas.vocabulary import load_vocabulary

    return _fitting(list(load_vocabulary().analytes), incomplete)


def _stored(*columns: str) -> Complete:
    """Complete what stands in some columns, each as `view.column`."""

    def complete(ctx: typer.Context, incomplete: str) -> list[str]:
        import polars as pl

        from pipeline.store import Store

        db = Path(ctx.params.get("db") or STORE)
        try:
            with Store(db, read_only=True, wait=_PATIENCE) as store:
                places = [column.split(".") for column in columns]
                found = [store.view(view)[name].cast(pl.String) for view, name in places]
        except CinderlotError:
            return []  # No store yet, or another process writes: nothing can be proposed.
        return _fitting(pl.concat(found).drop_nulls().unique().sort().to_list(), incomplete)

    return complete


complete_lot = _stored("lots.lot", "flags.lot")
complete_variety = _stored("lots.variety")
complete_vintage = _stored("lots.vintage")
complete_lab = _stored("reports.lab")
