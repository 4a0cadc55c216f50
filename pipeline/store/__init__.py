"""The store: one file that only grows, asked through views."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import duckdb
import polars as pl

from pipeline.errors import CinderlotError
from pipeline.register import Register, Stray
from pipeline.store import append, ask, registers, sendings, settling
from pipeline.store.append import Added
from pipeline.store.ask import Published
from pipeline.store.browse import Browser
from pipeline.store.connect import explain, is_renewed, open_file, prepare, transaction
from pipeline.store.describe import VIEWS, documented_columns
from pipeline.store.kept import Kept
from pipeline.store.packing import pack
from pipeline.store.sendings import Claim
from schemas.report import Report

__all__ = [
    "VIEWS", "Added", "Browser", "Claim", "Kept", "Published", "Store", "documented_columns", "pack",
    "read_view",
]  # fmt: skip

WAIT = 20.0  # seconds a locked store is tried again


class Store:
    """The store's file, open; use it in a `with` block, opened late and closed early.

    Raises StoreBusy when another process holds it for longer than `wait` seconds or it cannot be
    written, CinderlotError when there is no store (read-only) or it is not one of ours. `adding`
    suits it to adding reports and what is derived from them.
    """

    def __init__(
        self,
        path: Path | str,
        read_only: bool = False,
        *,
        wait: float = WAIT,
        adding: bool = False,
    ) -> None:
        self.path = Path(path)
        self._con = open_file(self.path, read_only=read_only, wait=wait)
        try:
            prepare(self._con, self.path, read_only=read_only)
            if adding:
                # Reports are small: sharing an insert out among threads costs twice as much.
                self._con.execute("SET threads = 1")
        except BaseException:
            self._con.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Write what is pending and let other processes in."""
        try:
            self._con.close()
        except duckdb.Error as error:
            raise explain(self.path, error) from None

    def add_report(self, report: Report) -> Added:
        """Store one report whole, in one transaction; 'known' when its bytes are stored already.

        'renewed' when they are, but a laboratory is given that was not known or was another, or the
        settings that judge it have changed.
        """
        with transaction(self._con, self.path):
            return append.add_report(self._con, report)

    def add_register(self, register: Register) -> Added:
        """Store a register whole; 'known' when the last one said the same.

        Raises RegisterRefused when a sample is of a lot that no register has.
        """
        with transaction(self._con, self.path):
            return registers.add_register(self._con, register)

    def strays(self, register: Register) -> tuple[Stray, ...]:
        """List the lots a register speaks of that neither it nor an earlier one has."""
        return registers.strays(self._con, register)

    def replace_derived(
        self,
        fractions: pl.DataFrame,
        flags: pl.DataFrame,
        made_with: str | None = None,
        **derived: pl.DataFrame | None,
    ) -> None:
        """Put new derived tables in the place of all old ones; say with which settings.

        `derived`: panels, quality, suspects, record (of the laboratories' uncertainties).
        """
        with transaction(self._con, self.path):
            append.replace_derived(self._con, fractions, flags, made_with, **derived)

    def is_renewed(self) -> bool:
        """Tell whether tables and views are those of this program, not of an older one."""
        return is_renewed(self._con, self.path)

    def derived_with(self) -> str | None:
        """Give the settings fractions and flags were made with, null when they are out of date."""
        return ask.derived_with(self._con)

    def record_digest(self, flags: pl.DataFrame, summary: Mapping[str, Any] | None = None) -> int:
        """Keep what a published digest said; give its running number."""
        with transaction(self._con, self.path):
            return append.record_digest(self._con, flags, summary or {})

    def last_digest(self) -> Published | None:
        """Give the digest published last, null when there is none."""
        return ask.last_digest(self._con)

    def claim_sending(self, address: str, state: str, *, again: bool = False) -> Claim:
        """Claim the sending of a digest to an address, before it is handed over.

        'sent' when this state went there already, 'unsure' when an earlier claim was never closed;
        both are claimed anew with `again`.
        """
        with transaction(self._con, self.path):
            return sendings.claim(self._con, address, state, again=again)

    def close_sending(self, address: str, state: str, *, sent: bool) -> None:
        """Close a claim: the message was taken by the server, or surely was not."""
        with transaction(self._con, self.path):
            sendings.close(self._con, address, state, sent=sent)

    def stored_lab(self, report_id: str) -> str | None:
        """Give the laboratory under which a report is stored, null where it is unknown."""
        return append.stored_lab(self._con, report_id)

    def frame(self, sql: str) -> pl.DataFrame:
        """Run one read-only query; a wrong one raises CinderlotError saying why."""
        return ask.ask(self._con, sql)

    def view(self, name: str) -> pl.DataFrame:
        """Give a documented view as a frame, in an order that loading does not change."""
        return ask.take_view(self._con, name)

    def browse(self, kept: Kept | None = None) -> Browser:
        """Give what answers small questions without taking whole views out of the store."""
        return Browser(self._con, kept)

    def interrupt(self) -> None:
        """Break off, from another thread, what is being asked."""
        self._con.interrupt()

    def results(self) -> pl.DataFrame:
        """Give the results of samples from the revisions in force, uncertainties as reported."""
        return ask.take_reported(self._con, "results")

    def facts(self) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Give results and results of quality controls, as deriving and flagging need them."""
        return ask.take_facts(self._con)

    def qc_results(self) -> pl.DataFrame:
        """Give the results of quality controls from the revisions in force, as reported."""
        return ask.take_reported(self._con, "qc_results")

    def held(self) -> pl.DataFrame:
        """Give the values held back."""
        return self.view("held")

    def reports(self) -> pl.DataFrame:
        """Give the reports with where each of their values went."""
        return self.view("reports")

    def fractions(self) -> pl.DataFrame:
        """Give the free and bound amounts."""
        return self.view("fractions")

    def flags(self) -> pl.DataFrame:
        """Give the flags."""
        return self.view("flags")

    def unassigned(self) -> pl.DataFrame:
        """Give samples without lot: lab, sample_id, n_results, nearest known name."""
        return ask.unassigned(self._con)

    def amended(self, report_id: str | None = None) -> pl.DataFrame:
        """Give what each report (or one) changed against the one it replaces, value by value."""
        return ask.amended(self._con, report_id)

    def held_lots(self) -> pl.DataFrame:
        """Say to which lot each held value belongs, as far as known: held_id, lot."""
        return ask.held_lots(self._con)

    def store_id(self) -> str:
        """Give what tells this store from others; copies of it share it."""
        return settling.store_id(self._con)

    def settleable(self) -> pl.DataFrame:
        """Give the held values with what a decision on them needs."""
        return settling.settleable(self._con)

    def known_samples(self) -> pl.DataFrame:
        """Give what each report prints of its samples."""
        return settling.known_samples(self._con)

    def stored_values(self) -> pl.DataFrame:
        """Give the values that count in reports with held values, as they were stored."""
        return settling.stored_values(self._con)

    def stored_numbers(self, places: pl.DataFrame) -> pl.DataFrame:
        """Give the results printed in some cells (report_id, sheet, cell), as they were stored."""
        return settling.stored_numbers(self._con, places)

    def unplaced(self) -> pl.DataFrame:
        """Give corrections whose row has to be made anew."""
        return settling.unplaced(self._con)

    def settle(self, decisions: pl.DataFrame, corrected: pl.DataFrame) -> None:
        """Store decisions on held values and the rows that corrections give, in one change."""
        with transaction(self._con, self.path):
            settling.settle(self._con, decisions, corrected)

    def place(self, corrected: pl.DataFrame) -> None:
        """Store the rows of corrections that are there already."""
        with transaction(self._con, self.path):
            settling.place(self._con, corrected)

    def undo(self, held_id: str) -> str | None:
        """Take back what was decided of a held value; null when there is no such value."""
        with transaction(self._con, self.path):
            return settling.undo(self._con, held_id)

    def fingerprint(self) -> str:
        """Digest what every view says, instants aside."""
        return ask.fingerprint(self._con)


def read_view(name: str, path: Path | str = "cinderlot.duckdb") -> pl.DataFrame:
    """Give a documented view of a store as a polars frame; the store is closed again at once.

    Raises CinderlotError when there is no such view or no store.
    """
    if name not in VIEWS:
        near = get_close_matches(name, VIEWS, n=1)
        hint = f"; did you mean {near[0]}?" if near else f"; views are {', '.join(VIEWS)}"
        raise CinderlotError(f'no view is called "{name}"{hint}')
    with Store(path, read_only=True) as store:
        return store.view(name)
