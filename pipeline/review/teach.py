"""Teach: check which names may be taught, write them, and layouts, into the user's own files."""

from __future__ import annotations

import contextlib
import json
import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.errors import CinderlotError
from pipeline.names import Names
from pipeline.review.decide import Decision
from pipeline.review.faults import Fault
from pipeline.whole_files import replace_whole
from schemas.vocabulary import Vocabulary, load_vocabulary, squash

_TABLE = re.compile(r"^[ \t]*\[[ \t]*analytes[ \t]*\][ \t]*(?:#.*)?$", re.MULTILINE)


@dataclass(frozen=True)
class Lesson:
    """A printed name, and the analyte it stands for."""

    name: str
    analyte: str


def lessons(
    decisions: Sequence[Decision], vocabulary: Vocabulary
) -> tuple[dict[str, Lesson], dict[str, Fault]]:
    """Give for each decision that teaches its lesson, or why it cannot be taught; by held_id."""
    names, shipped = Names(vocabulary), Names(load_vocabulary(None))
    asked = [d for d in decisions if d.said.teaches and not _is_known(d, names)]
    given = {d.held_id: _lesson(d, names) for d in asked}
    good, bad = dict[str, Lesson](), dict[str, Fault]()
    for decision in asked:
        lesson = given[decision.held_id]
        rivals = {v.analyte for v in given.values() if squash(v.name) == squash(lesson.name)}
        why = (
            f'"{lesson.name}" is taught as {" and as ".join(sorted(rivals))}'
            if len(rivals) > 1
            else _hindrance(lesson, decision.printed or "", shipped, vocabulary)
        )
        if why:
            bad[decision.held_id] = Fault(decision.at, f"cannot be taught: {why}")
        else:
            good[decision.held_id] = lesson
    return good, bad


def _is_known(decision: Decision, names: Names) -> bool:
    analyte = decision.said.given["corrected_analyte"]
    return bool(names.heading(decision.printed or "").analyte == analyte)


def _lesson(decision: Decision, names: Names) -> Lesson:
    printed = decision.printed or ""
    spelled = names.heading(printed).spelled or printed
    return Lesson(" ".join(spelled.split()), decision.said.given["corrected_analyte"])


def _hindrance(lesson: Lesson, printed: str, shipped: Names, own: Vocabulary) -> str | None:
    """Say why a name cannot be taught; null when it can."""
    name, key = f'"{lesson.name}"', squash(lesson.name)
    if not key:
        return "the report prints no name"
    said = shipped.heading(lesson.name)
    if said.analyte and said.analyte != lesson.analyte:
        return f"{name} is known as {said.analyte}; clear teach if only this value is wrong"
    if key in shipped.vocabulary.ambiguous:
        return f"{name} may be more than one analyte: {shipped.vocabulary.ambiguous[key]}"
    if said.out_of_scope or said.field:
        return f"{name} has another meaning in reports; clear teach"
    taught = {squash(printed): analyte for printed, analyte in own.taught.items()}
    if taught.get(key, lesson.analyte) != lesson.analyte:
        return f"your vocabulary file gives {name} to {taught[key]}; change it there first"
    learnt = Names(replace(own, taught={**own.taught, lesson.name: lesson.analyte}))
    if learnt.heading(printed).analyte != lesson.analyte:
        return f'"{printed}" would not be understood by it; clear teach'
    return None


def write_lessons(file: Path, taught: Sequence[Lesson]) -> tuple[Lesson, ...]:
    """Add names to a vocabulary file, keeping all that stands in it; give those that are new.

    The file is replaced whole or not at all. Raises CinderlotError when it cannot be added to.
    """
    target = file.resolve()
    text = target.read_text(encoding="utf-8") if target.exists() else ""
    known = _analytes(text, file)
    keys = {squash(name): analyte for name, analyte in known.items()}
    fresh: dict[str, Lesson] = {}
    for lesson in sorted(taught, key=lambda t: (squash(t.name), t.name)):
        key = squash(lesson.name)
        if keys.get(key, lesson.analyte) != lesson.analyte:
            raise CinderlotError(
                f'{file}: it gives "{lesson.name}" to {keys[key]}; change it first'
            )
        if key not in keys:
            fresh.setdefault(key, lesson)
    if not fresh:
        return ()
    added = {lesson.name: lesson.analyte for lesson in fresh.values()}
    grown = _grown(text, added)
    if not _reads_as(grown, {**known, **added}):
        lines = ", ".join(_toml(n, a) for n, a in added.items())
        raise CinderlotError(f"{file}: it cannot be added to; write under [analytes]: {lines}")
    _replace(target, grown)
    return tuple(fresh.values())


def _analytes(text: str, file: Path) -> dict[str, str]:
    try:
        table = tomllib.loads(text).get("analytes", {})
    except tomllib.TOMLDecodeError as error:
        raise CinderlotError(f"{file}: not readable as TOML: {error}") from None
    return dict(table) if isinstance(table, dict) else {}


def _reads_as(text: str, analytes: Mapping[str, str]) -> bool:
    try:
        return bool(tomllib.loads(text).get("analytes") == analytes)
    except tomllib.TOMLDecodeError:
        return False


def _grown(text: str, added: Mapping[str, str]) -> str:
    lines = "\n".join(_toml(name, analyte) for name, analyte in added.items())
    if found := _TABLE.search(text):
        return f"{text[: found.end()]}\n{lines}{text[found.end() :]}"
    ending = "" if not text or text.endswith("\n") else "\n"
    return f"{text}{ending}[analytes]\n{lines}\n"


def _toml(name: str, analyte: str) -> str:
    return f"{json.dumps(name, ensure_ascii=False)} = {json.dumps(analyte, ensure_ascii=False)}"


def write_layout(folder: Path, name: str, text: str) -> Path:
    """Write a layout into a folder as a new file, whole or not at all; give its path.

    A file that is there already is never written over: the next free name is taken.
    """
    folder.mkdir(parents=True, exist_ok=True)
    half = folder / f".{name}.{os.getpid()}.part"
    try:
        half.write_text(text, encoding="utf-8")
        for number in range(1, 1000):
            target = folder / (f"{name}.toml" if number == 1 else f"{name}_{number}.toml")
            with contextlib.suppress(FileExistsError):
                os.link(half, target)
                return target
        raise CinderlotError(f"{folder}: there is no free name left for {name}.toml")
    except OSError as error:
        raise CinderlotError(f"{folder}: no layout can be written: {error.strerror}") from None
    finally:
        half.unlink(missing_ok=True)


def _replace(target: Path, text: str) -> None:
    def write(half: Path) -> None:
        with half.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            half.chmod(target.stat().st_mode & 0o777)

    replace_whole(target, write)
