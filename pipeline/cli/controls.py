"""The command about quality controls: what the rules say of them, and their charts."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.completing import complete_analyte
from pipeline.cli.options import STORE, AsCsv, AsJson, Command, Db, SettingsFile


def quality(
    lab: Annotated[
        str | None, typer.Option("--lab", metavar="NAME", help="Only this laboratory.")
    ] = None,
    analyte: Annotated[
        str | None,
        typer.Option(
            "--analyte", metavar="A", help="Only this analyte.", autocompletion=complete_analyte
        ),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Also what passes and what cannot be judged.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="Control charts as .svg or .png, or their points as .csv, .xlsx or .parquet.",
        ),
    ] = None,
    db: Db = STORE,
    settings: SettingsFile = None,
    as_json: AsJson = False,
    as_csv: AsCsv = False,
) -> None:
    """List the quality controls that failed or warn, or draw the charts of the control samples."""
    import polars as pl

    from pipeline.charts import control_points, write_controls
    from pipeline.cli.asking import follow_settings
    from pipeline.cli.tables import show
    from pipeline.store import Store
    from pipeline.trends import resolve_analyte
    from schemas.vocabulary import load_vocabulary

    known = follow_settings(db, settings)
    name = resolve_analyte(analyte, load_vocabulary(known.vocabulary)) if analyte else None
    with Store(db, read_only=True) as store:
        if out is not None:
            write_controls(control_points(store, lab, name), out)
            print(out)
            return
        listed = store.view("quality")
    told = pl.col("judgement").is_in(["fail", "warn"])
    chosen = listed.filter(
        pl.lit(True) if everything else told,
        pl.lit(True) if lab is None else pl.col("lab").str.to_lowercase() == lab.strip().lower(),
        pl.lit(True) if name is None else pl.col("analyte") == name,
    )
    columns = ("judgement", "lab", "report_no", "qc_kind", "rule", "form", "analyte")
    show(chosen, as_json, as_csv, columns, below=("message",))


QUALITY = Command(
    quality,
    "List failed quality controls, or chart them.",
    "cinderlot quality --out controls.svg",
)
