"""Gather what the sheets of one file give, before it is told as a whole."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.readers import Readers
from pipeline.recognise.facts import column_facts, report_facts
from pipeline.recognise.form_letters import letters_explained
from pipeline.recognise.grid import Grid
from pipeline.recognise.legends import read_legend, settle_legends
from pipeline.recognise.namesakes import NamesDown, settle_namesakes
from pipeline.recognise.statements import Statements
from pipeline.recognise.tables import Table
from schemas.layout import Block


@dataclass
class Found:
    """What the sheets gave so far; `stated` is what a layout says where the sheets do not.

    `lent` are the letters for forms that sheets without a measurand explain.
    """

    blocks: list[Block] = field(default_factory=list)
    facts: dict[str, str] = field(default_factory=dict)
    stated: dict[str, str] = field(default_factory=dict)
    notices: list[str] = field(default_factory=list)
    roles: list[pl.DataFrame] = field(default_factory=list)
    cover: Statements | None = None
    said: dict[str, Statements] = field(default_factory=dict)
    elsewhere: tuple[str, ...] = ()
    named: list[NamesDown] = field(default_factory=list)
    lent: dict[str, str] = field(default_factory=dict)

    def with_namesakes(self, blocks: tuple[Block, ...]) -> tuple[tuple[Block, ...], list[str]]:
        """Say which samples are replicates of one by what all sheets say; and which may be."""
        texts = [text for said in self.said.values() for text in said.texts]
        found, doubts = settle_namesakes(blocks, self.named, texts)
        return tuple(replace(b, namesakes=found) for b in blocks) if found else blocks, doubts

    def letters(self, grid: Grid, readers: Readers) -> dict[str, str]:
        """The letters for forms that a sheet explains, else those that are lent."""
        return letters_explained([grid], readers.names) or self.lent

    def with_legends(self, readers: Readers) -> tuple[Block, ...]:
        """Give each table the legends of its sheet and those of sheets that hold no table."""
        told = {n: read_legend(n, s.loose, readers.notations) for n, s in self.said.items()}
        tables = {block.sheet for block in self.blocks}
        lent = [legend for sheet, legend in told.items() if sheet not in tables]
        meant = {n: settle_legends([told[n], *lent] if n in told else lent) for n in tables}
        return tuple(replace(b, meanings=meant[b.sheet]) for b in self.blocks)

    def hear(self, said: Statements, sheet: str, tables: list[Table]) -> None:
        """Keep what a sheet says of the report; what an earlier sheet said stays."""
        self.said[sheet] = said
        told, doubts = column_facts(sheet, tables)
        self.facts = {**told, **report_facts(said), **self.facts}
        self.notices += doubts
