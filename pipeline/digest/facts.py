"""What a digest says, as facts: the same facts in other words are no news."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

import polars as pl

from pipeline.digest.unseen import Unseen
from pipeline.digest.views import Views
from pipeline.digest.waiting import open_suspects
from pipeline.withheld import open_held

# Columns that say in words what others hold.
_WORDS = ("message", "note")
_HELD = ("held_id", "lot", "reason_code", "status")
_NOT_SHOWN = {"lots": ("volume_l", "colour"), "movements": ("volume_l",), "decisions": ("who",)}
_REGISTER = (
    "lots", "movements", "interventions", "tastings", "decisions", "unassigned", "contradictions",
)  # fmt: skip
_TABLES = ("flags", "exposure", "results", "panels", "picking", "quality")


def facts_of(
    views: Views, unseen: Unseen, tables: Mapping[str, pl.DataFrame]
) -> dict[str, pl.DataFrame]:
    """Gather the frames a digest speaks of, without its words.

    `tables` are the sheets of its workbook. Of the register what is shown nowhere is left out.
    """
    register = {
        name: getattr(views, name).drop(_NOT_SHOWN.get(name, ()), strict=False)
        for name in _REGISTER
    }
    held = open_held(views.held).join(views.held_lots, on="held_id", how="left")
    decided = {name: tables[name].drop(_WORDS, strict=False) for name in _TABLES}
    quality = decided["quality"].filter(pl.col("judgement").is_in(["fail", "warn"]))
    return {
        **register,
        **decided,
        "quality": quality,
        "held": held.select(name for name in _HELD if name in held.columns),
        "suspects": open_suspects(views).select("suspect_id", "status"),
        "fractions": views.fractions.filter(pl.col("sample_kind") == "lot"),
        "tests": unseen.tests,
        "overdue": unseen.overdue.select("lot", "retest_due_on"),
    }


def name_state(facts: Mapping[str, pl.DataFrame], settings: Sequence[str]) -> str:
    """Name what a digest says; neither words nor the order of rows make a difference."""
    said = hashlib.sha256(repr(list(settings)).encode())
    for name, frame in sorted(facts.items()):
        shown = frame.select(sorted(frame.columns))
        said.update(f"\n{name} {shown.columns}\n".encode())
        said.update("\n".join(sorted(shown.write_csv(include_header=False).split("\n"))).encode())
    return said.hexdigest()
