"""Compare `cinderlot load` with a bare read and insert, and with a script by hand.

    python -m tests.benchmarks.load [--workbooks 200] [--rounds 3] [--by-hand 20]

Prints medians of whole processes and their ratios. The script by hand is slow, so it runs over the
first `--by-hand` workbooks and is compared with `cinderlot load` over the same ones.
Needs the extra `bench` (pandas).
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from pipeline.store import Store
from tests.benchmarks.workbooks import draw_workbook

LOAD = "import sys; from pipeline.cli import main; sys.exit(main())"


def run(*words: str | Path) -> None:
    """Run a Python process and fail when it fails."""
    subprocess.run([sys.executable, *map(str, words)], check=True, stdout=subprocess.DEVNULL)


def median_seconds(rounds: int, once: Callable[[Path], None], folder: Path) -> float:
    """Time whole runs, each with a store of its own; give the median."""
    times = []
    for number in range(rounds):
        store = folder / f"{number}.duckdb"
        started = time.perf_counter()
        once(store)
        times.append(time.perf_counter() - started)
        store.unlink(missing_ok=True)
    return statistics.median(times)


def load(folder: Path, store: Path) -> None:
    """Load a folder with the command, as a user does."""
    run("-c", LOAD, "load", folder, "--db", store)


def stored_rows(folder: Path, scratch: Path) -> Path:
    """Load once and keep the stored rows as Parquet, for the bare baseline to insert."""
    load(folder, scratch / "rows.duckdb")
    with Store(scratch / "rows.duckdb", read_only=True) as store:
        rows = store.results()
    rows.write_parquet(scratch / "rows.parquet")
    print(f"{rows.height} results, {rows.width} columns in {len(list(folder.iterdir()))} workbooks")
    return scratch / "rows.parquet"


def compare(name: str, ours: float, baseline: float) -> None:
    """Print one ratio; below 1 cinderlot is the faster one."""
    print(f"cinderlot load {ours:.2f} s / {name} {baseline:.2f} s = {ours / baseline:.2f}")


def main() -> None:
    """Draw the workbooks, time the three ways, print medians and ratios."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--workbooks", type=int, default=200)
    words.add_argument("--rounds", type=int, default=3)
    words.add_argument("--by-hand", type=int, default=20)
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        every, few = scratch / "every", scratch / "few"
        every.mkdir()
        few.mkdir()
        for number in range(asked.workbooks):
            draw_workbook(every / f"{number:03d}.xlsx", number)
        for path in sorted(every.iterdir())[: asked.by_hand]:
            shutil.copy(path, few / path.name)
        rows = stored_rows(every, scratch)
        ours = median_seconds(asked.rounds, lambda s: load(every, s), scratch)
        bare = median_seconds(
            asked.rounds, lambda s: run("-m", "tests.benchmarks.bare", every, rows, s), scratch
        )
        compare("bare calamine read and DuckDB insert", ours, bare)
        ours = median_seconds(asked.rounds, lambda s: load(few, s), scratch)
        hand = median_seconds(
            asked.rounds, lambda s: run("-m", "tests.benchmarks.by_hand", few, s), scratch
        )
        compare(f"pandas and openpyxl by hand ({asked.by_hand} workbooks)", ours, hand)


if __name__ == "__main__":
    main()
