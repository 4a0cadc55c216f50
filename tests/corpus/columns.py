"""One column of results as text, each beside what it means."""

from __future__ import annotations

import openpyxl

from corpus.books import fill, saved
from corpus.cases import Case, cells


def column(texts: list[str], title: str = "Free guaiacol (µg/L)", *head: str) -> bytes:
    """A sheet with one sample per line: S1, S2 ... and the given texts, kept as text."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "Results"
    fill(sheet, [["Sample", title, "Free syringol (µg/L)"], *[[h] for h in head]])
    top = len(head) + 2
    fill(sheet, [[f"S{n}", text, 1.5] for n, text in enumerate(texts, 1)], top)
    return saved(workbook)


def told(tokens: list[str], first: int = 2) -> dict[str, object]:
    """Expect one short value for each sample of `column`."""
    lines = [
        f"B{row} {token}" if token[0] in "!-" or token == "scope"
        else f"B{row} guaiacol free S{n} {token}"
        for n, (row, token) in enumerate(((first + i, t) for i, t in enumerate(tokens)), 1)
    ]  # fmt: skip
    beside = [f"C{first + i} syringol free S{i + 1} 1.5" for i in range(len(tokens))]
    return cells("\n".join(lines + beside))


def pairs(table: str) -> tuple[list[str], list[str]]:
    """Read "printed => meaning" lines."""
    lines = [line.split("=>") for line in table.strip("\n").splitlines()]
    return [a.strip() for a, _ in lines], [b.strip() for _, b in lines]


def column_case(table: str, title: str = "Free guaiacol (µg/L)") -> Case:
    """A case of one column from "printed => meaning" lines."""
    texts, tokens = pairs(table)
    return Case(column(texts, title), told(tokens))
