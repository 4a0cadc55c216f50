"""Run the checks that need a browser; fail loudly where there is none.

    python -m tests.browser

Chromium is looked for on the PATH, or named by the variable CHROMIUM. On Debian: apt-get install
chromium. Needs the extra `browser` (playwright).
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.browser.chromium import find_chromium

if __name__ == "__main__":
    if find_chromium() is None:
        sys.exit(
            "there is no Chromium on this machine, so nothing was checked; install it "
            "(Debian: apt-get install chromium) or name it in the variable CHROMIUM"
        )
    checks = [str(path) for path in sorted(Path(__file__).parent.glob("*_checks.py"))]
    sys.exit(pytest.main(["-p", "no:randomly", *checks, *sys.argv[1:]]))
