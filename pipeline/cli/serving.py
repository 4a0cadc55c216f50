"""The command that goes on: watch a folder, load what comes, write the digest every week."""

from __future__ import annotations

import signal
import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.faults import DONE, INTERRUPTED, NOTHING_DONE, exit_code, explain_unexpected
from pipeline.cli.feeding import open_workplace
from pipeline.cli.options import STORE, Command, Db, SettingsFile
from pipeline.errors import CinderlotError, Stopped, WrongUse

if TYPE_CHECKING:
    from pipeline.cli.progress import Tell
    from pipeline.flows import Answer, Errand
    from pipeline.settings import Settings

PORT = 8621


@dataclass(frozen=True)
class Served:
    """What an errand is told: the store, the settings file, the inbox, where the digest goes."""

    db: Path
    settings: Path | None
    inbox: Path
    out: Path


def serve(
    inbox: Annotated[
        Path | None,
        typer.Option(
            "--inbox",
            metavar="DIR",
            help="The folder to watch; by default the inbox of the settings.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Where the digest goes; by default out in [serve] of the settings, else the folder "
            "digest beside the store.",
        ),
    ] = None,
    port: Annotated[
        int,
        typer.Option(
            "--port",
            metavar="N",
            min=0,
            max=65535,
            help="The port of Prefect's page; 0: any free one.",
        ),
    ] = PORT,
    db: Db = STORE,
    settings: SettingsFile = None,
) -> int:
    """Watch the inbox and load what comes; do the weekly run when it is due. Until Ctrl-C.

    A file is loaded once it has stopped growing, and again when it changes; it stays where it is.
    A file that is refused is named once. [serve] in the settings says when the weekly run is due;
    one that was missed is made up for at the start. The digest is sent to the recipients of the
    settings, if there are any. Prefect's own page, on this machine only, shows each run; its address
    and password are printed. Ends between two reports: with 130 on Ctrl-C, with 0 on SIGTERM; with
    3 when the store has another serve.
    """
    from pipeline import flows
    from pipeline.inboxes import Inbox
    from pipeline.neighbours import made_known, serving_home
    from pipeline.servers import await_server, claim, start_server

    known, served = _check(db, settings, inbox, out)
    home = serving_home(db)
    signals = flows.Signals()
    busy = "another cinderlot serve watches for this store; stop that one first"
    with claim(home, "serving", 0, busy), signals.catching():
        server = start_server(home, page=port)
        await_server(server, stopped=signals.is_caught)
        if not signals.is_caught():
            _announce(server.url, server.secret, served, known)
        watched = Inbox(served.inbox, known.serving.settle)
        post = flows.Post(do_errand, served, _say)
        with made_known(home, server):
            caught = flows.keep_serving(watched, known.serving, post, server, signals)
    return INTERRUPTED if caught == signal.SIGINT else DONE


def _check(
    db: Path, settings: Path | None, inbox: Path | None, out: Path | None
) -> tuple[Settings, Served]:
    """Find what is wrong before anything is started."""
    from pipeline import flows

    place = open_workplace(db, settings)
    known = place.settings
    watched = inbox or known.inbox
    if watched is None:
        raise WrongUse('no inbox is named; write inbox = "inbox" into the settings, or --inbox DIR')
    if not watched.is_dir():
        raise WrongUse(f"{watched}: there is no such folder; make it, or name another inbox")
    flows.choose_readers(place)
    where = out or known.serving.out or db.parent / "digest"
    return known, Served(db, settings, watched, where)


def _announce(url: str, secret: str | None, served: Served, known: Settings) -> None:
    from pipeline.schedules import next_due

    page, password = url.removesuffix("/api"), f" (password {secret})" if secret else ""
    due = next_due(known.serving, datetime.now())
    print(f"{page} shows the runs{password}")
    print(f"watching {served.inbox} for {served.db}; stop with Ctrl-C")
    print(f"next weekly run: {due:%Y-%m-%d %H:%M}, digest into {served.out}", flush=True)


def do_errand(errand: Errand, served: Served) -> Answer:
    """Load the files of an errand and do its weekly run, in this process, until SIGTERM."""
    from pipeline.flows import Answer

    caught: list[int] = []
    signal.signal(signal.SIGTERM, lambda number, frame: caught.append(number))
    try:
        return Answer(_do(errand, served, caught))
    except Stopped:
        return Answer(DONE)
    except CinderlotError as error:
        return Answer(exit_code(error), f"cinderlot: {error}")
    except Exception as error:
        return Answer(NOTHING_DONE, f"cinderlot: {explain_unexpected(error)}")


def _do(errand: Errand, served: Served, caught: list[int]) -> int:
    from pipeline import flows
    from pipeline.cli.endings import end_week
    from pipeline.cli.progress import told

    place = open_workplace(served.db, served.settings)
    is_week = errand.week or flows.is_missed(place, errand.missed_since)
    if not errand.files and not is_week:
        return DONE
    recipients = flows.choose_readers(place) if is_week else ()
    watched = flows.Watched(errand.files, lambda: bool(caught))
    with told("Weekly run" if is_week else "Reading reports") as tell:
        out = served.out if is_week else None
        news = _news_only(tell) if errand.is_first else tell
        week = flows.weekly([served.inbox], place, out, news, recipients, watched)
    return end_week(week)


def _news_only(tell: Tell) -> Tell:
    """Leave out the files that the store has had before."""
    return lambda loaded, done, total: (
        None if loaded.outcome == "known" else tell(loaded, done, total)
    )


def _say(sentence: str) -> None:
    print(sentence, file=sys.stderr, flush=True)


COMMANDS = (
    Command(
        serve,
        "Watch an inbox, load what comes, run every week.",
        "cinderlot serve --inbox inbox/ --out digest/",
    ),
)
