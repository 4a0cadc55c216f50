"""The fast reader of plain .xlsx workbooks: values by calamine, looks by the style numbers.

Calamine gives values without their looks, so the style of each number is taken from the XML.
Where the two do not fit together, `Unsure` sends the workbook to the slow reader.
"""

import io
import re
from collections.abc import Mapping
from functools import lru_cache
from itertools import chain
from typing import Any

import polars as pl
from openpyxl.utils import column_index_from_string
from python_calamine import CalamineWorkbook

from pipeline.errors import FileRefused
from pipeline.read.cells import Shown, order_cells, show_boolean, show_number
from pipeline.read.inspect_sheets import MERGED
from pipeline.read.number_formats import general, render
from pipeline.read.package import Package, Sheet
from schemas.frames import CELLS

NUMERIC = re.compile(
    rb'<c r="[A-Z]+\d+"(?: s="(\d+)")?(?: t="n")?>'
    rb"(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)?<v>([^<]+)</v>"
)
FIXED = re.compile(r"0(?:\.(0{1,6}))?")
PLAIN_KINDS = frozenset({str, float, bool})
UNDRESSED = frozenset({"General", "@"})
column_number = lru_cache(maxsize=None)(column_index_from_string)


class Unsure(Exception):
    """Say that only the slow reader can tell what this workbook shows."""


def open_calamine(content: bytes, file: str) -> Any:
    """Open a workbook with calamine, turning whatever it raises into a refusal."""
    try:
        return CalamineWorkbook.from_filelike(io.BytesIO(content))
    except MemoryError:
        raise
    except BaseException as error:
        raise refusal(error, file) from None


def refusal(error: BaseException, file: str) -> BaseException:
    """Turn an error or panic of the native reader into a refusal; let interrupts pass."""
    if isinstance(error, KeyboardInterrupt | SystemExit | GeneratorExit | MemoryError):
        return error
    if type(error).__name__ == "PasswordError":
        return FileRefused(file, "it is protected by a password; save a copy without one.")
    return FileRefused(
        file,
        "its inner parts are damaged or do not fit together; open it in a spreadsheet and save "
        "it anew as .xlsx.",
    )


def grid(workbook: Any, name: str, file: str) -> list[list[Any]]:
    """Read one sheet as rows of values, from cell A1 on."""
    try:
        rows: list[list[Any]] = workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
    except BaseException as error:
        raise refusal(error, file) from None
    return rows


def read_package_with_calamine(package: Package, file: str) -> pl.DataFrame:
    """Read every worksheet of a plain workbook; raise `Unsure` where it proves not plain."""
    workbook = open_calamine(package.content, file)
    frames = [
        _read_sheet(package, sheet, grid(workbook, sheet.name, file))
        for sheet in package.worksheets
    ]
    return pl.concat(frames) if frames else pl.DataFrame(schema=CELLS)


def _read_sheet(package: Package, sheet: Sheet, rows: list[list[Any]]) -> pl.DataFrame:
    width = len(rows[0]) if rows else 1
    flat = list(chain.from_iterable(rows))
    places = [place for place, value in enumerate(flat) if value != ""]
    values = [flat[place] for place in places]
    cells = _frame(sheet.name, width, places, values)
    if not cells["number"].is_finite().all():
        raise Unsure("a number without end")
    fixed, patches = _dress(values, *_looks(package, sheet))
    for decimals, positions in fixed.items():
        at = pl.Series(positions, dtype=pl.UInt32)
        cells = _set(cells, at, {"text": show_fixed(cells["number"].gather(at), decimals)})
    if patches:
        fields = zip(Shown._fields, zip(*patches.values(), strict=True), strict=True)
        cells = _set(cells, pl.Series(list(patches), dtype=pl.UInt32), dict(fields))
    if (cells["text"] == "").any():
        cells = cells.filter(pl.col("text") != "")
    return _merge(cells, sheet)


def _looks(package: Package, sheet: Sheet) -> tuple[list[str] | None, list[float]]:
    """Give number format and stored value of each numeric cell, in the order of the XML.

    The formats are null when no cell of the sheet has any but `General`.
    """
    formats = package.styles.formats
    codes = {style: formats[style] for style in sheet.styles if style < len(formats)}
    if UNDRESSED.issuperset(codes.values()):
        return None, []
    by_style = {str(style).encode(): code for style, code in codes.items()} | {b"": "General"}
    found = NUMERIC.findall(sheet.body)
    try:
        return [by_style[style] for style, _ in found], [float(value) for _, value in found]
    except ValueError:
        raise Unsure("a number that is none") from None


def _dress(
    values: list[Any], codes: list[str] | None, stored: list[float]
) -> tuple[dict[int, list[int]], dict[int, Shown]]:
    """Give the positions of numbers with fixed decimals, and what else is more than a value.

    Values and codes come in the same order, so each number must meet its own stored value;
    where one does not, the sheet is not as plain as it looked.
    """
    kinds = list(map(type, values))
    patches = {}
    if bool in kinds:
        patches = {at: show_boolean(values[at]) for at, kind in enumerate(kinds) if kind is bool}
    if codes is None:
        if not PLAIN_KINDS.issuperset(kinds):
            raise Unsure("a date without a format")
        return {}, patches
    numeric = [at for at, kind in enumerate(kinds) if kind is not str and kind is not bool]
    if len(numeric) != len(codes):
        raise Unsure("a number without a cell")
    fixed: dict[int, list[int]] = {}
    for at, code, number in zip(numeric, codes, stored, strict=True):
        if values[at] != number and kinds[at] is float:
            raise Unsure("a number in another cell")
        decimals = _decimals(code)
        if decimals is not None and kinds[at] is float:
            fixed.setdefault(decimals, []).append(at)
        elif code not in UNDRESSED:
            patches[at] = show_number(number, code)
    return fixed, patches


@lru_cache(maxsize=1024)
def _decimals(code: str) -> int | None:
    found = FIXED.fullmatch(code)
    return len(found[1] or "") if found else None


def _frame(name: str, width: int, places: list[int], values: list[Any]) -> pl.DataFrame:
    number = pl.Series("number", [v if type(v) is float else None for v in values], pl.Float64)
    text = pl.Series("text", [v if type(v) is str else None for v in values], pl.String)
    place = pl.col("place")
    rest = {"shown_wins": False, "hidden": False, "struck": False, "note": None, "raised": None}
    spans = {"row_span": 1, "col_span": 1}
    cells = pl.DataFrame([pl.Series("place", places, dtype=pl.Int32), text, number]).select(
        sheet=pl.lit(name),
        row=place // width + 1,
        col=place % width + 1,
        text=pl.coalesce(
            pl.col("text").str.strip_chars(),
            pl.col("number").cast(pl.String).str.strip_suffix(".0"),
        ),
        number="number",
        date=pl.lit(None, dtype=pl.Date),
        kind=pl.when(pl.col("text").is_null()).then(pl.lit("number")).otherwise(pl.lit("text")),
        **{key: pl.lit(fill, CELLS[key]) for key, fill in (rest | spans).items()},
    )
    return _shorten(cells)


def _shorten(cells: pl.DataFrame) -> pl.DataFrame:
    """Show long and tiny numbers as `General` does; polars shows all others in the same way."""
    text = pl.col("text")
    unlike = pl.col("number").is_not_null() & (
        (text.str.len_bytes() > 11) | text.str.contains("e", literal=True)
    )
    at = cells.select(unlike.arg_true().cast(pl.UInt32)).to_series()
    if at.is_empty():
        return cells
    return _set(cells, at, {"text": [general(value) for value in cells["number"].gather(at)]})


def show_fixed(numbers: pl.Series, decimals: int) -> pl.Series:
    """Show numbers with fixed decimals; ties, long and zero numbers take the careful way."""
    scale = 10**decimals
    size = pl.col("number").abs() * scale
    whole = size.round().cast(pl.Int64, strict=False)
    digits = [(whole // scale).cast(pl.String)]
    if decimals:
        digits += [pl.lit("."), (whole % scale).cast(pl.String).str.zfill(decimals)]
    sign = pl.when((pl.col("number") < 0) & (whole > 0)).then(pl.lit("-")).otherwise(pl.lit(""))
    shown = (
        numbers.alias("number")
        .to_frame()
        .select(
            text=pl.concat_str(sign, *digits),
            careful=((size % 1 - 0.5).abs() < 1e-5) | (size >= 1e9),
        )
    )
    at = shown["careful"].arg_true()
    code = f"0.{'0' * decimals}" if decimals else "0"
    return shown["text"].scatter(at, [render(value, code) for value in numbers.gather(at)])


def _set(cells: pl.DataFrame, at: pl.Series, columns: Mapping[str, Any]) -> pl.DataFrame:
    changed = [
        cells[name].scatter(at, pl.Series(values, dtype=CELLS[name]))
        for name, values in columns.items()
    ]
    return cells.with_columns(changed)


def _merge(cells: pl.DataFrame, sheet: Sheet) -> pl.DataFrame:
    """Keep the anchor of each merged range, with its spans; a person sees no other cell of it."""
    areas = [_area(*area) for area in MERGED.findall(sheet.margins)]
    if not areas:
        return cells
    frame = pl.DataFrame(areas, schema=["top", "left", "bottom", "right"], orient="row")
    row, col = pl.col("row"), pl.col("col")
    spans = frame.select(
        row=pl.col("top").cast(pl.Int32),
        col=pl.col("left").cast(pl.Int32),
        row_span=(pl.col("bottom") - pl.col("top") + 1).cast(pl.Int32),
        col_span=(pl.col("right") - pl.col("left") + 1).cast(pl.Int32),
    )
    # Most often only titles are merged, a line or two of a long sheet.
    near = row.is_between(frame["top"].min(), frame["bottom"].max())
    beside = cells.filter(near)
    covered = beside.select("row", "col").join_where(
        frame,
        row.is_between("top", "bottom"),
        col.is_between("left", "right"),
        (row != pl.col("top")) | (col != pl.col("left")),
    )
    merged = (
        beside.join(covered, on=["row", "col"], how="anti")
        .drop("row_span", "col_span")
        .join(spans, on=["row", "col"], how="left")
        .with_columns(pl.col("row_span", "col_span").fill_null(1))
        .select(cells.columns)
    )
    return order_cells(pl.concat([merged, cells.filter(~near)]))


def _area(left: bytes, top: bytes, right: bytes, bottom: bytes) -> tuple[int, int, int, int]:
    return int(top), column_number(left.decode()), int(bottom), column_number(right.decode())
