"""Reports of one laboratory and number that nothing puts in order, and what of them differs."""

from __future__ import annotations

from collections.abc import Collection

import polars as pl

_SAME = ["sample_id", "analyte", "form", "expressed_as", "unit", "method", "replicate",
         "sample_kind", "treatment", "dose", "sampled_on", "analysed_on"]  # fmt: skip


def of_one_number(reports: pl.DataFrame, loaded: Collection[str]) -> pl.DataFrame:
    """Keep reports in force that share laboratory and number, with one of the `loaded` among them.

    `reports` as the view; columns: lab, no_key, report_no, report_id, file. A file's name that two of
    them have is told apart by the instant of loading.
    """
    no_key = pl.col("report_no").str.replace_all(r"\s", "").str.to_lowercase()
    place = ["lab", "no_key"]
    again = pl.format("{} (loaded {} UTC)", "file", pl.col("loaded_at").dt.strftime("%F %T"))
    return (
        reports.filter("is_current", pl.col("lab").is_not_null())
        .with_columns(no_key=no_key)
        .filter(pl.col("no_key") != "")
        .filter(pl.len().over(place) > 1, pl.col("report_id").is_in(loaded).any().over(place))
        .with_columns(file=pl.when(pl.len().over(*place, "file") > 1).then(again).otherwise("file"))
        .select(*place, "report_no", "report_id", "file")
        .sort(*place, "file", "report_id")
    )


def unordered(alike: pl.DataFrame, results: pl.DataFrame) -> tuple[str, ...]:
    """Say of such reports how many values differ, and what to do; nothing where none does.

    `alike` as from `of_one_number`, `results` as the view.
    """
    place = ["lab", "no_key"]
    differing = (
        results.drop("lab", "report_no", "file")
        .join(alike, on="report_id")
        .group_by(*place, *_SAME)
        .agg(
            n_reports=pl.col("report_id").n_unique(),
            n_values=pl.struct("lower", "upper").n_unique(),
        )
        .filter(pl.col("n_reports") > 1, pl.col("n_values") > 1)
        .group_by(place)
        .agg(n=pl.len())
    )
    told = alike.group_by(place, maintain_order=True).agg("file", pl.col("report_no").first())
    return tuple(
        f"{row['lab']}, report {row['report_no']}: {row['n']} "
        f"{'value differs' if row['n'] == 1 else 'values differ'} between "
        f"{' and '.join(row['file'])}, and neither a revision nor a day of issue tells which is the "
        "newer; both are kept, and nothing is decided by them: ask the laboratory for a numbered "
        "revision, and load it"
        for row in told.join(differing, on=place).sort(place).iter_rows(named=True)
    )
