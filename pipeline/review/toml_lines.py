"""Write the lines of a TOML file."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any


def table(name: str, pairs: Mapping[str, Any]) -> list[str]:
    """Write a table with a line for each of its keys, an empty line before it."""
    return ["", f"[{name}]", *pairs_of(pairs)]


def pairs_of(pairs: Mapping[str, Any]) -> list[str]:
    """Write a line for each key."""
    return [f"{_key(name)} = {written(value)}" for name, value in pairs.items()]


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else written(name)


def written(value: Any) -> str:
    """Write a text, a number, a list of texts, or keys in braces."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(pairs_of(value)) + " }"
    text = " ".join(value.split()) if isinstance(value, str) else value
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
