"""Choose the reader of an .xlsx workbook, and gather what a person must be told about it."""

from collections.abc import Iterator

import polars as pl

from pipeline.errors import FileRefused
from pipeline.read.calamine_cells import Unsure, read_package_with_calamine
from pipeline.read.cells import Document
from pipeline.read.inspect_sheets import Extent, check_sheet, has_formulas, is_plain
from pipeline.read.openpyxl_cells import read_package_with_openpyxl
from pipeline.read.package import Package, open_package

MACROS_ONLY = (
    "it holds macros only and no cells, and macros are never run; ask for a workbook that holds the "
    "figures, saved as .xlsx."
)


def read_workbook(content: bytes, file: str) -> Document:
    """Read an .xlsx or .xlsm workbook: the fast reader for plain ones, else the complete one."""
    package, extents = _checked(content, file)
    if is_plain(package, extents):
        try:
            cells = read_package_with_calamine(package, file)
        except Unsure:
            cells = None
        if cells is not None:
            return _document(package, extents, cells, "calamine", file)
    cells = read_package_with_openpyxl(package, file)
    return _document(package, extents, cells, "openpyxl", file)


def read_with_openpyxl(content: bytes, file: str) -> Document:
    """Read a workbook by the slow and complete reader, whatever is in it."""
    package, extents = _checked(content, file)
    return _document(package, extents, read_package_with_openpyxl(package, file), "openpyxl", file)


def read_with_calamine(content: bytes, file: str) -> Document:
    """Read a workbook by the fast reader, which is right for plain workbooks only."""
    package, extents = _checked(content, file)
    return _document(package, extents, read_package_with_calamine(package, file), "calamine", file)


def _checked(content: bytes, file: str) -> tuple[Package, dict[str, Extent]]:
    package = open_package(content, file)
    if not package.worksheets:
        raise FileRefused(file, _without_cells(package))
    return package, {sheet.name: check_sheet(package, sheet, file) for sheet in package.worksheets}


def _without_cells(package: Package) -> str:
    if any(sheet.kind == "chartsheet" for sheet in package.sheets):
        return "it holds charts only and no cells; ask for the workbook with the figures."
    if any("acro" in sheet.kind for sheet in package.sheets) or _has_macros(package):
        return MACROS_ONLY
    return "it holds no sheet; ask for the file again."


def _document(
    package: Package, extents: dict[str, Extent], cells: pl.DataFrame, reader: str, file: str
) -> Document:
    if cells.is_empty():
        if _has_macros(package):
            raise FileRefused(file, MACROS_ONLY)
        pictures = _pictures(package)
        what = f"its sheets hold {pictures} and no cell" if pictures else "no cell holds anything"
        raise FileRefused(file, f"{what}; ask for the results as figures in cells.")
    system = "1904" if package.from_1904 else "1900"
    return Document(cells, tuple(_notices(package, extents, cells)), reader, system)


def _has_macros(package: Package) -> bool:
    return any("vbaproject" in name.lower() for name in package.names)


def _pictures(package: Package) -> str:
    if any(name.startswith("xl/media/") for name in package.names):
        return "images"
    return "charts" if any("/charts/" in name for name in package.names) else ""


def _notices(package: Package, extents: dict[str, Extent], cells: pl.DataFrame) -> Iterator[str]:
    for sheet in package.sheets:
        if sheet.kind != "worksheet":
            yield f'sheet "{sheet.name}" is no table of cells ({sheet.kind}) and was ignored.'
        elif sheet.state != "visible":
            yield f'sheet "{sheet.name}" is hidden; what it holds is held back.'
    yield from _hidden_notices(package, cells)
    for name, reach in extents.items():
        if reach.is_far:
            yield f'sheet "{name}" reaches to {reach.far}, far beyond a report; look at that cell.'
    if package.recalculates and any(has_formulas(sheet) for sheet in package.worksheets):
        yield "it asks to be recalculated when opened; save it once in a spreadsheet to be sure."
    if package.styles.conditional and any(
        b"conditionalFormatting" in sheet.margins for sheet in package.worksheets
    ):
        yield "conditional formats may change how its numbers look; they were not applied."
    if package.from_1904:
        yield "dates are counted from 1904 in this workbook; they were read so."
    if _has_macros(package):
        yield "the workbook holds macros; they were not run."
    if any(name.startswith("xl/media/") for name in package.names):
        yield "images were not read."


def _hidden_notices(package: Package, cells: pl.DataFrame) -> Iterator[str]:
    if not cells["hidden"].any():
        return
    visible = [sheet for sheet in package.worksheets if sheet.state == "visible"]
    for sheet in visible:
        count = cells.filter(pl.col("sheet") == sheet.name, "hidden").height
        if count:
            cause = "a filter or " if b"<autoFilter" in sheet.xml else ""
            yield (
                f'sheet "{sheet.name}": {count} cells are hidden by {cause}hidden rows, columns '
                "or formats; they are held back."
            )
