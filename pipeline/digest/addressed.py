"""Keep of the views what concerns one recipient."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import polars as pl

from pipeline.digest.views import Views

if TYPE_CHECKING:
    from pipeline.settings import Recipient

_BY_LOT = ("results", "fractions", "flags", "lots", "interventions", "tastings", "decisions",
           "amended", "contradictions", "panels", "suspects")  # fmt: skip


def concerned_lots(views: Views, recipient: Recipient) -> pl.Series | None:
    """List the lots a recipient is told of; null when it is all of them.

    Lots by name, and those that register or results place in one of the recipient's vineyards.
    """
    if not recipient.vineyards and not recipient.lots:
        return None
    placed = pl.concat([frame.select("lot", "vineyard") for frame in (views.lots, views.results)])
    wanted = pl.col("vineyard").is_in(recipient.vineyards) | pl.col("lot").is_in(recipient.lots)
    return placed.filter(wanted)["lot"].drop_nulls().unique().sort()


def addressed(views: Views, recipient: Recipient) -> Views:
    """Keep what is said of the recipient's lots; values held back stay, for the lot of some is unknown."""
    lots = concerned_lots(views, recipient)
    if lots is None:
        return views
    own = pl.col("lot").is_in(lots.implode())
    moved = pl.col("from_lot").is_in(lots.implode()) | pl.col("to_lot").is_in(lots.implode())
    kept = {name: getattr(views, name).filter(own) for name in _BY_LOT}
    return dataclasses.replace(
        views,
        **kept,
        movements=views.movements.filter(moved),
        unassigned=views.unassigned.clear(),
        held_lots=views.held_lots.filter(own),
        quality=views.quality.join(kept["results"].select("report_id").unique(), on="report_id",
                                   how="semi"),
    )  # fmt: skip


def limited_to(recipient: Recipient) -> str:
    """Say what a recipient's digest is limited to; empty when it is not."""
    parts = []
    if recipient.vineyards:
        parts.append(f"vineyards {', '.join(recipient.vineyards)}")
    if recipient.lots:
        parts.append(f"lots {', '.join(recipient.lots)}")
    return " and ".join(parts)
