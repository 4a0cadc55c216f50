"""Choose the reader by what the bytes are, never by the file's name."""

import struct
import zipfile

from pipeline.errors import FileRefused
from pipeline.read.cells import Document
from pipeline.read.delimited import read_delimited
from pipeline.read.ods_cells import read_ods
from pipeline.read.safety import open_zip, read_member, refuse_too_many, refuse_unless_table
from pipeline.read.spreadsheet import read_workbook
from pipeline.read.xls_cells import read_xls
from pipeline.read.xlsb_cells import read_xlsb


def read_cells(content: bytes, file: str) -> Document:
    """Read a file as a row per cell that is not empty, in the columns of `schemas.frames.CELLS`.

    `file` is only used for messages and, in text files, for the sheet's name. Raises
    `FileRefused` with one sentence for whatever is not a readable table.
    """
    try:
        document = _read(content, file)
    except (ValueError, LookupError, ArithmeticError, struct.error) as error:
        raise FileRefused(
            file,
            f"its inner parts contradict each other ({type(error).__name__}); open it in a "
            "spreadsheet and save it anew as .xlsx.",
        ) from None
    refuse_too_many(document.cells.height, file)
    return document


def _read(content: bytes, file: str) -> Document:
    match refuse_unless_table(content, file):
        case "zip":
            return _read_zip(content, file)
        case "ole":
            return read_xls(content, file)
    return read_delimited(content, file)


def _read_zip(content: bytes, file: str) -> Document:
    archive = open_zip(content, file)
    names = set(archive.namelist())
    if "xl/workbook.bin" in names:
        return read_xlsb(content, file)
    if "mimetype" in names:
        return _read_open_document(archive, content, file)
    if any(name.startswith("word/") for name in names):
        raise FileRefused(file, "this is a text document, not a table; save its table as .xlsx.")
    if any(name.startswith("ppt/") for name in names):
        raise FileRefused(file, "this is a presentation, not a table; ask for the report itself.")
    if "[Content_Types].xml" in names or "_rels/.rels" in names:
        return read_workbook(content, file)
    raise FileRefused(file, "this archive holds no workbook; unpack it or save it as .xlsx.")


def _read_open_document(archive: zipfile.ZipFile, content: bytes, file: str) -> Document:
    if b"spreadsheet" not in read_member(archive, "mimetype", file):
        raise FileRefused(file, "this is no spreadsheet; save its table as .xlsx.")
    return read_ods(content, file)
