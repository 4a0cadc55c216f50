"""Read the settings file: every mistake in it is told at once, with what would be right."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

from pipeline.errors import BadSettings
from pipeline.settings.account import email_account
from pipeline.settings.interpret import interpret
from pipeline.settings.keys import deciding_key, judging_key
from pipeline.settings.layouts import read_layout, read_layouts
from pipeline.settings.model import Email, Laboratory, Recipient, Serving, Settings
from pipeline.settings.reading import Reading
from pipeline.settings.rules import is_address
from schemas.layout import OwnLayout
from schemas.vocabulary import Vocabulary, load_vocabulary

__all__ = [
    "Email",
    "Laboratory",
    "Recipient",
    "Serving",
    "Settings",
    "deciding_key",
    "email_account",
    "is_address",
    "judging_key",
    "load_settings",
    "parse_layout",
    "read_own_layouts",
    "settings_template",
]

FILE_NAME = "cinderlot.toml"


def read_own_layouts(
    folder: Path, vocabulary: Vocabulary
) -> tuple[tuple[OwnLayout, ...], tuple[str, ...]]:
    """Read the layouts of a folder; give them, and every mistake in them."""
    reading = Reading(vocabulary, folder)
    return read_layouts(folder, reading), tuple(reading.mistakes)


def parse_layout(
    text: str, file: str, vocabulary: Vocabulary
) -> tuple[OwnLayout | None, tuple[str, ...]]:
    """Read one layout out of its text; give it, or null and every mistake in it."""
    reading = Reading(vocabulary, Path())
    return read_layout(text, file, reading), tuple(reading.mistakes)


def _taught(table: dict[str, Any], path: Path) -> Vocabulary:
    given = table.get("vocabulary")
    file = path.parent / Path(given).expanduser() if isinstance(given, str) else None
    try:
        return load_vocabulary(file)
    except (ValueError, OSError) as error:
        raise BadSettings(f"{path.name}: vocabulary: {error}") from None


def load_settings(path: Path | None = None, store: Path | None = None) -> Settings:
    """Read the settings file, or `cinderlot.toml` beside the store; without one, the defaults.

    Raises BadSettings listing every unknown key, wrong value and path that does not exist, and
    when a file that was named is not there.
    """
    wanted = path or (store.parent if store else Path()) / FILE_NAME
    if not wanted.exists():
        if path is not None:
            raise BadSettings(f"{path}: there is no such settings file; cinderlot init writes one.")
        return Settings()
    try:
        table = tomllib.loads(wanted.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadSettings(f"{wanted.name}: not readable as TOML: {error}") from None
    reading = Reading(_taught(table, wanted), wanted.parent)
    settings = interpret(reading, table)
    if reading.mistakes:
        raise BadSettings("\n".join(f"{wanted.name}: {line}" for line in reading.mistakes))
    return settings


def settings_template() -> str:
    """Give a settings file with every key explained; as it stands it changes nothing."""
    return files("schemas").joinpath("settings.toml").read_text(encoding="utf-8")
