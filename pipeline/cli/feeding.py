"""Commands of the lab manager: what goes into the store."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.faults import DONE, REFUSED
from pipeline.cli.options import (
    STORE,
    Command,
    Db,
    Out,
    Paths,
    Send,
    SettingsFile,
    Summary,
    Verbose,
)
from pipeline.errors import WrongUse

if TYPE_CHECKING:
    from pipeline.flows import Workplace
    from pipeline.preview import Sight

Lab = Annotated[
    str | None,
    typer.Option("--lab", metavar="NAME", help="The laboratory, where a report names none."),
]
Strict = Annotated[bool, typer.Option("--strict", help="Exit with 1 when values are held.")]


def init(
    db: Db = STORE,
    settings: Annotated[
        Path | None,
        typer.Option(
            "--settings",
            metavar="FILE",
            help="The file to write; by default cinderlot.toml beside the store.",
        ),
    ] = None,
) -> None:
    """Write a settings file with every key explained, and an empty register workbook.

    Both go beside the store. Nothing is overwritten: exits with 2 when one of them is there.
    """
    from pipeline.register import register_template
    from pipeline.settings import settings_template
    from pipeline.whole_files import replace_whole

    wanted = settings or db.parent / "cinderlot.toml"
    register = db.parent / "register.xlsx"
    for path in (wanted, register):
        if path.exists():
            raise WrongUse(f"{path} is there already; move it away or name another folder.")
    replace_whole(wanted, lambda half: half.write_text(settings_template(), encoding="utf-8"))
    register_template(register)
    print(f"{wanted}: every key explained; as it stands it changes nothing")
    print(f"{register}: fill in the sheets lots and samples, then: cinderlot register {register}")


def load(
    paths: Paths,
    lab: Lab = None,
    strict: Strict = False,
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: Summary = False,
    verbose: Verbose = False,
) -> int:
    """Store laboratory reports: files, folders, archives, e-mails.

    Prints one line per report; of more than 20 files a terminal shows those that were refused or
    have values held, and counts the rest. A register workbook among them is loaded as the register. Loading
    the same file again changes nothing. Exits with 1 when a file was refused; the others are stored.
    """
    from pipeline import flows
    from pipeline.cli.endings import end_load
    from pipeline.cli.progress import told

    workplace = open_workplace(db, settings, lab)
    with told("Reading reports", aside=as_json, verbose=verbose) as tell:
        summary = flows.load(paths, workplace, tell)
    return end_load(summary, strict=strict, as_json=as_json, verbose=verbose)


def weekly(
    paths: Paths,
    out: Out,
    send: Send = False,
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: Summary = False,
    verbose: Verbose = False,
) -> int:
    """Load reports, derive fractions, raise flags and write the digest, as one Prefect flow.

    Uses the Prefect server that PREFECT_API_URL names; without one, it starts its own for the time
    of the run, which takes some seconds. Exits with 1 when a file was refused (the others are
    stored) or a letter was not sent.
    """
    from pipeline import flows
    from pipeline.cli.endings import end_week
    from pipeline.cli.progress import told

    workplace = open_workplace(db, settings)
    recipients = flows.choose_recipients(workplace, (), everybody=send)
    with told("Weekly run", aside=as_json, verbose=verbose) as tell:
        week = flows.weekly(paths, workplace, out, tell, recipients)
    return end_week(week, as_json=as_json, verbose=verbose)


def demo(
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Where to; by default a scratch folder."),
    ] = None,
) -> int:
    """Do the weekly run over the sample reports, in a scratch folder.

    Works in a clone of the project, where sample_reports/ is.
    """
    import tempfile

    from pipeline.cli.showcase import find_samples, next_commands, sample_files

    samples = find_samples()
    folder = out or Path(tempfile.mkdtemp(prefix="cinderlot-demo-"))
    folder.mkdir(parents=True, exist_ok=True)
    code = weekly(sample_files(samples), folder / "digest", db=folder / STORE.name, verbose=True)
    print("\n".join(next_commands(samples, folder)))
    return code


def register(
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx", help="The register workbook.")],
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: Summary = False,
) -> int:
    """Load or update the register: lots, samples, movements, interventions, tastings, decisions.

    A column the workbook does not have leaves what is known; an empty cell takes it away. Exits with
    1 and stores nothing when a row is wrong; each mistake is named with its cell.
    """
    from pipeline import flows
    from pipeline.cli.endings import end_load
    from pipeline.cli.progress import told

    with told("Reading the register", aside=as_json) as tell:
        summary = flows.load_register(file, open_workplace(db, settings), tell)
    return end_load(summary, as_json=as_json)


def preview(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A laboratory report.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="COPY.xlsx", help="Write a coloured copy with comments."),
    ] = None,
    draft: Annotated[
        Path | None,
        typer.Option("--draft", metavar="layout.toml", help="Write a layout to complete."),
    ] = None,
    db: Db = STORE,
    settings: SettingsFile = None,
) -> int:
    """Show a report's sheets with the role that each cell was given; nothing is stored.

    Letters and colours tell the roles; held cells show why. --out writes the same as a new workbook
    with a comment on each value. --draft writes a layout for a sheet that is not understood: answer
    its questions, put it into the folder that `layouts` in the settings names, and look again:
    cinderlot preview report.xlsx --draft layouts/form.toml. Nothing is overwritten.
    """
    from pipeline import flows
    from pipeline.cli.tables import paint, terminal_width
    from pipeline.preview import draw, refuse_existing, write_copy

    if out:
        refuse_existing(out, ".xlsx")
    if draft:
        refuse_existing(draft, ".toml")
    sights = list(flows.look([file], open_workplace(db, settings)))
    for sight in sights:
        for pieces in draw(sight, terminal_width() or 120):
            print("".join(paint(p.text, p.colour) for p in pieces).rstrip())
    if out and any(sight.cells.height for sight in sights):
        write_copy(sights, out)
        print(f"{out}: the copy; its first sheet explains letters and colours")
    if draft:
        _draft(sights, draft)
    return REFUSED if any(sight.refusal for sight in sights) else DONE


def _draft(sights: list[Sight], path: Path) -> None:
    from pipeline.preview import draft_layout
    from pipeline.whole_files import replace_whole

    sight = next((s for s in sights if s.clues), None)
    if sight is None or sight.clues is None:
        print("no layout is drafted: no cell that reads as a result was left unread or held")
        return
    layout = draft_layout(sight.file, sight.clues)
    replace_whole(path, lambda half: half.write_text(layout, encoding="utf-8"))
    print(
        f'{path}: a layout for the sheet "{sight.clues.sheet}"; answer every "?", then put it into '
        "the folder that layouts in the settings names"
    )


def open_workplace(db: Path, settings: Path | None, lab: str | None = None) -> Workplace:
    """Name where a command works, with the settings as they stand."""
    from pipeline.flows import Workplace
    from pipeline.settings import load_settings

    return Workplace(db, load_settings(settings, db), lab)


COMMANDS = (
    Command(demo, "Try it: the weekly run over sample reports.", "cinderlot demo"),
    Command(init, "Write a settings file and an empty register.", "cinderlot init"),
    Command(
        weekly,
        "Load, flag and write the digest, in one run.",
        "cinderlot weekly reports/ --out digest/",
    ),
    Command(load, "Store laboratory reports.", "cinderlot load reports/ more/report.xlsx"),
    Command(register, "Load or update the register.", "cinderlot register register.xlsx"),
    Command(
        preview,
        "Show the role of each cell of a report.",
        "cinderlot preview reports/report.xlsx --out copy.xlsx",
    ),
)
