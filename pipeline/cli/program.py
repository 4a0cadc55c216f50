"""All commands in one program.

Only typer and the standard library are imported here, so that `--help` is quick.
"""

from __future__ import annotations

from collections.abc import Sequence

import typer

from pipeline.cli import asking, browsing, feeding, serving
from pipeline.cli.faults import guarded

app = typer.Typer(
    name="cinderlot",
    help="Wildfire-smoke compounds in wine: laboratory spreadsheets in, one store, flags and a "
    "weekly digest out.",
    epilog="First steps: cinderlot demo. Which version: cinderlot --version. Exit codes: 0 done; "
    "1 a file was refused (the others are stored), or values are held under --strict; 2 wrong use; "
    "3 nothing was done, such as when the store is locked; 130 stopped with Ctrl-C.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

ALL = (*feeding.COMMANDS, *serving.COMMANDS, *asking.COMMANDS, *browsing.COMMANDS)

for command in ALL:
    app.command(short_help=command.does, epilog=f"Example: {command.example}")(command.work)


def run(arguments: Sequence[str]) -> int:
    """Run a command line and give its exit code: 0 done, 1 refused, 2 wrong use, 3 nothing done."""
    if list(arguments) == ["--version"]:
        return guarded(_print_version)
    words = list(arguments) or ["--help"]
    return guarded(lambda: app(words, prog_name="cinderlot", standalone_mode=False))


# Not an option of typer's, which would load its validation library first: 0.3 s instead of 0.1.
def _print_version() -> None:
    from importlib.metadata import PackageNotFoundError, version

    try:
        print(f"cinderlot {version('cinderlot')}")
    except PackageNotFoundError:
        print("cinderlot, not installed: run from its source")
