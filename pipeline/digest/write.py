"""Write the digest's page, workbook and letters."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipeline.digest.addressed import addressed, concerned_lots, limited_to
from pipeline.digest.gather import gather
from pipeline.digest.letter import Letter, write_letter
from pipeline.digest.links import reachable
from pipeline.digest.model import Digest
from pipeline.digest.page import first_line, render_html
from pipeline.digest.views import Views, read_views
from pipeline.digest.workbook import write_workbook
from pipeline.errors import CinderlotError
from pipeline.whole_files import replace_whole
from schemas.vocabulary import load_vocabulary

if TYPE_CHECKING:
    from pipeline.settings import Recipient, Settings
    from pipeline.store import Store


def _gathered(
    store: Store, settings: Settings, views: Views, keep: Callable[[pl.DataFrame], pl.DataFrame]
) -> Digest:
    last = store.last_digest()
    return gather(
        views,
        settings,
        load_vocabulary(settings.vocabulary),
        datetime.now(UTC),
        before=None if last is None else keep(last.flags),
        previous_at=None if last is None else last.written_at,
    )


def write_digest(
    store: Store,
    out: Path,
    settings: Settings,
    *,
    publish: bool = True,
    folders: Sequence[Path] = (),
    views: Views | None = None,
) -> Digest:
    """Write digest.html and digest.xlsx into a folder, and remember what was published.

    Each file is written whole or not at all. `publish = False` leaves the next comparison as it is.
    Reports that still stand in one of `folders` or beside the store are linked from the workbook.
    `views` are the store's, where they were read already.
    Raises CinderlotError when the folder cannot be written.
    """
    views = views or read_views(store)
    digest = _gathered(store, settings, views, lambda flags: flags)
    page = render_html(digest)
    loaded = views.reports.select("file", "sha256").iter_rows()
    found = reachable(loaded, [*folders, store.path.parent], out)
    try:
        out.mkdir(parents=True, exist_ok=True)
        replace_whole(out / "digest.html", lambda half: half.write_text(page, encoding="utf-8"))
        replace_whole(out / "digest.xlsx", lambda half: write_workbook(digest, half, found))
    except OSError as error:
        reason = error.strerror or str(error)
        raise CinderlotError(
            f"{out}: the digest cannot be written ({reason}); name another folder with --out"
        ) from None
    if publish:
        store.record_digest(views.flags, {"first_line": first_line(digest)})
    return digest


def write_letters(
    store: Store, settings: Settings, views: Views, recipients: Sequence[Recipient], sender: str
) -> tuple[Letter, ...]:
    """Write the digest of some views to each recipient, as compared with the one published last."""
    return tuple(_letter(store, settings, views, recipient, sender) for recipient in recipients)


def _letter(
    store: Store, settings: Settings, views: Views, recipient: Recipient, sender: str
) -> Letter:
    lots = concerned_lots(views, recipient)
    own = pl.lit(True) if lots is None else pl.col("lot").is_in(lots.implode())
    seen = addressed(views, recipient)
    digest = _gathered(store, settings, seen, lambda flags: flags.filter(own))
    workbook = BytesIO()
    write_workbook(digest, workbook)
    message = write_letter(
        digest, workbook.getvalue(), sender, recipient.address, limited_to(recipient)
    )
    return Letter(recipient.address, digest.state, message)
