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


def cell_place(name: str) -> tuple[int, int]:
    """Give the 1-based row and column of an A1 address."""
    letters = name.rstrip("0123456789")
    column = 0
    for letter in letters:
        column = 26 * column + ord(letter) - 64
    return int(name[len(letters) :]), column
