"""Match the lines of a review workbook with what is held, and say which of them cannot be used."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.readers import Readers
from pipeline.review.entries import YES
from pipeline.review.faults import Fault
from pipeline.review.given import Said, read_given
from pipeline.review.groups import BY_DATE, BY_SAMPLE, with_groups
from pipeline.review.parse import Line, Review, plain
from pipeline.review.sheets import CHECKED, GROUPS, VALUES
from pipeline.review.suspected import Row, hindrance
from pipeline.settings.reading import did_you_mean
from schemas.settlements import CONFIRMABLE, GIVEN, GIVES_RESULT, SETTLED

# Per report, the names of samples that a correction may give: its own, and the register's.
Samples = Mapping[str, frozenset[str]]


@dataclass(frozen=True)
class Decision:
    """One decision on one held value; `at` is the line it was written on."""

    held_id: str
    at: str
    said: Said
    printed: str | None = None


@dataclass(frozen=True)
class Decided:
    """What can be stored, what is stored already, what cannot be used, how many were left open."""

    new: tuple[Decision, ...]
    known: tuple[Decision, ...]
    faults: tuple[Fault, ...]
    left_open: int


def decide(review: Review, held: pl.DataFrame, readers: Readers, samples: Samples) -> Decided:
    """Settle which decision counts for each line, and check it against the store.

    `held` as the store gives what can be settled. A filled line of a value goes before the line of
    its group, even where it cannot be used.
    """
    rows = {row["held_id"]: row for row in with_groups(held).iter_rows(named=True)}
    groups, faults = _groups(review, readers)
    seen = Counter(line.key for line in review.values)
    taken: list[Decision] = []
    used: set[str] = set()
    left_open = 0
    for line in review.values:
        row = rows.get(line.key)
        group = groups.get(row["group"]) if row and not line.given else None
        if not line.given and group is None:
            left_open += bool(row and row["is_current"] and row["status"] not in SETTLED)
            continue
        found = _decision(line, row, group, readers, twice=seen[line.key] > 1)
        if isinstance(found, Decision) and row:
            found = _with_known_sample(found, row, samples)
        used |= {group[0].key} if group else set()
        if isinstance(found, Fault):
            faults.append(found)
        else:
            taken.append(found)
    faults += [
        Fault(line.at("group"), "no line of the sheet held values is left to this group")
        for key, (line, _) in groups.items()
        if key not in used
    ]
    faults += [
        Fault(at, f"this sheet is not read; decide in the sheets {VALUES} and {GROUPS}")
        for at in review.strays
    ]
    lone = _lone_replicates(taken, rows)
    faults += lone.values()
    return _sorted_out([d for d in taken if d.held_id not in lone], rows, faults, left_open)


def _groups(review: Review, readers: Readers) -> tuple[dict[str, tuple[Line, Said]], list[Fault]]:
    groups: dict[str, tuple[Line, Said]] = {}
    faults: list[Fault] = []
    for line in (line for line in review.groups if line.given):
        said = read_given(line, readers)
        if not isinstance(said, Fault) and line.key in groups:
            said = Fault(line.at("group"), f"{line.key} is decided twice in this sheet")
        if isinstance(said, Fault):
            faults.append(said)
        else:
            groups[line.key] = (line, said)
    return groups, faults


def _decision(
    line: Line,
    row: Row | None,
    group: tuple[Line, Said] | None,
    readers: Readers,
    *,
    twice: bool,
) -> Decision | Fault:
    at = group[0].at("group") + f" for {line.at('held_id')}" if group else line.at("held_id")
    if fault := _misplaced(line, row, at, twice=twice):
        return fault
    assert row is not None
    said = group[1] if group else read_given(line, readers)
    if isinstance(said, Fault):
        return said
    if group and said.given["corrected_sample"] and row["reason_code"] not in BY_SAMPLE:
        return Fault(at, "one sample for a whole group would mix samples; give it line by line")
    if said.decision == "confirm" and row["reason_code"] not in CONFIRMABLE:
        return Fault(
            at if group else line.at("decision"),
            f"confirm goes with {', '.join(CONFIRMABLE)} only, and this value is held as "
            f"{row['reason_code']}; write correct, and what is right",
        )
    if not _is_same(said, row) and (why := hindrance(said, row)):
        return Fault(at, why)
    if group and said.given["corrected_date"] and row["reason_code"] not in BY_DATE:
        return Fault(at, "one date for a whole group would mix samples; give it line by line")
    if said.decision in GIVES_RESULT and row["reading"] is None and not row["is_stored"]:
        return Fault(
            at, f"{row['file']} was loaded before corrections were possible; load it once more"
        )
    return Decision(line.key, at, _with_own_mark(said, row), row["raw_analyte"])


def _with_own_mark(said: Said, row: Row) -> Said:
    """Mark what is only said to be a replicate by its cell, which no other value of the report has."""
    if said.given["corrected_replicate"] != YES:
        return said
    mark = f"{row['sheet']}!{row['cell']}"
    return replace(said, given={**said.given, "corrected_replicate": mark})


def _lone_replicates(taken: Sequence[Decision], rows: Mapping[str, Row]) -> dict[str, Fault]:
    """Refuse a replicate while another value of its sample waits, which would count without it."""
    decided = {d.held_id for d in taken if d.said.decision != "ask"}
    doubles: dict[tuple[str, str], list[Row]] = {}
    for row in rows.values():
        if row["reason_code"] == "duplicate":
            doubles.setdefault((row["report_id"], row["reason"]), []).append(row)
    faults = dict[str, Fault]()
    for decision in taken:
        row = rows[decision.held_id]
        waits = [
            f"{other['sheet']}!{other['cell']}"
            for other in doubles.get((row["report_id"], row["reason"]), [])
            if other["status"] not in SETTLED and other["held_id"] not in decided
        ]
        if decision.said.given["corrected_replicate"] and waits:
            faults[decision.held_id] = Fault(
                decision.at,
                f"half-filled: {', '.join(waits)} stands beside this value and waits; write yes "
                "under replicate there too, or dismiss it",
            )
    return faults


def _with_known_sample(found: Decision, row: Row, samples: Samples) -> Decision | Fault:
    name = found.said.given["corrected_sample"]
    known = samples.get(row["report_id"], frozenset())
    if name is None or name in known:
        return found
    near = did_you_mean(name, sorted(known)) if known else ""
    return Fault(
        found.at,
        f'sample "{name}" stands neither in the report nor in the register{near}; a new one goes '
        "into the register first",
    )


def _misplaced(line: Line, row: Row | None, at: str, *, twice: bool) -> Fault | None:
    if not line.key:
        return Fault(at, "the held_id is missing; take it from a workbook exported anew")
    if row is None:
        return Fault(at, f"stale: {line.key} is not held, or no longer; export a new workbook")
    if twice:
        return Fault(at, f"{line.key} stands on more than one line; keep one of them")
    for heading, column in CHECKED.items():
        if not _is_alike(line.shown.get(heading, ""), plain(row[column])):
            return Fault(
                line.at(heading),
                f'{heading} is "{line.shown.get(heading, "")}", but {line.key} is '
                f'"{plain(row[column])}"; lines may have been sorted apart: export a new workbook',
            )
    if not row["is_current"]:
        return Fault(at, f"stale: a newer report replaces {row['file']}; export a new workbook")
    return None


def _is_alike(shown: str, known: str) -> bool:
    """Tell whether a text is the same; "4.0" too, where the spreadsheet made the number 4 of it."""
    try:
        return shown == known or float(shown) == float(known)
    except ValueError:
        return False


def _sorted_out(
    taken: Sequence[Decision], rows: Mapping[str, Row], faults: list[Fault], left_open: int
) -> Decided:
    new, known = list[Decision](), list[Decision]()
    for decision in taken:
        row = rows[decision.held_id]
        if _is_same(decision.said, row):
            known.append(decision)
        elif row["status"] in SETTLED or (
            row["status"] == "asked" and decision.said.decision == "ask"
        ):
            when = f"{row['settled_at']:%Y-%m-%d}"
            faults.append(Fault(
                decision.at,
                f"stale: {row['status']} by {row['who']} on {when}; to decide anew, first: "
                f"cinderlot held --undo {decision.held_id}",
            ))  # fmt: skip
        else:
            new.append(decision)
    return Decided(tuple(new), tuple(known), tuple(faults), left_open)


def _is_same(said: Said, row: Row) -> bool:
    same = all(row[name] == said.given.get(name) for name in GIVEN)
    return bool(same and row["decision"] == said.decision)
