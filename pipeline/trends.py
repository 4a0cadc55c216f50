"""Follow one analyte over regions, growers, lots, laboratories, vintages or stages."""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipeline.errors import WrongUse
from schemas.vocabulary import FORMS, STAGES, Vocabulary, load_vocabulary, squash

if TYPE_CHECKING:
    from pipeline.store import Store

DIMENSIONS = (
    "region", "grower", "vineyard", "block", "variety", "lot", "lab", "vintage", "stage",
)  # fmt: skip
# What is never pooled: laboratories are not interchangeable (Molecules 27 (2022) 4892).
APART = ("lab", "method", "matrix", "unit", "form", "expressed_as")
_SAMPLE = ("sample_id", "sampled_on")
_STAGE_ORDER = {stage: place for place, stage in enumerate(STAGES)}
_ENDS = (("minimum", "min"), ("median", "median"), ("maximum", "max"))


def resolve_analyte(printed: str, vocabulary: Vocabulary) -> str:
    """Turn a spelling such as "4-MG" into the stored name.

    Raises WrongUse for a name that could be several analytes, and for an unknown one with the
    nearest known name.
    """
    key = squash(printed)
    if printed in vocabulary.analytes:
        return printed
    if key in vocabulary.ambiguous:
        raise WrongUse(f'"{printed}": {vocabulary.ambiguous[key]}')
    if key in vocabulary.names:
        return vocabulary.names[key]
    near = get_close_matches(key, vocabulary.names, n=1, cutoff=0.6)
    hint = f"; did you mean {vocabulary.names[near[0]]}?" if near else ""
    raise WrongUse(f'no analyte is called "{printed}"{hint}')


def _check(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        near = get_close_matches(value, allowed, n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise WrongUse(f'{name} "{value}" is none of {", ".join(allowed)}{hint}')


def _one_per_sample(results: pl.DataFrame, by: str) -> pl.DataFrame:
    """Take the latest analysis of each sample and average its replicates end by end."""
    keys = [*dict.fromkeys((by, *APART, *_SAMPLE))]
    return (
        results.with_columns(upper=pl.col("upper").fill_null(float("inf")))
        .group_by(*keys, "analysed_on")
        .agg(pl.col("lower", "upper").mean())
        .sort("analysed_on", nulls_last=False)
        .group_by(keys)
        .last()
    )


def _summary() -> list[pl.Expr]:
    censored = pl.col("lower") != pl.col("upper")
    ends = [
        getattr(pl.col(end), statistic)().alias(f"{name}_{end}")
        for name, statistic in _ENDS
        for end in ("lower", "upper")
    ]
    return [
        pl.len().cast(pl.Int64).alias("n"),
        censored.sum().cast(pl.Int64).alias("n_censored"),
        censored.mean().alias("share_censored"),
        *ends,
        pl.col("sampled_on").min().alias("first_sampled_on"),
        pl.col("sampled_on").max().alias("last_sampled_on"),
    ]


def _ordered(table: pl.DataFrame, by: str) -> pl.DataFrame:
    if by != "stage":
        return table.sort("by", *APART, nulls_last=True)
    place = pl.col("by").replace_strict(_STAGE_ORDER, default=len(STAGES), return_dtype=pl.Int32)
    return table.sort(place, "by", *APART, nulls_last=True)


def trend(
    source: Store | pl.DataFrame,
    analyte: str,
    by: str,
    form: str | None = None,
    *,
    sample_kind: str = "lot",
    vocabulary: Vocabulary | None = None,
) -> pl.DataFrame:
    """Summarise one analyte by one of `DIMENSIONS`: region, grower, vineyard, lot, stage, ...

    Columns: by, lab, method, matrix, unit, form, expressed_as (rows are never pooled over these),
    n (samples), n_censored, share_censored (0 to 1), minimum, median and maximum as pairs _lower
    and _upper in `unit`, first_sampled_on, last_sampled_on. A censored value counts as an interval:
    the lower end of the median is the median of lower ends, the upper end that of upper ends; a
    null upper end has no bound. Each sample counts once, by its latest analysis, replicates
    averaged. Only samples of the lots themselves unless `sample_kind` says otherwise. `form` null
    keeps all forms apart. Raises WrongUse for an unknown analyte, dimension or form.
    """
    words = vocabulary or load_vocabulary()
    name = resolve_analyte(analyte, words)
    _check("--by", by, DIMENSIONS)
    if form is not None:
        _check("--form", form, FORMS)
    results = source if isinstance(source, pl.DataFrame) else source.results()
    wanted = results.filter(
        pl.col("analyte") == name,
        pl.col("sample_kind") == sample_kind,
        pl.col("form") == form if form is not None else pl.lit(True),
        pl.col("lower").is_not_null(),
    )
    summary = (
        _one_per_sample(wanted, by)
        .with_columns(by=pl.col(by).cast(pl.String))
        .group_by("by", *APART)
        .agg(_summary())
    )
    uppers = [f"{name}_upper" for name, _ in _ENDS]
    bounded = pl.when(pl.col(uppers).is_finite()).then(pl.col(uppers))
    return _ordered(summary.with_columns(bounded), by)


def _write_workbook(table: pl.DataFrame, path: Path) -> None:
    from pipeline.digest.workbook import write_table

    write_table(table, "trend", path)


WRITERS: dict[str, Callable[[pl.DataFrame, Path], object]] = {
    ".csv": lambda table, path: table.write_csv(path),
    ".parquet": lambda table, path: table.write_parquet(path),
    ".xlsx": _write_workbook,
}


def write_trend(table: pl.DataFrame, path: Path) -> None:
    """Write a trend as .csv, .parquet or .xlsx, by the file's ending, whole or not at all.

    Raises WrongUse for another ending.
    """
    writer = WRITERS.get(path.suffix.lower())
    if writer is None:
        known = ", ".join(WRITERS)
        raise WrongUse(
            f"{path.name}: a trend is written as {known}; give the file one of these endings"
        )
    half = path.with_name(f".{path.stem}.part{path.suffix}")
    try:
        writer(table, half)
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)
