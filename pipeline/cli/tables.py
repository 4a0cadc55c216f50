"""Write frames to the terminal: aligned columns, or JSON, or CSV."""

from __future__ import annotations

import json
import math
import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from pipeline.errors import WrongUse

if TYPE_CHECKING:
    import polars as pl

_NARROWEST = 6
_COLOURS = {"red": "31", "yellow": "33", "grey": "90"}
# Of the palette of 256: hues that differ in lightness too, for eyes that see red and green alike.
_COLOURS |= {"blue": "38;5;33", "orange": "1;38;5;208", "purple": "38;5;134", "teal": "38;5;36",
             "rose": "38;5;175", "sky": "38;5;74", "olive": "38;5;143"}  # fmt: skip


def show(
    frame: pl.DataFrame,
    as_json: bool = False,
    as_csv: bool = False,
    columns: Sequence[str | pl.Expr] | None = None,
    below: Sequence[str] = (),
) -> None:
    """Print a frame as a table of some columns, or all of it as JSON or CSV.

    `below` names the columns whose text goes under the row. Raises WrongUse when both JSON and CSV
    are asked for.
    """
    if as_json and as_csv:
        raise WrongUse("--json and --csv exclude each other; give one of them.")
    if as_json:
        print(to_json(frame))
    elif as_csv:
        print(_flat(frame).write_csv(), end="")
    else:
        print("\n".join(table(frame, terminal_width(), columns, below)))


def terminal_width() -> int | None:
    """Tell how wide the terminal is; null when the output goes elsewhere."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def to_json(frame: pl.DataFrame) -> str:
    """Write a frame as a JSON array of objects; dates and instants as ISO 8601, null as null."""
    return json.dumps(frame.to_dicts(), default=_plain, ensure_ascii=False, indent=1)


def table(
    frame: pl.DataFrame,
    width: int | None = None,
    columns: Sequence[str | pl.Expr] | None = None,
    below: Sequence[str] = (),
) -> list[str]:
    """Lay out a frame as lines of aligned columns, at most `width` wide (null: as wide as needed).

    A pair `lower`, `upper` (or `x_lower`, `x_upper`) becomes one column `[lower, upper]`; numbers
    stand to the right and are never cut. Columns that cannot fit go one under the other.
    """
    if frame.is_empty():
        return ["nothing to list"]
    heads, rows, rights = _cells(frame.select(columns) if columns else frame)
    texts = [_wrapped(text, width) for text in _texts(frame, below)]
    widths = _fit(heads, rows, rights, width)
    if width and _total(widths) > width:
        return _stacked(heads, rows, texts)
    lines = [_line(heads, widths, rights)]
    for row, text in zip(rows, texts, strict=True):
        lines += [_line(row, widths, rights), *text]
    return lines


def number(value: float) -> str:
    """Write a number with four significant digits, without exponent or idle zeros."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    places = max(0, 3 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def interval(lower: float | None, upper: float | None) -> str:
    """Write an interval as [lower, upper]; one number when both agree, `...` for an open end."""
    if lower is None and upper is None:
        return ""
    if lower == upper and lower is not None:
        return number(lower)
    ends = ("..." if end is None else number(end) for end in (lower, upper))
    return f"[{', '.join(ends)}]"


def printable(text: str) -> str:
    """Replace what would steer a terminal: control characters become a middle dot."""
    return "".join(c if c.isprintable() else "·" for c in text)


def paint(text: str, colour: str | None, stream: Any = None) -> str:
    """Colour a text when it goes to a terminal and NO_COLOR is not set."""
    stream = stream or sys.stdout
    colourless = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    if colour is None or colourless or not stream.isatty():
        return text
    return f"\x1b[{_COLOURS[colour]}m{text}\x1b[0m"


def _plain(value: Any) -> Any:
    match value:
        case date() | datetime():
            return value.isoformat()
        case Decimal():  # what the store adds up is an exact decimal; JSON has numbers only
            return int(value) if value == value.to_integral_value() else float(value)
    return str(value)


def _flat(frame: pl.DataFrame) -> pl.DataFrame:
    """Write lists and structs as text, which CSV cannot hold otherwise."""
    nested = [name for name, dtype in frame.schema.items() if dtype.is_nested()]
    texts = (
        type(frame[name])(name, [None if v is None else str(v) for v in frame[name].to_list()])
        for name in nested
    )
    return frame.with_columns(*texts)


def _cells(frame: pl.DataFrame) -> tuple[list[str], list[list[str]], list[bool]]:
    heads, texts, rights = [], [], []
    for name, dtype in frame.schema.items():
        upper = name.removesuffix("lower") + "upper"
        if name.endswith("upper") and name.removesuffix("upper") + "lower" in frame.columns:
            continue
        if name.endswith("lower") and upper in frame.columns:
            heads.append(name.removesuffix("lower").rstrip("_") or "[lower, upper]")
            texts.append([interval(*pair) for pair in frame.select(name, upper).iter_rows()])
        else:
            heads.append(name)
            texts.append([_text(value) for value in frame[name].to_list()])
        rights.append(dtype.is_numeric())
    return heads, [list(row) for row in zip(*texts, strict=True)], rights


def _text(value: Any) -> str:
    match value:
        case None:
            return ""
        case float():
            return number(value)
        case datetime():
            return f"{value:%Y-%m-%d %H:%M}"
    return printable(str(value))


def _texts(frame: pl.DataFrame, below: Sequence[str]) -> list[str]:
    if not below:
        return [""] * frame.height
    rows = frame.select(below).iter_rows()
    return [printable("; ".join(filter(None, texts)).replace(".; ", ". ")) for texts in rows]


def _wrapped(text: str, width: int | None) -> list[str]:
    return textwrap.wrap(text, width or 100, initial_indent="    ", subsequent_indent="    ")


def _stacked(heads: list[str], rows: list[list[str]], texts: list[list[str]]) -> list[str]:
    room = max(map(len, heads))
    lines: list[str] = []
    for row, text in zip(rows, texts, strict=True):
        pairs = zip(heads, row, strict=True)
        lines += [f"{head.ljust(room)}  {cell}" for head, cell in pairs if cell]
        lines += [*text, ""]
    return lines[:-1]


def _fit(
    heads: list[str], rows: list[list[str]], rights: list[bool], width: int | None
) -> list[int]:
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    words = [n for n, right in enumerate(rights) if not right]
    while width and words and _total(widths) > width:
        widest = max(words, key=widths.__getitem__)
        if widths[widest] <= _NARROWEST:
            break
        widths[widest] -= 1
    return widths


def _total(widths: Sequence[int]) -> int:
    return sum(widths) + 2 * (len(widths) - 1)


def _line(cells: Sequence[str], widths: Sequence[int], rights: Sequence[bool]) -> str:
    parts = [
        (cut.rjust if right else cut.ljust)(width)
        for cell, width, right in zip(cells, widths, rights, strict=True)
        for cut in [cell if len(cell) <= width else cell[: width - 1] + "…"]
    ]
    return "  ".join(parts).rstrip()
