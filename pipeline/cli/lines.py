"""Put what became of a load into lines of text."""

from __future__ import annotations

from collections.abc import Iterator

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


def file_lines(loaded: Loaded) -> list[str]:
    """Write one file's summary line, then its notices and unknown names, indented."""
    notes = (*loaded.notices, *loaded.unknown)
    told = (*_head(loaded).splitlines(), *(f"    {note}" for note in notes))
    return [printable(text) for text in told]


def last_lines(summary: LoadSummary) -> list[str]:
    """Write what was passed over, the samples without a lot, and the totals with what is held."""
    again = summary.sent_again
    told = (
        *_passed_over(summary),
        *again,
        *summary.amended,
        *summary.unordered,
        *_unassigned(summary),
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


def _unassigned(summary: LoadSummary) -> Iterator[str]:
    samples = summary.unassigned
    if samples.is_empty():
        return
    yield f"{_plural(samples.height, 'sample')} without a lot; name them in the register:"
    for row in samples.head(_MOST_SAMPLES).iter_rows(named=True):
        nearest = f'; nearest known name "{row["nearest"]}"' if row["nearest"] else ""
        lab = row["lab"] or "unknown laboratory"
        yield f'    "{row["sample_id"]}" ({lab}, {_plural(row["n_results"], "result")}{nearest})'
    if samples.height > _MOST_SAMPLES:
        yield f"    and {samples.height - _MOST_SAMPLES} more"


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
