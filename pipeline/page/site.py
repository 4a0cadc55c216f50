"""What the page needs to know: which store, which settings, and how to read a file again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock
from typing import Any

import polars as pl

from pipeline.errors import FileRefused
from pipeline.settings import Settings
from pipeline.store import Browser, Kept, Store

# Give the cells of a file with these bytes (name, sha256), or say why they cannot be had.
ReadAgain = Callable[[str, str], pl.DataFrame | FileRefused]
PATIENCE = 2.0  # seconds a store that is being loaded is tried again before the page says so
MOST_REMEMBERED = 32


@dataclass(frozen=True)
class Site:
    """One store shown as pages; `read_again` opens the laboratories' own files."""

    store: Path
    settings: Settings
    read_again: ReadAgain
    remembered: dict[str, tuple[tuple[int, ...], Any]] = field(default_factory=dict, compare=False)
    opened: set[Store] = field(default_factory=set, compare=False)
    at_work: dict[str, RLock] = field(default_factory=dict, compare=False)

    @contextmanager
    def busy(self, store: Store) -> Iterator[None]:
        """Know an open store for as long as something is asked of it, to be able to break it off."""
        self.opened.add(store)
        try:
            yield
        finally:
            self.opened.discard(store)

    def break_off(self) -> None:
        """Break off all that is being asked."""
        for store in tuple(self.opened):
            store.interrupt()

    def browse(self, store: Store) -> Browser:
        """Give what answers from an open store, with what was worked out of its state before."""
        kept: Kept = self.remember("kept", lambda: store.browse().kept)
        return store.browse(kept)

    def state(self) -> tuple[int, ...]:
        """Tell one state of the store's file from another: size and instant of its parts."""
        parts = (self.store, self.store.with_name(f"{self.store.name}.wal"))
        told = (part.stat() for part in parts if part.exists())
        return tuple(n for s in told for n in (s.st_ino, s.st_size, s.st_mtime_ns))

    def remember(self, key: str, work: Callable[[], Any]) -> Any:
        """Do a piece of work once for as long as the store's file stays as it is.

        Whoever asks for the same meanwhile waits for it.
        """
        with self.at_work.setdefault(key, RLock()):
            return self._remember(key, work)

    def _remember(self, key: str, work: Callable[[], Any]) -> Any:
        state = self.state()
        known = self.remembered.get(key)
        if known is not None and known[0] == state:
            return known[1]
        made = work()
        stale = [name for name, (of, _) in list(self.remembered.items()) if of != state]
        oldest = list(self.remembered)[1 : 2 + len(self.remembered) - MOST_REMEMBERED]
        for name in (*stale, *oldest):
            self.remembered.pop(name, None)
            self.at_work.pop(name, None)
        self.remembered[key] = (state, made)
        return made
