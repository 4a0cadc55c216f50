"""The command line: each command is thin; what it does stands in the library."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def run(arguments: Sequence[str]) -> int:
    """Run a command line and give its exit code: 0 done, 1 refused, 2 wrong use, 3 nothing done."""
    from pipeline.cli import program

    return program.run(arguments)


def main() -> None:
    """Run the command line of this process and exit with its code."""
    from pipeline.cli.interrupts import heed

    heed()
    from pipeline.cli.endings import AtOnce, leave
    from pipeline.cli.faults import INTERRUPTED

    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    code = run(sys.argv[1:])
    if code == INTERRUPTED or isinstance(code, AtOnce):
        leave(code)
    sys.exit(code)
