"""Why lines of a review workbook cannot be used, and where each stands."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """Why a line cannot be used, and where that stands."""

    at: str
    message: str

    def __str__(self) -> str:
        return f"{self.at}: {self.message}"


def in_order(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Sort faults as a person reads the workbook: by sheet, row and column."""
    return tuple(sorted(faults, key=_place))


def _place(fault: Fault) -> tuple[str, int, int, str, str]:
    sheet, _, cell = fault.at.partition("!")
    found = re.match(r"([A-Z]+)(\d+)", cell)
    letters, row = (found[1], int(found[2])) if found else ("", 0)
    return sheet, row, len(letters), letters, str(fault)
