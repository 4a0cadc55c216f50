"""The ways of `cinderlot held`: list, take out, bring back, take back."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.faults import DONE, REFUSED
from pipeline.cli.options import STORE, AsCsv, AsJson, Db, SettingsFile
from pipeline.errors import WrongUse

if TYPE_CHECKING:
    from pipeline.flows import Applied, Places
    from pipeline.settings import Settings

_WORDS = {
    "correct": "corrected",
    "confirm": "confirmed",
    "dismiss": "dismissed",
    "ask": "asked",
    "known": "stored before",
    "open": "left open",
}
_DONE = {
    "correct": "the correction",
    "confirm": "the confirmation",
    "dismiss": "the dismissal",
    "ask": "the question",
}


def held(
    export: Annotated[
        Path | None,
        typer.Option("--export", metavar="FILE.xlsx", help="Write a workbook to fill in."),
    ] = None,
    apply: Annotated[
        Path | None,
        typer.Option("--apply", metavar="FILE.xlsx", help="Bring a filled workbook back."),
    ] = None,
    undo: Annotated[
        str | None,
        typer.Option("--undo", metavar="ID", help="Take back what was decided of a held value."),
    ] = None,
    reports: Annotated[
        list[Path] | None,
        typer.Option(
            "--reports",
            metavar="FOLDER",
            help="Where the laboratories' files lie, for a layout that is taught; may be repeated.",
        ),
    ] = None,
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: AsJson = False,
    as_csv: AsCsv = False,
) -> int:
    """List the values that were held back, each with its cell, the reason and what to do.

    Or settle them: write them into a workbook, fill it in, and bring it back; exits with 1 when a
    line of it cannot be used, and stores the others.
    """
    from pipeline.settings import load_settings

    asked = [name for name, given in (("--export", export), ("--apply", apply), ("--undo", undo),
                                      ("--json", as_json), ("--csv", as_csv)) if given]  # fmt: skip
    if len(asked) > 1:
        raise WrongUse(f"{' and '.join(asked)} exclude each other; give one of them.")
    known = load_settings(settings, db)
    if export:
        return _export(export, db, known)
    if apply:
        folders = tuple(reports) if reports else (db.parent, Path.cwd())
        return _apply(apply, db, known, settings or db.parent / "cinderlot.toml", folders)
    if undo is not None:
        return _undo(undo, db, known)
    return _list(db, as_json, as_csv)


def _list(db: Path, as_json: bool, as_csv: bool) -> int:
    """List held values of the reports in force, with where each stands."""
    import polars as pl

    from pipeline.cli.tables import show
    from pipeline.store import Store

    with Store(db, read_only=True) as store:
        listed = store.held().filter("is_current")
    cell = pl.concat_str("sheet", "cell", separator="!").alias("cell")
    columns = ("held_id", "status", "file", cell, "raw_sample", "raw_analyte", "raw_value",
               "reason_code")  # fmt: skip
    show(listed, as_json, as_csv, columns, below=("reason", "hint"))
    return DONE


def _export(file: Path, db: Path, settings: Settings) -> int:
    """Write the held values that wait, and the suspected ones, into a workbook."""
    from pipeline import flows

    n, m = flows.export_review(file, flows.Workplace(db, settings))
    more = f" and {m} suspected number{'' if m == 1 else 's'}" if m else ""
    print(f"{file}: {n} held value{'' if n == 1 else 's'}{more}; fill in the yellow cells, then:")
    print(f"    cinderlot held --apply {file}")
    return DONE


def _apply(file: Path, db: Path, settings: Settings, named: Path, folders: tuple[Path, ...]) -> int:
    """Bring a filled workbook back; say what was stored, and of every other line why not."""
    from pipeline import flows
    from pipeline.cli.tables import printable

    places = flows.Places(
        settings.vocabulary or named.parent / "vocabulary.toml",
        settings.layouts or named.parent / "layouts",
        folders,
    )
    applied = flows.apply_review(file, flows.Workplace(db, settings), places)
    for fault in applied.faults:
        print(printable(f"{applied.file}: {fault}"), file=sys.stderr)
    for line in _taught(applied, places, named):
        print(printable(line))
    counts = ", ".join(f"{applied.counts[name]} {word}" for name, word in _WORDS.items())
    refused = f", {len(applied.faults)} refused" if applied.faults else ""
    print(printable(f"{applied.file}: {counts}{refused}"))
    return REFUSED if applied.faults else DONE


def _taught(applied: Applied, places: Places, settings_file: Path) -> Iterator[str]:
    for lesson in applied.taught:
        yield f'{places.vocabulary}: "{lesson.name}" is a name of {lesson.analyte} from now on'
    for path, file in applied.layouts:
        yield f"{path}: a layout for sheets laid out like those of {file}"
    for key in applied.unused:
        told = {"vocabulary": ("the vocabulary is", places.vocabulary.name),
                "layouts": ("the layouts are", places.layouts.name)}[key]  # fmt: skip
        yield (
            f"{told[0]} not in use yet: write this line at the top of {settings_file}"
            f"{'' if settings_file.exists() else ', a new file'}: "
            f'{key} = "{told[1]}"'
        )
    if applied.affected:
        yield f"load these files again to judge them anew with it: {', '.join(applied.affected)}"


def _undo(held_id: str, db: Path, settings: Settings) -> int:
    """Take back what was decided of a held value."""
    from pipeline import flows

    undone = flows.undo_settlement(held_id.strip(), flows.Workplace(db, settings))
    said = f"{_DONE[undone]} was taken back; it is" if undone else "nothing is decided; it is"
    print(f"{held_id}: {said} open")
    return DONE
