"""Send the digest: a letter for each recipient, never twice the same to one of them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pipeline.errors import BadSettings, WrongUse
from pipeline.flows.order import Workplace
from pipeline.mail import NotSent, Unsure, send
from pipeline.settings import Email, Recipient, email_account, is_address
from pipeline.store import Store

if TYPE_CHECKING:
    from pipeline.digest import Letter


@dataclass(frozen=True)
class Sent:
    """What became of one letter, with a sentence for the terminal."""

    address: str
    outcome: Literal["sent", "already", "failed", "unsure"]
    sentence: str


def choose_recipients(
    workplace: Workplace, addresses: Sequence[str], *, everybody: bool
) -> tuple[Recipient, ...]:
    """List who is written to: the settings' recipients if asked for, and addresses of the moment.

    Raises BadSettings when the settings are asked for and name nobody, WrongUse for an address that
    cannot be one.
    """
    known = workplace.settings.recipients
    if everybody and not known:
        raise BadSettings(
            "the settings name no recipients; add recipients = [...], or name one with --email"
        )
    for address in addresses:
        if not is_address(address):
            raise WrongUse(f'"{address}" is no e-mail address, such as winemaker@example.org')
    own = {recipient.address: recipient for recipient in known}
    asked = {address: own.get(address, Recipient(address)) for address in addresses}
    return tuple((own | asked if everybody else asked).values())


def choose_readers(workplace: Workplace) -> tuple[Recipient, ...]:
    """List who gets the digest of `cinderlot serve`: the recipients of the settings, if any.

    Raises BadSettings when they are to be written to and no mail server is set.
    """
    settings = workplace.settings
    if not settings.serving.send or not settings.recipients:
        return ()
    email_account(settings.email, os.environ)
    return settings.recipients


def keep_letters(letters: Sequence[Letter], out: Path) -> tuple[Path, ...]:
    """Write letters as files instead of sending them."""
    paths = []
    for letter in letters:
        name = "".join(c if c.isalnum() or c in "@.-_" else "_" for c in letter.address)
        paths.append(out / f"digest-{name}.eml")
        paths[-1].write_bytes(letter.message.as_bytes())
    return tuple(paths)


def send_letters(
    letters: Sequence[Letter], workplace: Workplace, *, again: bool = False
) -> tuple[Sent, ...]:
    """Send letters one by one; each is claimed in the store before and closed after."""
    if not letters:
        return ()
    account = email_account(workplace.settings.email, os.environ)
    return tuple(_send(letter, workplace.store, account, again) for letter in letters)


def _send(letter: Letter, store: Path, account: Email, again: bool) -> Sent:
    with Store(store) as opened:
        claim = opened.claim_sending(letter.address, letter.state, again=again)
    if claim == "sent":
        return Sent(
            letter.address, "already", "has this digest already; --again sends it once more"
        )
    if claim == "unsure":
        return Sent(
            letter.address,
            "unsure",
            "not sent: an earlier sending of this digest was broken off, and whether it arrived is "
            "not known; ask, then send it with --again",
        )
    try:
        send(letter.message, account, os.environ.get("CINDERLOT_EMAIL_PASSWORD"))
    except Unsure as doubt:
        return Sent(letter.address, "unsure", str(doubt))
    except NotSent as failure:
        _close(store, letter, sent=False)
        return Sent(letter.address, "failed", f"not sent: {failure}")
    _close(store, letter, sent=True)
    return Sent(letter.address, "sent", "sent")


def _close(store: Path, letter: Letter, *, sent: bool) -> None:
    with Store(store) as opened:
        opened.close_sending(letter.address, letter.state, sent=sent)
