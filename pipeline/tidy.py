"""Tidy: lay every recognised table out as Readings, a row per value cell.

This stage joins a value to the headings in whose direction it lies. It reads no meaning into any
text and drops nothing: a blank cell where a sample and an analyte cross is a row too.
"""

from __future__ import annotations

import polars as pl

from pipeline.addresses import column_letters
from pipeline.censoring import decimal_mark
from pipeline.date_evidence import DateEvidence, weigh_dates
from pipeline.merges import name_merged
from schemas.folding import notation_key
from schemas.frames import READINGS, RESULT_FIELDS, SAMPLE_FIELDS
from schemas.layout import NUMBER_FIELDS, PLAIN_NUMBER, TYPED_THREE, Block, Recognised

_VALUE = ["number", "date", "kind", "shown_wins", "hidden", "struck", "note", "raised"]
_ATTACHED = ("unit", "lod", "loq", "limit", "uncertainty", "deviation", "qualifier")
TIDY: dict[str, pl.DataType] = {
    **READINGS,
    "spread": pl.String(),
    "other_unit": pl.String(),
    "version": pl.String(),
    "form_in_line": pl.Boolean(),
    "spilled": pl.Boolean(),
    "rival_sample": pl.Boolean(),
    "doubt": pl.String(),
    "merged_at": pl.String(),
    "told_analyte": pl.String(),
    "read_as": pl.String(),
    "meant": pl.String(),
    "date_system": pl.String(),
}


def tidy(cells: pl.DataFrame, recognised: Recognised, report_id: str, file: str) -> pl.DataFrame:
    """Lay the tables of a document out as Readings.

    Returns the READINGS columns and `spread` (what a ± inside a cell means by its heading),
    `other_unit` (a second unit printed for the same column), `merged_at` (the first cell of a merged
    range over several results), `version` (reported, corrected or raw by
    its headings), `told_analyte` (which analyte a user's layout says the printed name is), `read_as`
    (the printed name less a mark of replicates), `meant` (what a legend says is to be read for a
    sign) and `date_system` (what numbers count days from). All `raw_*` columns are text.
    """
    sheets = cells.partition_by("sheet", as_dict=True)
    frames = [_block(sheets[block.sheet,], block) for block in recognised.blocks]
    readings = pl.concat(frames, how="diagonal")
    missing = [
        pl.lit(None, dtype).alias(n) for n, dtype in TIDY.items() if n not in readings.columns
    ]
    whole = readings.with_columns(missing)
    dates = date_evidence(whole, recognised)
    return whole.with_columns(
        report_id=pl.lit(report_id),
        file=pl.lit(file),
        lab=pl.lit(recognised.facts.get("lab"), pl.String),
        decimal_mark=pl.lit(_decimal_mark(readings), pl.String),
        date_order=pl.lit(dates.order, pl.String),
        date_system=pl.lit(dates.system, pl.String),
    ).select([pl.col(n).cast(dtype) for n, dtype in TIDY.items()])


def _block(cells: pl.DataFrame, block: Block) -> pl.DataFrame:
    placed = cells.rename({"row": "col", "col": "row"}) if block.swapped else cells
    placed = placed.rename({"row": "line", "col": "column"}).with_columns(exact=_exact())
    joined = block.lines.join(block.columns, how="cross", suffix="_column").join(
        placed.select("line", "column", pl.col("text").alias("raw_value"), *_VALUE),
        on=["line", "column"],
        how="left",
        maintain_order="left",
    )
    for name in _ATTACHED:
        joined = _attach(joined, placed, name)
        joined = _attach_line(joined, placed, name)
    joined = name_merged(_mark(joined, block), cells, swapped=block.swapped)
    fields = SAMPLE_FIELDS + RESULT_FIELDS
    return joined.select(
        pl.lit(block.sheet).alias("sheet"),
        _address(block).alias("cell"),
        pl.col("column" if block.swapped else "line").alias("row"),
        pl.col("line" if block.swapped else "column").alias("col"),
        pl.col("raw_value").fill_null(""),
        *(pl.col(n) for n in _VALUE if n != "struck"),
        (pl.col("struck").fill_null(False) | pl.col("line_struck") | pl.col("column_struck")).alias(
            "struck"
        ),
        pl.lit(block.dash_means, pl.String).alias("dash_means"),
        *(_field(joined, block, name) for name in fields if name != "qualifier"),
        pl.coalesce(_field(joined, block, "qualifier"), "mark").alias("raw_qualifier"),
        _doubt(joined, block).alias("doubt"),
        "merged_at",
        pl.coalesce("spread", pl.lit(block.fixed.get("spread"), pl.String)),
        _other_unit(joined),
        pl.col("version")
        if "version" in joined.columns
        else pl.lit(None, pl.String).alias("version"),
        pl.lit("raw_form" in block.lines.columns).alias("form_in_line"),
        "spilled",
        (pl.lit(_has_rival(block)) | _said(joined, "state").is_not_null()).alias("rival_sample"),
        _told(joined, block),
        _said(joined, "read_as"),
        _meant(joined, block).alias("meant"),
    )


def _meant(joined: pl.DataFrame, block: Block) -> pl.Expr:
    """Take what the report's own legend says that a whole cell stands for."""
    texts = joined["raw_value"].drop_nulls().unique().to_list() if block.meanings else []
    keys = {text: notation_key(text) for text in texts}
    table = {t: block.meanings[key] for t, key in keys.items() if key in block.meanings}
    return pl.col("raw_value").replace_strict(table, default=None, return_dtype=pl.String)


def _other_unit(joined: pl.DataFrame) -> pl.Expr:
    """A second unit printed for a value: below its heading, or in its line beside the heading's."""
    if "raw_unit_column" not in joined.columns:
        return pl.col("other_unit")
    both = pl.col("raw_unit_column").is_not_null()
    return pl.coalesce(
        "other_unit", pl.when(both).then(pl.col("raw_unit").replace("", None))
    ).alias("other_unit")


def _told(joined: pl.DataFrame, block: Block) -> pl.Expr:
    """Take what a layout says of the printed name: for the line, the column or the table."""
    found = [pl.col(n) for n in ("told_analyte", "told_analyte_column") if n in joined.columns]
    stated = pl.lit(block.fixed.get("told_analyte"), pl.String)
    return pl.coalesce(*found, stated).alias("told_analyte")


def _said(joined: pl.DataFrame, name: str) -> pl.Expr:
    """Take what a name's own sheet has it say: of the line's name, else of the column's."""
    found = [n for n in (name, f"{name}_column") if n in joined.columns]
    return pl.coalesce(*found, pl.lit(None, pl.String)).alias(name)


def _has_rival(block: Block) -> bool:
    """Tell whether the sheet names another sample than the only one a heading seems to name."""
    if not block.swapped or block.lines.height != 1 or "raw_sample" not in block.lines.columns:
        return False
    stated, headed = block.fixed.get("sample"), block.lines["raw_sample"].item()
    return stated is not None and headed is not None and stated != headed


def _attach(joined: pl.DataFrame, placed: pl.DataFrame, name: str) -> pl.DataFrame:
    """Bring in the limit, unit or uncertainty that stands in a column beside the value."""
    at = f"{name}_at"
    if at not in joined.columns or joined[at].null_count() == joined.height:
        return joined
    beside = placed.select(
        "line", pl.col("column").alias(at), pl.col("exact").alias(f"beside_{name}")
    )
    return joined.join(beside, on=["line", at], how="left", maintain_order="left").with_columns(
        _with_suffix(f"beside_{name}", f"{name}_suffix")
    )


def _with_suffix(text: str, suffix: str) -> pl.Expr:
    """Add the unit of a heading or label to a bare number."""
    bare = pl.col(text).str.contains(PLAIN_NUMBER) & pl.col(suffix).is_not_null()
    joined = pl.concat_str(text, suffix, separator=" ")
    return pl.when(bare).then(joined).otherwise(pl.col(text)).alias(text)


def _attach_line(joined: pl.DataFrame, placed: pl.DataFrame, name: str) -> pl.DataFrame:
    """Bring in the limit or uncertainty of a line that belongs to this sample's line alone."""
    at, text = f"{name}_line", f"beside_{name}"
    if at not in joined.columns or joined[at].null_count() == joined.height:
        return joined
    beside = placed.select(pl.col("line").alias(at), "column", pl.col("exact").alias(text))
    return joined.join(beside, on=[at, "column"], how="left", maintain_order="left").with_columns(
        _with_suffix(text, f"{name}_line_suffix")
    )


def _mark(joined: pl.DataFrame, block: Block) -> pl.DataFrame:
    """Bring in the sign or letter that stands beside a value under no heading of its own."""
    rows = [(m.line, m.column, m.text, m.doubtful) for m in block.marks]
    schema = {
        "line": pl.Int32(),
        "column": pl.Int32(),
        "mark": pl.String(),
        "doubtful": pl.Boolean(),
    }
    marks = (
        pl.DataFrame(rows, schema=schema, orient="row")
        .group_by("line", "column")
        .agg(pl.col("mark").first(), pl.col("doubtful").any() | (pl.len() > 1))
    )
    return joined.join(
        marks, on=["line", "column"], how="left", maintain_order="left"
    ).with_columns(pl.col("doubtful").fill_null(False))


def _doubt(joined: pl.DataFrame, block: Block) -> pl.Expr:
    """Say why a value may not be what it looks like; null where nothing speaks against it."""
    twice = pl.col("mark").is_not_null() & _field(joined, block, "qualifier").is_not_null()
    marked = pl.format('the mark "{}" beside it may belong to it', pl.col("mark"))
    return pl.coalesce("line_doubt", pl.when(pl.col("doubtful") | twice).then(marked))


def _exact() -> pl.Expr:
    """A cell's text at full precision: dates in ISO form, plain numbers unrounded."""
    number = pl.col("number")
    whole = (number == number.round(0)) & (number.abs() < 1e15)
    plain = (
        pl.when(whole)
        .then(number.cast(pl.Int64, strict=False).cast(pl.String))
        .otherwise(number.cast(pl.String))
    )
    return (
        pl.when(pl.col("kind") == "date")
        .then(pl.col("date").cast(pl.String))
        .when((pl.col("kind") == "number") & ~pl.col("shown_wins"))
        .then(plain.str.replace(TYPED_THREE, "${0}0"))
        .otherwise(pl.col("text"))
    )


def _field(joined: pl.DataFrame, block: Block, name: str) -> pl.Expr:
    """Take the nearest statement of a field: beside the value, its column, its line, the table."""
    raw = f"raw_{name}"
    nearest = [f"beside_{name}"]
    if raw in block.columns.columns:
        nearest.append(f"{raw}_column" if raw in block.lines.columns else raw)
    if raw in block.lines.columns:
        nearest.append(raw)
    if name == "analyte" and raw in block.lines.columns:
        nearest.reverse()
    found = [pl.col(n).replace("", None) for n in nearest if n in joined.columns]
    return pl.coalesce(*found, pl.lit(block.fixed.get(name), pl.String)).alias(raw)


def _address(block: Block) -> pl.Expr:
    """Write the A1 address of each value."""
    letters, numbers = ("line", "column") if block.swapped else ("column", "line")
    numbers_of = block.lines["line"] if block.swapped else block.columns["column"]
    table = {n: column_letters(n) for n in numbers_of.unique().to_list()}
    return pl.concat_str(
        pl.col(letters).replace_strict(table, return_dtype=pl.String),
        pl.col(numbers).cast(pl.String),
    )


def _decimal_mark(readings: pl.DataFrame) -> str | None:
    """Find the file's decimal mark from the numbers it stores as text."""
    texts = readings.filter(pl.col("kind") == "text")["raw_value"].unique().to_list()
    for name in NUMBER_FIELDS:
        column = f"raw_{name}"
        if column in readings.columns:
            texts += readings[column].drop_nulls().unique().to_list()
    return decimal_mark(texts)


def date_evidence(readings: pl.DataFrame, recognised: Recognised) -> DateEvidence:
    """Weigh what the report says of its own dates, for its readings as tidied."""
    issued, system = recognised.facts.get("reported_on"), recognised.date_system
    return weigh_dates(readings, issued, recognised.language, system)
