"""How the tests are shared out."""

from __future__ import annotations

import os


def pytest_xdist_auto_num_workers() -> int:
    """Take one worker more than there are cores, for some tests only wait for other processes."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return (cores or 1) + 1
