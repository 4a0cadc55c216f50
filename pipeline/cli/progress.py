"""Show on a terminal how far a load has come; say nothing of it elsewhere."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from typing import TextIO

from pipeline.cli.lines import MANY, file_lines, short_lines
from pipeline.cli.tables import paint
from pipeline.summaries import Loaded

Tell = Callable[[Loaded, int, int], None]


@contextlib.contextmanager
def told(what: str, *, aside: bool = False, verbose: bool = True) -> Iterator[Tell]:
    """Lend a function that prints each file's lines, with a bar on stderr when it is a terminal.

    With `aside` the lines go to the error output too. Many files are told at the end, in short,
    where the lines go to a terminal, unless `verbose`.
    """
    stream = sys.stderr if aside else sys.stdout
    kept: list[Loaded] = []

    def tell(loaded: Loaded, done: int, total: int) -> None:
        if is_short(total, stream, verbose=verbose):
            kept.append(loaded)
        else:
            _print(loaded, aside)

    try:
        with _bar(what, tell) as shown:
            yield shown
    finally:
        if kept:
            print("\n".join(short_lines(kept)), file=stream, flush=True)


def is_short(files: int, stream: TextIO, *, verbose: bool) -> bool:
    """Tell whether so many files are told in short where the lines go."""
    return files > MANY and not verbose and stream.isatty()


@contextlib.contextmanager
def _bar(what: str, tell: Tell) -> Iterator[Tell]:
    if not sys.stderr.isatty():
        yield tell
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
               TimeElapsedColumn())  # fmt: skip
    console = Console(stderr=True)
    bar = Progress(*columns, console=console, transient=True, redirect_stdout=sys.stdout.isatty())
    with bar:
        task = bar.add_task(what, total=None)

        def tell_and_move(loaded: Loaded, done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)
            tell(loaded, done, total)

        yield tell_and_move


def _print(loaded: Loaded, aside: bool) -> None:
    refused = loaded.outcome == "refused"
    stream = sys.stderr if refused or aside else sys.stdout
    for line in file_lines(loaded):
        print(paint(line, "red", stream) if refused else line, file=stream, flush=True)
