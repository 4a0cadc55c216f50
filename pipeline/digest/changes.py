"""What changed since the last digest that was published."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.digest.model import Change
from pipeline.digest.states import JUDGED, current, lot_states, with_subject
from pipeline.digest.words import interval, listed

KINDS = (
    "new", "worse", "no longer known", "better", "cleared", "decided otherwise by a revision",
    "revised by the laboratory",
)  # fmt: skip
_LOST = KINDS[2]
_KEY = ("kind", "analyte", "form")
_STATE_ORDER = {"above": 2, "undecided": 1, "below": 0}


def _standing(flags: pl.DataFrame) -> dict[str, str]:
    return dict(lot_states(flags).select("subject", "state").iter_rows())


def _above(flags: pl.DataFrame) -> dict[str, set[str]]:
    found = flags.filter(pl.col("kind").is_in(JUDGED), pl.col("decision") == "above")
    what: dict[str, set[str]] = {}
    for row in found.select("subject", *_KEY).iter_rows(named=True):
        what.setdefault(row["subject"], set()).add(subject_matter(row))
    return what


def subject_matter(row: dict[str, Any]) -> str:
    """Say what a flag is about: "free guaiacol", "summed odour activity (smoke phenols)", ..."""
    if row["kind"] == "odour_activity":
        return f"summed odour activity ({row['analyte']})"
    if row["kind"] == "bound_growth":
        return "growth of the bound share"
    name = " ".join(part for part in (row["form"], row["analyte"]) if part)
    return name if row["kind"] == "over_threshold" else f"{row['kind'].replace('_', ' ')} {name}"


def _compare(
    subject: str, was: str | None, now: str | None, gained: set[str], lost: set[str]
) -> Change | None:
    """Say how one lot moved; null when it stands as it stood.

    Cleared is only what is below now: a doubt, or no panel at all, is no clearance.
    """
    before, after = _STATE_ORDER.get(was or "", -1), _STATE_ORDER.get(now or "", -1)
    if now == "above" and was != "above":
        return Change("new", subject, f"now above: {listed(sorted(gained))}")
    if was is not None and now is None:
        return Change(_LOST, subject, f"no current panel, was {was}")
    if was == "above" and now == "undecided":
        return Change(_LOST, subject, "undecided, was above: not known to be clean")
    if was == "above" and now == "below":
        return Change("cleared", subject, "no longer above; now below")
    if now == "above" and gained:
        return Change("worse", subject, f"in addition above: {listed(sorted(gained))}")
    if now == "above" and lost:
        return Change("better", subject, f"no longer above: {listed(sorted(lost))}")
    if was is not None and now is not None and before != after:
        kind = "worse" if after > before else "better"
        return Change(kind, subject, f"{now}, was {was}")
    return None


def _redecided(now: pl.DataFrame, old: pl.DataFrame, amended: pl.DataFrame) -> tuple[Change, ...]:
    """List decisions on one and the same sample that an amended value has changed.

    `now` and `old` are current flags with their subject.
    """
    key = ["subject", "kind", "analyte", "form", "lab", "method", "report_without_lab"]
    both = (
        _judged(now, key)
        .join(_judged(old, key), on=key, how="full", coalesce=True, nulls_equal=True, suffix="_old")
        .filter(
            pl.col("decision").ne_missing(pl.col("decision_old")),
            (pl.col("sample_id") == pl.col("sample_id_old")).fill_null(True),
        )
        .with_columns(touched=pl.when(pl.col("kind") == "over_threshold").then("analyte"))
    )
    by = with_subject(amended).with_columns(
        report=pl.format(
            "report {}{}",
            pl.col("report_no").fill_null("without number"),
            pl.format(", revision {}", "revision").fill_null(""),
        )
    )
    place = ["subject", "touched"]
    told = pl.concat([by.with_columns(touched="analyte"), by.with_columns(touched=None)]).select(
        *place, "report"
    )
    reports = told.group_by(place).agg(pl.col("report").unique().sort().str.join("; "))
    told_alike: dict[tuple[str, str], list[str]] = {}
    for row in both.join(reports, on=place, nulls_equal=True).sort(key, nulls_last=True).to_dicts():
        told_alike.setdefault((row["subject"], _redecision(row)), []).append(subject_matter(row))
    return tuple(
        Change(KINDS[-2], name, f"{listed(list(dict.fromkeys(matters)))}: {said}")
        for (name, said), matters in told_alike.items()
    )


def _judged(flags: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    judged = flags.filter(pl.col("kind").is_in(JUDGED))
    return judged.select(*key, "sample_id", "decision").unique(key, keep="first")


def _redecision(row: dict[str, Any]) -> str:
    now, was = row["decision"] or "not judged any more", row["decision_old"] or "not judged"
    return f"{now}, was {was}; changed by {row['report']}"


def _placed(now: pl.DataFrame, stands: dict[str, str]) -> set[str]:
    """Name samples that stood for themselves and belong to a lot now, which tells of them."""
    unplaced = with_subject(now.filter("is_lot").with_columns(lot=pl.lit(None, pl.String)))
    return set(unplaced["subject"]) - stands.keys()


def _revised(amended: pl.DataFrame) -> tuple[Change, ...]:
    return tuple(
        Change(KINDS[-1], str(row["lot"] or row["sample_id"]), _amendment(row), _report(row))
        for row in amended.iter_rows(named=True)
    )


def _amendment(row: dict[str, Any]) -> str:
    """Say one amended value; where rounding hides the difference, as the laboratory printed it."""
    was = interval(row["old_lower"], row["old_upper"], row["old_unit"])
    now = interval(row["lower"], row["upper"], row["unit"])
    if was == now:
        was, now = f"“{row['raw_before']}”", f"“{row['raw_now']}”"
    moved = {
        "added": f"{now} added",
        "withdrawn": f"{was} withdrawn",
        "held": f"{was} is now “{row['raw_now']}”, which is held back",
    }
    what = " ".join(part for part in (row["form"], row["analyte"]) if part)
    said = moved.get(row["change"], f"{was} is now {now}")
    return f"{what}: {said}"


def _report(row: dict[str, Any]) -> str:
    revision = f", revision {row['revision']}" if row["revision"] else ""
    return f"report {row['report_no']}{revision}"


def changes(
    flags: pl.DataFrame, before: pl.DataFrame | None, amended: pl.DataFrame
) -> tuple[Change, ...]:
    """Compare current flags with those of the last published digest.

    Both are FLAGS frames; `before` is null when no digest was published yet, and then only what the
    laboratory revised is listed. `amended` has one row per value that an amended report changed,
    withdrew or added.
    """
    if before is None:
        return _revised(amended)
    now, old = current(flags), current(before)
    stands, stood = _standing(now), _standing(old)
    above, was_above = _above(now), _above(old)
    moved = (
        _compare(
            name,
            stood.get(name),
            stands.get(name),
            above.get(name, set()) - was_above.get(name, set()),
            was_above.get(name, set()) - above.get(name, set()),
        )
        for name in sorted((stands.keys() | stood.keys()) - _placed(now, stands))
    )
    found = [change for change in moved if change is not None]
    return (
        *sorted(found, key=lambda c: KINDS.index(c.kind)),
        *_redecided(now, old, amended),
        *_revised(amended),
    )
