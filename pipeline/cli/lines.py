"""Put what became of a load into lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pipeline.cli.tables import printable
from pipeline.summaries import Loaded, LoadSummary

_COUNTS = {
    "n_results": "results",
    "n_qc": "qc",
    "n_held": "held",
    "n_not_analysed": "not analysed",
    "n_repeated": "repeated",
    "n_out_of_scope": "out of scope",
}
_MOST_SAMPLES = 10
# More files than these are not told line by line on a terminal, where the first would scroll away.
MANY = 20
_SHORT, _SHORTEST = 6, 3


def file_lines(loaded: Loaded) -> list[str]:
    """Write one file's summary line, then its notices and unknown names, indented."""
    notes = (*loaded.notices, *loaded.unknown)
    told = (*_head(loaded).splitlines(), *(f"    {note}" for note in notes))
    return [printable(text) for text in told]


def short_lines(files: Sequence[Loaded]) -> list[str]:
    """Name first what was refused and what has held values, and count the rest of many files."""
    refused = [f for f in files if f.outcome == "refused"]
    held = sorted((f for f in files if f.n_held), key=lambda f: -f.n_held)
    rest = [f for f in files if f.outcome != "refused" and not f.n_held]
    counts = {
        "known already": sum(f.outcome == "known" for f in rest),
        "with remarks": sum(bool(f.notices) for f in rest),
    }
    of_them = ", ".join(f"{n:,} {what}" for what, n in counts.items() if n)
    told = (
        *_first((_head(f) for f in refused), _SHORT, "refused"),
        *_first(map(_held_of, held), _SHORT, "with values held"),
        f"{'and ' if refused or held else ''}{len(rest):,}{' more' if refused or held else ''} loaded"
        f"{f' ({of_them})' if of_them else ''}; a line for each file: --verbose",
    )
    return [printable(line) for line in told]


def _held_of(f: Loaded) -> str:
    reasons = ", ".join(f"{n} {reason}" for reason, n in f.held_by_reason)
    return f"{f.file}: {f.n_held} held" + (f" ({reasons})" if reasons else "")


def _first(lines: Iterable[str], most: int, what: str) -> list[str]:
    """Keep the first lines and count the others."""
    told = list(lines)
    more = [f"    and {len(told) - most:,} more {what}"] if len(told) > most else []
    return told[:most] + more


def last_lines(summary: LoadSummary, *, short: bool = False) -> list[str]:
    """Write what was passed over, the samples without a lot, and the totals with what is held.

    When `short`, of what may have a line for each file only the first are written.
    """
    most = _SHORTEST if short else len(summary.sent_again + summary.amended + summary.unordered)
    told = (
        *_passed_over(summary),
        *_first(summary.sent_again, most, "that sent results again"),
        *_first(summary.amended, 2 * most, "lines on reports that were replaced"),
        *_first(summary.unordered, most, "on reports of one number"),
        *_unassigned(summary, _SHORTEST if short else _MOST_SAMPLES),
        _totals(summary),
    )
    return [printable(line) for line in told]


def _head(loaded: Loaded) -> str:
    if loaded.outcome in ("refused", "register"):
        return f"{loaded.file}: {loaded.message}"
    who = f"{loaded.lab or 'unknown laboratory'}, report {loaded.report_no or 'without number'}"
    revision = f" revision {loaded.revision}" if loaded.revision else ""
    if loaded.outcome == "known":
        return f"{loaded.file}: {who}{revision} is stored already, nothing new"
    counts = ", ".join(f"{getattr(loaded, name)} {word}" for name, word in _COUNTS.items())
    again = " is stored already, judged anew" if loaded.outcome == "renewed" else ""
    return f"{loaded.file}: {who}{revision}{again}, {loaded.layout}: {counts}"


def _passed_over(summary: LoadSummary) -> Iterator[str]:
    if names := [f.file for f in summary.files if f.outcome == "passed over"]:
        shown = ", ".join(names[:5]) + (" ..." if len(names) > 5 else "")
        yield f"{_plural(len(names), 'file')} of another kind passed over: {shown}"


def _unassigned(summary: LoadSummary, most: int) -> Iterator[str]:
    samples = summary.unassigned
    if samples.is_empty():
        return
    yield f"{_plural(samples.height, 'sample')} without a lot; name them in the register:"
    for row in samples.head(most).iter_rows(named=True):
        nearest = f'; nearest known name "{row["nearest"]}"' if row["nearest"] else ""
        lab = row["lab"] or "unknown laboratory"
        yield f'    "{row["sample_id"]}" ({lab}, {_plural(row["n_results"], "result")}{nearest})'
    if samples.height > most:
        yield f"    and {samples.height - most} more"


def _totals(summary: LoadSummary) -> str:
    new = summary.count("new")
    parts = [f"{_plural(new, 'new report')}"]
    parts += [f"{n} judged anew" for n in [summary.count("renewed")] if n]
    parts += [f"{n} known" for n in [summary.count("known")] if n]
    parts += [f"{n} refused" for n in [summary.count("refused")] if n]
    counts = ", ".join(f"{summary.total(name)} {word}" for name, word in _COUNTS.items())
    advice = "; see them with: cinderlot held" if summary.total("n_held") else ""
    return f"{', '.join(parts)}: {counts}{advice}"


def _plural(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
