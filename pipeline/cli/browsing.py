"""Commands of the analyst: the store in a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import STORE, Command, Db, SettingsFile

PORT = 8620


def page(
    port: Annotated[
        int,
        typer.Option("--port", metavar="N", min=0, max=65535, help="The port; 0: any free one."),
    ] = PORT,
    reports: Annotated[
        list[Path] | None,
        typer.Option(
            "--reports",
            metavar="DIR",
            help="Where the laboratories' files lie, to show the cells around a number; by default "
            "the store's folder and the current one. May be given more than once.",
        ),
    ] = None,
    db: Db = STORE,
    settings: SettingsFile = None,
) -> None:
    """Show the store as pages in a browser, on this machine only, read-only, until Ctrl-C.

    Filters, charts and tables of what is stored; every number leads to its cell. Loading goes on
    meanwhile: the store is open only while a page is being made.
    """
    from functools import partial

    from pipeline.flows.again import read_again
    from pipeline.page import Site, serve
    from pipeline.settings import load_settings

    folders = tuple(reports) if reports else (db.parent, Path.cwd())
    site = Site(db, load_settings(settings, db), partial(read_again, folders=folders))
    serve(site, port, lambda address: print(f"{address} shows {db}; stop with Ctrl-C", flush=True))


COMMANDS = (
    Command(page, "Show the store in a browser.", "cinderlot page --port 8620 --reports reports/"),
)
