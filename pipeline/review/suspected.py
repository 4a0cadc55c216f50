"""What can be decided of a number whose unit may have slipped, be it held or stored."""

from __future__ import annotations

from collections.abc import Mapping
from math import isclose
from typing import Any

from pipeline.review.given import Said
from schemas.settlements import CONFIRMABLE, GIVEN, GIVEN_STORED, STORED

Row = Mapping[str, Any]


def hindrance(said: Said, row: Row) -> str | None:
    """Say why a decision does not go with a value; null where it does."""
    if said.given["corrected_factor"] is not None and (why := _unfit_factor(said, row)):
        return why
    return _unfit_stored(said, row) if row["is_stored"] else None


def _unfit_factor(said: Said, row: Row) -> str | None:
    if row["reason_code"] not in CONFIRMABLE:
        return (
            f"factor goes with {', '.join(CONFIRMABLE)} only, and this value is held as "
            f"{row['reason_code']}; write what is right"
        )
    if said.given["corrected_value"] or said.given["corrected_unit"]:
        return "factor goes with neither a corrected value nor a unit; give one of them"
    suggested = row["suspected_factor"]
    if suggested is None:
        return (
            "no factor is suggested of this number any more; give the value or unit that is right"
        )
    if not isclose(said.given["corrected_factor"], suggested, rel_tol=1e-9):
        return (
            f"the factor suggested of this number is {suggested:g}; give the value or unit instead "
            "where another one is right"
        )
    return None


def _unfit_stored(said: Said, row: Row) -> str | None:
    if said.decision not in STORED:
        return (
            "this number is stored as printed and only suspected; confirm or correct it, or ask "
            "the laboratory"
        )
    if said.decision != "correct":
        return None
    if said.lays_out:
        return "teach goes with held values only; clear it"
    if row["corrects"]:
        return (
            "this number is a correction already; take that back first: cinderlot held --undo "
            f"{row['corrects']}"
        )
    extra = [name for name in GIVEN if name.startswith("corrected_") and name not in GIVEN_STORED
             and said.given.get(name) is not None]  # fmt: skip
    if extra:
        return (
            f"{extra[0].removeprefix('corrected_').replace('_', ' ')} does not go with a number "
            "that is stored and suspected; give corrected value, unit or factor"
        )
    return None
