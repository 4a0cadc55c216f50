"""Publish the digest: its files, and the letters that are to be sent."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.flows.order import Workplace, refresh_stale
from pipeline.settings import Recipient, email_account
from pipeline.store import Store

if TYPE_CHECKING:
    from pipeline.digest import Letter


@dataclass(frozen=True)
class Issue:
    """A digest that was written: its files, and the letters that are to be sent."""

    written: tuple[Path, ...]
    letters: tuple[Letter, ...] = ()


def is_missed(workplace: Workplace, since: datetime | None) -> bool:
    """Tell whether the last digest is older than that, in local time; false where there is none."""
    if since is None or not workplace.store.exists():
        return False
    with Store(workplace.store, read_only=True) as store:
        last = store.last_digest()
    return last is not None and last.written_at < since.astimezone()


def publish(
    workplace: Workplace,
    out: Path,
    *,
    record: bool = True,
    recipients: Sequence[Recipient] = (),
    paths: Sequence[Path] = (),
) -> Issue:
    """Write the digest into a folder, and a letter for each recipient; nothing is sent yet.

    `record` remembers it as the last one published; `paths` are where reports were loaded from.
    """
    from pipeline.digest import read_views, write_digest, write_letters

    account = email_account(workplace.settings.email, os.environ) if recipients else None
    refresh_stale(workplace)
    with Store(workplace.store, read_only=not record) as store:
        views, settings = read_views(store), workplace.settings
        letters: tuple[Letter, ...] = ()
        if account:
            letters = write_letters(store, settings, views, recipients, account.sender)
        folders = [path if path.is_dir() else path.parent for path in paths]
        write_digest(store, out, settings, publish=record, folders=folders, views=views)
    return Issue((out / "digest.html", out / "digest.xlsx"), letters)
