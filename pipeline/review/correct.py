"""Put what a person gives in the place of what was printed, ready to be read like any other value."""

from __future__ import annotations

import polars as pl

from pipeline.censoring.remarks import remark_table
from pipeline.dates import COURSE, DATE_KEYS, date_table
from pipeline.names import Names
from pipeline.readers import Readers
from pipeline.tidy import TIDY
from schemas.frames import GIVEN_VERSION

_SAID: dict[str, pl.DataType] = {
    name: pl.String()
    for name in (
        "heading", "said_analyte", "said_form", "said_unit", "said_lod", "said_loq",
        "said_limit", "said_expressed_as", "said_coverage_factor", "said_path_length",
    )
}  # fmt: skip
_BESIDE = ("lod", "loq", "limit", "coverage_factor", "path_length")
_DATES = tuple(f"raw_{name}" for name in COURSE)
_SHARED = (
    "lot", "region", "grower", "vineyard", "block", "variety", "vintage", "matrix", "stage",
    "sampled_on", "received_on",
)  # fmt: skip


def open_readings(kept: pl.DataFrame) -> pl.DataFrame:
    """Unfold the column `reading` (JSON of one tidied reading) beside the other columns."""
    reading = pl.col("reading").str.json_decode(pl.Struct(TIDY))
    own = [name for name in kept.columns if name not in TIDY and name != "reading"]
    return kept.select(*own, reading).unnest("reading")


def corrected_readings(kept: pl.DataFrame, readers: Readers) -> pl.DataFrame:
    """Give the readings as they are with the corrections in place; columns as tidied.

    `kept` has reading, reason_code and the columns of GIVEN. A given value replaces the cell with
    all that marks it (struck out, hidden, raised figures), not the remark, limit or uncertainty
    beside it, unless that is what the value was held for; a given unit, analyte or form replaces
    what the heading says of it, and what else the heading says is kept. Given days take the places
    of the dates that cannot be read, in the order sampled, received, analysed.
    """
    opened = open_readings(kept)
    opened = opened.with_columns(heading=pl.coalesce("read_as", "raw_analyte"))
    told = opened.join(
        _said(opened, readers.names),
        on="heading",
        how="left",
        maintain_order="left",
        nulls_equal=True,
    ).join(
        remark_table(opened["raw_qualifier"], readers.notations),
        on="raw_qualifier",
        how="left",
        maintain_order="left",
    )
    return (
        told.with_columns(*_cell())
        .with_columns(*_sample(), *_dose())
        .pipe(_with_dates)
        .with_columns(*_heading())
        .with_columns(_beside_it())
        .select(list(TIDY))
    )


def companions(kept: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Lay out what the same reports say of their samples elsewhere, as readings.

    What one sheet of a report says of a sample holds for its other sheets too (see `normalise`), so
    these rows stand beside the corrected ones while they are read. `kept` are all held values of
    the reports, `samples` their stored samples with report_id, file, lab, sample_id and facts. Of a
    held value that `is_settled` only what is said of its sample counts: its unit was decided on.
    """
    told = samples.select(
        "report_id",
        "file",
        "lab",
        pl.col("sample_id").alias("raw_sample"),
        *(pl.col(name).cast(pl.String).alias(f"raw_{name}") for name in _SHARED),
    )
    opened = open_readings(kept).with_columns(
        pl.when(~pl.col("is_settled")).then(n).alias(n)
        for n in ("raw_analyte", "raw_unit", "other_unit")
    )
    frames = [opened.select(list(TIDY)), told.with_columns(raw_value=pl.lit(""))]
    return pl.concat(frames, how="diagonal").select(pl.col(n).cast(t) for n, t in TIDY.items())


def _said(opened: pl.DataFrame, names: Names) -> pl.DataFrame:
    rows = []
    for text in opened["heading"].drop_nulls().unique().to_list():
        h = names.heading(text)
        rows.append((text, h.analyte, h.form, h.unit, h.lod, h.loq, h.limit, h.expressed_as,
                     h.coverage_factor, h.path_length))  # fmt: skip
    return pl.DataFrame(rows, schema=_SAID, orient="row")


def _given(name: str) -> pl.Expr:
    return pl.col(f"corrected_{name}")


def _cell() -> list[pl.Expr]:
    valued = _given("value").is_not_null()
    blank = ("date", "raised", "note", "dash_means", "doubt", "merged_at", "meant")
    return [
        pl.coalesce(_given("value"), "raw_value").alias("raw_value"),
        pl.when(valued).then(_given("number")).otherwise("number").alias("number"),
        pl.when(_given("number").is_not_null())
        .then(pl.lit("number"))
        .when(valued)
        .then(pl.lit("text"))
        .otherwise("kind")
        .alias("kind"),
        *(
            pl.when(valued).then(False).otherwise(name).alias(name)
            for name in ("shown_wins", "struck", "hidden", "spilled")
        ),
        *(pl.when(~valued).then(name).alias(name) for name in blank),
        pl.when(valued).then(pl.lit(GIVEN_VERSION)).otherwise("version").alias("version"),
        pl.when(~(valued & _is_for_remark())).then("raw_qualifier").alias("raw_qualifier"),
        *(pl.when(~(valued & _is_for_limits())).then(n).alias(n) for n in ("raw_lod", "raw_loq")),
    ]


def _is_for_remark() -> pl.Expr:
    """Tell whether a remark was what the value was held for: whoever gives a value has judged it."""
    code = pl.col("reason_code")
    named = pl.col("doubt").str.contains(pl.format('"{}"', "raw_qualifier"), literal=True)
    blocks = pl.col("remark_says").is_in(["ambiguous", "rejected"])
    doubted = (code == "number_ambiguous") & (named.fill_null(False) | blocks.fill_null(False))
    return (code == "rejected_by_laboratory") | doubted


def _is_for_limits() -> pl.Expr:
    """Tell whether limits in the wrong order were what the value was held for."""
    lod, loq = (
        pl.col(n).str.replace(",", ".").str.extract(r"(\d+(?:\.\d+)?)").cast(pl.Float64)
        for n in ("raw_lod", "raw_loq")
    )
    return ((pl.col("reason_code") == "impossible") & (lod > loq)).fill_null(False)


def _sample() -> list[pl.Expr]:
    given = _given("sample")
    return [
        pl.coalesce(given, "raw_sample").alias("raw_sample"),
        pl.when(given.is_null()).then("rival_sample").otherwise(False).alias("rival_sample"),
    ]


def _dose() -> list[pl.Expr]:
    given = _given("dose")
    return [
        pl.coalesce(given, "raw_dose").alias("raw_dose"),
        pl.when(given.is_null()).then("raw_dose_unit").alias("raw_dose_unit"),
    ]


def _beside_it() -> list[pl.Expr]:
    """Put a given mark, optical path and matrix in the places of what is printed beside the value."""
    return [
        pl.coalesce(_given(name), f"raw_{name}").alias(f"raw_{name}")
        for name in ("replicate", "path_length", "matrix")
    ]


def _with_unread(told: pl.DataFrame) -> pl.DataFrame:
    """Add for each printed date, as `..._unread`, whether it cannot be read."""
    for name in _DATES:
        found = date_table(told.select(pl.col(name).alias("text"), *DATE_KEYS))
        bad = found.filter(pl.col("read") != "ok").select(
            pl.col("text").alias(name), *DATE_KEYS, pl.lit(True).alias(f"{name}_unread")
        )
        told = told.join(
            bad, on=[name, *DATE_KEYS], how="left", maintain_order="left", nulls_equal=True
        )
    return told.with_columns(pl.col(f"{name}_unread").fill_null(False) for name in _DATES)


def _with_dates(told: pl.DataFrame) -> pl.DataFrame:
    """Put given days in the places of printed ones that cannot be read, one after the other."""
    days, put = _given("date").str.split(", "), []
    for place, name in enumerate(_DATES):
        before = pl.sum_horizontal(pl.lit(0), *(f"{n}_unread" for n in _DATES[:place]))
        day = pl.when(f"{name}_unread").then(days.list.get(before, null_on_oob=True))
        put.append(pl.coalesce(day, name).alias(name))
    return _with_unread(told).with_columns(put)


def days_too_many(kept: pl.DataFrame) -> pl.DataFrame:
    """Give the held_id of corrections with more days than dates that cannot be read."""
    told = _with_unread(open_readings(kept.filter(_given("date").is_not_null())))
    waiting = pl.sum_horizontal(pl.lit(0), *(f"{name}_unread" for name in _DATES))
    return told.filter(_given("date").str.split(", ").list.len() > waiting).select("held_id")


def _heading() -> list[pl.Expr]:
    named = pl.any_horizontal(_given(n).is_not_null() for n in ("analyte", "unit", "form"))
    said_unit, printed = pl.col("said_unit"), pl.col("raw_unit")
    elsewhere = pl.coalesce("other_unit", pl.when(said_unit.is_not_null()).then(printed))
    replaced = {
        "raw_analyte": pl.coalesce(_given("analyte"), "said_analyte", "raw_analyte"),
        "raw_form": pl.coalesce(_given("form"), _printed_form()),
        "read_as": pl.lit(None, pl.String),
        "raw_unit": pl.coalesce(_given("unit"), said_unit, printed),
        "other_unit": pl.when(_given("unit").is_null()).then(elsewhere),
        "raw_expressed_as": pl.coalesce("said_expressed_as", "raw_expressed_as"),
        **{f"raw_{n}": pl.coalesce(f"raw_{n}", f"said_{n}") for n in _BESIDE},
    }
    return [pl.when(named).then(e).otherwise(name).alias(name) for name, e in replaced.items()]


def _printed_form() -> pl.Expr:
    """The heading's form, else the line's; none where the two contradict each other."""
    said, printed = pl.col("said_form"), pl.col("raw_form")
    differ = (said != printed.str.strip_chars().str.to_lowercase()).fill_null(False)
    return pl.when(~(differ & pl.col("form_in_line").fill_null(False))).then(
        pl.coalesce(said, printed)
    )
