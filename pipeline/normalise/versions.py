"""Settle results that stand twice in a report: corrected and uncorrected, raw and reported."""

from __future__ import annotations

import polars as pl

from schemas.frames import GIVEN_VERSION

_ONE_RESULT = ["report_id", "sample_id", "analyte", "form", "replicate", "raw_expressed_as",
               "raw_method", "raw_treatment", "raw_dose", "raw_stage", "raw_sampled_on",
               "raw_analysed_on", "raw_sample_kind"]  # fmt: skip
_IDLE = ["blank", "not_analysed"]


def settle_versions(readings: pl.DataFrame) -> pl.DataFrame:
    """Take the one number that the report calls reported; else leave all of one result undecided.

    What stands beside a reported number is counted as out of scope. A number that is called raw or
    uncorrected is undecided by itself too: it may not be the result. What a person gave stands.
    """
    given = (pl.col("version") == GIVEN_VERSION).fill_null(False)
    told = pl.col("version").is_not_null() & ~given
    if not readings.select(told.any()).item():
        return readings
    idle = pl.col("notation").is_in(_IDLE).fill_null(False)
    known = pl.col("analyte").is_not_null() & ~idle & ~given
    of_one = {
        "several": (known & told).any() & (pl.col("raw_value").filter(known).n_unique() > 1),
        "unreported": (idle & (pl.col("version") == "reported").fill_null(False)).any(),
        "n_reported": (known & (pl.col("version") == "reported").fill_null(False)).sum(),
        "both": pl.format('{} ("{}": {})', "cell", "raw_analyte", "raw_value")
        .filter(known)
        .str.join(" and "),
    }
    grouped = readings.with_columns(**{k: e.over(_ONE_RESULT) for k, e in of_one.items()})
    chosen = pl.col("several") & (pl.col("n_reported") == 1)
    open_ = known & pl.col("several") & (pl.col("n_reported") != 1)
    alone = ~pl.col("several")
    reported = (pl.col("version") == "reported").fill_null(False)
    raw = known & alone & (pl.col("version") == "raw").fill_null(False)
    unreported = known & alone & pl.col("unreported") & ~reported
    return grouped.with_columns(
        out_of_scope=pl.col("out_of_scope")
        | (chosen & known & (pl.col("version") != "reported").fill_null(True)),
        notation=pl.when(open_ | raw | unreported).then(pl.lit("ambiguous")).otherwise("notation"),
        why=pl.when(open_)
        .then(pl.format("{} give the same result", "both"))
        .when(unreported)
        .then(pl.lit("the column of reported results is empty here"))
        .when(raw)
        .then(pl.format('"{}" may not be what is reported', "raw_analyte"))
        .otherwise("why"),
    ).drop(of_one)
