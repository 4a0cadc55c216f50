"""Short texts that change when what they stand for may come out otherwise."""

from __future__ import annotations

import hashlib
from dataclasses import fields
from functools import cache
from importlib.resources import files

from pipeline.settings.model import Settings

_OF_NO_WEIGHT = {"inbox", "serving", "email", "recipients", "layouts", "own_layouts", "vocabulary"}


def judging_key(settings: Settings) -> str:
    """Tell apart the settings, layouts and vocabularies that read and judge a report otherwise."""
    return _digest(settings, ["laboratories", "own_layouts"])


def deciding_key(settings: Settings) -> str:
    """Tell apart the settings and vocabularies that derive and decide otherwise."""
    return _digest(settings, [f.name for f in fields(settings) if f.name not in _OF_NO_WEIGHT])


def _digest(settings: Settings, names: list[str]) -> str:
    own = settings.vocabulary.read_bytes() if settings.vocabulary else b""
    told = repr([(name, getattr(settings, name)) for name in names]).encode()
    return hashlib.sha256(b"\0".join([_shipped(), own, told])).hexdigest()[:16]


@cache
def _shipped() -> bytes:
    tables = (f for f in files("schemas").iterdir() if f.name.endswith(".toml"))
    return b"".join(table.read_bytes() for table in sorted(tables, key=lambda f: f.name))
