"""Take corrections of stored numbers, whose unit was suspected, through the rules for any value."""

from __future__ import annotations

import polars as pl

from pipeline.flows.correcting import (
    NOTHING,
    Corrected,
    as_corrections,
    judge_corrections,
    why_held,
    why_unused,
)
from pipeline.normalise import normalise
from pipeline.readers import Readers
from pipeline.review.amend import given_readings, rescaled, with_factors, with_given_values
from pipeline.settings import Settings
from pipeline.store import Store
from pipeline.validate import validate
from schemas.report import STORED
from schemas.rules import rules
from schemas.vocabulary import Vocabulary

_AT = ["report_id", "sheet", "cell"]
_IS = ("raw_value", "raw_analyte", "raw_unit")


def judge_amendments(
    given: pl.DataFrame, store: Store, readers: Readers, settings: Settings
) -> Corrected:
    """Make the rows that stand in the place of stored numbers, or say why one cannot.

    `given` has held_id, decision, the columns of GIVEN, `day`, and report_id, sheet, cell of the
    number. What is no longer stored gives no row.
    """
    if given.is_empty():
        return NOTHING
    told = given.drop(n for n in given.columns if n in STORED and n not in _AT)
    kept = told.join(store.stored_numbers(given), on=_AT, maintain_order="left")
    by_value = pl.col("corrected_value").is_not_null()
    moved = with_factors(kept.filter(~by_value), readers.names).pipe(rescaled, "times")
    read, refused = _read(kept.filter(by_value), readers, settings)
    whole = pl.concat([moved, read], how="diagonal")
    unfit = _why(whole, readers.names.vocabulary)
    absent = [pl.lit(None, t).alias(n) for n, t in STORED.items() if n not in whole.columns]
    good = whole.join(unfit, on="held_id", how="anti", maintain_order="left").with_columns(absent)
    return Corrected(as_corrections(good, kept), pl.concat([refused, unfit]))


def _read(
    kept: pl.DataFrame, readers: Readers, settings: Settings
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Read given values; give the rows with them, and why the others cannot be used."""
    if kept.is_empty():
        return kept.with_columns(why=pl.lit(None, pl.String)), NOTHING.refused
    words = readers.names.vocabulary
    judged = validate(normalise(given_readings(kept), readers, settings), words)
    place = kept.select("held_id", *_AT)
    held = judged.held.drop("held_id").join(place, on=_AT)
    refused = [why_held(held, words), why_unused(judged.unused.join(place, on=_AT))]
    return with_given_values(kept, judged.stored), pl.concat(refused)


def _why(whole: pl.DataFrame, words: Vocabulary) -> pl.DataFrame:
    """Say why rows cannot be used: by their own reason, or as impossible."""
    means = words.reasons["impossible"][0]
    wrong = rules()["impossible"].fill_null(value=False)
    told = whole.with_columns(has_form=pl.lit(value=True)).with_columns(
        message=pl.coalesce("why", pl.when(wrong).then(pl.lit(f"{means} (impossible)")))
    )
    return told.filter(pl.col("message").is_not_null()).select("held_id", "message")


def restate(store: Store, readers: Readers, settings: Settings) -> None:
    """Make the rows of corrections anew whose report was judged anew; what fails stays open."""
    waiting = store.unplaced().with_columns(day=pl.col("settled_at").dt.date().cast(pl.String))
    if waiting.is_empty():
        return
    is_stored = pl.col("held_id").str.starts_with("S-")
    printed = ["report_id", "sheet", "cell", "raw_sample", "reason_code", *_IS]
    held = judge_corrections(waiting.filter(~is_stored).drop(printed), store, readers, settings)
    kept = _still_stored(waiting.filter(is_stored), store)
    rows = pl.concat([held.rows, judge_amendments(kept, store, readers, settings).rows])
    store.place(rows.join(waiting.select("held_id", "settlement_no"), on="held_id"))


def _still_stored(waiting: pl.DataFrame, store: Store) -> pl.DataFrame:
    """Keep the decisions whose number is stored as it was when it was decided on."""
    if waiting.is_empty():
        return waiting
    numbers = store.stored_numbers(waiting).with_columns(raw_sample="sample_id")
    keys = [*_AT, "raw_sample", *_IS]
    return waiting.join(numbers, on=keys, how="semi", nulls_equal=True, maintain_order="left")
