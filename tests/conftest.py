"""How the tests share the machine; nothing here changes what a test checks."""

from __future__ import annotations

import compileall
import os
import signal
from pathlib import Path

import pytest

from pipeline.workers import Workers

ROOT = Path(__file__).parents[1]
# They start servers and wait for them: begun first, they run beside the others to the end.
WAITING = ("test_serving", "test_flows")


def pytest_configure(config: pytest.Config) -> None:
    """Compile the program once, not in each of some hundred processes where none may write."""
    config.addinivalue_line(
        "markers", "kin(name): tests of a module that share what is costly follow each other"
    )
    if not hasattr(config, "workerinput"):
        for part in ("pipeline", "schemas", "tests/corpus"):
            compileall.compile_dir(ROOT / part, quiet=2)


def pytest_sessionstart() -> None:
    """Hear Ctrl-C, which tests send, even where a shell started them deaf to it, in the background.

    And start the process of which readers are born: a load takes new readers, in the tests hundreds.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    with Workers(1):
        pass


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One more than cores, for some tests wait for other processes."""
    cores = getattr(os, "sched_getaffinity", lambda _: range(os.cpu_count() or 1))
    return len(cores(0)) + 1


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put tests that wait first and keep kin together; else leave the order, which is random."""
    first: dict[str, int] = {}
    for place, item in enumerate(items):
        first.setdefault(_kin(item), place)
    items.sort(key=lambda item: (item.path.stem not in WAITING, first[_kin(item)]))


def _kin(item: pytest.Item) -> str:
    mark = item.get_closest_marker("kin")
    return f"{item.path}::{mark.args[0]}" if mark else item.nodeid
