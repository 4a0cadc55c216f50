"""Find the sample reports of a clone, and say what to try on them."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path

from pipeline.cli.options import STORE
from pipeline.errors import WrongUse


def find_samples() -> Path:
    """Find sample_reports/ from the current folder upwards, then beside this package.

    Raises WrongUse outside a clone.
    """
    here = Path.cwd()
    for folder in (here, *here.parents, Path(__file__).parents[2]):
        samples = folder / "sample_reports"
        if (samples / "season.toml").is_file():
            return samples
    raise WrongUse("the demo needs sample_reports/, which comes with a clone; run it inside one.")


def sample_files(samples: Path) -> list[Path]:
    """List the sample reports and their register, without the files that only tests need."""
    kinds = (".xlsx", ".csv")
    return sorted(
        path
        for path in samples.iterdir()
        if path.suffix in kinds and not path.name.endswith(".expected.csv")
    )


def next_commands(samples: Path, folder: Path) -> list[str]:
    """Say where the demo's results are and give five commands to try on them."""
    typed = Path(sys.argv[0])
    program = shlex.quote(sys.argv[0]) if typed.name == "cinderlot" else "cinderlot"
    db = f"--db {shlex.quote(str(folder / STORE.name))}"
    workbook = sample_files(samples)[0]
    if workbook.is_relative_to(Path.cwd()):
        workbook = workbook.relative_to(Path.cwd())
    return [
        "",
        f"Everything is in {folder}: open {folder / 'digest' / 'digest.html'}, then try:",
        f"  {program} flags {db}",
        f"  {program} held {db}",
        f"  {program} trend guaiacol --by vineyard {db}",
        f"  {program} preview {shlex.quote(str(workbook))}",
        f'  {program} sql "SELECT lab, count(*) AS n FROM results GROUP BY lab" {db}',
    ]
