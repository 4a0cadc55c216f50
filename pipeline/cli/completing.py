"""What a shell may complete: analytes, and names that stand in the store."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import typer

from pipeline.cli.options import STORE
from pipeline.errors import CinderlotError

Complete = Callable[[typer.Context, str], list[str]]
# Who presses the tab key does not wait for a load to end.
_PATIENCE = 0.3


class _Written(str):
    """A name as bash wants it written, which still begins like the name itself.

    What was typed reaches the program without its quotes and escapes, and typer keeps what begins
    with it.
    """

    _name: str

    def __new__(cls, name: str, written: str) -> _Written:
        """Take a name and how it is written."""
        made = super().__new__(cls, written)
        made._name = name
        return made

    def startswith(self, *prefix: Any) -> bool:
        """Tell whether the name itself begins so."""
        return bool(self._name.startswith(*prefix))


def _in_bash(name: str) -> str:
    """Write a name for bash: within the quote that was opened, else with escapes."""
    typed = os.environ.get("COMP_WORDS", "").split("\n")
    place = int(os.environ.get("COMP_CWORD", 0))
    quote = typed[place][:1] if place < len(typed) else ""
    if quote == "'":
        return _Written(name, name.replace("'", "'\\''"))
    special = r"[\"$`\\]" if quote == '"' else r"[^\w@%+=:,./-]"
    return _Written(name, re.sub(special, r"\\\g<0>", name))


def _fitting(names: list[str], incomplete: str) -> list[str]:
    """Keep the names that go on from what was typed, as the shell wants them written."""
    found = [name for name in names if name.startswith(incomplete)]
    # Other shells quote by themselves.
    in_bash = os.environ.get("_CINDERLOT_COMPLETE") == "complete_bash"
    return [_in_bash(name) for name in found] if in_bash else found


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
