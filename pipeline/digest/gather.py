"""Gather everything a digest says from the store's views."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import polars as pl

from pipeline.digest.changes import changes
from pipeline.digest.controls import KIND as CONTROLS
from pipeline.digest.controls import failed_batches
from pipeline.digest.exposure import KIND as EXPOSURE
from pipeline.digest.facts import facts_of, name_state
from pipeline.digest.findings import ASSUMED, finding, with_uncertainty, worst_first
from pipeline.digest.gaps import gaps, held_by_reason, panel_results
from pipeline.digest.model import MOST_DETAILED, Counts, Digest, Finding, Subject
from pipeline.digest.picking import before_picking, pickings, with_background
from pipeline.digest.reserve import reserves
from pipeline.digest.shelves import Shelf, shelve
from pipeline.digest.states import JUDGED, current, lot_states
from pipeline.digest.subjects import subject
from pipeline.digest.tables import picking_table, tables
from pipeline.digest.unseen import Unseen, find_unseen
from pipeline.digest.views import Views
from pipeline.digest.waiting import open_suspects
from pipeline.digest.words import listed, number, sentences
from pipeline.phrases import shown_unit
from pipeline.withheld import open_held
from schemas.judgement import load_judgement
from schemas.vocabulary import Vocabulary

if TYPE_CHECKING:
    from pipeline.settings import Settings


def markers_of(results: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    """Keep phenols and their glycosides of any kind of sample."""
    phenols = [a.name for a in vocabulary.analytes.values() if a.has_form]
    return results.filter(pl.col("analyte").is_in(phenols), pl.col("lot").is_not_null())


def unjudged(flags: pl.DataFrame, panel: pl.DataFrame) -> tuple[tuple[str, str], ...]:
    """Name the analytes that no threshold is set for, with the matrices it is so in."""
    matrices = panel.select("lab", "sample_id", "matrix").unique(["lab", "sample_id"])
    found = (
        flags.filter(pl.col("kind") == "over_threshold", pl.col("reason") == "no_threshold")
        .join(matrices, on=["lab", "sample_id"], how="left", nulls_equal=True)
        .select(pl.col("matrix").fill_null("samples of unknown matrix"), "form", "analyte")
        .unique()
        .sort("matrix", "form", "analyte")
    )
    alike: dict[str, list[str]] = {}
    for matrix, rows in found.group_by("matrix", maintain_order=True):
        alike.setdefault(_by_form(rows), []).append(str(matrix[0]))
    return tuple((listed(matrices), names) for names, matrices in alike.items())


def _by_form(rows: pl.DataFrame) -> str:
    forms = rows.group_by("form", maintain_order=True).agg("analyte").iter_rows()
    return "; ".join(f"{form or ''} {listed(names)}".strip() for form, names in forms)


def _unflagged(panel: pl.DataFrame, states: pl.DataFrame) -> list[str]:
    """Name lots with results that no rule has judged."""
    lots = panel.select(subject="lot").drop_nulls().unique().join(states, on="subject", how="anti")
    return lots["subject"].sort().to_list()


def _subjects(states: pl.DataFrame, left: list[str], shelf: Shelf) -> list[Subject]:
    judged = [
        subject(name, is_lot, state, shelf, state == "above" and place < MOST_DETAILED)
        for place, name, is_lot, state in states.with_row_index("place")
        .select("place", "subject", "is_lot", "state")
        .iter_rows()
    ]
    return judged + [subject(lot, True, "undecided", shelf) for lot in left]


def _amended_since(views: Views, previous_at: datetime | None) -> pl.DataFrame:
    """Keep amendments that came in after the last published digest."""
    if previous_at is None:
        return views.amended
    newer = views.reports.filter(pl.col("loaded_at") > previous_at)
    return views.amended.join(newer.select("report_id"), on="report_id", how="semi")


def _counts(views: Views, subjects: list[Subject], unseen: Unseen) -> Counts:
    lots = [s for s in subjects if s.is_lot]
    return Counts(
        lots=len(lots),
        flagged=sum(s.state == "above" for s in lots),
        undecided=sum(s.state == "undecided" for s in lots),
        held=open_held(views.held).height,
        reports=views.reports.height,
        without_panel=unseen.untested.height,
        without_lot=views.unassigned.height,
        without_lot_flagged=sum(s.state == "above" for s in subjects if not s.is_lot),
        free_only=len(unseen.free_only),
        changed_since=unseen.changed["lot"].n_unique(),
        retests_due=unseen.overdue["lot"].n_unique(),
        lots_waiting=len(unseen.waiting),
        suspected=open_suspects(views).height,
        lots_doubted=len(unseen.doubted),
        registered=views.lots.height,
    )


def _notices(flags: pl.DataFrame, panel: pl.DataFrame, detailed: list[str]) -> tuple[Finding, ...]:
    """Give what else was found; of the lots told in detail it stands beside the lot."""
    told_elsewhere = [*JUDGED, EXPOSURE, CONTROLS]
    other = flags.filter(
        ~pl.col("kind").is_in(told_elsewhere), pl.col("decision") != "below",
        ~pl.col("subject").is_in(detailed),
    )  # fmt: skip
    return tuple(
        finding(row) for row in worst_first(with_uncertainty(other, panel)).iter_rows(named=True)
    )


def _assumed(flags: pl.DataFrame) -> tuple[str, ...]:
    """Give each sentence on an assumed uncertainty once; it stands behind many decisions."""
    told = flags.filter(pl.col("kind").is_in(JUDGED))["note"].drop_nulls().unique().sort()
    said = (sentence for note in told for sentence in sentences(note) if ASSUMED in sentence)
    return tuple(sorted(set(said)))


def _unknown_varieties(subjects: list[Subject]) -> tuple[str, ...]:
    """Name the varieties whose lots are compared with no background."""
    unjudged = (s.known["variety"] for s in subjects if s.exposure.startswith("not judged"))
    return tuple(sorted({str(name or "a variety that is not known") for name in unjudged}))


def _used(settings: Settings) -> tuple[tuple[str, str], ...]:
    limits = [
        (
            f"threshold of {t.form} {t.analyte} in {t.matrix}",
            f"{number(t.value)} {shown_unit(t.unit)} ({t.kind}; {t.source})",
        )
        for t in settings.thresholds
    ]
    return (
        ("confidence of a decision", f"{settings.confidence:g}"),
        ("smallest growth of the bound fraction", f"{settings.growth_minimum:g}"),
        ("false discovery rate of growth", f"{settings.false_discovery_rate:g}"),
        ("markers above their background for a lot to be called exposed",
         f"{settings.exposure_markers}"),
        ("how often chance may bring them about", f"{settings.exposure_false_alarm:g}"),
        ("fewest own reference lots", f"{settings.exposure_references}"),
        *limits,
    )  # fmt: skip


def gather(
    views: Views,
    settings: Settings,
    vocabulary: Vocabulary,
    made_at: datetime,
    *,
    before: pl.DataFrame | None = None,
    previous_at: datetime | None = None,
) -> Digest:
    """Gather the digest from frames; nothing is read or written.

    `before` holds the flags of the last published digest (FLAGS columns), null when there was none.
    """
    flags, panel = current(views.flags), panel_results(views.results, vocabulary)
    unseen, states = find_unseen(views, panel, made_at.date()), lot_states(flags)
    shelf = shelve(views, flags, panel, unseen)
    subjects = _subjects(states, _unflagged(panel, states), shelf)
    unpicked = with_background(
        before_picking(markers_of(views.results, vocabulary), views.lots, made_at.date()),
        settings.backgrounds, vocabulary,
    )  # fmt: skip
    moved = changes(views.flags, before, _amended_since(views, previous_at))
    by_state = {
        s: tuple(x for x in subjects if x.state == s) for s in ("above", "undecided", "below")
    }
    detailed = [s.name for s in by_state["above"][:MOST_DETAILED]]
    steps = {step for s in subjects for step in s.next_steps if s.state != "below"}
    laid_out = tables(views, subjects, flags, moved) | {"picking": picking_table(unpicked)}
    used = _used(settings)
    return Digest(
        made_at=made_at,
        previous_at=previous_at,
        counts=_counts(views, subjects, unseen),
        gaps=gaps(views, unseen),
        held=held_by_reason(views.held, vocabulary),
        changes=moved,
        flagged=by_state["above"],
        undecided=by_state["undecided"],
        below=by_state["below"],
        reserves=reserves(views.fractions, flags),
        notices=_notices(flags, panel, detailed),
        batches=failed_batches(views.quality, views.results),
        unjudged=unjudged(flags, panel),
        settings=used,
        tables=laid_out,
        picking=pickings(unpicked, views.lots, flags),
        assumed=_assumed(flags),
        next_steps=tuple(step for step in load_judgement().next_steps if step in steps),
        unknown_varieties=_unknown_varieties(subjects),
        state=name_state(facts_of(views, unseen, laid_out), [value for _, value in used]),
    )
