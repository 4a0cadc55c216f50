"""Words by which running text tells something, as parts of patterns: `wordings.toml`, loaded."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files


@cache
def load_wordings() -> Mapping[str, Mapping[str, tuple[str, ...]]]:
    """Read the lists of words, by their table and key."""
    text = files("schemas").joinpath("wordings.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    return {t: {key: tuple(words) for key, words in lists.items()} for t, lists in tables.items()}


def any_of(table: str, *keys: str) -> str:
    """Give one part of a pattern that fits any of the words of some lists of a table."""
    lists = load_wordings()[table]
    return f"(?:{'|'.join(_pattern(word) for key in keys for word in lists[key])})"


def as_whole_words(part: str) -> re.Pattern[str]:
    """Build the pattern of a part that stands between other words, whatever its case."""
    return re.compile(rf"(?<!\w){part}(?!\w)", re.IGNORECASE)


def words_of(table: str, key: str) -> frozenset[str]:
    """Give the words of a list as they stand."""
    return frozenset(load_wordings()[table][key])


def _pattern(word: str) -> str:
    signs: Iterable[tuple[str, str]] = ((r"\ ", r"\s+"), (r"\*", r"\w*"), ("'", "['’]"))
    made = re.escape(word)
    for sign, part in signs:
        made = made.replace(sign, part)
    return made
