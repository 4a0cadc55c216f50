"""Find the files to read: in folders, in archives, in e-mails. What is in them is for `read`."""

import hashlib
import io
import zipfile
from collections.abc import Callable, Container, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path, PurePosixPath

from pipeline.errors import FileRefused
from pipeline.find.holders import MAX_FILE, Part, attachments, unzip

TABLES = frozenset(
    {".xlsx", ".xlsm", ".xltx", ".xltm", ".xls", ".xlsb", ".ods", ".csv", ".tsv", ".txt", ".tab"}
)
HOLDERS = frozenset({".zip", ".eml"})


@dataclass(frozen=True)
class Source:
    """One table to read: `path` on disk, and `member` where it lies inside that file.

    `file` is relative to the PATH given, with `/`; a member is `outer.zip!inner.xlsx`. `sha256`
    and `size` are of the table's own bytes.
    """

    path: Path
    file: str
    member: str | None
    sha256: str
    size: int

    def read_bytes(self) -> bytes:
        """Read the table's bytes; raise `FileRefused` when it has gone or changed meanwhile."""
        content = _read(self.path, self.file)
        if self.member is not None:
            content = _inside(content, self.path.suffix.lower(), self.member, self.file)
        if hashlib.sha256(content).hexdigest() != self.sha256:
            raise FileRefused(self.file, "it changed while it was being read; load it again.")
        return content


@dataclass(frozen=True)
class Found:
    """What lies under the paths: tables to read, files refused, and files of other kinds."""

    sources: list[Source]
    refused: list[FileRefused]
    passed_over: list[str]


@dataclass(frozen=True)
class _Item:
    path: Path
    file: str
    named: bool


def find(
    paths: Sequence[Path], only: Container[Path] | None = None, without: Container[Path] = ()
) -> Found:
    """Find every table under files and folders, sorted, each file once.

    Hidden files, lock files (`~$...`) and `*.expected.csv` are left out in folders; files of
    other kinds are named in `passed_over`. A missing path, an empty folder, a damaged or
    oversized archive is a refusal. `only` leaves out every file but these, `without`
    these (resolved paths), such as the store itself.
    """
    found = Found([], [], [])
    seen: set[Path] = set()
    for path in paths:
        items = [item for item in _walk(path) if only is None or item.path in only]
        items = [item for item in items if item.named or item.path.resolve() not in without]
        if not items and only is None:
            what = "the folder holds no files" if path.is_dir() else "it does not exist"
            found.refused.append(FileRefused(str(path), f"{what}; check the path."))
        for item in items:
            if (real := item.path.resolve()) not in seen:
                seen.add(real)
                _sort_in(item, found)
    return found


def _walk(path: Path) -> Iterator[_Item]:
    if path.is_file():
        yield _Item(path, path.name, named=True)
    elif path.is_dir():
        inside = (inner for inner in path.rglob("*") if inner.is_file())
        for inner in sorted(inside, key=lambda inner: inner.relative_to(path).as_posix()):
            relative = inner.relative_to(path)
            if not is_left_out(relative):
                yield _Item(inner, relative.as_posix(), named=False)


def is_left_out(relative: Path | PurePosixPath) -> bool:
    """Tell a hidden file or a lock file by its name."""
    name = relative.name
    hidden = any(part.startswith(".") and part.strip(".") for part in relative.parts)
    foreign = "__MACOSX" in relative.parts
    return hidden or foreign or name.startswith("~$") or name.endswith(".expected.csv")


def _sort_in(item: _Item, found: Found) -> None:
    ending = item.path.suffix.lower()
    if not item.named and ending not in TABLES | HOLDERS:
        found.passed_over.append(item.file)
        return
    try:
        content = _read(item.path, item.file)
        if _holder(content, ending) is None:
            found.sources.append(_source(item, None, content))
        else:
            _open_holder(item, content, found)
    except FileRefused as refusal:
        found.refused.append(refusal)


def _open_holder(item: _Item, content: bytes, found: Found) -> None:
    ending = item.path.suffix.lower()
    before = len(found.sources) + len(found.refused)
    for member, read in _members(content, ending, item.file, depth=0):
        if read is None:
            found.passed_over.append(f"{item.file}!{member}")
            continue
        try:
            found.sources.append(_source(item, member, read()))
        except FileRefused as refusal:
            found.refused.append(refusal)
    if before == len(found.sources) + len(found.refused):
        raise FileRefused(item.file, "there is no table inside it; load the report itself.")


def _source(item: _Item, member: str | None, content: bytes) -> Source:
    file = item.file if member is None else f"{item.file}!{member}"
    return Source(item.path, file, member, hashlib.sha256(content).hexdigest(), len(content))


def _read(path: Path, file: str) -> bytes:
    try:
        size = path.stat().st_size
        if size > MAX_FILE:
            raise FileRefused(
                file, f"it has {size / 2**20:,.0f} MB, too much for a report; take out its tables."
            )
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileRefused(
            file, f"it cannot be read ({reason}); check that you may open it."
        ) from None


def _holder(content: bytes, ending: str) -> str | None:
    """Name the kind of holder: a zip archive that is no workbook itself, or an e-mail."""
    if ending == ".eml":
        return "e-mail"
    if not content.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return "zip" if ending == ".zip" and content else None
    try:
        names = set(zipfile.ZipFile(io.BytesIO(content)).namelist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return "zip" if ending == ".zip" else None
    is_workbook = names & {"[Content_Types].xml", "_rels/.rels", "mimetype"}
    return None if is_workbook or ending in TABLES else "zip"


def _members(
    content: bytes, ending: str, file: str, depth: int
) -> Iterator[tuple[str, Callable[[], bytes] | None]]:
    """Give name and reader of each table inside; no reader for what is passed over."""
    for name, read in _parts(content, ending, file):
        inner_ending = PurePosixPath(name).suffix.lower()
        if is_left_out(PurePosixPath(name)):
            continue
        if inner_ending in HOLDERS and depth == 0:
            yield from _nested(name, read, file)
        elif inner_ending in HOLDERS:
            deep = FileRefused(f"{file}!{name}", "it lies too deep in archives; unpack it first.")
            yield name, partial(_raise, deep)
        elif inner_ending in TABLES or not inner_ending:
            yield name, read
        else:
            yield name, None


def _nested(
    name: str, read: Callable[[], bytes], file: str
) -> Iterator[tuple[str, Callable[[], bytes] | None]]:
    """Give what a holder inside a holder holds; one that is refused refuses nothing else."""
    ending = PurePosixPath(name).suffix.lower()
    try:
        content = read()
        inner = list(_members(content, ending, f"{file}!{name}", depth=1))
    except FileRefused as refusal:
        yield name, partial(_raise, refusal)
        return
    yield from ((f"{name}!{nested}", reader) for nested, reader in inner)


def _raise(refusal: FileRefused) -> bytes:
    raise refusal


def _parts(content: bytes, ending: str, file: str) -> Iterator[Part]:
    if _holder(content, ending) == "e-mail":
        return attachments(content, file)
    return unzip(content, file)


def _inside(content: bytes, ending: str, member: str, file: str) -> bytes:
    """Follow the name of a member, which may lie one holder deeper, down to its bytes."""
    for name, read in _parts(content, ending, file):
        if name == member:
            return read()
        if member.startswith(f"{name}!"):
            inner_ending = PurePosixPath(name).suffix.lower()
            return _inside(read(), inner_ending, member.removeprefix(f"{name}!"), file)
    raise FileRefused(file, "it is no longer in the archive; load the archive again.")
