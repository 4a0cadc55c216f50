"""Spreadsheet addresses: column letters and A1 names."""

from __future__ import annotations

from functools import cache


@cache
def column_letters(column: int) -> str:
    """Write a 1-based column number as letters: 1 is A, 27 is AA."""
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def cell_name(row: int, column: int) -> str:
    """Write a 1-based row and column as an A1 address."""
    return f"{column_letters(column)}{row}"
