"""Write small workbooks as a laboratory would hand them over."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from openpyxl import Workbook

Lines = list[list[Any]]


def write_book(path: Path, lines: Lines) -> Path:
    """Write lines into the sheet Form of a workbook and give its path."""
    book = Workbook()
    page = book.worksheets[0]
    page.title = "Form"
    for line in lines:
        page.append(line)
    book.save(path)
    return path
