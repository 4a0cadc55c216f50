"""Serve: load what comes into a folder, and do the weekly run when it is due.

This process only watches. Each load or weekly run is an errand done by a process of its own, which
reads the settings and vocabularies afresh and gives its memory back; the Prefect server stands all
the time. A signal is passed on to the errand, which ends between two reports.
"""

from __future__ import annotations

import multiprocessing
import os
import select
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from pipeline.errors import CinderlotError
from pipeline.inboxes import Inbox, Mark
from pipeline.schedules import last_due, next_due
from pipeline.servers import Server, has_ended
from pipeline.settings import Serving

LOOK_EVERY = 2.0
TRY_AGAIN_AFTER, LONGEST_PAUSE = 30.0, 600.0
_SIGNALS = (signal.SIGINT, signal.SIGTERM)


@dataclass(frozen=True)
class Errand:
    """What is to be done at once: files of the inbox to load, and the weekly run if it is due.

    The first errand of a process has `missed_since`: a weekly run is made up for when the last
    digest is older than that (local time).
    """

    files: frozenset[Path]
    week: bool
    missed_since: datetime | None = None

    @property
    def is_first(self) -> bool:
        """Tell whether nothing was done before it, so that what the store knows is no news."""
        return self.missed_since is not None


@dataclass(frozen=True)
class Answer:
    """What became of an errand: its exit code, and the sentence to say where it could not be done."""

    code: int
    sentence: str | None = None

    @property
    def is_done(self) -> bool:
        """Tell whether the errand was done; refused files are done with until they change."""
        return self.code in (0, 1)


Work = Callable[[Errand, Any], Answer]


@dataclass(frozen=True)
class Post:
    """What does an errand, given `told`, in a process of its own; and how a sentence is said."""

    work: Work
    told: Any
    say: Callable[[str], None]


class Signals:
    """Catch Ctrl-C and SIGTERM: `caught` is the last one; `wait` ends early when one comes."""

    def __init__(self) -> None:
        self.caught: list[int] = []
        self._woken, self._wakes = os.pipe()

    def wait(self, seconds: float) -> bool:
        """Wait; tell whether a signal has come."""
        if not self.caught and select.select([self._woken], [], [], seconds)[0]:
            os.read(self._woken, 64)
        return bool(self.caught)

    def is_caught(self) -> bool:
        """Tell whether a signal has come."""
        return bool(self.caught)

    @contextmanager
    def catching(self) -> Iterator[Signals]:
        """Catch them inside a `with`, and give the handlers back after it."""
        os.set_blocking(self._wakes, False)
        before = {number: signal.signal(number, self._note) for number in _SIGNALS}
        wakeup = signal.set_wakeup_fd(self._wakes, warn_on_full_buffer=False)
        try:
            yield self
        finally:
            signal.set_wakeup_fd(wakeup)
            for number, handler in before.items():
                signal.signal(number, handler)
            os.close(self._woken)
            os.close(self._wakes)

    def _note(self, number: int, frame: object) -> None:
        self.caught.append(number)


def keep_serving(
    inbox: Inbox, serving: Serving, post: Post, server: Server, signals: Signals
) -> int:
    """Watch and run errands until a signal comes; give its number.

    Raises CinderlotError when the Prefect server has ended by itself.
    """
    due = next_due(serving, datetime.now())
    first: datetime | None = last_due(serving, datetime.now())
    # The first errand waits until files that lie there can be told from files that grow.
    settled, last_said, pause = time.monotonic() + inbox.settle + LOOK_EVERY, "", 0.0
    while not signals.wait(pause or LOOK_EVERY):
        if has_ended(server):
            raise CinderlotError(f"The Prefect server has ended; see {server.log}.")
        files, sentence = _look(inbox)
        errand = Errand(frozenset(files), datetime.now() >= due, first)
        if files or errand.week or (first and time.monotonic() >= settled):
            answer = _send(errand, post, signals)
            sentence = answer.sentence or sentence
            if answer.is_done:
                inbox.keep(files)
                first, pause = None, 0.0
                due = next_due(serving, datetime.now()) if errand.week else due
            else:
                pause = min(max(TRY_AGAIN_AFTER, 2 * pause), LONGEST_PAUSE)
        else:
            pause = 0.0
        if sentence and sentence != last_said:
            post.say(sentence)
        last_said = sentence
    return signals.caught[0]


def _look(inbox: Inbox) -> tuple[dict[Path, Mark], str]:
    try:
        return inbox.look(time.monotonic()), ""
    except OSError as error:
        return {}, f"{inbox.folder}: {error.strerror}; waiting for the folder to come back."


def _send(errand: Errand, post: Post, signals: Signals) -> Answer:
    """Have an errand done in a process of its own; pass a signal on, and kill it at the second."""
    ours, theirs = multiprocessing.Pipe(duplex=False)
    context = multiprocessing.get_context("spawn")
    child = context.Process(target=_run, args=(theirs, errand, post.work, post.told))
    # Ctrl-C goes to every process of the terminal; neither the errand nor its readers shall heed it.
    signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        child.start()
    finally:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, [signal.SIGINT])
    theirs.close()
    heeded = 0
    while child.is_alive():
        child.join(0.2)
        if len(signals.caught) > heeded:
            heeded = len(signals.caught)
            child.terminate() if heeded == 1 else child.kill()
    answer = _receive(ours)
    if answer is None and not signals.caught:
        return Answer(3, f"cinderlot: a run ended with {child.exitcode}; it is tried again.")
    return answer or Answer(3)


def _receive(ours: Connection) -> Answer | None:
    with suppress(EOFError), ours:
        answer: Answer = ours.recv()
        return answer
    return None


def _run(theirs: Connection, errand: Errand, work: Work, told: Any) -> None:
    theirs.send(work(errand, told))
