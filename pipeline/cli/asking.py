"""Commands of the winemaker and the analyst: what comes out of the store."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.completing import complete_lot
from pipeline.cli.controls import QUALITY
from pipeline.cli.options import (
    STORE,
    Again,
    AsCsv,
    AsJson,
    Command,
    Db,
    Emails,
    Out,
    Send,
    SettingsFile,
)
from pipeline.cli.settling import held
from pipeline.cli.trending import TREND
from pipeline.errors import CinderlotError, WrongUse

if TYPE_CHECKING:
    import polars as pl

    from pipeline.settings import Settings


def flags(
    lot: Annotated[
        str | None,
        typer.Option("--lot", metavar="L", help="Only this lot.", autocompletion=complete_lot),
    ] = None,
    since: Annotated[
        datetime | None,
        typer.Option(
            "--since",
            metavar="DATE",
            formats=["%Y-%m-%d"],
            help="Only those raised since this day, such as 2026-03-01.",
        ),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Also what is below its threshold, and superseded flags.")
    ] = False,
    full: Annotated[
        bool, typer.Option("--full", help="Every line with its sentence; nothing is only counted.")
    ] = False,
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: AsJson = False,
    as_csv: AsCsv = False,
) -> None:
    """List the current flags: what is above a threshold, and what cannot be decided.

    Of a long list, exposure and notes are only counted, unless a lot, --full or --all is asked for.
    """
    import polars as pl

    from pipeline.cli.folding import SCREEN, in_points, show_folded
    from pipeline.cli.tables import show
    from pipeline.store import Store

    follow_settings(db, settings)
    with Store(db, read_only=True) as store:
        listed = store.flags()
    chosen = _choose_flags(listed, lot, since, everything)
    subject = pl.coalesce("lot", "sample_id").alias("lot or sample")
    leading = ("decision", subject, "sampled_on", "kind", "analyte")
    if chosen.height > SCREEN and not (lot or full or everything or as_json or as_csv):
        show_folded(in_points(chosen), leading)
    else:
        columns = (*leading, "lower", "upper", "unit")
        told = chosen if as_json or as_csv else in_points(chosen)
        show(told, as_json, as_csv, columns, below=("message", "note"))


def digest(
    out: Out,
    email: Emails = None,
    send: Send = False,
    again: Again = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Write files, letters too; record and send nothing.")
    ] = False,
    db: Db = STORE,
    settings: SettingsFile = None,
) -> int:
    """Write the digest of what the store holds: digest.html and digest.xlsx; send it if asked.

    With --dry-run each letter is written as an .eml file instead. Nobody gets the same digest twice.
    """
    from pipeline import flows
    from pipeline.cli.letters import conclude

    workplace = flows.Workplace(db, _read_settings(db, settings))
    recipients = flows.choose_recipients(workplace, email or (), everybody=send)
    issue = flows.publish(workplace, out, record=not dry_run, recipients=recipients)
    drafts = flows.keep_letters(issue.letters, out) if dry_run else ()
    for path in (*issue.written, *drafts):
        print(path)
    return conclude(() if dry_run else flows.send_letters(issue.letters, workplace, again=again))


def sql(
    query: Annotated[
        str, typer.Argument(metavar='"SELECT ..."', help="One query; it can change nothing.")
    ],
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: AsJson = False,
    as_csv: AsCsv = False,
) -> None:
    """Answer a read-only query on the views: reports, results, held, flags, fractions, lots ..."""
    from pipeline.cli.tables import show
    from pipeline.store import Store

    follow_settings(db, settings)
    with Store(db, read_only=True) as store:
        try:
            answer = store.frame(query)
        except CinderlotError as error:
            raise WrongUse(str(error)) from None
    show(answer, as_json, as_csv)


def _read_settings(db: Path, settings: Path | None) -> Settings:
    from pipeline.settings import load_settings

    return load_settings(settings, db)


def follow_settings(db: Path, settings: Path | None) -> Settings:
    """Refresh fractions and flags where they are not what the settings give; give the settings."""
    from pipeline.settings import deciding_key
    from pipeline.store import Store

    known = _read_settings(db, settings)
    with Store(db, read_only=True) as store:
        fresh = store.derived_with() == deciding_key(known)
    if not fresh:
        from pipeline import flows

        flows.refresh(flows.Workplace(db, known))
    return known


def _choose_flags(
    listed: pl.DataFrame, lot: str | None, since: datetime | None, everything: bool
) -> pl.DataFrame:
    import polars as pl

    current = (pl.col("status") == "current") & pl.col("decision").is_in(["above", "undecided"])
    wanted = pl.lit(True) if everything else current
    if lot is not None:
        wanted &= pl.col("lot") == lot
    if since is not None:
        wanted &= pl.col("raised_at").dt.date() >= since.date()
    rank = pl.col("severity").replace_strict({"act": 0, "warn": 1, "note": 2}, default=3)
    exposure = pl.col("kind") == "above_background"  # many rows, and nothing to act on by itself
    return listed.filter(wanted).sort(rank, exposure, maintain_order=True)


COMMANDS = (
    Command(
        held,
        "List the values held back, or settle them.",
        "cinderlot held --export review.xlsx",
    ),
    Command(flags, "List what is above, or undecided.", "cinderlot flags --lot 25-SH-01"),
    Command(
        digest,
        "Write the digest, and send it.",
        "cinderlot digest --out digest/ --email winemaker@example.org",
    ),
    TREND,
    QUALITY,
    Command(
        sql,
        "Ask the store in SQL, read-only.",
        'cinderlot sql "SELECT lot, analyte, upper FROM results"',
    ),
)
