"""Open what holds reports: archives and e-mails; a member that cannot be taken is refused alone."""

import email
import email.policy
import io
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from email.errors import (
    CloseBoundaryNotFoundDefect,
    InvalidBase64LengthDefect,
    InvalidBase64PaddingDefect,
)
from email.message import Message
from functools import partial
from pathlib import PurePosixPath

from pipeline.errors import FileRefused

MAX_MEMBERS = 5_000
MAX_UNPACKED = 2 * 2**30
MAX_FILE = 300 * 2**20
MAX_RATIO = 200
SMALL = 20 * 2**20

Part = tuple[str, Callable[[], bytes]]


def unzip(content: bytes, file: str) -> Iterator[Part]:
    """Give name and reader of each file in a zip archive, in the order of their names."""
    archive = _checked_zip(content, file)
    for member in sorted(archive.infolist(), key=lambda member: member.filename):
        if not member.is_dir():
            yield member.filename, partial(_extract, archive, member, file)


def _checked_zip(content: bytes, file: str) -> zipfile.ZipFile:
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        raise FileRefused(file, "the archive is cut off or damaged; fetch it again.") from None
    members = archive.infolist()
    total = sum(member.file_size for member in members if _why_not(member) is None)
    if len(members) > MAX_MEMBERS or total > MAX_UNPACKED:
        raise FileRefused(
            file,
            f"the archive would unpack to {total / 2**20:,.0f} MB in {len(members):,} files, too "
            "much for reports; unpack it and load the reports alone.",
        )
    return archive


def _why_not(member: zipfile.ZipInfo) -> str | None:
    """Say why one member is not unpacked; it alone is refused then."""
    if member.flag_bits & 1:
        return "it is protected by a password; unpack it first."
    size = member.file_size
    if size > MAX_FILE or (size > SMALL and size > MAX_RATIO * max(1, member.compress_size)):
        return (
            f"it would unpack to {size / 2**20:,.0f} MB from {member.compress_size / 2**20:,.1f} MB,"
            " too much for a report; ask for the report itself."
        )
    return None


def _extract(archive: zipfile.ZipFile, member: zipfile.ZipInfo, file: str) -> bytes:
    name = member.filename
    if why := _why_not(member):
        raise FileRefused(f"{file}!{name}", why)
    try:
        return archive.read(member)
    except MemoryError:
        raise
    except Exception:
        raise FileRefused(
            f"{file}!{name}", "it is damaged inside the archive; fetch the archive again."
        ) from None


def attachments(content: bytes, file: str) -> Iterator[Part]:
    """Give name and reader of each attachment of an e-mail; one without a name is numbered."""
    try:
        message = email.message_from_bytes(content, policy=email.policy.default)
        parts = [part for part in message.walk() if not part.is_multipart()]
        found = [
            (part.get_filename() or _numbered(part, number), part, part.get_payload(decode=True))
            for number, part in enumerate(parts, 1)
        ]
    except Exception:
        raise FileRefused(file, "the e-mail is damaged; save its attachment instead.") from None
    if any(isinstance(d, CloseBoundaryNotFoundDefect) for p in message.walk() for d in p.defects):
        raise FileRefused(
            file, "the e-mail is cut off, its end is missing; save it again, or its attachment."
        )
    seen = Counter[str]()
    for name, part, body in found:
        if name and isinstance(body, bytes):
            path = PurePosixPath(name.replace("\\", "/"))
            seen[path.name] += 1
            twice = f" ({seen[path.name]})" if seen[path.name] > 1 else ""
            own = f"{path.stem}{twice}{path.suffix}"
            yield own, partial(_attached, body, part, f"{file}!{own}")


def _attached(body: bytes, part: Message, file: str) -> bytes:
    if any(isinstance(d, InvalidBase64PaddingDefect | InvalidBase64LengthDefect)
           for d in part.defects):  # fmt: skip
        raise FileRefused(file, "it is cut off inside the e-mail; ask for the e-mail again.")
    return body


def _numbered(part: Message, number: int) -> str | None:
    """Name a part that the sender attached without a name."""
    attached = part.get_content_disposition() == "attachment"
    table = part.get_content_subtype() in {"octet-stream", "csv", "zip"}
    return f"attachment {number}" if attached or table else None
