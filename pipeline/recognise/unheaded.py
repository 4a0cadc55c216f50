"""Take columns without a known heading for what their cells hold."""

from __future__ import annotations

from pipeline.names import ATTACHED_FIELDS
from pipeline.recognise.column_kinds import Columns
from pipeline.recognise.header_line import Header
from pipeline.recognise.sample_columns import below
from schemas.vocabulary import squash


def find_unheaded(header: Header, found: Columns, name: str) -> None:
    """Take an unheaded column that holds nothing but forms, units or stages for that field."""
    if name in found.fields:
        return
    for col in range(header.left, found.first_value):
        texts = [s.text for s in below(header.grid, header.run, col) if s.kind == "text"]
        read = [header.readers.names.heading(text) for text in texts]
        told = [h.is_form_only if name == "form" else h.is_unit_only for h in read]
        if name == "stage":
            words = header.readers.names.vocabulary
            told = [squash(t) in words.stages and squash(t) not in words.matrices for t in texts]
        if told and all(told) and header.is_bare(col):
            found.fields[name] = col
            return


def attach_units(header: Header, found: Columns) -> None:
    """Give a column of units under no known heading to the results left of it."""
    owners = {v.column: v for v in found.values}
    for col in range(found.first_value + 1, header.right + 1):
        if col in owners or col in found.fields.values():
            continue
        spots = below(header.grid, header.run, col)
        read = header.readers.names.heading
        if not spots or not all(read(s.text).is_unit_only for s in spots):
            continue
        if owner := owners.get(col - 1):
            owner.attached.setdefault("unit", col)


def keep_to_neighbours(header: Header, found: Columns) -> None:
    """Let a limit, unit or uncertainty right of the results speak for its neighbour alone.

    That is so where another column between the results has lost its heading: it could be the same
    for another result.
    """
    last = max((v.column for v in found.values if v.heading.is_measurand), default=0)
    lost = any(
        header.run.columns.get(col) is None
        and below(header.grid, header.run, col)
        and _is_unheaded(header, col)
        for col in range(found.first_value, last)
    )
    for name in ATTACHED_FIELDS & found.fields.keys():
        left = [v for v in found.values if v.column < found.fields[name] and v.heading.is_measurand]
        if lost and left:
            left[-1].attached.setdefault(name, found.fields.pop(name))


def _is_unheaded(header: Header, col: int) -> bool:
    spot, _ = header.spot(col)
    read = header.readers.names.heading(spot.text) if spot else None
    return read is None or not (read.field or read.is_measurand or read.form)
