"""The mail account: the settings, with what the environment says on top."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.errors import BadSettings
from pipeline.settings.model import Email
from pipeline.settings.reading import Reading
from pipeline.settings.rules import EMAIL
from schemas.vocabulary import load_vocabulary

_PREFIX = "CINDERLOT_EMAIL_"


def email_account(given: Email | None, environment: Mapping[str, str]) -> Email:
    """Give the account that sends; CINDERLOT_EMAIL_SERVER and its kin go before the settings.

    Raises BadSettings when no server or sender is set, or a variable has a wrong value.
    """
    table: dict[str, Any] = {k: v for k in EMAIL if (v := getattr(given, k, None)) is not None}
    said = {key: environment.get(f"{_PREFIX}{key.upper()}") for key in EMAIL}
    table |= {key: _as_typed(key, text) for key, text in said.items() if text}
    reading = Reading(load_vocabulary(), Path())
    account = reading.take(table, "[email] ", EMAIL)
    if reading.mistakes:
        raise BadSettings(
            "no mail can be sent: " + "; ".join(reading.mistakes) + "; write it into the settings "
            f"or into the environment variable {_PREFIX}... of the same name"
        )
    return Email(**account)


def _as_typed(key: str, text: str) -> str | int:
    return int(text) if key == "port" and text.isdecimal() else text
