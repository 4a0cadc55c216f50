"""Say what became of the letters."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.cli.faults import DONE, REFUSED

if TYPE_CHECKING:
    from pipeline.flows import Sent


def conclude(letters: Sequence[Sent], *, aside: bool = False) -> int:
    """Print a line for each letter; the exit code says whether all of them are with their readers.

    With `aside` all of it goes to the error output.
    """
    failed = [letter for letter in letters if letter.outcome in ("failed", "unsure")]
    for letter in letters:
        stream = sys.stderr if aside or letter in failed else sys.stdout
        print(f"{letter.address}: {letter.sentence}", file=stream)
    return REFUSED if failed else DONE
