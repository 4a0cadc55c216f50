"""Values held back and suspected numbers, by the lot they belong to: what no decision knows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from pipeline.digest.model import Gap
from pipeline.digest.states import with_subject
from pipeline.digest.views import Views
from pipeline.digest.words import plural
from pipeline.withheld import open_held

_MOST = 3
_ORDER = ("file", "sheet", "raw_analyte", "raw_value", "cell")


@dataclass(frozen=True)
class Waiting:
    """How many values of a lot are in no decision, and the first of them as printed."""

    count: int
    first: tuple[str, ...]

    @property
    def words(self) -> str:
        """Say the first values, and how many more."""
        more = self.count - _MOST
        shown = "; ".join(self.first[:_MOST])
        return f"{shown} and {more} more" if more > 0 else shown


def _by_lot(rows: pl.DataFrame) -> dict[str, Waiting]:
    printed = pl.format(
        "{} “{}”", pl.col("raw_analyte").fill_null("no name"), pl.col("raw_value").fill_null("")
    )
    counted = (
        rows.sort("lot", *_ORDER, nulls_last=True)
        .with_columns(printed=printed)
        .group_by("lot", maintain_order=True)
        .agg(n=pl.len(), first=pl.col("printed").unique(maintain_order=True))
    )
    return {lot: Waiting(count, tuple(first)) for lot, count, first in counted.iter_rows()}


def waiting_lots(views: Views) -> dict[str, Waiting]:
    """Gather the open held values of each lot that is known for some."""
    lots = views.held_lots.drop_nulls("lot")
    return _by_lot(open_held(views.held).join(lots, on="held_id"))


def open_suspects(views: Views) -> pl.DataFrame:
    """Keep suspected numbers that nobody has confirmed, with their subject."""
    return with_subject(views.suspects.filter(pl.col("status") != "confirmed"))


def doubted_lots(views: Views) -> dict[str, Waiting]:
    """Gather the suspected numbers of each lot, or of each sample without a lot."""
    return _by_lot(open_suspects(views).with_columns(lot="subject"))


def _gap(title: str, waiting: Mapping[str, Waiting], known: set[str], step: str) -> Gap:
    lines = (
        f"{lot}: {row.words}" + ("" if lot in known else "; nothing else is current")
        for lot, row in waiting.items()
    )
    return Gap(title, tuple(lines), step, tuple(waiting))


def held_gap(waiting: Mapping[str, Waiting], tests: pl.DataFrame) -> Gap:
    """List the lots with held values; one without any other current panel says so."""
    step = "They are in no decision below: settle them, or ask the laboratory."
    return _gap("Values held back", waiting, set(tests["lot"]), step)


def doubted_gap(doubted: Mapping[str, Waiting], tests: pl.DataFrame) -> Gap:
    """List the lots with suspected numbers; one without any other current panel says so."""
    step = (
        "Their unit may have slipped, so they are in no decision below: ask the laboratory, or "
        "confirm what is right as printed."
    )
    return _gap("Numbers suspected", doubted, set(tests["lot"]), step)


def open_count(lot: str, waiting: Mapping[str, Waiting], doubted: Mapping[str, Waiting]) -> str:
    """Say how many values of a lot are in no decision; empty when none is."""
    held = plural(waiting[lot].count, "value") + " held back" if lot in waiting else ""
    slipped = plural(doubted[lot].count, "number") + " suspected" if lot in doubted else ""
    return ", ".join(part for part in (held, slipped) if part)
