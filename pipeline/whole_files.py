"""Write files whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path


def replace_whole(path: Path, write: Callable[[Path], object]) -> None:
    """Write a file beside its place and move it there, so that no reader sees half of it.

    The half keeps the ending, which some writers go by, and is this process's own.
    """
    half = path.with_name(f".{path.stem}.{os.getpid()}.part{path.suffix}")
    try:
        write(half)
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)
