"""Say what a load or a weekly run came to, as lines or as one JSON object, and give its exit code."""

from __future__ import annotations

import atexit
import json
import logging
import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from pipeline.cli.faults import DONE, REFUSED
from pipeline.cli.letters import conclude

if TYPE_CHECKING:
    from pipeline.flows import Sent, Week
    from pipeline.summaries import LoadSummary

_UNRECORDED = (
    "cinderlot: the Prefect server ended during the run, which was done to its end without it; "
    "Prefect's page does not show the rest."
)


class AtOnce(int):
    """The exit code of a process that has nothing more to wait for."""


def end_load(
    summary: LoadSummary, *, strict: bool = False, as_json: bool = False, verbose: bool = True
) -> int:
    """Print what a load came to; 1 when a file was refused, or values are held under `strict`."""
    held = strict and summary.total("n_held") > 0
    code = REFUSED if held or summary.count("refused") else DONE
    if as_json:
        _print_json(summary, code, {})
    else:
        _print_lines(summary, verbose)
    return code


def end_week(week: Week, *, as_json: bool = False, verbose: bool = True) -> int:
    """Print what a weekly run came to; 1 when a file was refused or a letter is not with its reader."""
    if week.unrecorded:
        print(_UNRECORDED, file=sys.stderr, flush=True)
    code = _tell_week(week, as_json, verbose)
    # Prefect would go on for minutes to ask for a server that has gone.
    return AtOnce(code) if week.unrecorded else code


def _tell_week(week: Week, as_json: bool, verbose: bool) -> int:
    refused = REFUSED if week.loaded.count("refused") else DONE
    if as_json:
        code = max(refused, conclude(week.sent, aside=True))
        _print_json(week.loaded, code, _published(week.written, week.sent))
        return code
    _print_lines(week.loaded, verbose)
    if week.written:
        print("Digest: " + ", ".join(str(path) for path in week.written), flush=True)
    return max(refused, conclude(week.sent))


def leave(code: int) -> NoReturn:
    """End this process once its exit functions have run, without waiting for threads or modules."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    logging.disable()
    atexit._run_exitfuncs()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)


def _print_lines(summary: LoadSummary, verbose: bool) -> None:
    from pipeline.cli.lines import last_lines
    from pipeline.cli.progress import is_short

    read = sum(f.outcome != "passed over" for f in summary.files)
    short = is_short(read, sys.stdout, verbose=verbose)
    print("\n".join(last_lines(summary, short=short)), flush=True)


def _print_json(summary: LoadSummary, code: int, more: dict[str, object]) -> None:
    from pipeline.summaries import as_rows, totals

    told = {
        "files": as_rows(summary),
        "passed_over": [f.file for f in summary.files if f.outcome == "passed over"],
        "totals": totals(summary),
        "amended": list(summary.amended),
        "unordered": list(summary.unordered),
        "unassigned": summary.unassigned.to_dicts(),
        **more,
        "exit_code": code,
    }
    print(json.dumps(told, ensure_ascii=False, indent=1))


def _published(written: Sequence[Path], sent: Sequence[Sent]) -> dict[str, object]:
    letters = [{"address": s.address, "outcome": s.outcome, "sentence": s.sentence} for s in sent]
    return {"digest": [str(path) for path in written], "letters": letters}
