"""The processes that a test has started, as the system lists them."""

from __future__ import annotations

import time
from pathlib import Path


def living(folder: Path) -> list[str]:
    """List the processes that were started for this folder and are still there."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if str(folder) in (process / "environ").read_bytes().decode(errors="replace"):
                found.append((process / "cmdline").read_text(encoding="utf-8"))
        except OSError:
            continue
    return found


def is_alone(folder: Path, seconds: float = 60) -> bool:
    """Tell whether all processes of a folder are gone, within a moment."""
    deadline = time.monotonic() + seconds
    while living(folder) and time.monotonic() < deadline:
        time.sleep(0.1)
    return living(folder) == []
