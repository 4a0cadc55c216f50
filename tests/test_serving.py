"""Serving: what comes into the inbox is stored, the week is done when due, a signal ends it."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from datetime import time as clock
from pathlib import Path

import pytest
from offices import Office, open_office
from processes import is_alone

from pipeline.cli import run
from pipeline.flows import Workplace, load, publish
from pipeline.inboxes import Inbox, is_being_written
from pipeline.schedules import last_due, next_due
from pipeline.servers import Server as Servers
from pipeline.servers import ask_server
from pipeline.settings import Serving, Settings
from pipeline.store import Store

ROOT = Path(__file__).parents[1]
READER = "winemaker@example.org"
REPORT = """Laboratory,Bench of the Test
Report number,TB-{number}
,
Sample,Lot,Matrix,Stage,Free guaiacol (ug/L),Free 4-methylguaiacol (ug/L)
S-{number},L-{number},Red wine,end of AF,12.3,{other}
"""
# Written down in every Python process started from here: each address it turns to.
WATCHER = """
import os, sys
def watch(event, args):
    if event in ("socket.connect", "socket.sendto"):
        where = args[1][0] if isinstance(args[1], tuple) else "local"
    elif event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"):
        where = args[0]
    else:
        return
    where = where.decode() if isinstance(where, bytes) else where
    with open(os.environ["ADDRESSES"], "a") as log:
        log.write(f"{where}\\n")
sys.addaudithook(watch)
"""
NEAR = {"127.0.0.1", "::1", "localhost", "local", "None", ""}


def write_report(inbox: Path, number: int, other: str = "<0.5") -> Path:
    path = inbox / f"report{number}.csv"
    path.write_text(REPORT.format(number=number, other=other), encoding="utf-8")
    return path


class Server:
    """A `cinderlot serve` in a process of its own, and what it has printed so far."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.inbox = folder, folder / "inbox"
        (folder / "watcher").mkdir(exist_ok=True)
        (folder / "watcher" / "sitecustomize.py").write_text(WATCHER, encoding="utf-8")
        environ = {name: value for name, value in os.environ.items() if "PREFECT" not in name}
        environ["PYTHONPATH"] = f"{folder / 'watcher'}{os.pathsep}{ROOT}"
        environ["ADDRESSES"] = str(folder / "addresses.txt")
        with (folder / "out.txt").open("wb") as out, (folder / "err.txt").open("wb") as err:
            self.child = subprocess.Popen(
                [sys.executable, "-m", "pipeline.cli", "serve", "--port", "0"],
                cwd=folder, env=environ, stdout=out, stderr=err, start_new_session=True,
            )  # fmt: skip

    @property
    def out(self) -> str:
        return (self.folder / "out.txt").read_text(encoding="utf-8")

    @property
    def err(self) -> str:
        return (self.folder / "err.txt").read_text(encoding="utf-8")

    def wait_for(self, text: str, times: int = 1, seconds: float = 300) -> None:
        deadline = time.monotonic() + seconds
        while (self.out + self.err).count(text) < times:
            assert time.monotonic() < deadline, f"{text!r} not in: {self.out}{self.err}"
            assert self.child.poll() is None, self.err
            time.sleep(0.1)

    def end(self, number: signal.Signals, *, group: bool = False) -> int:
        (os.killpg if group else os.kill)(self.child.pid, number)
        return self.child.wait(timeout=300)


@contextmanager
def served(folder: Path, settings: str = "") -> Iterator[Server]:
    (folder / "inbox").mkdir(exist_ok=True)
    text = f'inbox = "inbox"\n[serve]\nsettle = 1\n{settings}'
    (folder / "cinderlot.toml").write_text(text, encoding="utf-8")
    server = Server(folder)
    try:
        yield server
    finally:
        if server.child.poll() is None:
            server.child.kill()
            server.child.wait()


def reports(folder: Path) -> list[str]:
    with Store(folder / "cinderlot.duckdb", read_only=True) as store:
        return sorted(store.reports()["report_no"])


def test_what_comes_into_the_inbox_is_stored_and_a_signal_ends_it(tmp_path: Path) -> None:
    """One server for all that needs one, because it is slow to start."""
    (tmp_path / "inbox").mkdir()
    write_report(tmp_path / "inbox", 1)
    with served(tmp_path) as server:
        server.wait_for("report TB-1")
        assert not (tmp_path / "digest").exists(), "the week is not due"

        (server.inbox / "page.xlsx").write_text("<html><body>log in</body></html>")
        for hidden in ("~$report9.xlsx", ".report9.csv"):
            (server.inbox / hidden).write_text(REPORT.format(number=9, other="1"))
        with write_report(server.inbox, 3).open("a") as open_still:
            (server.inbox / "lab").mkdir()
            write_report(server.inbox / "lab", 2)
            server.wait_for("lab/report2.csv: Bench of the Test, report TB-2")
            time.sleep(3)
            assert "TB-3" not in server.out, "it is still being written"
            open_still.write("S-3b,L-3,Red wine,end of AF,7.1,0.8\n")
        server.wait_for("report TB-3")
        assert "TB-3, samples_down: 4 results" in server.out
        assert reports(tmp_path) == ["TB-1", "TB-2", "TB-3"]
        assert server.err.count("page.xlsx: ") == 1, "said once, although others came since"
        assert {p.name for p in server.inbox.iterdir()} == {
            "lab", "page.xlsx", "report1.csv", "report3.csv", "~$report9.xlsx", ".report9.csv"
        }  # fmt: skip

        check_the_page(server)
        check_only_one_serves(tmp_path)

        (server.inbox / "page.xlsx").write_text("<html><body>still not</body></html>")
        server.wait_for("page.xlsx: ", times=2)
        assert server.end(signal.SIGTERM) == 0
    assert server.err.count("\n") == 2, server.err
    assert is_alone(tmp_path)
    assert set((tmp_path / "addresses.txt").read_text().splitlines()) <= NEAR
    log = next((tmp_path / ".cinderlot").rglob("server.log")).read_text()
    assert "Traceback" not in log


def check_the_page(server: Server) -> None:
    found = re.search(r"(http://127\.0\.0\.1:\d+) shows the runs \(password (\S+)\)", server.out)
    assert found
    with urllib.request.urlopen(f"{found[1]}/") as page:
        assert b"<html" in page.read().lower()
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(f"{found[1]}/api/flow_runs/count", data=b"{}")
    assert urllib.request.urlopen(f"{found[1]}/ui-settings").status == 200
    kept = next((server.folder / ".cinderlot").rglob("password"))
    assert kept.stat().st_mode & 0o077 == 0, "the owner alone may read it"


def wait_out_a_lock(server: Server, store: Path) -> None:
    """Hold the store for longer than one try to open it lasts (20 s), and let go."""
    with Store(store):
        write_report(server.inbox, 50)
        time.sleep(23)
        assert "TB-50" not in server.out
    server.wait_for("report TB-50,")


def check_only_one_serves(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pipeline.cli", "serve", "--port", "0"],
        cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 3
    assert "another cinderlot serve watches" in done.stderr
    assert done.stdout == ""


@pytest.fixture
def office(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Office]:
    """Open a mail server that asks for encryption and a login, which every process here knows."""
    # Not in the test's own folder, by which `living` knows the processes that serve left behind.
    controller, opened = open_office(tmp_path_factory.mktemp("office"), "starttls")
    monkeypatch.setenv("SSL_CERT_FILE", str(opened.trust))
    monkeypatch.setenv("CINDERLOT_EMAIL_PASSWORD", "oak and ash")
    yield opened
    controller.stop()


def check_the_letter(server: Server, office: Office) -> None:
    """The letter of the week came, and comes to nobody twice; the other run is on the same page."""
    deadline = time.monotonic() + 300
    while not office.box.letters and time.monotonic() < deadline:
        time.sleep(0.1)
    [arrived] = office.box.letters
    assert arrived["To"] == READER
    assert "1 lot looked at" in str(arrived["Subject"])
    told = json.loads(next((server.folder / ".cinderlot").rglob("server.json")).read_text())
    environ = {name: value for name, value in os.environ.items() if "PREFECT" not in name}
    again = subprocess.run(
        [sys.executable, "-m", "pipeline.cli", "weekly", "inbox", "--out", "again", "--send"],
        cwd=server.folder, env={**environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        timeout=600, check=False,
    )  # fmt: skip
    assert again.returncode == 0, again.stderr
    assert f"{READER}: has this digest already" in again.stdout + again.stderr
    assert len(office.box.letters) == 1
    weeks = {"flows": {"name": {"any_": ["cinderlot weekly"]}}}
    assert ask_server(Servers(told["url"], told["secret"]), "flow_runs/count", weeks) == 2
    assert not (server.folder / ".cinderlot" / "prefect").exists(), "it needed no server of its own"


def test_a_missed_week_is_made_up_for_and_ctrl_c_ends_between_reports(
    tmp_path: Path, office: Office
) -> None:
    place = Workplace(tmp_path / "cinderlot.duckdb", Settings())
    (tmp_path / "inbox").mkdir()
    load([write_report(tmp_path / "inbox", 0)], place, lambda *_: None)
    publish(place, tmp_path / "before")
    due = f"{datetime.now() - timedelta(minutes=1):%H:%M}"
    with Store(place.store) as store:
        # No public way to have published last week.
        store._con.execute("UPDATE base.digest SET written_at = written_at - INTERVAL 8 DAYS")
    settings = (
        f'every = "day"\nat = "{due}"\nout = "pages"\n[email]\nserver = "localhost"\n'
        f'port = {office.port}\nencryption = "starttls"\nuser = "cellar"\n'
        f'sender = "cellar@example.org"\n[[recipient]]\naddress = "{READER}"\n'
    )
    with served(tmp_path, settings) as server:
        server.wait_for("Digest: ")
        check_the_letter(server, office)
        assert "report0.csv" not in server.out, "what was known before is no news"
        assert "1 known" in server.out
        assert {p.name for p in (tmp_path / "pages").iterdir()} == {"digest.html", "digest.xlsx"}

        wait_out_a_lock(server, place.store)

        for number in range(1, 40):
            write_report(server.inbox, number)
        server.wait_for("report TB-1,")
        assert server.end(signal.SIGINT, group=True) == 130
    stored = reports(tmp_path)
    assert {"TB-0", "TB-1", "TB-50"} <= set(stored)
    assert len(stored) < 41, "it ended before the last one"
    told = set(re.findall(r"report (TB-\d+),", server.out))
    assert told == set(stored) - {"TB-0"}
    stopped = "cinderlot: stopped; every report is stored whole or not at all.\n"
    assert server.err == stopped
    assert not list((tmp_path / ".cinderlot").rglob("server.json"))
    assert is_alone(tmp_path)


@pytest.mark.parametrize(
    ("settings", "code", "said"),
    [
        ("", 2, "no inbox is named"),
        ('inbox = "nowhere"', 2, "there is no such folder"),
        ('inbox = "."\n[serve]\nevery = "month"', 2, 'every is \'month\'; expected "week", "day"'),
        ('inbox = "."\n[serve]\nat = "7:00"', 2, 'expected a time such as "07:00"'),
        ('inbox = "."\n[serve]\nsettle = 0', 2, "seconds, from 1 to 3600"),
        ('inbox = "."\nrecipients = ["w@example.org"]', 2, "no mail can be sent"),
    ],
)
def test_what_cannot_be_served_is_said_before_anything_starts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    settings: str, code: int, said: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    (tmp_path / "cinderlot.toml").write_text(settings, encoding="utf-8")
    assert run(["serve"]) == code
    assert said in capsys.readouterr().err
    assert not (tmp_path / ".cinderlot").exists()


def test_a_taken_port_is_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PREFECT_API_URL", raising=False)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert run(["serve", "--inbox", ".", "--port", port]) == 3
    assert f"port {port} cannot be used" in capsys.readouterr().err


def test_a_file_waits_until_it_has_stopped_growing(tmp_path: Path) -> None:
    inbox = Inbox(tmp_path, settle=10)
    path = write_report(tmp_path, 1)
    assert inbox.look(0) == {}
    path.write_text("longer than it was before")
    assert inbox.look(10) == {}, "it changed since"
    assert list(inbox.look(19)) == []
    found = inbox.look(20)
    assert list(found) == [path]
    inbox.keep(found)
    assert inbox.look(40) == {}
    path.write_text("changed again")
    assert inbox.look(41) == {}
    assert list(inbox.look(51)) == [path]


def test_a_file_that_goes_and_comes_back_is_read_again(tmp_path: Path) -> None:
    inbox = Inbox(tmp_path, settle=1)
    path = write_report(tmp_path, 1)
    inbox.look(0)
    inbox.keep(inbox.look(1))
    path.unlink()
    assert inbox.look(2) == {}
    write_report(tmp_path, 1)
    inbox.look(3)
    assert list(inbox.look(4)) == [path]


def test_a_folder_that_goes_is_an_error_and_not_an_empty_one(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        Inbox(tmp_path / "gone", settle=1).look(0)


def test_a_file_open_for_writing_is_told_from_one_that_lies(tmp_path: Path) -> None:
    path = write_report(tmp_path, 1)
    assert not is_being_written(path)
    with path.open("a"):
        assert is_being_written(path)
    assert not is_being_written(path)


WEEK = Serving(every="week", day="monday", at=clock(7))


# By the calendar: 2026-11-25 is a Wednesday; clocks change on 2026-10-25 in central Europe.
@pytest.mark.parametrize(
    ("serving", "now", "last", "following"),
    [
        (WEEK, "2026-11-25T12:00", "2026-11-23T07:00", "2026-11-30T07:00"),
        (WEEK, "2026-11-30T06:59", "2026-11-23T07:00", "2026-11-30T07:00"),
        (WEEK, "2026-11-30T07:00", "2026-11-30T07:00", "2026-12-07T07:00"),
        (WEEK, "2026-10-24T12:00", "2026-10-19T07:00", "2026-10-26T07:00"),
        (replace(WEEK, day="sunday"), "2026-11-25T12:00", "2026-11-22T07:00", "2026-11-29T07:00"),
        (replace(WEEK, every="day"), "2026-11-25T06:00", "2026-11-24T07:00", "2026-11-25T07:00"),
        (replace(WEEK, every=6), "2026-11-25T12:00", "2026-11-25T07:00", "2026-11-25T13:00"),
    ],
)
def test_a_run_is_due_by_the_calendar(
    serving: Serving, now: str, last: str, following: str
) -> None:
    moment = datetime.fromisoformat(now)
    assert last_due(serving, moment) == datetime.fromisoformat(last)
    assert next_due(serving, moment) == datetime.fromisoformat(following)
