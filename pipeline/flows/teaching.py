"""Teach layouts: write one from what was decided, and show on the original file that it reads so."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.errors import CinderlotError, FileRefused
from pipeline.find import Source
from pipeline.flows.again import find_again
from pipeline.flows.order import Draft, Workplace, draft, read_vocabulary
from pipeline.normalise import normalise
from pipeline.recognise import gather_clues
from pipeline.review.decide import Decision
from pipeline.review.differences import first_difference, states
from pipeline.review.faults import Fault
from pipeline.review.layouts import Taught, Told, drafts, hindrance
from pipeline.review.teach import write_layout
from pipeline.settings import parse_layout, read_own_layouts
from pipeline.validate import Judged, validate
from pipeline.workers import Workers
from schemas.layout import OwnLayout, load_layouts
from schemas.vocabulary import load_vocabulary

_CANNOT = "cannot be taught as a layout"
_GIVEN = ("analyte", "form", "unit", "matrix", "sample")
State = dict[tuple[str, str], dict[str, Any]]


@dataclass(frozen=True)
class LayoutLesson:
    """A layout as it is to be written, and the file it was taught from; `text` is null where the
    user's layouts read that file as decided already.
    """

    name: str
    file: str
    text: str | None = None


@dataclass(frozen=True)
class Lesson:
    """A sheet that was decided on: its report, and the rows that the decisions give."""

    sheet: str
    lab: str | None
    name: str
    remark: str
    given: Mapping[str, Mapping[str, str]]
    decided: pl.DataFrame


def layouts_in(folder: Path, workplace: Workplace) -> tuple[OwnLayout, ...]:
    """Read the layouts that lie in a folder; raise CinderlotError when one cannot be read."""
    if not folder.is_dir():
        return ()
    layouts, mistakes = read_own_layouts(folder, load_vocabulary(workplace.settings.vocabulary))
    if mistakes:
        raise CinderlotError(
            f"{folder}: no layout can be taught beside these: {'; '.join(mistakes)}"
        )
    return layouts


def write_layouts(folder: Path, lessons: Sequence[LayoutLesson]) -> tuple[tuple[Path, str], ...]:
    """Write the layouts that are new; give the file of each, and the one it was taught from."""
    new = {lesson.name: lesson for lesson in lessons if lesson.text}
    return tuple((write_layout(folder, n, x.text or ""), x.file) for n, x in new.items())


def teach_layouts(
    asked: Sequence[Decision],
    held: pl.DataFrame,
    rows: pl.DataFrame,
    reports: pl.DataFrame,
    workplace: Workplace,
    folders: Sequence[Path],
) -> tuple[dict[str, LayoutLesson], dict[str, Fault]]:
    """Give for each decision that asks for a layout its lesson, or why there is none; by held_id.

    `held` as settleable, `rows` what the decisions give (held_id and STORED). The files are looked
    for under `folders` and have to be what was loaded. `workplace` has the layouts of the folder
    that is taught into; each lesson counts for the sheets after it, so that alike sheets share one.
    """
    of_sheet = held.filter(pl.col("held_id").is_in([d.held_id for d in asked])).join(
        reports.select("report_id", "sha256", laboratory="lab"), on="report_id"
    )
    good, bad = dict[str, LayoutLesson](), dict[str, Fault]()
    for (_, sheet), part in of_sheet.group_by("report_id", "sheet", maintain_order=True):
        mine = [d for d in asked if d.held_id in set(part["held_id"])]
        made = _lesson(str(sheet), part.row(0, named=True), mine, rows, workplace, folders)
        if isinstance(made, str):
            bad |= {d.held_id: Fault(d.at, f"{_CANNOT}: {made}") for d in mine}
            continue
        good |= dict.fromkeys((d.held_id for d in mine), made)
        if made.text and (layout := _parsed(made, workplace)[0]):
            own = (*workplace.settings.own_layouts, layout)
            workplace = replace(workplace, settings=replace(workplace.settings, own_layouts=own))
    return good, bad


def _lesson(
    sheet: str,
    report: Mapping[str, Any],
    decisions: Sequence[Decision],
    rows: pl.DataFrame,
    workplace: Workplace,
    folders: Sequence[Path],
) -> LayoutLesson | str:
    source = find_again(report["file"], report["sha256"], folders)
    if isinstance(source, FileRefused):
        return source.message.replace("cinderlot page", "cinderlot held")
    who = min(d.said.given["who"] for d in decisions)
    lesson = Lesson(
        sheet,
        report["laboratory"],
        _free_name(report["laboratory"] or "sheet", workplace.settings.own_layouts),
        f"Taught in the workbook of held values by {who}, from {report['file']}, sheet {sheet}.",
        {d.held_id: _given(d) for d in decisions},
        rows.filter(pl.col("held_id").is_in([d.held_id for d in decisions])),
    )
    placed = replace(workplace, lab=report["laboratory"])
    with Workers(1) as workers:
        for _, made in workers.map(partial(_teach, lesson=lesson, workplace=placed), [source]):
            return made.message if isinstance(made, FileRefused) else made
    return "the file could not be read"


def _given(decision: Decision) -> dict[str, str]:
    given = {name: decision.said.given[f"corrected_{name}"] for name in _GIVEN}
    return {name: " ".join(text.split()) for name, text in given.items() if text}


def _free_name(lab: str, layouts: Sequence[OwnLayout]) -> str:
    plain = re.sub(r"[^a-z0-9]+", "_", lab.casefold()).strip("_") or "sheet"
    shipped = {layout.name for layout in load_layouts()} | {"stacked_panels"}
    taken = {layout.name for layout in layouts} | shipped
    names = (plain if n == 1 else f"{plain}_{n}" for n in range(1, len(taken) + 2))
    return next(name for name in names if name not in taken)


def _teach(source: Source, lesson: Lesson, workplace: Workplace) -> LayoutLesson | str:
    """Write a layout that reads a file as decided and all else as before, or say why none does."""
    before = draft(source, workplace)
    if not isinstance(before, Draft):
        return before.message if isinstance(before, FileRefused) else "the file is a register"
    was = _judged(before, workplace)
    decided = states(lesson.decided, was.held.clear(), was.unused.clear())
    mine = [b for b in before.recognised.blocks if b.sheet == lesson.sheet]
    own = {layout.name for layout in workplace.settings.own_layouts}
    if used := sorted({b.layout for b in mine} & own):
        now = states(*was.frames)
        alike = all(now.get(at) == row for at, row in decided.items())
        known = LayoutLesson(used[0], source.file)
        return known if alike else f'your layout "{used[0]}" reads the sheet otherwise; change it'
    sheet = _taught(before, was, mine[0].fixed if mine else {}, lesson, workplace)
    if isinstance(sheet, str):
        return sheet
    reasons = list[str]()
    for text in drafts(sheet):
        made = LayoutLesson(lesson.name, source.file, text)
        if not (why := _unlike(made, before, was, decided, workplace)):
            return made
        reasons.append(why)
    return reasons[0]


def _judged(made: Draft, workplace: Workplace) -> Judged:
    settings = workplace.settings
    readers = read_vocabulary(settings.vocabulary)
    return validate(
        normalise(made.readings, readers, settings), load_vocabulary(settings.vocabulary)
    )


def _parsed(lesson: LayoutLesson, workplace: Workplace) -> tuple[OwnLayout | None, tuple[str, ...]]:
    words = load_vocabulary(workplace.settings.vocabulary)
    return parse_layout(lesson.text or "", f"{lesson.name}.toml", words)


def _unlike(
    made: LayoutLesson, before: Draft, was: Judged, decided: State, workplace: Workplace
) -> str | None:
    """Say what a layout reads otherwise than decided or than before; null where it is right."""
    layout, mistakes = _parsed(made, workplace)
    if layout is None:
        return "; ".join(mistakes)
    own = (*workplace.settings.own_layouts, layout)
    again = draft(
        before.source, replace(workplace, settings=replace(workplace.settings, own_layouts=own))
    )
    if not isinstance(again, Draft):
        return again.message if isinstance(again, FileRefused) else "the file is a register"
    now = _judged(again, workplace)
    facts = before.recognised.facts, again.recognised.facts
    return first_difference(states(*was.frames), states(*now.frames), decided, facts)


def _taught(
    before: Draft, was: Judged, fixed: Mapping[str, str], lesson: Lesson, workplace: Workplace
) -> Taught | str:
    """Lay out what a layout can be drafted from, or say why it cannot."""
    readers = read_vocabulary(workplace.settings.vocabulary)
    clues = gather_clues(before.cells, lesson.sheet, readers)
    if clues is None:
        return "nothing in the sheet reads as a result"
    cells = before.cells.filter(
        pl.col("sheet") == lesson.sheet, pl.col("text").str.strip_chars() != ""
    )
    sheet = Taught(
        name=lesson.name,
        remark=lesson.remark,
        clues=clues,
        texts={
            (r, c): t for r, c, t in cells.sort("row", "col").select("row", "col", "text").rows()
        },
        fixed=fixed,
        told=_told(before, was, lesson),
        lab=lesson.lab,
        names=readers.names,
    )
    return hindrance(sheet) or sheet


def _told(before: Draft, was: Judged, lesson: Lesson) -> tuple[Told, ...]:
    """Say of each value cell of the sheet what it is, as decided or as read."""
    known = was.stored.select("sheet", "cell", "analyte", "form", unit="raw_unit")
    given = lesson.decided.select(
        "sheet", "cell", "held_id", new_analyte="analyte", new_form="form"
    )
    values = (
        before.readings.filter(pl.col("sheet") == lesson.sheet)
        .select("sheet", "cell", "row", "col", "raw_analyte", "raw_form", "raw_unit")
        .join(known, on=["sheet", "cell"], how="left", maintain_order="left")
        .join(given, on=["sheet", "cell"], how="left", maintain_order="left")
    )
    return tuple(
        Told(
            row["row"],
            row["col"],
            row["raw_analyte"],
            row["raw_form"],
            {
                "analyte": row["new_analyte"] or row["analyte"],
                "form": row["new_form"] or row["form"],
                "unit": said.get("unit") or row["unit"] or row["raw_unit"],
            },
            said,
        )
        for row in values.iter_rows(named=True)
        for said in [lesson.given.get(row["held_id"] or "", {})]
    )
