"""What is said of each value: by its line, its column, its table, or the sheet's own legend."""

from __future__ import annotations

import polars as pl

from pipeline.addresses import column_letters
from schemas.folding import notation_key
from schemas.layout import TYPED_THREE, Block


def meant(joined: pl.DataFrame, block: Block) -> pl.Expr:
    """Take what the report's own legend says that a whole cell stands for."""
    texts = joined["raw_value"].drop_nulls().unique().to_list() if block.meanings else []
    keys = {text: notation_key(text) for text in texts}
    table = {t: block.meanings[key] for t, key in keys.items() if key in block.meanings}
    return pl.col("raw_value").replace_strict(table, default=None, return_dtype=pl.String)


def with_namesakes(readings: pl.DataFrame, block: Block) -> pl.DataFrame:
    """Bring in the sample that a printed name is a replicate of, or may be."""
    if not block.namesakes:
        return readings
    rows = [(name, n.base, n.mark, n.sure) for name, n in block.namesakes.items()]
    schema = ["name", "namesake_of", "namesake_mark", "namesake_sure"]
    table = pl.DataFrame(rows, schema=schema, orient="row")
    name = pl.col("raw_sample").str.strip_chars()
    return readings.join(table, left_on=name, right_on="name", how="left", maintain_order="left")


def other_unit(joined: pl.DataFrame) -> pl.Expr:
    """A second unit printed for a value: below its heading, or in its line beside the heading's."""
    if "raw_unit_column" not in joined.columns:
        return pl.col("other_unit")
    both = pl.col("raw_unit_column").is_not_null()
    return pl.coalesce(
        "other_unit", pl.when(both).then(pl.col("raw_unit").replace("", None))
    ).alias("other_unit")


def told(joined: pl.DataFrame, block: Block) -> pl.Expr:
    """Take what a layout says of the printed name: for the line, the column or the table."""
    found = [pl.col(n) for n in ("told_analyte", "told_analyte_column") if n in joined.columns]
    stated = pl.lit(block.fixed.get("told_analyte"), pl.String)
    return pl.coalesce(*found, stated).alias("told_analyte")


def said(joined: pl.DataFrame, name: str) -> pl.Expr:
    """Take what a name's own sheet has it say: of the line's name, else of the column's."""
    found = [n for n in (name, f"{name}_column") if n in joined.columns]
    return pl.coalesce(*found, pl.lit(None, pl.String)).alias(name)


def has_rival(block: Block) -> bool:
    """Tell whether the sheet names another sample than the only one a heading seems to name."""
    if not block.swapped or block.lines.height != 1 or "raw_sample" not in block.lines.columns:
        return False
    stated, headed = block.fixed.get("sample"), block.lines["raw_sample"].item()
    return stated is not None and headed is not None and stated != headed


def doubt(joined: pl.DataFrame, block: Block) -> pl.Expr:
    """Say why a value may not be what it looks like; null where nothing speaks against it."""
    twice = pl.col("mark").is_not_null() & field(joined, block, "qualifier").is_not_null()
    marked = pl.format('the mark "{}" beside it may belong to it', pl.col("mark"))
    return pl.coalesce("line_doubt", pl.when(pl.col("doubtful") | twice).then(marked))


def field(joined: pl.DataFrame, block: Block, name: str) -> pl.Expr:
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


def address(block: Block) -> pl.Expr:
    """Write the A1 address of each value."""
    letters, numbers = ("line", "column") if block.swapped else ("column", "line")
    numbers_of = block.lines["line"] if block.swapped else block.columns["column"]
    table = {n: column_letters(n) for n in numbers_of.unique().to_list()}
    return pl.concat_str(
        pl.col(letters).replace_strict(table, return_dtype=pl.String),
        pl.col(numbers).cast(pl.String),
    )


def exact() -> pl.Expr:
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
