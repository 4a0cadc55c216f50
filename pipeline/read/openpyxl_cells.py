"""The slow and complete reader of .xlsx workbooks: everything a person sees in a cell."""

import datetime as dt
import io
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import openpyxl
import polars as pl
from openpyxl.cell.cell import MergedCell
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.styles.numbers import is_date_format as looks_like_date
from openpyxl.utils import column_index_from_string
from openpyxl.utils.datetime import to_excel

from pipeline.errors import FileRefused
from pipeline.read.cells import Cell, Shown, frame_cells, part_runs, show_boolean, show_number
from pipeline.read.date_formats import TOO_WIDE
from pipeline.read.inspect_sheets import FORMULA, check_types, is_uncached, uncached_formulas
from pipeline.read.number_formats import render_text
from pipeline.read.package import Package, Sheet

OFFSET_1904 = 1462
REFERENCE = re.compile(rb'\br="([A-Z]+\d+)"')
ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
THREADED = re.compile(r"^\[Threaded comment\].*?Comment:\s*", re.DOTALL)


@dataclass(frozen=True)
class View:
    """What one sheet hides and merges, and which of its formulas were never calculated."""

    rows: frozenset[int]
    cols: tuple[tuple[int, int], ...]
    whole: bool
    spans: dict[tuple[int, int], tuple[int, int]]
    formulas: dict[str, str]
    has_errors: bool

    def hides(self, row: int, col: int) -> bool:
        """Tell whether a person cannot see this cell."""
        if self.whole or row in self.rows:
            return True
        return any(first <= col <= last for first, last in self.cols)


def load(content: bytes, file: str, *, cached: bool) -> Any:
    """Open a workbook with openpyxl, turning whatever it raises into a refusal."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return openpyxl.load_workbook(
                io.BytesIO(content), data_only=cached, rich_text=True, keep_links=False
            )
    except MemoryError:
        raise
    except Exception as error:
        raise FileRefused(
            file,
            f"its inner parts do not fit together ({type(error).__name__}); open it in a "
            "spreadsheet and save it anew as .xlsx.",
        ) from None


def read_package_with_openpyxl(package: Package, file: str) -> pl.DataFrame:
    """Read every worksheet cell by cell."""
    for sheet in package.worksheets:
        check_types(sheet, file)
    workbook = load(package.content, file, cached=True)
    offset = OFFSET_1904 if package.from_1904 else 0
    formulas = _uncalculated(package, file)
    cells: list[Cell] = []
    for sheet in package.worksheets:
        worksheet = workbook[sheet.name]
        view = _view(worksheet, sheet, formulas.get(sheet.name, {}))
        cells.extend(_cells(worksheet, sheet.name, view, offset))
    return frame_cells(cells)


def _uncalculated(package: Package, file: str) -> dict[str, dict[str, str]]:
    """Give, by sheet and address, the text of the formulas stored without a result."""
    affected = [sheet for sheet in package.worksheets if uncached_formulas(package, sheet)]
    if not affected:
        return {}
    workbook = load(package.content, file, cached=False)
    return {sheet.name: _formulas(package, workbook[sheet.name], sheet) for sheet in affected}


def _formulas(package: Package, worksheet: Any, sheet: Sheet) -> dict[str, str]:
    found = {}
    for attributes, cached in FORMULA.findall(sheet.xml):
        reference = REFERENCE.search(attributes)
        uncached = is_uncached(attributes, cached, recalculates=package.recalculates)
        if not uncached or not reference:
            continue
        value = worksheet[reference[1].decode()].value
        text = getattr(value, "text", value)
        found[reference[1].decode()] = str(text if text is not None else "=")
    return found


def _view(worksheet: Any, sheet: Sheet, formulas: dict[str, str]) -> View:
    lines = worksheet.row_dimensions.items()
    by_default = bool(worksheet.sheet_format.zeroHeight)
    shown = {row for row, line in lines if by_default and line.height}
    hidden = {row for row, line in lines if line.hidden or line.height == 0}
    if by_default:
        hidden |= set(range(1, worksheet.max_row + 1)) - shown
    return View(
        rows=frozenset(hidden),
        cols=tuple(_hidden_columns(worksheet)),
        whole=sheet.state != "visible",
        spans={
            (area.min_row, area.min_col): (
                area.max_row - area.min_row + 1,
                area.max_col - area.min_col + 1,
            )
            for area in worksheet.merged_cells.ranges
        },
        formulas=formulas,
        has_errors=b'="e"' in sheet.xml or b"='e'" in sheet.xml,
    )


def _hidden_columns(worksheet: Any) -> Iterator[tuple[int, int]]:
    for letter, column in worksheet.column_dimensions.items():
        if column.hidden or column.width == 0:
            first = column.min or column_index_from_string(letter)
            yield first, column.max or first


def _cells(worksheet: Any, name: str, view: View, offset: int) -> Iterator[Cell]:
    # `_cells` holds only the cells that exist; the public iterators fill the whole rectangle.
    for (row, col), cell in worksheet._cells.items():
        if isinstance(cell, MergedCell):
            continue
        shown, struck, raised = _show(cell, view, offset)
        if shown is None:
            continue
        note = cell.comment.text if cell.comment else None
        yield Cell(
            name,
            row,
            col,
            *shown._replace(hidden=shown.hidden or view.hides(row, col)),
            struck,
            THREADED.sub("", note).strip() if note else None,
            raised,
            *view.spans.get((row, col), (1, 1)),
        )


def _show(cell: Any, view: View, offset: int) -> tuple[Shown | None, bool, str | None]:
    value, formula = cell.value, view.formulas.get(cell.coordinate)
    struck = bool(cell.font and cell.font.strike)
    if formula is not None:
        return Shown(formula, kind="formula"), struck, None
    if value is None:
        return None, struck, None
    if isinstance(value, CellRichText):
        text, raised, crossed = _split_runs(value)
        return _show_text(text, cell.number_format), struck or crossed, raised
    if cell.data_type == "e":
        # openpyxl calls a date that no calendar has an error of its own.
        return Shown(str(value) if view.has_errors else TOO_WIDE, kind="error"), struck, None
    return _show_plain(value, cell, offset), struck, None


def _show_plain(value: Any, cell: Any, offset: int) -> Shown | None:
    if isinstance(value, bool):
        return show_boolean(value)
    if isinstance(value, int | float):
        return show_number(float(value), cell.number_format, offset)
    if isinstance(value, dt.date | dt.time | dt.timedelta):
        return show_number(_serial(value), _date_code(cell.number_format))
    return _show_text(str(value), cell.number_format)


def _date_code(code: str) -> str:
    """Give dates that are stored as such (`t="d"`) a date format where they have none."""
    return code if looks_like_date(code) else "yyyy-mm-dd"


def _serial(value: Any) -> float:
    """Turn a date back into a serial number of the 1900 system, rounded to the millisecond."""
    return round(float(to_excel(value)), 9)  # type: ignore[no-untyped-call,unused-ignore]


def _show_text(text: str, code: str) -> Shown | None:
    shown = render_text(ESCAPE.sub(lambda found: chr(int(found[1], 16)), text), code).strip()
    return Shown(shown) if shown else None


def _split_runs(runs: CellRichText) -> tuple[str, str | None, bool]:
    """Part the text from what is printed raised, and tell whether any of it is struck out."""
    parts: list[tuple[str, str]] = []
    struck = False
    for run in runs:
        font = run.font if isinstance(run, TextBlock) else None
        text = run.text if isinstance(run, TextBlock) else str(run)
        struck = struck or bool(font and font.strike)
        parts.append((text, _POSITIONS.get(font.vertAlign or "", "") if font else ""))
    return *part_runs(parts), struck


_POSITIONS = {"superscript": "high", "subscript": "low"}
