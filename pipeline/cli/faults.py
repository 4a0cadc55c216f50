"""Turn whatever goes wrong into one sentence and an exit code; never a traceback."""

from __future__ import annotations

import errno
import os
import sys
import tempfile
import traceback
from collections.abc import Callable
from pathlib import Path

from typer.exceptions import TyperException

from pipeline.errors import BadSettings, CinderlotError, FileRefused, StoreBusy, WrongUse

DONE, REFUSED, WRONG_USE, NOTHING_DONE, INTERRUPTED = 0, 1, 2, 3, 130
_STOPPED = "stopped; every report is stored whole or not at all."
_CODES: tuple[tuple[type[CinderlotError], int], ...] = (
    (FileRefused, REFUSED),
    (WrongUse, WRONG_USE),
    (BadSettings, WRONG_USE),
    (StoreBusy, NOTHING_DONE),
)
# What is wrong with the place, not with the program.
_UNWRITABLE = (errno.ENOSPC, errno.EACCES, errno.EROFS, errno.ENAMETOOLONG)


def guarded(work: Callable[[], object]) -> int:
    """Run the work and give its exit code; say in a sentence what went wrong."""
    try:
        code = work()
        sys.stdout.flush()
        if code == INTERRUPTED:  # What typer makes of Ctrl-C.
            return _say(_STOPPED, INTERRUPTED)
        return code if isinstance(code, int) else DONE
    except BrokenPipeError:
        _forget_output()
        return DONE
    except KeyboardInterrupt:
        return _say(_STOPPED, INTERRUPTED)
    except CinderlotError as error:
        return _say(str(error), exit_code(error))
    except TyperException as error:
        return _say(_advice(error), WRONG_USE)
    except Exception as error:
        if isinstance(error.__cause__, KeyboardInterrupt):  # While a compiled module was imported.
            return _say(_STOPPED, INTERRUPTED)
        return _say(explain_unexpected(error), NOTHING_DONE)


def exit_code(error: CinderlotError) -> int:
    """Give the exit code of an error: 1 refused, 2 wrong use, 3 nothing was done."""
    return next((code for kind, code in _CODES if isinstance(error, kind)), NOTHING_DONE)


def _advice(error: TyperException) -> str:
    context = getattr(error, "ctx", None)
    where = context.command_path if context else "cinderlot"
    text = getattr(error, "format_message", lambda: str(error))()
    return f"{text} See: {where} --help"


def explain_unexpected(error: Exception) -> str:
    """Say in a sentence what nobody thought of; the details go into a file that it names."""
    if isinstance(error, OSError) and error.errno in _UNWRITABLE:
        where = f"{error.filename}: " if error.filename else ""
        return f"{where}{os.strerror(error.errno)}; nothing more was done."
    handle, name = tempfile.mkstemp(prefix="cinderlot-", suffix=".log", text=True)
    os.close(handle)
    Path(name).write_text("".join(traceback.format_exception(error)), encoding="utf-8")
    return f"an unexpected {type(error).__name__}; details are in {name}."


def _say(sentence: str, code: int) -> int:
    print(f"cinderlot: {sentence}", file=sys.stderr)
    return code


def _forget_output() -> None:
    # Python flushes stdout once more at exit and would complain about the closed pipe.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
