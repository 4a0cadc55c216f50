"""Read text files with separators, or aligned by spaces; every cell is text, no type is ever guessed."""

import csv
import io
import re
from collections import Counter
from pathlib import PurePosixPath

from pipeline.errors import FileRefused
from pipeline.read.cells import Document, frame_texts
from pipeline.read.fixed_width import split_fixed_width
from pipeline.read.safety import refuse_too_many

NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
SAMPLE_LINES = 200
TOLD = re.compile(
    r"\"?sep=([,;\t|])\"?[,;\t| ]*\r?\n", re.IGNORECASE
)  # a first line some programs write
DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
# A letter or sign of two bytes, each shown as a character of its own.
_TWICE = re.compile(r"[ÂÃÎ][\x80-\xbf\u2013-\u2122\u0152-\u02dc]")
MAX_CELL = 1_000_000


def read_delimited(content: bytes, file: str) -> Document:
    """Read a csv, tsv or txt file; encoding and separator are found from the content."""
    text, encoding = decode(content, file)
    if told := TOLD.match(text):
        text = text[told.end() :]
    aligned = None if told else split_fixed_width(text, file)
    separator = " " if aligned else told[1] if told else find_separator(text)
    stem = PurePosixPath(file.rsplit("!", 1)[-1]).stem
    cells = frame_texts(stem, aligned or _rows(text, separator, file))
    if cells.is_empty():
        raise FileRefused(file, "no cell holds anything; ask for the file again.")
    notices = []
    if encoding != "utf-8":
        notices.append(f"the text is encoded as {encoding}.")
    if aligned:
        notices.append("the columns are aligned by spaces; every line keeps to them.")
    elif separator != ",":
        notices.append(f"the cells are parted by {NAMES[separator]}.")
    return Document(cells, tuple(notices), "csv")


def decode(content: bytes, file: str) -> tuple[str, str]:
    """Decode by byte order mark, else UTF-8, else Windows-1252, naming what was found."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _decode(content, "utf-16", file), "utf-16"
    if encoding := _unmarked_utf16(content):
        return _decode(content, encoding, file), encoding
    if _is_binary(content):
        raise FileRefused(file, "this is not a table in any known form; save it as .xlsx or .csv.")
    try:
        return _encoded_twice(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        pass
    try:
        return content.decode("cp1252"), "cp1252"
    except UnicodeDecodeError:
        return content.decode("latin-1"), "latin-1"


def _encoded_twice(text: str) -> tuple[str, str]:
    """Mend text that was UTF-8, taken for Windows-1252 and encoded again ("GaÃ¯acol")."""
    for encoding in ("cp1252", "latin-1") if _TWICE.search(text) else ():
        try:
            return text.encode(encoding).decode("utf-8"), f"utf-8, twice by way of {encoding}"
        except UnicodeError:
            continue
    return text, "utf-8"


def _decode(content: bytes, encoding: str, file: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        raise FileRefused(file, "its text is cut off or damaged; fetch it again.") from None


def _unmarked_utf16(content: bytes) -> str | None:
    head = content[:2000]
    half = max(1, len(head) // 2)
    if head[1::2].count(0) > 0.7 * half and not head[::2].count(0):
        return "utf-16-le"
    if head[::2].count(0) > 0.7 * half and not head[1::2].count(0):
        return "utf-16-be"
    return None


def _is_binary(content: bytes) -> bool:
    head = content[:65536]
    control = sum(head.count(byte) for byte in range(32) if byte not in b"\t\n\r\x0b\x0c\x1a")
    return 0 in head or control > len(head) // 100


def find_separator(text: str) -> str:
    """Choose the separator that gives most lines the same number of cells, more than one.

    Decimal commas are regular too, so a semicolon, tab or bar that is as regular goes first; so does
    one that most lines have, if it is more regular than the commas that are not between digits.
    """
    scores = {sign: _regularity(text, sign) for sign in ";\t|,"}
    best = max(scores, key=lambda sign: scores[sign])
    if best == ",":
        scores[","] = _regularity(DECIMAL_COMMA.sub("", text), ",")
        other = max(scores, key=lambda sign: scores[sign])
        best = other if _in_most_lines(text, other) else best
    return best


def _in_most_lines(text: str, sign: str) -> bool:
    lines = [line for line in text.splitlines()[:SAMPLE_LINES] if line.strip()]
    return sum(sign in line for line in lines) * 2 > len(lines)


def _regularity(text: str, separator: str) -> tuple[float, int]:
    """Give the share of lines with the commonest width, and that width."""
    widths = Counter[int]()
    reader = csv.reader(io.StringIO(text[:200_000], newline=""), delimiter=separator)
    try:
        for fields, _ in zip(reader, range(SAMPLE_LINES), strict=False):
            if any(field.strip() for field in fields):
                widths[len(fields)] += 1
    except csv.Error:
        return (0.0, 0)
    lines = sum(widths.values())
    several = {width: count for width, count in widths.items() if width > 1}
    if not several:
        return (0.0, 0)
    width = max(several, key=lambda w: (several[w], w))
    return (round(several[width] / lines, 1), width if separator != "," else 0)


def _rows(text: str, separator: str, file: str) -> list[list[str]]:
    csv.field_size_limit(MAX_CELL)
    try:
        return _parted(text, separator, file, strict=True)
    except csv.Error as error:
        if "unexpected end" in str(error) or "larger than" in str(error):
            raise FileRefused(
                file, "a quotation mark is opened and never closed; mend that line."
            ) from None
        return _parted(text, separator, file, strict=False)


def _parted(text: str, separator: str, file: str, *, strict: bool) -> list[list[str]]:
    rows, cells = [], 0
    for fields in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=strict):
        rows.append(fields)
        cells += len(fields) - fields.count("")
        refuse_too_many(cells, file)
    return rows
