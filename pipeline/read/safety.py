"""Look before opening: what a file is by its first bytes, and whether it can do harm."""

import io
import re
import zipfile
from xml.etree import ElementTree

from pipeline.errors import FileRefused

MAX_MEMBERS = 4000
MAX_UNPACKED = 300 * 2**20
MAX_RATIO = 200
SMALL = 20 * 2**20
MAX_CELLS = 3_000_000

SIGNS: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "zip"),
    (b"PK\x05\x06", "zip"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "ole"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "an image"),
    (b"\xff\xd8\xff", "an image"),
    (b"GIF8", "an image"),
    (b"II*\x00", "an image"),
    (b"MM\x00*", "an image"),
    (b"{\\rtf", "a text document (RTF)"),
    (b"7z\xbc\xaf'\x1c", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"SQLite format 3", "a database"),
    (b"PAR1", "a Parquet file"),
)
MARKUP = re.compile(
    rb"\s*<(?:\?xml|!--|!doctype|(?:html|head|body|table|meta|style|font|div|center|title)[\s>])",
    re.IGNORECASE,
)
# A text with columns called ID and P... begins alike, but has no line of the next kind.
SYLK = re.compile(rb"ID;P[A-Z0-9]*(?:;[A-Z][^;\r\n]*)*\r?\n[BCFOP];")
TO_OPEN = {
    "a web page",
    "an XML document of the spreadsheets of 2003",
    "a spreadsheet in symbolic links (SYLK)",
}
MAIL = re.compile(rb"(?:[\w-]+:[^\n]*\n(?:[ \t][^\n]*\n)*)*?MIME-Version:", re.IGNORECASE)


def sniff(content: bytes) -> str:
    """Name what the bytes are: `zip`, `ole`, `text`, or words for what is not a table."""
    for sign, name in SIGNS:
        if content.startswith(sign):
            return name
    head = _plain(content[:4096])
    if head.lstrip().startswith(b"%PDF"):
        return "a PDF document"
    if MAIL.match(head):
        return "an e-mail or a web page with its pictures"
    if SYLK.match(head) and content.rstrip().endswith(b"\nE"):
        return "a spreadsheet in symbolic links (SYLK)"
    if b"<table" in head.lower() and b"<td" in _plain(content[:65536]).lower():
        return "a web page"
    if MARKUP.match(head):
        start = _plain(content[:65536]).lower()
        if b"schemas-microsoft-com:office:spreadsheet" in start:
            return "an XML document of the spreadsheets of 2003"
        return "a web page" if b"<html" in start or b"<table" in start else "an XML document"
    return "text"


def _plain(head: bytes) -> bytes:
    """The first bytes without a byte order mark; of UTF-16 the letters alone."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")) or head[:2] in {b"<\0", b"\0<"}:
        return head.replace(b"\0", b"").lstrip(b"\xff\xfe")
    return head.removeprefix(b"\xef\xbb\xbf")


def refuse_unless_table(content: bytes, file: str) -> str:
    """Return `zip`, `ole` or `text`, or refuse what is empty or plainly something else."""
    if not content.strip(b"\x00\t\r\n ") or content in {b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff"}:
        raise FileRefused(file, "the file is empty; ask for it again.")
    what = sniff(content)
    if what not in {"zip", "ole", "text"}:
        opened = "open it in a spreadsheet and " if what in TO_OPEN else ""
        raise FileRefused(
            file, f"this is {what}, not a table; {opened}save it as .xlsx or .csv first."
        )
    return what


def refuse_too_many(cells: int, file: str, what: str = "it") -> None:
    """Refuse more cells than are read of one file; `what` names the file's part that has them."""
    if cells > MAX_CELLS:
        raise FileRefused(
            file,
            f"{what} has more than {MAX_CELLS:,} cells, the most that are read of one file; split it "
            "into several files of fewer lines, each with the heading, and load those.",
        )


def open_zip(content: bytes, file: str) -> zipfile.ZipFile:
    """Open a zip archive after a look at its directory: damage, passwords, zip bombs."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, ValueError, OSError, EOFError, NotImplementedError):
        raise FileRefused(
            file, "the file is cut off or damaged; fetch it again from where it came."
        ) from None
    check_directory(archive, len(content), file)
    return archive


def check_directory(archive: zipfile.ZipFile, packed: int, file: str) -> None:
    """Refuse archives that would unpack to far more than any report, and locked ones."""
    members = archive.infolist()
    if any(member.flag_bits & 1 for member in members):
        raise FileRefused(file, "it is protected by a password; save a copy without one.")
    unpacked = sum(member.file_size for member in members)
    ratio = unpacked / max(1, packed)
    if (
        len(members) > MAX_MEMBERS
        or unpacked > MAX_UNPACKED
        or (unpacked > SMALL and ratio > MAX_RATIO)
    ):
        size = f"{unpacked / 2**20:,.0f} MB in {len(members):,} parts"
        raise FileRefused(
            file, f"it would unpack to {size}, too much for a report; save only its tables anew."
        )


def read_member(archive: zipfile.ZipFile, name: str, file: str) -> bytes:
    """Read one part of an archive, or refuse the file when that part is damaged."""
    try:
        return archive.read(name)
    except KeyError:
        raise FileRefused(
            file, f'its part "{name}" is missing; open it in a spreadsheet and save it anew.'
        ) from None
    except (zipfile.BadZipFile, OSError, EOFError, ValueError, RuntimeError, NotImplementedError):
        raise FileRefused(
            file, f'its part "{name}" is damaged; fetch the file again from where it came.'
        ) from None
    except Exception as error:
        if type(error).__module__ != "zlib":
            raise
        raise FileRefused(
            file, f'its part "{name}" is damaged; fetch the file again from where it came.'
        ) from None


def refuse_entities(part: bytes, file: str) -> None:
    """Refuse XML that defines entities: no spreadsheet writes any, and they can explode."""
    head = part[:4096]
    if any(sign in head for sign in (b"<!DOCTYPE", b"<!ENTITY", b"<\0!\0", b"\0<\0!")):
        raise FileRefused(
            file, "it holds XML entities that no spreadsheet writes; save it anew as .xlsx."
        )


def parse_xml(part: bytes, name: str, file: str) -> ElementTree.Element:
    """Parse the named part of an archive, or refuse the file when it is damaged or unsafe."""
    refuse_entities(part, file)
    try:
        return ElementTree.fromstring(part)
    except (ElementTree.ParseError, ValueError, LookupError):
        raise FileRefused(
            file, f'its part "{name}" is cut off or damaged; fetch the file again.'
        ) from None
