"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

STORE = Path("cinderlot.duckdb")

Db = Annotated[Path, typer.Option("--db", metavar="FILE", help="The store.")]
SettingsFile = Annotated[
    Path | None,
    typer.Option(
        "--settings",
        metavar="FILE",
        help="The settings; by default cinderlot.toml beside the store, if there is one.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print an array of objects instead.")]
Summary = Annotated[
    bool,
    typer.Option(
        "--json",
        help="Print one JSON object instead, for scripts; the lines go to the error output.",
    ),
]
Verbose = Annotated[
    bool,
    typer.Option("--verbose", help="Print a line per file on a terminal too, however many."),
]
AsCsv = Annotated[bool, typer.Option("--csv", help="Print comma-separated values instead.")]
Paths = Annotated[list[Path], typer.Argument(metavar="PATH", help="Files or folders.")]
Out = Annotated[Path, typer.Option("--out", metavar="DIR", help="Where the digest goes.")]

Emails = Annotated[
    list[str] | None,
    typer.Option("--email", metavar="TO", help="Send it to this address; may be repeated."),
]
Send = Annotated[bool, typer.Option("--send", help="Send it to the recipients of the settings.")]
Again = Annotated[
    bool, typer.Option("--again", help="Send it even to who has this very digest already.")
]


@dataclass(frozen=True)
class Command:
    """A command: the function whose docstring is its help, that in short, and a line to try."""

    work: Callable[..., object]
    does: str
    example: str
