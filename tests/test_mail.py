"""Letters go out through a real mail server on loopback: encrypted, tried again, never twice."""

from __future__ import annotations

import email
from collections.abc import Iterator
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
import trustme
from offices import Office, free_port, open_office

from pipeline.cli import run
from pipeline.mail import NotSent, Unsure, send
from pipeline.settings import Email
from pipeline.store import Store

ADDRESS, SENDER = "winemaker@example.org", "cellar@example.org"
REPORT = """Laboratory,Bench of the Test
Report number,TB-1
,
Sample,Lot,Vineyard,Matrix,Stage,Sampled,Free guaiacol (ug/L),Total guaiacol (ug/L)
S-1,L-1,East,Red wine,end of AF,2026-03-02,80,120
S-2,L-2,West,Red wine,end of AF,2026-03-02,90,150
"""


@pytest.fixture
def office(
    tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Office]:
    kind = getattr(request, "param", "none")
    controller, opened = open_office(tmp_path, kind)
    monkeypatch.setenv("SSL_CERT_FILE", str(opened.trust))
    yield opened
    controller.stop()


def account(office: Office, **others: Any) -> Email:
    told = {"server": "localhost", "sender": SENDER, "port": office.port, "encryption": "none"}
    return Email(**(told | others))


def letter(to: str = ADDRESS) -> EmailMessage:
    message = EmailMessage()
    message["From"], message["To"], message["Subject"] = SENDER, to, "Smoke digest"
    message.set_content("Two lots are flagged: 23 µg/L.\n")
    return message


def test_a_letter_arrives_as_it_was_written(office: Office) -> None:
    send(letter(), account(office), None)
    [arrived] = office.box.letters
    assert arrived["Subject"] == "Smoke digest"
    assert arrived.get_content().splitlines() == ["Two lots are flagged: 23 µg/L."]
    assert office.box.envelopes == [(SENDER, [ADDRESS])]


@pytest.mark.parametrize(
    ("office", "encryption", "user"),
    [("starttls", "starttls", "cellar"), ("tls", "tls", None)],
    indirect=["office"],
)
def test_a_letter_goes_encrypted(office: Office, encryption: str, user: str | None) -> None:
    send(letter(), account(office, encryption=encryption, user=user), "oak and ash")
    assert len(office.box.letters) == 1


@pytest.mark.parametrize("office", ["starttls"], indirect=True)
def test_a_wrong_password_is_a_sentence_and_is_not_tried_again(office: Office) -> None:
    with pytest.raises(NotSent, match=r"login of cellar.*CINDERLOT_EMAIL_PASSWORD"):
        send(letter(), account(office, encryption="starttls", user="cellar"), "ash", [60.0])


@pytest.mark.parametrize("office", ["tls"], indirect=True)
def test_a_certificate_nobody_vouches_for_is_not_trusted(
    office: Office, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stranger = tmp_path / "stranger.pem"
    trustme.CA().cert_pem.write_to_path(stranger)
    monkeypatch.setenv("SSL_CERT_FILE", str(stranger))
    with pytest.raises(NotSent, match="cannot be trusted"):
        send(letter(), account(office, encryption="tls"), None, [60.0])
    assert office.box.letters == []


def test_a_server_without_encryption_gets_nothing(office: Office) -> None:
    with pytest.raises(NotSent, match="does not offer what the settings ask for"):
        send(letter(), account(office, encryption="starttls"), None, [60.0])


@pytest.mark.parametrize(
    ("server", "password", "said"),
    [
        ("localhost", None, "user cellar needs a password"),
        ("mail.example.org", "oak and ash", "a password is not sent without encryption"),
    ],
)
def test_a_login_is_checked_before_anything_is_sent(
    server: str, password: str | None, said: str
) -> None:
    with pytest.raises(NotSent, match=said):
        send(letter(), Email(server, SENDER, 25, "none", "cellar"), password, ())


def test_what_passes_is_tried_again(office: Office) -> None:
    office.box.answers += ["451 busy", "452 full"]
    send(letter(), account(office), None, [0.0, 0.0])
    assert len(office.box.letters) == 1


def test_what_does_not_pass_is_said_with_the_number_of_tries(office: Office) -> None:
    office.box.answers += ["451 busy"] * 3
    with pytest.raises(NotSent, match=r"answers 451 busy \(tried 3 times\)"):
        send(letter(), account(office), None, [0.0, 0.0])


def test_a_refused_reader_is_not_tried_again(office: Office) -> None:
    with pytest.raises(NotSent, match="answers 550 no such reader"):
        send(letter("nobody@example.org"), account(office), None, [60.0])


def test_a_server_that_is_not_there_is_a_sentence() -> None:
    with pytest.raises(NotSent, match=r"localhost:\d+ does not answer \(Connection refused\)"):
        send(letter(), Email("localhost", SENDER, free_port(), "none"), None, [0.0])


def test_a_break_in_the_middle_leaves_a_doubt_and_is_not_tried_again(office: Office) -> None:
    office.box.answers += ["break off"]
    with pytest.raises(Unsure, match="not known"):
        send(letter(), account(office), None, [0.0])
    assert office.box.letters == []


@pytest.fixture
def cellar(tmp_path: Path, office: Office, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a loaded store and settings that send through the office."""
    folder = tmp_path / "cellar"
    folder.mkdir()
    (folder / "report.csv").write_text(REPORT, encoding="utf-8")
    settings = (
        f'recipients = ["{ADDRESS}"]\n[[recipient]]\naddress = "grower@example.org"\n'
        f'vineyards = ["West"]\n[email]\nserver = "localhost"\nport = {office.port}\n'
        f'encryption = "none"\nsender = "{SENDER}"\n'
    )
    (folder / "cinderlot.toml").write_text(settings, encoding="utf-8")
    monkeypatch.chdir(folder)
    assert run(["load", "report.csv"]) == 0
    return folder


def parts(message: EmailMessage) -> list[str]:
    return [part.get_content_type() for part in message.walk()]


def test_the_digest_is_sent_once_to_each_reader(
    cellar: Path, office: Office, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        assert run(["digest", "--out", "digest", "--send"]) == 0
    assert sorted(str(m["To"]) for m in office.box.letters) == ["grower@example.org", ADDRESS]
    assert f"{ADDRESS}: has this digest already" in capsys.readouterr().out
    assert run(["digest", "--out", "digest", "--email", ADDRESS, "--again"]) == 0
    assert len(office.box.letters) == 3


def test_the_letter_has_text_page_pictures_and_workbook(cellar: Path, office: Office) -> None:
    assert run(["digest", "--out", "digest", "--email", ADDRESS]) == 0
    [arrived] = office.box.letters
    assert parts(arrived) == [
        "multipart/mixed", "multipart/alternative", "text/plain", "multipart/related", "text/html",
        "image/png", "image/png",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ]  # fmt: skip
    text = arrived.get_body(("plain",))
    page = arrived.get_body(("html",))
    assert text is not None
    assert page is not None
    assert "2 lots looked at, 2 flagged" in str(arrived["Subject"])
    assert "L-1" in text.get_content()
    pictures = {str(part["Content-ID"])[1:-1] for part in arrived.walk() if part["Content-ID"]}
    assert len(pictures) == 2
    assert all(f"cid:{name}" in page.get_content() for name in pictures)
    assert "http" not in page.get_content()


def test_a_limited_reader_is_told_of_their_own_lots(cellar: Path, office: Office) -> None:
    assert run(["digest", "--out", "digest", "--email", "grower@example.org"]) == 0
    [arrived] = office.box.letters
    text = arrived.get_body(("plain",))
    assert text is not None
    assert "Only vineyards West; values held back are those of all reports." in text.get_content()
    assert "L-2" in text.get_content()
    assert "L-1" not in text.get_content()


def test_a_dry_run_writes_letters_and_sends_none(cellar: Path, office: Office) -> None:
    assert run(["digest", "--out", "digest", "--send", "--dry-run"]) == 0
    written = cellar / "digest" / f"digest-{ADDRESS}.eml"
    kept = email.message_from_bytes(written.read_bytes(), policy=email.policy.default)
    assert kept["To"] == ADDRESS
    assert office.box.letters == []
    assert run(["digest", "--out", "digest", "--email", ADDRESS]) == 0
    assert len(office.box.letters) == 1


def test_news_is_sent_again_and_so_is_a_return_to_what_was(cellar: Path, office: Office) -> None:
    plain = (cellar / "cinderlot.toml").read_text()
    for more in ("", "\n[decision]\nconfidence = 0.9\n", ""):
        (cellar / "cinderlot.toml").write_text(plain + more, encoding="utf-8")
        assert run(["digest", "--out", "digest", "--email", ADDRESS]) == 0
    assert len(office.box.letters) == 3


def test_a_doubtful_sending_is_told_until_it_is_settled(
    cellar: Path, office: Office, capsys: pytest.CaptureFixture[str]
) -> None:
    office.box.answers += ["break off"]
    words = ["digest", "--out", "digest", "--email", ADDRESS]
    assert run(words) == 1
    assert run(words) == 1
    assert "an earlier sending of this digest was broken off" in capsys.readouterr().err
    assert office.box.letters == []
    assert run([*words, "--again"]) == 0
    assert len(office.box.letters) == 1


def test_a_failed_sending_is_tried_by_the_next_run(
    cellar: Path, office: Office, capsys: pytest.CaptureFixture[str]
) -> None:
    office.box.answers += ["554 not today"]
    words = ["digest", "--out", "digest", "--email", ADDRESS]
    assert run(words) == 1
    assert "not sent: mail server" in capsys.readouterr().err
    assert (cellar / "digest" / "digest.html").exists()
    assert run(words) == 0
    assert len(office.box.letters) == 1


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--email", "the winemaker"], 2, "is no e-mail address"),
        (["--send"], 2, "the settings name no recipients"),
        (["--email", ADDRESS], 2, "no mail can be sent: [email] server is missing"),
    ],
)
def test_what_cannot_be_sent_is_a_sentence_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: int, said: str
) -> None:
    store = tmp_path / "s.duckdb"
    with Store(store):
        pass
    out = tmp_path / "digest"
    assert run(["digest", "--out", str(out), "--db", str(store), *words]) == code
    assert said in capsys.readouterr().err
    assert not out.exists()
