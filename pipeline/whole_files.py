"""Write files whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from pipeline.errors import CinderlotError


def replace_whole(path: Path, write: Callable[[Path], object]) -> None:
    """Write a file beside its place and move it there, so that no reader sees half of it.

    The half keeps the ending, which some writers go by, and is this process's own. Raises
    CinderlotError when there is no such folder, or a folder of that name.
    """
    if not path.parent.is_dir():
        raise CinderlotError(f"{path}: there is no folder {path.parent}; make it first")
    if path.is_dir():
        raise CinderlotError(f"{path}: this is a folder; give the name of a file")
    half = path.with_name(f".{path.stem}.{os.getpid()}.part{path.suffix}")
    try:
        write(half)
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)
