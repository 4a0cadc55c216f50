"""Write the digest as an e-mail: plain text, HTML with its charts inside, the workbook attached."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from email.message import EmailMessage
from email.utils import format_datetime
from typing import cast

from jinja2 import Environment

from pipeline.digest.chart import as_png, draw
from pipeline.digest.columns import CAUTION
from pipeline.digest.model import MOST_DETAILED, Digest, Subject
from pipeline.digest.pace import fitting
from pipeline.digest.page import (
    LONG_FLAGGED,
    LONG_NAMES,
    beside_gaps,
    brief_names,
    by_matter,
    by_why,
    common_steps,
    describe,
    environment,
    is_assumed,
    letters_of,
    main_parts,
    names_of_sources,
    opened_at_most,
    template,
    whose_thresholds,
)

# A letter is read in two minutes: lines of a list.
MOST_LINES = 5
_HEADING = "margin:28px 0 4px;padding-top:10px;border-top:1px solid #ddd8cf;font-size:18px;"
_SOFT = "margin:3px 0 6px;color:#67615a;font-size:14px;"
_WORKBOOK = ("application", "vnd.openxmlformats-officedocument.spreadsheetml.sheet")


@dataclass(frozen=True)
class Letter:
    """A digest made ready for one address; `state` names what it says."""

    address: str
    state: str
    message: EmailMessage


def message_id(state: str, address: str, sender: str, day: date) -> str:
    """Name a message by what it says, to whom and when, so that a mail program knows it again."""
    name = hashlib.sha256(f"{state} {address} {day}".encode()).hexdigest()[:40]
    return f"<{name}@{sender.rpartition('@')[2]}>"


def _thresholds(lots: tuple[Subject, ...]) -> tuple[str, ...]:
    """Say each threshold that was used, with its whole source, once."""
    above = (found for lot in lots for found in lot.above if found.source)
    return tuple(dict.fromkeys(f"{f.what} {f.limit}, {f.source}" for f in above))


def _told(digest: Digest, limited: str, opened: int) -> dict[str, object]:
    flagged, brief = digest.flagged[:MOST_DETAILED], brief_names(digest)
    return {
        "d": digest,
        "limited": limited,
        "flagged": flagged,
        "opened": flagged[:opened],
        "closed": by_matter(flagged[opened:]),
        "perhaps": names_of_sources(flagged[opened:]),
        "later": flagged[:LONG_FLAGGED],
        "rest": len(digest.flagged) - len(flagged),
        "undecided": by_why(digest.undecided),
        "facts": describe(digest),
        "thresholds": _thresholds(flagged),
        "whose": whose_thresholds(flagged, brief),
        "assumed": is_assumed(flagged),
        "labs": letters_of(flagged[:opened]),
        "beside": beside_gaps(digest),
        "common": common_steps(flagged) if opened < len(flagged) else (),
        "most_names": LONG_NAMES,
        "reserves": list(dict.fromkeys(r.subject for r in digest.reserves)),
        "most": MOST_LINES,
        "caution": " ".join(CAUTION[:2]),
    }


def _environment(digest: Digest, *, autoescape: bool = True) -> Environment:
    pages = environment(autoescape=autoescape)
    pages.filters["brief"] = brief_names(digest)
    return pages


def _text(digest: Digest, limited: str) -> Callable[[int], str]:
    """Give what writes the letter's plain text with so many of the worst lots told in full."""
    page = _environment(digest, autoescape=False).from_string(template("letter.txt.j2"))
    first = ", ".join(f"{n} {words}" for n, words in main_parts(digest.counts))
    return lambda opened: page.render(first=first, **_told(digest, limited, opened)) + "\n"


def _opened(digest: Digest, write: Callable[[int], str]) -> int:
    """Give how many of the worst lots a letter tells in full: what two minutes allow."""

    def seen(opened: int) -> int:
        text, _, _ = write(opened).partition("FOR LATER")
        return len(text.split())

    return fitting(seen, opened_at_most(digest.flagged))


def render_text(digest: Digest, limited: str = "") -> str:
    """Write the letter's plain text."""
    write = _text(digest, limited)
    return write(_opened(digest, write))


def _render_page(
    digest: Digest, limited: str, opened: int, charts: dict[str, str], widths: dict[str, int]
) -> str:
    page = _environment(digest).from_string(template("letter.html.j2"))
    return page.render(
        first=main_parts(digest.counts), charts=charts, widths=widths, heading=_HEADING,
        soft=_SOFT, **_told(digest, limited, opened),
    )  # fmt: skip


def _drawn_width(picture: bytes) -> int:
    """Read the width of a PNG file, in pixels of the page, of which it has two for one.

    The header holds it in bytes 16 to 19. Source: W3C, Portable Network Graphics (2003), 11.2.2.
    """
    return int.from_bytes(picture[16:20], "big") // 2


def _drawn(lots: tuple[Subject, ...]) -> dict[str, bytes]:
    return {lot.name: as_png(draw(lot.course)) for lot in lots if lot.course}


def write_letter(
    digest: Digest, workbook: bytes, sender: str, address: str, limited: str = ""
) -> EmailMessage:
    """Write the digest to one address; `limited` says which part of it this recipient gets."""
    letter = EmailMessage()
    found = ", ".join(f"{n} {words}" for n, words in main_parts(digest.counts))
    letter["Subject"] = f"Smoke digest {digest.made_at:%Y-%m-%d}: {found}"
    letter["From"], letter["To"] = sender, address
    letter["Date"] = format_datetime(digest.made_at)
    letter["Message-ID"] = message_id(digest.state, address, sender, digest.made_at.date())
    letter["Auto-Submitted"] = "auto-generated"  # RFC 3834: no out-of-office answers
    write = _text(digest, limited)
    opened = _opened(digest, write)
    letter.set_content(write(opened))
    pictures = _drawn(digest.flagged[:opened])
    names = {lot: f"chart-{number}@cinderlot" for number, lot in enumerate(pictures, start=1)}
    widths = {lot: _drawn_width(picture) for lot, picture in pictures.items()}
    letter.add_alternative(_render_page(digest, limited, opened, names, widths), subtype="html")
    page = cast("EmailMessage", [*letter.iter_parts()][1])
    for lot, picture in pictures.items():
        page.add_related(picture, "image", "png", cid=f"<{names[lot]}>", disposition="inline",
                         filename=f"{names[lot].partition('@')[0]}.png")  # fmt: skip
    letter.add_attachment(
        workbook, *_WORKBOOK, filename=f"smoke-digest-{digest.made_at:%Y-%m-%d}.xlsx"
    )
    return letter
