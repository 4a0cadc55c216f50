"""Take corrections of held values through the same stages as any value: normalise, then validate."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.normalise import normalise
from pipeline.normalise.name_parts import part_names
from pipeline.readers import Readers
from pipeline.review.amend import rescaled
from pipeline.review.correct import companions, corrected_readings, days_too_many
from pipeline.settings import Settings
from pipeline.store import Store
from pipeline.validate import SAME, VALUE, validate
from schemas.report import STORED
from schemas.settlements import SETTLED
from schemas.vocabulary import Vocabulary

_AS_PRINTED = ("raw_analyte", "raw_value", "raw_unit")
_REFUSED = {"held_id": pl.String(), "message": pl.String()}
_NO_NUMBER = pl.lit(None, pl.Int64).alias("replaces")
_TWICE = "the report gives this value of the sample already, in {}; dismiss this one"
_DIFFERS = "the report gives another value of the same sample, analyte and form in {}: {}"


@dataclass(frozen=True)
class Corrected:
    """`rows` has held_id, replaces and the columns of STORED; `refused` has held_id and message.

    `replaces` is the key of the stored number in whose place a row stands, null for held values.
    """

    rows: pl.DataFrame
    refused: pl.DataFrame


NOTHING = Corrected(
    pl.DataFrame(schema={"held_id": pl.String(), "replaces": pl.Int64(), **STORED}),
    pl.DataFrame(schema=_REFUSED),
)


def judge_corrections(
    given: pl.DataFrame, store: Store, readers: Readers, settings: Settings
) -> Corrected:
    """Read and judge corrections by the rules for any value, beside what their reports hold.

    `given` has held_id, decision, the columns of GIVEN, and `day` (when it was decided). The printed text
    stays what was printed; the qualifier says who corrected it.
    """
    held = store.settleable()
    if given.is_empty():
        return NOTHING
    printed = held.select("held_id", "report_id", "sheet", "cell", "reason_code", "reading",
                          *_AS_PRINTED)  # fmt: skip
    kept = given.join(printed, on="held_id", maintain_order="left")
    of_report = pl.col("report_id").is_in(kept["report_id"].unique().to_list())
    settled = pl.col("status").is_in(SETTLED) | pl.col("held_id").is_in(kept["held_id"].implode())
    beside = companions(
        held.filter(of_report, pl.col("reading").is_not_null()).with_columns(is_settled=settled),
        store.known_samples().filter(of_report),
    )
    wanted = corrected_readings(kept.drop(_AS_PRINTED), readers)
    marked = pl.concat([wanted.with_columns(is_wanted=True), beside.with_columns(is_wanted=False)])
    told = _with_given_forms(marked, kept, readers.names.vocabulary)
    read = normalise(told, readers, settings).filter("is_wanted").drop("is_wanted")
    judged = validate(_as_decided(read, kept), readers.names.vocabulary)
    place = kept.select("held_id", "report_id", "sheet", "cell")
    at = ["report_id", "sheet", "cell"]
    good = judged.stored.join(place, on=at, maintain_order="left").with_columns(_NO_NUMBER)
    others = store.stored_values().filter(~pl.col("held_id").is_in(kept["held_id"].implode()))
    clash = _clashes(good, others.drop("held_id"))
    held_again = judged.held.drop("held_id").join(place, on=at)
    refused = pl.concat([_idle_days(kept), why_held(held_again, readers.names.vocabulary),
                         why_unused(judged.unused.join(place, on=at)), _repeated(good), clash])  # fmt: skip
    return Corrected(
        as_corrections(good.join(refused, on="held_id", how="anti", maintain_order="left"), kept),
        refused.unique("held_id", keep="first", maintain_order=True),
    )


def _with_given_forms(marked: pl.DataFrame, kept: pl.DataFrame, words: Vocabulary) -> pl.DataFrame:
    """Take the form off the printed name of a sample where a person gives another: "S1 (total)"."""
    at = ["report_id", "sheet", "cell"]
    given = kept.filter(pl.col("corrected_form").is_not_null()).select(*at, is_given=pl.lit(True))
    bare = pl.col("is_wanted") & pl.col("is_given") & pl.col("named_form").is_not_null()
    return (
        part_names(marked, words)
        .join(given, on=at, how="left", maintain_order="left")
        .with_columns(pl.when(bare).then("base_name").otherwise("raw_sample").alias("raw_sample"))
        .select(marked.columns)
    )


def _as_decided(read: pl.DataFrame, kept: pl.DataFrame) -> pl.DataFrame:
    """Take the suspicion of a slipped unit off values that a person confirms or takes times a factor."""
    factor = pl.col("corrected_factor")
    decided = kept.filter((pl.col("decision") == "confirm") | factor.is_not_null()).select(
        "report_id", "sheet", "cell", "corrected_factor", is_decided=pl.lit(True)
    )
    told = read.join(decided, on=["report_id", "sheet", "cell"], how="left", maintain_order="left")
    slips = [pl.when(pl.col("is_decided").is_null()).then(n).alias(n)
             for n in ("slip_power", "slip_why")]  # fmt: skip
    return told.with_columns(slips).pipe(rescaled, "corrected_factor").drop("is_decided")


def _idle_days(kept: pl.DataFrame) -> pl.DataFrame:
    return days_too_many(kept.drop(_AS_PRINTED)).with_columns(
        message=pl.lit("more days are given than dates wait for one; clear what is too much")
    )


def why_held(held: pl.DataFrame, words: Vocabulary) -> pl.DataFrame:
    """Say why given values are held again: held_id, message."""
    own = pl.col("reason_code").replace_strict(
        dict(words.steps_of_corrections), default=None, return_dtype=pl.String
    )
    step = pl.coalesce(own, pl.col("hint").fill_null(""))
    return held.select("held_id", message=pl.format("{} ({}); {}", "reason", "reason_code", step))


def why_unused(unused: pl.DataFrame) -> pl.DataFrame:
    """Say of given values that they say nothing was analysed: held_id, message."""
    return unused.select(
        "held_id", message=pl.lit("this says that nothing was analysed; dismiss it instead")
    )


def _repeated(good: pl.DataFrame) -> pl.DataFrame:
    again = good.filter(pl.col("outcome") == "repeated")
    return again.select(
        "held_id",
        message=pl.lit("another line says the same of this sample, analyte and form; dismiss it"),
    )


def _clashes(good: pl.DataFrame, stored: pl.DataFrame) -> pl.DataFrame:
    """Refuse what the report gives already, be it the same value or another."""
    types = {name: stored.schema[name] for name in SAME}
    met = (
        good.filter(pl.col("qc_kind").is_null())
        .with_columns(pl.col(name).cast(dtype) for name, dtype in types.items())
        .join(stored, on=SAME, how="inner", nulls_equal=True, suffix="_stored")
    )
    alike = pl.all_horizontal(pl.col(n).eq_missing(pl.col(f"{n}_stored")) for n in VALUE)
    where = pl.format("{}!{}", "sheet_stored", "cell_stored")
    shown = pl.coalesce(pl.col("value_stored"), pl.col("upper_stored"), pl.col("lower_stored"))
    return met.select(
        "held_id",
        message=pl.when(alike)
        .then(pl.format(_TWICE, where))
        .otherwise(pl.format(_DIFFERS, where, pl.format("{} {}", shown, "unit"))),
    ).unique("held_id", keep="first", maintain_order=True)


def as_corrections(good: pl.DataFrame, kept: pl.DataFrame) -> pl.DataFrame:
    """Mark rows as corrected or confirmed, by whom and when, beside the text as printed."""
    told = kept.select(
        "held_id", "decision", "who", "day", *(pl.col(n).alias(f"{n}_0") for n in _AS_PRINTED)
    )
    verb = pl.when(pl.col("decision") == "confirm").then(pl.lit("confirmed"))
    by = pl.format("{} by {} on {}", verb.otherwise(pl.lit("corrected")), "who", "day")
    return (
        good.drop("decision", "who", "day", strict=False)
        .join(told, on="held_id", maintain_order="left")
        .with_columns(
            *(pl.col(f"{n}_0").alias(n) for n in _AS_PRINTED),
            qualifier=pl.concat_str(pl.col("qualifier"), by, separator="; ", ignore_nulls=True),
            outcome=pl.lit("corrected"),
        )
        .select("held_id", "replaces", *STORED)
    )
