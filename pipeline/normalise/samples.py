"""Name the sample and what the report says of it: kind, matrix, stage, dates, dose."""

from __future__ import annotations

import re

import polars as pl

from pipeline.dates import COURSE, DATE_KEYS, date_table
from pipeline.doses import PER_HECTOLITRE
from pipeline.normalise.name_parts import part_names, settle_form
from pipeline.normalise.quality_control import name_quality_control
from pipeline.normalise.texts import map_texts
from pipeline.readers import Readers
from schemas.vocabulary import Vocabulary, squash

_DOSE = re.compile(r"^\s*(\d+(?:[.,]\d+)?)\s*(.*)$")
_MINI = re.compile(r"\b(?:mini|micro)[\s-]?(?:ferment|vinif)|\bbucket ferment", re.IGNORECASE)
_BENCH = re.compile(
    r"\b(?:bench|trials?|treated|untreated|dose)\b|\d\s*(?:g|mL|mg)/h?L\b", re.IGNORECASE
)
_UNTREATED = re.compile(r"\b(?:control|untreated)\b|(?<!\d)0\s*(?:g|mL|mg)/h?L\b", re.IGNORECASE)


def name_samples(readings: pl.DataFrame, readers: Readers) -> pl.DataFrame:
    """Add the sample columns of Results, qc_kind, variety_matrix, date_problem and date_why.

    sample_id is the client's reference, else the laboratory's number. Printed facts of lot, stage
    and matrix are kept as the report says them; the register overrides them later.
    """
    words = readers.names.vocabulary
    named = part_names(readings, words).with_columns(
        sample_id=pl.coalesce("base_name", _trimmed("raw_sample"), _trimmed("raw_lab_sample")),
        form=settle_form(),
        rival_sample=pl.col("rival_sample") | _is_heading(words),
        lab_sample_id=_trimmed("raw_lab_sample"),
        method=_trimmed("raw_method"),
        replicate=pl.coalesce(_trimmed("raw_replicate"), "named_replicate"),
        treatment=_trimmed("raw_treatment"),
        trial=_trimmed("raw_trial"),
        illuminant=_trimmed("raw_illuminant"),
        observer=_trimmed("raw_observer"),
        **{n: _trimmed(f"raw_{n}") for n in ("lot", "region", "grower", "vineyard", "block")},
        vintage=pl.col("raw_vintage").str.extract(r"((?:19|20)\d\d)").cast(pl.Int32),
        path_length=_path_length(),
    )
    return (
        named.pipe(
            map_texts,
            "raw_matrix",
            "matrix",
            lambda t: words.matrices.get(squash(t)) or readers.names.matrix_in(t),
        )
        .pipe(map_texts, "raw_stage", "stage", lambda t: words.stages.get(squash(t)))
        .pipe(
            map_texts, "raw_variety", "variety", lambda t: words.varieties.get(squash(t), t.strip())
        )
        .pipe(map_texts, "variety", "variety_matrix", lambda t: _variety_matrix(t, words))
        .pipe(_read_dose)
        .pipe(_name_kinds, words)
        .pipe(_read_dates)
        .pipe(_share_facts)
    )


def _name_kinds(readings: pl.DataFrame, words: Vocabulary) -> pl.DataFrame:
    """Tell lots, bench samples and quality control apart by the words for a sample."""
    return (
        readings.pipe(
            map_texts, "raw_sample_kind", "told_kind", lambda t: words.sample_kinds.get(squash(t))
        )
        .pipe(name_quality_control, words)
        .pipe(map_texts, "raw_sample_kind", "kind_matrix", lambda t: words.matrices.get(squash(t)))
        .pipe(map_texts, "raw_sample_kind", "kind_of_type", _kind_in_name)
        .pipe(map_texts, "raw_sample", "kind_of_name", _kind_in_name)
        .pipe(map_texts, "raw_sample_name", "kind_of_label", _kind_in_name)
        .with_columns(named_kind=pl.coalesce("kind_of_type", "kind_of_name", "kind_of_label"))
        .with_columns(
            matrix=pl.coalesce("matrix", "kind_matrix"),
            sample_kind=pl.coalesce("told_kind", "named_kind", _kind_by_trial()),
            qc_kind=pl.when(pl.coalesce("told_kind", "named_kind").is_null()).then(
                pl.coalesce("name_qc", "kind_qc")
            ),
        )
    )


_SHARED = (
    *("lot", "region", "grower", "vineyard", "block", "variety", "vintage", "matrix", "stage"),
    *("sampled_on", "received_on", "variety_matrix"),
)


def _share_facts(readings: pl.DataFrame) -> pl.DataFrame:
    """Let what one sheet of a report says of a sample hold for the same sample on its other sheets.

    Only where the report never contradicts itself about it.
    """
    mixed = [name for name in _SHARED if 0 < readings[name].null_count() < readings.height]
    if not mixed:
        return readings
    key = ["report_id", "sample_id"]
    named = readings.filter(pl.col("sample_id").is_not_null())
    told = named.group_by(key).agg(
        pl.when(pl.col(name).drop_nulls().n_unique() == 1)
        .then(pl.col(name).drop_nulls().first())
        .alias(f"{name}_told")
        for name in mixed
    )
    return (
        readings.join(told, on=key, how="left", maintain_order="left")
        .with_columns(pl.coalesce(name, f"{name}_told").alias(name) for name in mixed)
        .drop([f"{name}_told" for name in mixed])
    )


def _path_length() -> pl.Expr:
    """The optical path of an absorbance in cm, printed in cm or mm; null where it names neither."""
    text = pl.col("raw_path_length").str.to_lowercase().str.replace(",", ".")
    length = r"(?:^|[^\d./])(\d+(?:\.\d+)?)\s*[mc]m\b"
    number = text.str.extract(length).cast(pl.Float64)
    once = pl.when(text.str.count_matches(length) == 1)
    return once.then(pl.when(text.str.contains(r"\d\s*mm")).then(number / 10.0).otherwise(number))


def _is_heading(words: Vocabulary) -> pl.Expr:
    """Tell a "name" that is the heading of a sample or of results: it was read across."""
    names = {"sample", "client_sample", "lab_sample", "lot", "result", "unit"}
    fields = pl.col("raw_sample").map_batches(
        lambda texts: _fields_called(texts, words), return_dtype=pl.String
    )
    return fields.is_in(names).fill_null(False)


def _fields_called(texts: pl.Series, words: Vocabulary) -> pl.Series:
    table = {t: words.field_called(t) for t in texts.drop_nulls().unique().to_list()}
    return texts.replace_strict(table, default=None, return_dtype=pl.String)


def _trimmed(column: str) -> pl.Expr:
    bare = pl.col(column).str.replace_all(r"\s+", " ").str.strip_chars()
    return pl.when(bare == "").then(None).otherwise(bare)


def _variety_matrix(variety: str, words: Vocabulary) -> str | None:
    colour = words.variety_colours.get(squash(variety))
    return f"{colour} wine" if colour else None


def _kind_in_name(text: str) -> str | None:
    """Read words such as mini-ferment, bench, trial or treated in a sample's name.

    Such a sample is never taken for the lot itself: only lots are judged.
    """
    if _MINI.search(text):
        return "mini-ferment"
    if not _BENCH.search(text):
        return None
    return "bench control" if _UNTREATED.search(text) else "bench treated"


def _kind_by_trial() -> pl.Expr:
    """Take a sample with a dose or a trial for a bench sample, any other for the lot itself."""
    control = (
        pl.col("raw_treatment").str.to_lowercase().str.contains(r"^(untreated|control|none|no )")
    )
    in_trial = pl.col("raw_trial").is_not_null() | pl.col("raw_dose").is_not_null()
    untreated = (pl.col("dose") == 0) | control
    return (
        pl.when(in_trial & untreated.fill_null(False))
        .then(pl.lit("bench control"))
        .when(in_trial)
        .then(pl.lit("bench treated"))
        .otherwise(pl.lit("lot"))
    )


def _read_dose(readings: pl.DataFrame) -> pl.DataFrame:
    """Add dose and dose_unit: mass in g/hL, volume in mL/hL, any other as printed."""
    rows = []
    for text, unit in (
        readings.select("raw_dose", "raw_dose_unit").drop_nulls("raw_dose").unique().iter_rows()
    ):
        rows.append((text, unit, *_dose(text, unit)))
    schema = {
        "raw_dose": pl.String(),
        "raw_dose_unit": pl.String(),
        "dose": pl.Float64(),
        "dose_unit": pl.String(),
    }
    table = pl.DataFrame(rows, schema=schema, orient="row")
    return readings.join(
        table, on=["raw_dose", "raw_dose_unit"], how="left", maintain_order="left", nulls_equal=True
    )


def _dose(text: str, unit: str | None) -> tuple[float | None, str | None]:
    match = _DOSE.match(text)
    if match is None:
        return None, unit
    printed = (match.group(2) or unit or "").strip()
    number, folded = float(match.group(1).replace(",", ".")), printed.replace(" ", "").lower()
    if folded in PER_HECTOLITRE:
        factor, stored = PER_HECTOLITRE[folded]
        return number * factor, stored
    if folded in {"ppm", "p.p.m."}:
        return None, printed
    return number, printed or None


def _read_dates(readings: pl.DataFrame) -> pl.DataFrame:
    """Add the dates, and what is wrong with the first that is not read.

    date_problem is date_ambiguous or date_invalid; date_why says which day it is, as printed.
    """
    dated = readings
    for name in COURSE:
        texts = dated.select(pl.col(f"raw_{name}").alias("text"), *DATE_KEYS)
        table = date_table(texts).rename(
            {"text": f"raw_{name}", "date": name, "read": f"{name}_read"}
        )
        dated = dated.join(
            table,
            on=[f"raw_{name}", *DATE_KEYS],
            how="left",
            maintain_order="left",
            nulls_equal=True,
        )
    unread = {n: pl.when(pl.col(f"{n}_read").is_in(["ambiguous", "invalid"])) for n in COURSE}
    problems = [unread[n].then(pl.concat_str(pl.lit("date_"), f"{n}_read")) for n in COURSE]
    printed = [
        unread[n].then(pl.format('{} "{}"', pl.lit(n.replace("_", " ")), f"raw_{n}"))
        for n in COURSE
    ]
    return dated.with_columns(
        date_problem=pl.coalesce(*problems), date_why=pl.coalesce(*printed)
    ).drop([f"{n}_read" for n in COURSE])
