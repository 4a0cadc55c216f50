"""Show on a terminal how far a load has come; say nothing of it elsewhere."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator

from pipeline.cli.lines import file_lines
from pipeline.cli.tables import paint
from pipeline.summaries import Loaded

Tell = Callable[[Loaded, int, int], None]


@contextlib.contextmanager
def told(what: str, *, aside: bool = False) -> Iterator[Tell]:
    """Lend a function that prints each file's lines, with a bar on stderr when it is a terminal.

    With `aside` the lines go to the error output too.
    """
    if not sys.stderr.isatty():
        yield lambda loaded, done, total: _print(loaded, aside)
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
               TimeElapsedColumn())  # fmt: skip
    console = Console(stderr=True)
    bar = Progress(*columns, console=console, transient=True, redirect_stdout=sys.stdout.isatty())
    with bar:
        task = bar.add_task(what, total=None)

        def tell(loaded: Loaded, done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)
            _print(loaded, aside)

        yield tell


def _print(loaded: Loaded, aside: bool) -> None:
    refused = loaded.outcome == "refused"
    stream = sys.stderr if refused or aside else sys.stdout
    for line in file_lines(loaded):
        print(paint(line, "red", stream) if refused else line, file=stream, flush=True)
