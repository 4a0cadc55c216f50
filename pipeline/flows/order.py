"""START HERE: the order of the stages.

    find -> read -> recognise -> tidy -> normalise -> validate -> store    each report
    suspect -> derive -> quality -> flag -> store -> digest                all of them together

Stages are plain functions that never import each other; only this module knows their order.
`cinderlot load` calls what stands here as it is; `cinderlot weekly` calls the same under Prefect,
with a task per report: see `loading` and `weekly` beside this module.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.analyses import analyse
from pipeline.dates import DATE_KEYS, read_date
from pipeline.derive import derive_all
from pipeline.errors import FileRefused
from pipeline.find import Source
from pipeline.flag import flag
from pipeline.flows.amending import restate
from pipeline.normalise import normalise
from pipeline.normalise.quality_control import name_doubtful_controls
from pipeline.quality import judge_quality
from pipeline.read import read_cells
from pipeline.readers import Readers, make_readers
from pipeline.recognise import recognise
from pipeline.register import Register, is_register, read_register, sheets_beside
from pipeline.review.context import keep_context
from pipeline.settings import Settings, deciding_key, judging_key
from pipeline.store import Store, pack
from pipeline.suspect import suspect
from pipeline.tidy import date_evidence, tidy, unheard_comments
from pipeline.uncertainty import gather_record
from pipeline.validate import Judged, validate
from pipeline.withheld import name_suspects, name_withheld
from schemas.layout import Recognised
from schemas.report import Report
from schemas.vocabulary import load_vocabulary

Prepared = Report | Register | FileRefused


@dataclass(frozen=True)
class Workplace:
    """Where a run works: the store's file, the settings, the laboratory to assume (or null)."""

    store: Path
    settings: Settings
    lab: str | None = None


def prepare(sources: Sequence[Source], workplace: Workplace) -> tuple[Prepared, ...]:
    """Take files through the stages, from reading to judging; nothing is stored.

    Several files are normalised and judged together, which is faster and gives the same; equal
    bytes under two names share their report_id and are therefore taken one by one. The register
    workbook is read as such; a file that cannot be read comes back as its FileRefused.
    """
    if len({source.sha256 for source in sources}) < len(sources):
        return tuple(made for source in sources for made in prepare([source], workplace))
    drafts = [draft(source, workplace) for source in sources]
    reports = [d for d in drafts if isinstance(d, Draft)]
    if not reports:
        return tuple(d for d in drafts if not isinstance(d, Draft))
    vocabulary = load_vocabulary(workplace.settings.vocabulary)
    readings = pl.concat([d.readings for d in reports])
    readers = read_vocabulary(workplace.settings.vocabulary)
    normalised = normalise(readings, readers, workplace.settings)
    doubts = name_doubtful_controls(normalised)
    judged = validate(normalised, vocabulary)
    parts = [frame.partition_by("report_id", as_dict=True) for frame in judged.frames]
    judged_with = judging_key(workplace.settings)
    return tuple(
        replace(_report(d, judged, parts, doubts), judged_with=judged_with)
        if isinstance(d, Draft)
        else d
        for d in drafts
    )


def prepare_registers(sources: Sequence[Source], workplace: Workplace) -> tuple[Prepared, ...]:
    """Read files as registers and as nothing else, whatever the workplace."""
    readers = read_vocabulary(workplace.settings.vocabulary)
    return tuple(_as_register(source, readers) for source in sources)


def _as_register(source: Source, readers: Readers) -> Register | FileRefused:
    try:
        return _register(read_cells(source.read_bytes(), source.file).cells, source.file, readers)
    except FileRefused as refusal:
        return refusal


def _register(cells: pl.DataFrame, file: str, readers: Readers) -> Register:
    """Read the register; its workbook must not hold results too, which nobody would look for."""
    register, beside = read_register(cells, file), sheets_beside(cells)
    if beside.is_empty():
        return register
    try:
        first = recognise(beside, file, readers).blocks[0]
    except FileRefused:
        names = ", ".join(beside["sheet"].unique(maintain_order=True))
        notice = f"not read, for a register has no such sheet: {names}"
        return replace(register, notices=(*register.notices, notice))
    raise FileRefused(
        file,
        f"holds the sheets of a register, and results too (header at {first.sheet}!"
        f"{first.header_cell}); save the register and the results in two workbooks and load both",
    )


def prepare_packed(sources: Sequence[Source], workplace: Workplace) -> tuple[Prepared, ...]:
    """Prepare files in a worker and pack what goes back, for it is large."""
    prepared = prepare(sources, workplace)
    return tuple(_packed(p) if isinstance(p, Report) else p for p in prepared)


def _packed(report: Report) -> Report:
    return replace(report, stored=report.stored.clear(), packed=pack(report.stored))


def draft(source: Source, workplace: Workplace) -> Draft | Register | FileRefused:
    """Read one file, recognise its tables and tidy them."""
    try:
        document = read_cells(source.read_bytes(), source.file)
        readers = read_vocabulary(workplace.settings.vocabulary)
        if is_register(document.cells):
            return _register(document.cells, source.file, readers)
        layouts = workplace.settings.own_layouts
        found = recognise(document.cells, source.file, readers, layouts)
        counted = replace(found, date_system=document.date_system)
        recognised = assume_lab(counted, workplace.lab)
        readings = tidy(document.cells, recognised, report_id(source), source.file)
    except FileRefused as refusal:
        return refusal
    dates = date_evidence(readings, recognised)
    unheard = unheard_comments(document.cells, recognised.blocks)
    notices = (*document.notices, *recognised.notices, *dates.notices, *unheard)
    return Draft(source, recognised, readings, notices, document.cells)


@dataclass(frozen=True)
class Draft:
    """One report before it is judged."""

    source: Source
    recognised: Recognised
    readings: pl.DataFrame
    notices: tuple[str, ...]
    cells: pl.DataFrame


def report_id(source: Source) -> str:
    """Name a report by its bytes, so that loading in any order gives the same names."""
    return source.sha256[:16]


def _report(
    made: Draft,
    judged: Judged,
    parts: list[dict[tuple[Any, ...], pl.DataFrame]],
    doubts: dict[str, str],
) -> Report:
    key, facts = report_id(made.source), made.recognised.facts
    stored, held, unused = (
        part.get((key,), empty.clear()) for part, empty in zip(parts, judged.frames, strict=True)
    )
    return Report(
        report_id=key,
        file=made.source.file,
        sha256=made.source.sha256,
        lab=facts.get("lab"),
        report_no=facts.get("report_no"),
        revision=facts.get("revision"),
        replaces=facts.get("replaces"),
        layout=made.recognised.layout,
        reported_on=_reported_on(facts.get("reported_on"), made.readings),
        n_values=made.readings.height,
        stored=stored,
        held=held,
        unused=unused,
        notices=(*made.notices, *([doubts[key]] if key in doubts else [])),
        context=keep_context(held, made.readings, made.cells),
    )


def refresh(workplace: Workplace) -> None:
    """Derive free and bound amounts, judge quality and raise flags anew, from all that is stored."""
    settings = workplace.settings
    vocabulary = load_vocabulary(settings.vocabulary)
    readers = read_vocabulary(settings.vocabulary)
    with Store(workplace.store) as store:
        restate(store, readers, settings)
        (results, controls), reports = store.facts(), store.reports()
        record = gather_record(settings.laboratories, controls)
        suspects = suspect(results, settings.confirmed_reports, _confirmed(store))
        withheld = pl.concat(
            [name_withheld(store.held(), reports, readers.names), name_suspects(results, suspects)]
        ).unique()
        held_back = {"record": record, "withheld": withheld, "suspects": suspects}
        analyses = analyse(results, vocabulary, loaded=reports, **held_back)
        quality = judge_quality(controls, results, reports)
        told = (reports, store.view("interventions"), store.view("movements"))
        with ThreadPoolExecutor(1) as beside:
            pairing = beside.submit(derive_all, analyses)
            flags = flag(analyses, *told, settings, quality=quality)
            fractions, panels = pairing.result()
        derived = {"panels": panels, "record": record, "quality": quality, "suspects": suspects}
        store.replace_derived(fractions, flags, deciding_key(settings), **derived)


def _confirmed(store: Store) -> pl.DataFrame:
    """List the numbers that a person confirmed, held or stored, by cell and by what gave them."""
    at = ["report_id", "sheet", "cell", "held_id"]
    sure = store.view("corrections").filter(decision="confirm", status="standing").select(at)
    is_stored = pl.col("held_id").str.starts_with("S-")
    if sure.filter(is_stored).is_empty():
        return sure
    stored = store.view("suspects").filter(status="confirmed").select(at)
    return pl.concat([sure.filter(~is_stored), stored])


def refresh_stale(workplace: Workplace) -> None:
    """Refresh what is derived when a load was broken off or the settings have changed since."""
    with Store(workplace.store, read_only=True) as store:
        fresh = store.derived_with() == deciding_key(workplace.settings)
    if not fresh:
        refresh(workplace)


@cache
def read_vocabulary(taught: Path | None) -> Readers:
    """Read the shipped names and the user's own once per process."""
    return make_readers(load_vocabulary(taught))


def assume_lab(recognised: Recognised, lab: str | None) -> Recognised:
    """Name the laboratory where the report names none; null leaves it unknown."""
    if lab is None or recognised.facts.get("lab"):
        return recognised
    return replace(recognised, facts={**recognised.facts, "lab": lab})


def _reported_on(printed: str | None, readings: pl.DataFrame) -> date | None:
    if printed is None:
        return None
    order, system = (
        readings.select(pl.col(DATE_KEYS).first()).row(0) if readings.height else (None, None)
    )
    return read_date(printed, order, system)[0]
