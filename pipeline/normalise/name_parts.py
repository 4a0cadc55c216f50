"""Part a sample's printed name from a form or a replicate's number that stands behind it."""

from __future__ import annotations

import re

import polars as pl

from schemas.vocabulary import Vocabulary, squash, squash_words

_BRACKETS = re.compile(r"(.+?)\s*[(\[]([^()\[\]]+)[)\]]")
_LAST = re.compile(r"(.+?)[\s,_–-]+([^\W\d_]+)")
_NUMBERED = re.compile(r"(.+?)[\s,_(-]+([^\W\d_]+)\.?\s*([1-9]|[a-d])\)?", re.IGNORECASE)
_LETTERED = re.compile(r"(.+?)(?:[\s_]?([a-d])|[\s_/-]([1-4]))")


_OPEN = ("namesake_of", "namesake_mark")


def part_names(readings: pl.DataFrame, words: Vocabulary) -> pl.DataFrame:
    """Add base_name, named_form and named_replicate; null where the name is a name as it stands.

    "S1 (free)" is parted; "S1 free" only when the report has S1 in another form too, so that
    "smoke-free" stays a name. "S1 rep 2" is parted when S1 has another replicate; "S1a" only when
    "S1b" has the same laboratory number or the report calls them replicates, for it may be another
    sample; namesake_of and namesake_mark are left where nothing but the register can tell.
    """
    parts: dict[str, tuple[str | None, ...]] = {
        text: (*_form(text, words), *_replicate(text, words), *_letter(text))
        for text in readings["raw_sample"].drop_nulls().unique().to_list()
    }
    columns = ("form_base", "form_behind", "sure", "rep_base", "rep_behind", "base", "letter")
    rows = [(text, *told) for text, told in parts.items()]
    schema = {name: pl.String() for name in ("raw_sample", *columns)}
    table = pl.DataFrame(rows, schema=schema, orient="row")
    read = readings.join(table, on="raw_sample", how="left", maintain_order="left")
    forms = pl.col("form_behind").n_unique().over("report_id", "form_base") > 1
    repeats = pl.col("rep_behind").n_unique().over("report_id", "rep_base") > 1
    same = pl.col("letter").n_unique().over("report_id", "raw_lab_sample", "base") > 1
    numbered = pl.col("raw_lab_sample").is_not_null() & pl.col("letter").is_not_null()
    by_form = pl.col("form_base").is_not_null() & (forms | pl.col("sure").is_not_null())
    by_rep = pl.col("rep_base").is_not_null() & repeats
    told = pl.col("raw_sample").str.starts_with(pl.col("namesake_of"))
    named = told & pl.col("namesake_sure")
    return read.with_columns(
        base_name=pl.when(by_form)
        .then("form_base")
        .when(by_rep)
        .then("rep_base")
        .when(named)
        .then("namesake_of")
        .when(numbered & same)
        .then("base"),
        named_form=pl.when(by_form).then("form_behind"),
        named_replicate=pl.when(by_rep)
        .then("rep_behind")
        .when(named)
        .then("namesake_mark")
        .when(numbered & same)
        .then("letter"),
        **{name: pl.when(told & ~pl.col("namesake_sure")).then(name) for name in _OPEN},
    ).drop(columns)


def settle_form() -> pl.Expr:
    """The form of a value: as told, else as its sample's name says; null where they differ."""
    told, named = pl.col("form"), pl.col("named_form")
    fits = named.is_null() | ~pl.col("has_form").fill_null(False) | pl.col("is_glycoside")
    return pl.when(fits | (told == named)).then(told).when(told.is_null()).then(named)


def _form(text: str, words: Vocabulary) -> tuple[str | None, str | None, str | None]:
    for pattern, sure in ((_BRACKETS, "sure"), (_LAST, None)):
        if match := pattern.fullmatch(text.strip()):
            form = words.form_words.get(squash_words(match.group(2)))
            if form:
                return match.group(1).strip(" ,-–"), form, sure
    return None, None, None


def _replicate(text: str, words: Vocabulary) -> tuple[str | None, str | None]:
    match = _NUMBERED.fullmatch(text.strip())
    if match and words.fields.get(squash(match.group(2))) == "replicate":
        return match.group(1).strip(" ,-"), match.group(3)
    return None, None


def _letter(text: str) -> tuple[str | None, str | None]:
    match = _LETTERED.fullmatch(text.strip())
    return (match.group(1), match.group(2) or match.group(3)) if match else (None, None)
