"""Tell formulas of an .xls workbook whose results were never saved from those that give nothing.

Source: [MS-XLS] 2.4.127 (Formula) and 2.5.133 (FormulaValue): a record holds the result of its last
calculation; its last two bytes are FFFF for what is no number, its first byte 3 for an empty text.
Writers that do not calculate leave that everywhere, or the number 0.
"""

import io
import struct
from collections.abc import Iterator

from xlrd.compdoc import CompDoc  # type: ignore[import-untyped,unused-ignore]

_FORMULA = 0x0006
_EMPTY = 3
Place = tuple[int, int]


def empty_formulas(content: bytes) -> tuple[frozenset[Place], bool]:
    """List rows and columns (from 0) of formulas with an empty result, on whichever sheet.

    The second value tells that no formula of the workbook has a result: none was ever saved.
    """
    empty: set[Place] = set()
    calculated = False
    for place, result in _formulas(_stream(content)):
        if result[6:] != b"\xff\xff":
            calculated |= result != bytes(8)
        elif result[0] == _EMPTY:
            empty.add(place)
        else:
            calculated = True
    return frozenset(empty), bool(empty) and not calculated


def _stream(content: bytes) -> bytes:
    document = CompDoc(content, logfile=io.StringIO())
    for name in ("Workbook", "Book"):
        memory, base, length = document.locate_named_stream(name)
        if memory:
            return bytes(memory[base : base + length])
    return b""


def _formulas(stream: bytes) -> Iterator[tuple[Place, bytes]]:
    at = 0
    while at + 4 <= len(stream):
        kind, length = struct.unpack_from("<HH", stream, at)
        if kind == _FORMULA and length >= 14:
            row, col = struct.unpack_from("<HH", stream, at + 4)
            yield (row, col), stream[at + 10 : at + 18]
        at += 4 + length
