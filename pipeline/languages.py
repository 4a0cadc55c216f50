"""Tell the language of a report by words that stand in reports of one language only."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from schemas.folding import squash_words

_ENOUGH = 2


@dataclass(frozen=True)
class Language:
    """A language, the words that only its reports print, and whether it always puts the day first."""

    name: str
    day_first: bool
    words: frozenset[str]


@cache
def load_languages() -> tuple[Language, ...]:
    """Read the languages and their words."""
    text = files("schemas").joinpath("languages.toml").read_text(encoding="utf-8")
    return tuple(
        Language(name, bool(table["day_first"]), frozenset(table["words"]))
        for name, table in tomllib.loads(text).items()
    )


def puts_day_first(name: str | None) -> bool:
    """Tell a language that writes the day before the month wherever it is spoken."""
    return any(language.day_first for language in load_languages() if language.name == name)


def language_of(texts: Iterable[str]) -> str | None:
    """Name the one language of which at least two words are printed and none of another; else null."""
    printed = " | ".join(map(squash_words, texts))
    words = set(printed.split())
    told = {
        language: [w for w in language.words if w in words or (" " in w and _stands(w, printed))]
        for language in load_languages()
    }
    spoken = [language for language, found in told.items() if found]
    only = spoken[0] if len(spoken) == 1 else None
    return only.name if only and len(told[only]) >= _ENOUGH else None


def _stands(phrase: str, printed: str) -> bool:
    return re.search(rf"\b{phrase}\b", printed) is not None
