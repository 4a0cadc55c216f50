"""Long-lived processes that read files, so that no file can take the program down with it."""

import gc
import multiprocessing
import os
import signal
import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from importlib import import_module
from types import ModuleType, TracebackType
from typing import Any, Self, TypeVar

from pebble import ProcessExpired, ProcessPool

from pipeline.errors import FileRefused

Item = TypeVar("Item")
Result = TypeVar("Result")

THREADS = "POLARS_MAX_THREADS"
SECONDS = 60
GIGABYTES = 3.0
_TURN_SECONDS = 0.2
_SILENCE = "pipeline.silence"
# What each reader would import by itself; nothing that starts threads, for a fork has none of them.
_SHARED = ("openpyxl", "pandera", "python_calamine", "rapidfuzz", "xlrd")


@dataclass(frozen=True)
class _Failure:
    """What went wrong in a worker, in a form that every process can send."""

    kind: str
    text: str


@dataclass(frozen=True)
class _Task:
    """One item under way; `again` when all workers died and it was sent a second time."""

    function: Callable[[Any], Any]
    item: Any
    seconds: float
    future: Any = None
    again: bool = False


# What helps with a file that is too large, whatever kind it is.
_SPLIT = (
    "it is far larger than a report: split it into several files of fewer lines, each with the "
    "heading, and load those"
)
_SAVE = "open it in a spreadsheet and save its tables anew as .xlsx"
_SPLIT_OR_SAVE = f"if it is far larger than a report, split it into several files; else {_SAVE}"


class Workers:
    """A pool of reader processes; a crash, a hang or a memory limit costs one item only."""

    def __init__(
        self,
        count: int | None = None,
        *,
        gigabytes: float = GIGABYTES,
        initializer: Callable[..., object] | None = None,
        initargs: tuple[Any, ...] = (),
    ) -> None:
        self.count = count or min(4, os.cpu_count() or 1)
        self.gigabytes = gigabytes
        self._start = (gigabytes, initializer, initargs)
        self._pool = self._new_pool()

    def _new_pool(self) -> Any:
        return ProcessPool(
            max_workers=self.count, initializer=_begin, initargs=self._start, context=_context()
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is None:
            self._pool.close()
        else:
            self._pool.stop()
        self._pool.join()

    def map(
        self,
        function: Callable[[Item], Result],
        items: Iterable[Item],
        *,
        seconds: float | Callable[[Item], float] = SECONDS,
    ) -> Iterator[tuple[Item, Result | FileRefused]]:
        """Apply a function to items, giving (item, result or refusal) in the items' order.

        `seconds` is the most that one item may take, or a function that tells it of an item.
        At most twice as many items as workers are under way, so that results do not pile up.
        """
        waiting: deque[_Task] = deque()
        try:
            for item in items:
                most = seconds(item) if callable(seconds) else seconds
                waiting.append(self._send(_Task(function, item, most)))
                if len(waiting) >= 2 * self.count:
                    yield self._take(waiting)
            while waiting:
                yield self._take(waiting)
        finally:
            for task in waiting:
                if task.future is not None:
                    task.future.cancel()

    def _send(self, task: _Task) -> _Task:
        future = self._pool.schedule(_run, args=(task.function, task.item), timeout=task.seconds)
        return replace(task, future=future)

    def _take(self, waiting: deque[_Task]) -> tuple[Any, Any]:
        task = waiting.popleft()
        try:
            # By turns: a Ctrl-C just before a wait is not heard until that is over.
            while not wait([task.future], timeout=_TURN_SECONDS).done:
                pass
            result = task.future.result()
        except TimeoutError:
            return task.item, self._refuse(
                task, f"took more than {task.seconds:g} s to read", _SPLIT
            )
        except BrokenProcessPool:
            return self._begin_anew(task, waiting)
        except (ProcessExpired, CancelledError):
            return task.item, self._refuse_fatal(task)
        except Exception as error:
            result = _failure(error)
        if isinstance(result, _Failure):
            return task.item, self._explain(task, result)
        return task.item, result

    def _begin_anew(self, task: _Task, waiting: deque[_Task]) -> tuple[Any, Any]:
        """Start a fresh pool after all workers died at once, and send again what was under way."""
        if task.again:
            return task.item, self._refuse_fatal(task)
        self._pool.stop()
        self._pool.join()
        self._pool = self._new_pool()
        first = self._send(replace(task, again=True))
        others = [self._send(replace(other, again=True)) for other in waiting]
        waiting.clear()
        waiting.extend([first, *others])
        return self._take(waiting)

    def _explain(self, task: _Task, failure: _Failure) -> FileRefused:
        if failure.kind == "MemoryError":
            what = f"took more than {self.gigabytes:g} GB of memory to read"
            return self._refuse(task, what, _SPLIT)
        return self._refuse(task, f"made its reader fail ({failure.kind}: {failure.text})")

    def _refuse_fatal(self, task: _Task) -> FileRefused:
        what = f"made its reader stop (damaged, or more than {self.gigabytes:g} GB of memory)"
        return self._refuse(task, what, _SPLIT_OR_SAVE)

    def _refuse(self, task: _Task, what: str, advice: str = "") -> FileRefused:
        file = str(getattr(task.item, "file", task.item))
        return FileRefused(file, f"this file {what}, so it was stopped; {advice or _SAVE}.")


def _context() -> Any:
    """Start processes afresh: a plain fork would copy the locks of threads that do not exist.

    Each reader gets one polars thread: the workers themselves are the parallel part, and the
    stacks of a thread per core would eat up the memory limit on a large machine.
    """
    methods = multiprocessing.get_all_start_methods()
    if "forkserver" not in methods:
        return multiprocessing.get_context("spawn")
    from multiprocessing import forkserver, resource_tracker

    # Readers are born deaf to Ctrl-C. The tracker's start would take that back, so it comes first.
    resource_tracker.ensure_running()
    before = os.environ.get(THREADS)
    heard = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    forkserver.set_forkserver_preload([_SILENCE, *_SHARED])
    os.environ[THREADS] = "1"
    try:
        forkserver.ensure_running()
    finally:
        del os.environ[THREADS]
        os.environ.update({} if before is None else {THREADS: before})
        signal.pthread_sigmask(signal.SIG_SETMASK, heard)
    return _Readers()


if sys.platform != "win32":
    from multiprocessing.context import ForkServerContext, ForkServerProcess

    class _Reader(ForkServerProcess):
        """A reader that does not run the caller's script again, as a fresh process otherwise does."""

        @staticmethod
        def _Popen(process_obj: Any) -> Any:
            from multiprocessing import popen_forkserver

            main = sys.modules["__main__"]
            sys.modules["__main__"] = ModuleType("__main__")
            try:
                return popen_forkserver.Popen(process_obj)
            finally:
                sys.modules["__main__"] = main

    class _Readers(ForkServerContext):
        Process = _Reader


def _begin(
    gigabytes: float, initializer: Callable[..., object] | None, initargs: tuple[Any, ...]
) -> None:
    import_module(_SILENCE)
    if initializer is not None:
        initializer(*initargs)
    # Tables are many small objects and no cycles: looking for garbage often costs a third of a read.
    gc.set_threshold(200_000, 20, 20)
    _limit_memory(gigabytes)


def _limit_memory(gigabytes: float) -> None:
    try:
        import resource
    except ImportError:
        return
    size = int(gigabytes * 2**30)
    # Of the address space half is set aside and never used: what is written to is what counts.
    limits = {resource.RLIMIT_DATA: size, resource.RLIMIT_AS: 2 * size, resource.RLIMIT_CORE: 0}
    for kind, most in limits.items():
        resource.setrlimit(kind, (most, resource.getrlimit(kind)[1]))


def _run(function: Callable[[Any], Any], item: Any) -> Any:
    """Run in the worker; whatever is raised comes back as a value that can be sent."""
    try:
        return function(item)
    except FileRefused as refusal:
        return refusal
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as error:
        return _failure(error)


def _failure(error: BaseException) -> _Failure:
    return _Failure(type(error).__name__, " ".join(str(error).split())[:200])
