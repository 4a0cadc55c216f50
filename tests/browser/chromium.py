"""Find Chromium and start it so that it speaks to this machine only."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Browser

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
# Without these it asks its maker for updates at every start.
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


def find_chromium() -> str | None:
    """Give the path of a Chromium, null when there is none."""
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)


@contextmanager
def started_chromium() -> Iterator[Browser]:
    """Start Chromium for as long as the `with` lasts."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        chromium = player.chromium.launch(executable_path=find_chromium(), args=FLAGS)
        yield chromium
        chromium.close()
