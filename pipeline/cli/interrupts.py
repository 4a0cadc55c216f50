"""Hear Ctrl-C wherever it comes: never in the middle of an import, and once more where it was lost."""

from __future__ import annotations

import _thread
import os
import signal
import sys
import time
from types import FrameType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sys import UnraisableHookArgs

_PAUSE_SECONDS = 0.05


def heed() -> None:
    """Let Ctrl-C raise KeyboardInterrupt, but not while a module is imported.

    A compiled module that is left half imported makes some other error of the interrupt, or ends the
    process with a fault of memory at exit. An interrupt that is raised where Python cannot pass it
    on, such as in a finalizer, is raised again a moment later. A command that a shell has started in
    the background, deaf to Ctrl-C, stays so.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        return
    signal.signal(signal.SIGINT, _interrupt)
    sys.unraisablehook = _report


def _interrupt(number: int, frame: FrameType | None) -> None:
    if _importing(frame):
        _come_again()
    else:
        raise KeyboardInterrupt


def _importing(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def _report(lost: UnraisableHookArgs) -> None:
    if lost.exc_type is KeyboardInterrupt:
        _come_again()
    else:
        sys.__unraisablehook__(lost)


# The bare thread takes no lock, which the interrupted code may be holding.
def _come_again() -> None:
    _thread.start_new_thread(_send_later, ())


def _send_later() -> None:
    time.sleep(_PAUSE_SECONDS)
    os.kill(os.getpid(), signal.SIGINT)
