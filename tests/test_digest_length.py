"""The digest of the demo is read in two minutes: words that are seen before anything is unfolded.

Adults read 238 words of English prose a minute, silently (Brysbaert, Journal of Memory and Language
109 (2019) 104047). Figures count as words; numbers in the charts are looked at, not read.
"""

from __future__ import annotations

import email
import email.policy
from email.message import EmailMessage
from html.parser import HTMLParser
from pathlib import Path

import pytest

from pipeline.cli import run

REPORTS = Path(__file__).parents[1] / "sample_reports"
MOST_WORDS = 2 * 238
UNREAD = {"style", "title", "svg", "script"}
UNCLOSED = {"meta", "img", "br"}
WITHIN_A_LINE = {"a", "b", "code", "i", "span", "time"}


class Unfolded(HTMLParser):
    """Collect what is seen of a page while everything that folds is folded."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in UNCLOSED:
            self.open.append(tag)
        if tag not in WITHIN_A_LINE:
            self.text.append(" ")

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        folded = any(
            tag == "details" and inner != "summary"
            for tag, inner in zip(self.open, [*self.open[1:], ""], strict=False)
        )
        if not folded and not UNREAD & set(self.open):
            self.text.append(data)

    @property
    def words(self) -> list[str]:
        return "".join(self.text).split()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first digest of the season, and its letter."""
    place = tmp_path_factory.mktemp("season")
    store = str(place / "s.duckdb")
    account = '[email]\nserver = "mail.example.org"\nsender = "cellar@example.org"\n'
    (place / "cinderlot.toml").write_text(account, encoding="utf-8")
    assert run(["load", str(REPORTS), "--db", store]) == 0
    to = ["--email", "winemaker@example.org", "--dry-run"]
    assert run(["digest", "--out", str(place), "--db", store, *to]) == 0
    return place


def test_the_page_is_read_in_two_minutes(folder: Path) -> None:
    words = Unfolded((folder / "digest.html").read_text(encoding="utf-8")).words
    assert words[:2] == ["Smoke", "digest,"]
    assert "Caution." in words
    assert 300 < len(words) <= MOST_WORDS


def test_the_letter_is_read_in_two_minutes(folder: Path) -> None:
    [written] = folder.glob("*.eml")
    letter = email.message_from_bytes(written.read_bytes(), policy=email.policy.default)
    assert isinstance(letter, EmailMessage)
    text, page = letter.get_body(("plain",)), letter.get_body(("html",))
    assert text is not None
    assert page is not None
    read, later, _ = text.get_content().partition("FOR LATER")
    assert later
    assert "follow local codes" in read
    assert 250 < len(read.split()) <= MOST_WORDS
    words = " ".join(Unfolded(page.get_content()).words)
    assert 250 < len(words.partition("For later: more of each lot")[0].split()) <= MOST_WORDS
