"""Watch a folder for files that are new or changed, and no longer growing.

By looking, not by the system's notices, which say nothing about folders of other machines.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import signal
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.find import is_left_out


@dataclass(frozen=True)
class Mark:
    """What changes when a file does: its size, its time, its place on the disk."""

    size: int
    changed: int
    place: int


@dataclass
class Inbox:
    """A folder, and what each file was like when it was seen and when it was read.

    Hidden files and lock files are left out, as in every load. Nothing is moved or deleted, and
    nothing is remembered beyond this process: what the store has, it knows by itself.
    """

    folder: Path
    settle: float
    seen: dict[Path, tuple[Mark, float]] = field(default_factory=dict)
    read: dict[Path, Mark] = field(default_factory=dict)

    def look(self, now: float) -> dict[Path, Mark]:
        """List the files that wait and have stayed as they are for `settle` seconds.

        `now` is in seconds of any steady clock. Raises OSError when the folder is gone.
        """
        marks = dict(_marks(self.folder))
        before, self.seen = self.seen, {}
        for path, mark in marks.items():
            old, since = before.get(path, (None, now))
            self.seen[path] = (mark, since if old == mark else now)
        self.read = {path: mark for path, mark in self.read.items() if path in marks}
        return {
            path: mark
            for path, (mark, since) in self.seen.items()
            if self.read.get(path) != mark
            and now - since >= self.settle
            and not is_being_written(path)
        }

    def keep(self, files: dict[Path, Mark]) -> None:
        """Remember that these were read as they were then, stored or refused."""
        self.read |= files


def is_being_written(path: Path) -> bool:
    """Tell whether a program has the file open for writing; false where the system cannot say."""
    if not hasattr(fcntl, "F_SETLEASE"):
        return False
    with contextlib.suppress(OSError), path.open("rb") as file:
        # Granted only when nobody writes; given back at once, so that nobody has to wait for it.
        before = signal.signal(signal.SIGIO, signal.SIG_IGN)
        try:
            fcntl.fcntl(file, fcntl.F_SETLEASE, fcntl.F_RDLCK)
            fcntl.fcntl(file, fcntl.F_SETLEASE, fcntl.F_UNLCK)
        except BlockingIOError:
            return True
        finally:
            signal.signal(signal.SIGIO, before)
    return False


def _marks(folder: Path) -> Iterator[tuple[Path, Mark]]:
    os.scandir(folder).close()
    for path in _files(folder.rglob("*")):
        if not is_left_out(path.relative_to(folder)):
            with contextlib.suppress(OSError):
                facts = path.stat()
                yield path, Mark(facts.st_size, facts.st_mtime_ns, facts.st_ino)


def _files(paths: Iterable[Path]) -> Iterator[Path]:
    return (path for path in paths if path.is_file())
