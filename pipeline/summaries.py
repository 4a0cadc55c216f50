"""Say what became of each file of a load: counts, unknown names, what an amended report changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import polars as pl

from schemas.report import Report

_MOST_VALUES = 5
Named = Mapping[str, Any]
STORED = ("new", "renewed")
COUNTS = ("n_results", "n_qc", "n_held", "n_not_analysed", "n_repeated", "n_out_of_scope")


@dataclass(frozen=True)
class Loaded:
    """One file: `outcome` is new, renewed, known, register, refused or passed over (other kinds).

    The counts are of its values; renewed is a stored report judged anew.
    """

    file: str
    outcome: str
    message: str | None = None
    report_id: str | None = None
    lab: str | None = None
    report_no: str | None = None
    revision: str | None = None
    layout: str | None = None
    n_results: int = 0
    n_qc: int = 0
    n_held: int = 0
    n_not_analysed: int = 0
    n_repeated: int = 0
    n_out_of_scope: int = 0
    held_by_reason: tuple[tuple[str, int], ...] = ()
    unknown: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class LoadSummary:
    """A whole load: what became of each file, and what only all of them can tell.

    `unassigned` has the columns lab, sample_id, n_results, nearest; `amended` has the lines on
    each report that replaces another, `unordered` those on reports of one number that nothing
    puts in order, `sent_again` those on each file of which more is repeated
    than it could tell by itself.
    """

    files: tuple[Loaded, ...]
    unassigned: pl.DataFrame = field(default_factory=pl.DataFrame)
    amended: tuple[str, ...] = ()
    unordered: tuple[str, ...] = ()
    sent_again: tuple[str, ...] = ()

    def total(self, name: str) -> int:
        """Sum a count over the reports that this load stored, new or anew."""
        return sum(getattr(f, name) for f in self.files if f.outcome in STORED)

    def count(self, outcome: str) -> int:
        """Count the files with that outcome."""
        return sum(f.outcome == outcome for f in self.files)


def summarise(report: Report, outcome: str) -> Loaded:
    """Count a report's values and name its unknown analytes once per column."""
    went = Counter(report.outcomes)
    return Loaded(
        file=report.file,
        outcome=outcome,
        report_id=report.report_id,
        lab=report.lab,
        report_no=report.report_no,
        revision=report.revision,
        layout=report.layout,
        n_results=went["result"],
        n_qc=went["qc"],
        n_held=report.held.height,
        n_not_analysed=went["not_analysed"],
        n_repeated=went["repeated"],
        n_out_of_scope=went["out_of_scope"],
        held_by_reason=tuple(sorted(Counter(report.held["reason_code"].to_list()).items())),
        unknown=unknown_names(report.held),
        notices=report.notices,
    )


def recount(
    files: Sequence[Loaded], reports: pl.DataFrame
) -> tuple[tuple[Loaded, ...], tuple[str, ...]]:
    """Count results and repeats as the view `reports` does, now that all reports are known.

    A file by itself cannot tell what another report of the laboratory has sent already. Gives the
    files, and a line for each of them where that made a difference.
    """
    counts = ("n_results", "n_repeated")
    seen = {r["report_id"]: r for r in reports.select("report_id", *counts).iter_rows(named=True)}
    recounted, lines = [], []
    for file in files:
        row = seen.get(file.report_id) if file.outcome in STORED else None
        more = row["n_repeated"] - file.n_repeated if row else 0
        if row is not None:
            file = replace(file, **{name: row[name] for name in counts})
        if more > 0:
            lines.append(
                f"{file.file}: {more} of its results were sent in another report too and count"
                f" once: {file.n_results} results, {file.n_repeated} repeated"
            )
        recounted.append(file)
    return tuple(recounted), tuple(lines)


def unknown_names(held: pl.DataFrame) -> tuple[str, ...]:
    """Name each analyte spelling that no vocabulary knows, once per sheet, with its first cell."""
    names = (
        held.filter(pl.col("reason_code") == "analyte_unknown")
        .group_by("sheet", "raw_analyte", maintain_order=True)
        .agg(pl.col("cell").first(), pl.len().alias("n"), pl.col("hint").first())
        .with_columns(pl.col("hint").fill_null(""))
    )
    return tuple(
        f'{row["sheet"]}!{row["cell"]}: unknown analyte "{row["raw_analyte"] or ""}", '
        f"{row['n']} held. {row['hint']}".rstrip()
        for row in names.iter_rows(named=True)
    )


def summarise_register(file: str, outcome: str, notices: Sequence[str]) -> Loaded:
    """Say what became of a register workbook."""
    message = "the register, stored" if outcome == "new" else "the register, nothing new"
    return Loaded(file, "register", message, notices=tuple(notices))


def amendments(
    amended: pl.DataFrame, files: Sequence[Loaded], reports: pl.DataFrame
) -> tuple[str, ...]:
    """Say what the reports of this load changed against those they replace.

    `amended` has a row per value that differs: report_id, old_report_id, lab, report_no, revision,
    change (changed, added, withdrawn), sample_id, analyte, raw_before, raw_now. `reports` as the view.
    """
    new = [f.report_id for f in files if f.outcome in STORED]
    known = {row["report_id"]: row for row in reports.iter_rows(named=True)}
    pair = ("report_id", "old_report_id")
    loaded = amended.filter(pl.any_horizontal(pl.col(name).is_in(new) for name in pair))
    told = {
        (str(newer), str(older)): values
        for (newer, older), values in loaded.partition_by(*pair, as_dict=True).items()
    }
    alike = {
        (newer, row["supersedes"]): amended.clear()
        for newer, row in known.items()
        if row["supersedes"] and not {newer, row["supersedes"]}.isdisjoint(new)
    }
    return tuple(
        line
        for (newer, older), values in {
            **told,
            **{k: v for k, v in alike.items() if k not in told},
        }.items()
        for line in _amendment(known[newer], known.get(older, {}), values)
    )


def quality_rows(summary: LoadSummary) -> list[dict[str, object]]:
    """Give the quality of a load's data as plain rows, one per file that was read.

    What is looked for stands first, for Prefect's page cuts wide tables off on the right: refused
    files, then those with most values held. A file that is no report is named by its file. `values`
    is the sum of the six counts.
    """
    read = [f for f in summary.files if f.outcome != "passed over"]
    worst = sorted(read, key=lambda f: (f.outcome != "refused", -f.n_held, f.file))
    return [_quality_row(f) for f in worst]


def _quality_row(f: Loaded) -> dict[str, object]:
    revision = f"rev. {f.revision}" if f.revision not in (None, "0") else None
    refused = "refused: see message" if f.outcome == "refused" else ""
    counts = {name.removeprefix("n_").replace("_", " "): getattr(f, name) for name in COUNTS}
    first = {
        "report": " ".join(filter(None, (f.lab, f.report_no, revision))) or f.file,
        "values": sum(counts.values()),
        "results": counts["results"],
        "held by reason": refused or _held_by_reason(f),
        "outcome": f.outcome,
        "message": f.message or "",
    }
    return {**first, **{n: c for n, c in counts.items() if n not in first}, "file": f.file}


def _held_by_reason(f: Loaded) -> str:
    """Say how many values are held and why; empty where none is."""
    return ", ".join(f"{n} {reason.replace('_', ' ')}" for reason, n in f.held_by_reason)


def totals(summary: LoadSummary) -> dict[str, int]:
    """Count a load's files by outcome, and the values of what it stored."""
    outcomes = ("new", "renewed", "known", "register", "refused")
    return {
        **{outcome: summary.count(outcome) for outcome in outcomes},
        **{name: summary.total(name) for name in COUNTS},
    }


def as_rows(summary: LoadSummary) -> list[dict[str, object]]:
    """Give a load as plain rows, one per file that was read: every field of Loaded."""
    read = (f for f in summary.files if f.outcome != "passed over")
    return [{**asdict(f), "held_by_reason": dict(f.held_by_reason)} for f in read]


def _amendment(new: Named, old: Named, values: pl.DataFrame) -> list[str]:
    who = f"{new['lab'] or 'unknown laboratory'}, report {_called(new)}"
    kinds = values["change"].value_counts().sort("change").rows()
    lines = [
        f"    {row['change']}: {row['sample_id']} {row['analyte']} "
        f"{row['raw_before'] or 'nothing'} -> {row['raw_now'] or 'nothing'}"
        for row in values.head(_MOST_VALUES).iter_rows(named=True)
    ]
    more = [f"    and {values.height - _MOST_VALUES} more"] if values.height > _MOST_VALUES else []
    changes = ", ".join(f"{n} {kind}" for kind, n in kinds) or "no value differs"
    return [f"{who} replaces {_replaced(new, old)}: {changes}", *lines, *more]


def _called(report: Named) -> str:
    revision = f" revision {report['revision']}" if report["revision"] else ""
    return f"{report['report_no']}{revision}"


def _replaced(new: Named, old: Named) -> str:
    """Name the replaced report: by its number where that is another one, else by its revision."""
    if old and old["report_no"] != new["report_no"]:
        return f"report {_called(old)}"
    return f"its revision {old['revision']}" if old and old["revision"] else "an earlier one"
