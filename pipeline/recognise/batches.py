"""Tell the laboratory's own batches from lots, where a heading such as "Batch" may mean either."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.readers import Readers
from pipeline.recognise.statements import Statements
from pipeline.recognise.strange_lines import is_control
from pipeline.recognise.tables import Table
from schemas.vocabulary import squash

# What tells samples of one lot apart: with it they may share a batch that is their lot.
_OF_ONE_LOT = ("stage", "sampled_on", "treatment", "dose", "trial", "replicate")
_WHY = "it may be the laboratory's own; the register says which lot each sample is of"


def leave_batches(table: Table, readers: Readers) -> list[str]:
    """Leave a column "Batch" out that quality control shares with samples, or all samples alike.

    Several samples of one name for all would else become one lot, and only the latest be looked at.
    """
    fields, grid = table.columns.fields, table.grid
    column, named = fields.get("lot"), fields.get("sample")
    head = grid.at(table.run.row, column) if column else None
    if (
        column is None
        or named is None
        or named == column
        or not _may_be_own(head and head.text, readers)
    ):
        return []
    said = [
        (name.text, batch.text)
        for row in table.lines.samples
        if (name := grid.at(table.lines.named.get(row, row), named))
        and (batch := grid.at(row, column))
    ]
    controls = {batch for name, batch in said if is_control(name, readers)}
    samples = {(squash(name), batch) for name, batch in said if not is_control(name, readers)}
    batches = {batch for _, batch in samples}
    alike = len(samples) > 1 and len(batches) == 1 and not any(n in fields for n in _OF_ONE_LOT)
    if not (controls & batches or alike):
        return []
    fields.pop("lot")
    text = head.text if head else ""
    return [f'{grid.sheet}: "{text}" was not taken for the lot: {_WHY}']


def leave_stated_batch(
    said: Statements, tables: Sequence[Table], readers: Readers
) -> tuple[Statements, list[str]]:
    """Leave "Batch: B17" over a table of several samples out."""
    texts = {(row, col): spot.text for row, col, spot in said.loose}
    own = [
        s for s in said.found
        if s.field == "lot" and _may_be_own(texts.get((s.row, s.col), "").partition(":")[0], readers)
    ]  # fmt: skip
    if not own or not any(_names_several(table) for table in tables):
        return said, []
    kept = [s for s in said.found if s not in own]
    sheet = tables[0].grid.sheet
    told = f'{sheet}: "{texts[own[0].row, own[0].col]}" was not taken for the lot of several samples: {_WHY}'
    return Statements(kept, said.cells, said.loose), [told]


def _names_several(table: Table) -> bool:
    column = table.columns.fields.get("sample")
    names = {
        squash(s.text) for r in table.lines.samples if column and (s := table.grid.at(r, column))
    }
    several = len(names) > 1
    return several and not any(n in table.columns.fields for n in ("lot", *_OF_ONE_LOT))


def _may_be_own(text: str | None, readers: Readers) -> bool:
    return squash((text or "").rstrip(" :")) in readers.names.vocabulary.or_laboratorys
