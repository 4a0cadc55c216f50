"""Values that stand in a report but were held back: not known, and not zero either."""

from __future__ import annotations

import polars as pl

from pipeline.names import Names
from pipeline.names.marked import part_mark
from schemas.vocabulary import Vocabulary

WITHHELD: dict[str, pl.DataType] = {
    "lab": pl.String(),
    "source": pl.String(),
    "printed": pl.String(),
    "analyte": pl.String(),
}
NONE_WITHHELD = pl.DataFrame(schema=WITHHELD)


def open_held(held: pl.DataFrame) -> pl.DataFrame:
    """Keep held values that wait: not corrected, confirmed or dismissed, their report in force."""
    waiting = ~pl.col("status").is_in(["corrected", "confirmed", "dismissed"]).fill_null(False)
    return held.filter(waiting, pl.col("is_current").fill_null(True))


def name_withheld(held: pl.DataFrame, reports: pl.DataFrame, names: Names) -> pl.DataFrame:
    """Say which analyte of which sample each open held value would have been.

    Columns: lab, source (the report where the laboratory is unknown, else null), printed (the
    sample as printed), analyte. Values whose analyte or sample cannot be read are left out.
    """
    printed = held["raw_analyte"].drop_nulls().unique()
    known = {text: _named(text, names) for text in printed}
    lab = reports.select("report_id", "lab")
    return (
        open_held(held)
        .join(lab, on="report_id")
        .select(
            "lab",
            source=pl.when(pl.col("lab").is_null()).then("report_id"),
            printed="raw_sample",
            analyte=pl.col("raw_analyte").replace_strict(
                known, default=None, return_dtype=pl.String
            ),
        )
        .drop_nulls(["printed", "analyte"])
        .unique()
    )


def _named(text: str, names: Names) -> str | None:
    """Name the analyte of a heading; of "Guaiacol-b" the one that it may be a replicate of."""
    marked = part_mark(text, names)
    return names.heading(text).analyte or (marked.analyte if marked else None)


def name_suspects(results: pl.DataFrame, suspects: pl.DataFrame) -> pl.DataFrame:
    """Say which analyte of which sample each suspected result is, in the columns of WITHHELD."""
    return (
        results.join(suspects, on=["report_id", "sheet", "cell"], how="semi", nulls_equal=True)
        .select(
            "lab",
            source=pl.when(pl.col("lab").is_null()).then(pl.col("report_id")),
            printed="sample_id",
            analyte="analyte",
        )
        .drop_nulls(["printed", "analyte"])
        .unique()
    )


def is_trusted(results: pl.DataFrame) -> pl.Expr:
    """Tell results to use from those whose unit is suspected of a slip; all where nobody asked."""
    known = "suspected_factor" in results.columns
    return pl.col("suspected_factor").is_null() if known else pl.lit(True)


def open_sums(rows: pl.DataFrame, withheld: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    """List the sums of glycosides that miss a value held back: sample, aglycone.

    `rows` are results numbered by sample (see `pipeline.repeats`); `withheld` as from
    `name_withheld`. A glycoside that has a result in the same sample is not missing.
    """
    sums = {
        name: a.group or a.aglycone for name, a in vocabulary.analytes.items() if a.is_glycoside
    }
    glycosides = withheld.filter(pl.col("analyte").is_in(list(sums)))
    place = ["sample", "lab", "source"]
    known_as = [rows.select(*place, printed=name) for name in ("sample_id", "lab_sample_id")]
    return (
        pl.concat(known_as)
        .unique()
        .join(glycosides, on=["lab", "source", "printed"], nulls_equal=True)
        .join(rows, on=["sample", "analyte"], how="anti")
        .select("sample", aglycone=pl.col("analyte").replace_strict(sums, return_dtype=pl.String))
        .unique()
    )
