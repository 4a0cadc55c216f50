"""Validate: the one place where a value is judged.

Every normalised reading ends in exactly one of three frames: stored (a result, a quality-control
result or a repeat of one), held (with a reason and what to do next) or unused (not analysed, or a
measurand out of scope).
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import polars as pl

from pipeline.errors import CinderlotError
from schemas.frames import HELD, judged_schema
from schemas.report import STORED, UNUSED
from schemas.rules import rules
from schemas.vocabulary import Vocabulary

SAME = ["report_id", "sample_id", "analyte", "form", "expressed_as", "unit", "method", "replicate",
         "sample_kind", "qc_kind", "treatment", "dose", "trial", "sampled_on", "analysed_on"]  # fmt: skip
VALUE = ["value", "lower", "upper", "censoring"]

# "x10 mg/L", "10-3 mg/L": the numbers may be multiplied already, or are to be.
_FACTOR = r"[x×*·]\s*10|\b10\s*(?:\^|[-−–⁻]\s?\d)"


@dataclass(frozen=True)
class Judged:
    """The three frames a report's readings end in."""

    stored: pl.DataFrame
    held: pl.DataFrame
    unused: pl.DataFrame

    @property
    def frames(self) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
        """All three, stored first."""
        return self.stored, self.held, self.unused


def validate(normalised: pl.DataFrame, vocabulary: Vocabulary) -> Judged:
    """Split normalised readings into stored, held and unused; together they are all readings.

    Raises CinderlotError when a row fails in a way no rule names, which is a defect of the rules.
    """
    rows = normalised.with_row_index("row_id").with_columns(
        usual_unit=pl.col("unit_name")
        .filter(pl.col("unit_kind") != "ratio")
        .drop_nulls()
        .mode()
        .sort()
        .first()
        .over("report_id")
    )
    unused = rows.filter(_is_unused())
    judged = rows.filter(~_is_unused())
    reasons = _failed(judged)
    kept, doubles = _settle_repeats(_without(judged, reasons))
    reasons = pl.concat([reasons, doubles], how="diagonal")
    held = judged.join(reasons, on="row_id", how="inner", maintain_order="left")
    return Judged(_stored(kept), _held(held, vocabulary), _unused(unused))


def _is_unused() -> pl.Expr:
    return pl.col("out_of_scope") | pl.col("notation").is_in(["blank", "not_analysed"])


def _failed(judged: pl.DataFrame) -> pl.DataFrame:
    """List row_id and reason_code of the rows that fail a rule; the first rule in order counts."""
    first = pl.coalesce(pl.when(wrong).then(pl.lit(name)) for name, wrong in rules().items())
    reasons = judged.select("row_id", reason_code=first).drop_nulls("reason_code")
    _uphold_contract(_without(judged, reasons))
    return reasons


def _uphold_contract(kept: pl.DataFrame) -> None:
    """Hold what is kept to its contract; asked of all rows, pandera would copy each that fails."""
    from pandera.errors import SchemaErrors  # half a second, needed only where values are judged

    try:
        judged_schema().validate(kept, lazy=True)
    except SchemaErrors as errors:
        text = "; ".join(errors.failure_cases["check"].drop_nulls().cast(pl.String).unique())
        raise CinderlotError(
            f"a rule failed for the whole report ({text}); please report this"
        ) from None


def _settle_repeats(kept: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Count identical rows of a report once; hold all of those that differ.

    Rows of quality control stand for themselves and are never taken for repeats.
    """
    sample = pl.col("qc_kind").is_null()
    # Few rows have a double, and only those are worth a closer look.
    several = kept.filter(kept.select(sample & (pl.len().over(SAME) > 1)).to_series())
    alike = several.select(
        "row_id",
        differs=pl.struct(VALUE).n_unique().over(SAME) > 1,
        again=pl.int_range(pl.len()).over(SAME) > 0,
        rivals=pl.format('{}!{} "{}"', "sheet", "cell", "raw_value")
        .head(4)
        .str.join(", ")
        .over(SAME),
    )
    doubles = alike.filter("differs").select("row_id", "rivals", reason_code=pl.lit("duplicate"))
    again = alike.filter("again")["row_id"]
    settled = _without(kept, doubles).with_columns(
        outcome=pl.when(~sample)
        .then(pl.lit("qc"))
        .when(pl.col("row_id").is_in(again.implode()))
        .then(pl.lit("repeated"))
        .otherwise(pl.lit("result")),
    )
    return settled, doubles


def _without(rows: pl.DataFrame, reasons: pl.DataFrame) -> pl.DataFrame:
    if reasons.is_empty():
        return rows
    return rows.join(reasons, on="row_id", how="anti", maintain_order="left")


def _stored(kept: pl.DataFrame) -> pl.DataFrame:
    absent = [pl.lit(None, dtype).alias(n) for n, dtype in STORED.items() if n not in kept.columns]
    return kept.with_columns(absent).select([pl.col(n).cast(dtype) for n, dtype in STORED.items()])


def _held(held: pl.DataFrame, vocabulary: Vocabulary) -> pl.DataFrame:
    reasons = pl.DataFrame(
        [(code, means, step) for code, (means, step) in vocabulary.reasons.items()],
        schema={"reason_code": pl.String(), "means": pl.String(), "step": pl.String()},
        orient="row",
    )
    return (
        held.join(reasons, on="reason_code", how="left", maintain_order="left")
        .with_columns(
            raw_sample=pl.coalesce("raw_sample", "raw_lab_sample"),
            reason=pl.concat_str(pl.col("means"), _detail(), separator=": ", ignore_nulls=True),
            hint=pl.concat_str(_clue(), "step", _comment(), separator="; ", ignore_nulls=True),
        )
        .with_columns(held_id=_held_ids())
        .select([pl.col(n).cast(dtype) for n, dtype in HELD.items()])
    )


def _detail() -> pl.Expr:
    """What exactly was printed, for the sentence a person reads."""
    code = pl.col("reason_code")
    absorbance = (pl.col("own_unit") == "AU") & pl.col("raw_path_length").is_not_null()
    return (
        pl.when(code == "analyte_unknown")
        .then(pl.format('"{}"', pl.col("raw_analyte").fill_null("")))
        .when(code == "unit_slip")
        .then(pl.col("slip_why"))
        .when((code == "unit_missing") & absorbance)
        .then(pl.format('path length "{}", in mm or in cm?', pl.col("raw_path_length")))
        .when((code == "unit_conflict") & absorbance)
        .then(
            pl.format('"{}" and a path length of {}', pl.col("raw_unit"), pl.col("raw_path_length"))
        )
        .when(code.is_in(["not_a_number", "number_ambiguous"]))
        .then(pl.coalesce("why", pl.format('"{}"', pl.col("raw_value"))))
        .when(code.is_in(["date_ambiguous", "date_invalid"]))
        .then("date_why")
        .when(code == "duplicate")
        .then("rivals")
        .when(pl.col("dose_unit").str.to_lowercase().is_in(["ppm", "p.p.m."]))
        .then(pl.format('dose "{}", which can be per mass or per volume', pl.col("raw_dose")))
        .when(code == "limit_unknown")
        .then("limit_why")
        .when((code == "sample_conflict") & pl.col("raw_treatment").is_not_null())
        .then(pl.format('"{}" may be a sample of its own', "raw_treatment"))
        .when((code == "unit_basis") & pl.col("basis_why").is_not_null())
        .then("basis_why")
        .when((code == "unit_unknown") & pl.col("raw_unit").str.contains(_FACTOR))
        .then(pl.format('"{}", whose factor may have been applied to the numbers', "raw_unit"))
        .when(code.is_in(["unit_unknown", "unit_basis", "unit_conflict"]))
        .then(
            pl.format(
                '"{}" for {}', pl.col("raw_unit"), pl.col("matrix").fill_null("an unknown matrix")
            )
        )
    )


def _clue() -> pl.Expr:
    """What the report itself suggests."""
    code = pl.col("reason_code")
    return (
        pl.when(code.is_in(["analyte_unknown", "form_unknown"]))
        .then(pl.col("name_hint"))
        .when(code.is_in(["unit_missing", "unit_unknown"]) & pl.col("usual_unit").is_not_null())
        .then(pl.format("the same report gives {} elsewhere", pl.col("usual_unit")))
        .when(code == "unit_slip")
        .then(
            pl.format(
                "if the unit slipped, the number is to be taken times 1e{}", -pl.col("slip_power")
            )
        )
        .when((code == "sample_conflict") & pl.col("raw_treatment").is_not_null())
        .then(
            pl.format(
                'if so, put a sample such as "{} {}" into the register and correct the value to it',
                pl.coalesce("raw_sample", "raw_lab_sample", pl.lit("S1")),
                "raw_treatment",
            )
        )
        .when(code == "unit_basis")
        .then(pl.format("expected a unit such as {}", pl.col("unit")))
        .when((pl.col("kind") == "date") & (code == "not_a_number"))
        .then(pl.lit("a range such as 1-2 may have been turned into a date by the spreadsheet"))
        .when((pl.col("printed_number") == 0) & (code == "number_ambiguous"))
        .then(pl.lit("a laboratory cannot measure zero: below which limit is it?"))
    )


def _comment() -> pl.Expr:
    """What a comment in the cell says."""
    return pl.format('its comment says "{}"', pl.col("note").str.replace_all(r"\s+", " "))


def _held_ids() -> pl.Expr:
    """Give each held cell a short name that is the same whenever its report is loaded."""
    key = pl.concat_str("report_id", "sheet", "cell", separator="|")
    return key.map_batches(_short_hashes, return_dtype=pl.String)


def _short_hashes(keys: pl.Series) -> pl.Series:
    return pl.Series([hashlib.sha256(k.encode()).hexdigest()[:10] for k in keys], dtype=pl.String)


def _unused(unused: pl.DataFrame) -> pl.DataFrame:
    return unused.with_columns(
        raw_sample=pl.coalesce("raw_sample", "raw_lab_sample"),
        outcome=pl.when(pl.col("notation").is_in(["blank", "not_analysed"]))
        .then(pl.lit("not_analysed"))
        .otherwise(pl.lit("out_of_scope")),
    ).select([pl.col(n).cast(dtype) for n, dtype in UNUSED.items()])
