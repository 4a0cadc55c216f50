"""Write the digest's page and workbook."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.digest.gather import gather
from pipeline.digest.model import Digest
from pipeline.digest.page import first_line, render_html
from pipeline.digest.views import read_views
from pipeline.digest.workbook import write_workbook
from pipeline.errors import CinderlotError
from schemas.vocabulary import load_vocabulary

if TYPE_CHECKING:
    from pipeline.settings import Settings
    from pipeline.store import Store


def replace_whole(path: Path, write: Callable[[Path], object]) -> None:
    """Write a file beside its place and move it there, so that no reader sees half of it."""
    half = path.with_name(f".{path.name}.part")
    try:
        write(half)
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)


def write_digest(store: Store, out: Path, settings: Settings, *, publish: bool = True) -> Digest:
    """Write digest.html and digest.xlsx into a folder, and remember what was published.

    Each file is written whole or not at all. `publish = False` leaves the next comparison as it is.
    Raises CinderlotError when the folder cannot be written.
    """
    last, views = store.last_digest(), read_views(store)
    digest = gather(
        views,
        settings,
        load_vocabulary(settings.vocabulary),
        datetime.now(UTC),
        before=None if last is None else last.flags,
        previous_at=None if last is None else last.written_at,
    )
    page = render_html(digest)
    try:
        out.mkdir(parents=True, exist_ok=True)
        replace_whole(out / "digest.html", lambda half: half.write_text(page, encoding="utf-8"))
        replace_whole(out / "digest.xlsx", lambda half: write_workbook(digest, half))
    except OSError as error:
        reason = error.strerror or str(error)
        raise CinderlotError(
            f"{out}: the digest cannot be written ({reason}); name another folder with --out"
        ) from None
    if publish:
        store.record_digest(views.flags, {"first_line": first_line(digest)})
    return digest
