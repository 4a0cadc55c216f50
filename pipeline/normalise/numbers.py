"""Read the printed results: number, notation, and what is printed beside it in the same cell."""

from __future__ import annotations

import polars as pl

from pipeline.censoring import Notations, notation_table
from pipeline.censoring.remarks import REJECTION, remark_table
from schemas.layout import LEGEND
from schemas.vocabulary import fold_notation


def read_numbers(readings: pl.DataFrame, notations: Notations) -> pl.DataFrame:
    """Add number (as printed unit), notation and the cell's own limit, unit and uncertainty.

    A typed number counts at full precision unless its format shows something else; then the shown
    text is read. A lone dash or another sign means what the report's legend says; a dash without
    one is not decided.
    """
    typed = _typed()
    read_as = readings.with_columns(read_as=pl.coalesce("meant", "raw_value"))
    texts = read_as.filter(~typed).select(pl.col("read_as").alias("raw_value"), "decimal_mark")
    table = notation_table(texts, notations).rename({"raw_value": "read_as"})
    keys = ["read_as", "decimal_mark"]
    return (
        read_as.join(table, on=keys, how="left", maintain_order="left", nulls_equal=True)
        .drop("read_as")
        .with_columns(
            notation=pl.when(typed)
            .then(pl.lit("number"))
            .when(pl.col("kind").is_in(["error", "formula", "date", "boolean"]))
            .then(pl.col("kind"))
            .when(pl.col("notation") == "blank_mark")
            .then(pl.coalesce("dash_means", "notation"))
            .otherwise("notation"),
            printed_number=pl.when(typed).then(pl.col("number")).otherwise("printed_number"),
            printed_estimate=pl.col("printed_estimate").fill_null(False),
        )
        .pipe(_heed_remarks, notations)
        .pipe(_doubt)
        .pipe(_doubt_two_meanings, notations)
        .pipe(_doubt_merged)
    )


def _doubt(read: pl.DataFrame) -> pl.DataFrame:
    """Leave a number undecided where something beside or above it speaks against it."""
    number = pl.col("printed_number").is_not_null()
    unused = pl.col("notation").is_in(["blank", "not_analysed"])
    legend = pl.col("doubt").str.contains(LEGEND, literal=True) & (unused | unused.is_null())
    doubted = (pl.col("doubt").is_not_null() & number) | legend.fill_null(False)
    unclear = pl.col("meant").str.starts_with(LEGEND).fill_null(False)
    why = pl.when(doubted).then("doubt").when(unclear).then("meant").otherwise("why")
    return read.with_columns(
        notation=pl.when(doubted | unclear).then(pl.lit("ambiguous")).otherwise("notation"),
        why=why,
    )


def _doubt_two_meanings(read: pl.DataFrame, notations: Notations) -> pl.DataFrame:
    """Leave "n.r." undecided in a report in whose language it may be "not detected" too.

    Unless a legend says what it means.
    """
    words, spelled = notations.names.vocabulary.two_meanings
    texts = read.filter(pl.col("printed_number").is_null())["raw_value"].unique().to_list()
    meant = [text for text in texts if fold_notation(text) in words]
    here = pl.col("raw_analyte").str.to_lowercase().str.contains(spelled).fill_null(False).any()
    told = pl.col("meant").is_not_null()
    doubted = pl.col("raw_value").is_in(meant) & ~told & here.over("report_id")
    why = pl.format('"{}" may be "not detected" or "not requested"', "raw_value")
    return read.with_columns(
        notation=pl.when(doubted).then(pl.lit("ambiguous")).otherwise("notation"),
        why=pl.when(doubted).then(why).otherwise("why"),
    )


def _doubt_merged(read: pl.DataFrame) -> pl.DataFrame:
    """Leave all cells of a merged range undecided, unless it says that nothing was analysed."""
    idle = (pl.col("notation") == "not_analysed").any()
    doubted = pl.col("merged_at").is_not_null() & ~idle.over("report_id", "sheet", "merged_at")
    why = pl.lit("it stands in a merged cell over several results")
    return read.with_columns(
        notation=pl.when(doubted).then(pl.lit("ambiguous")).otherwise("notation"),
        why=pl.when(doubted).then(why).otherwise("why"),
    )


def _typed() -> pl.Expr:
    shown = pl.col("shown_wins").fill_null(False) | pl.col("meant").is_not_null()
    return (pl.col("kind") == "number").fill_null(False) & ~shown


def _heed_remarks(read: pl.DataFrame, notations: Notations) -> pl.DataFrame:
    """Judge a number by a remark that is nothing but a letter or sign, as if it stood behind it.

    Beside an empty result the remark is the result, when it is a notation for one.
    """
    remarks = remark_table(read["raw_qualifier"], notations)
    says = (
        pl.when(pl.col("notation") == "number")
        .then(pl.coalesce("remark_says", _rejected_in_note()))
        .when(pl.col("notation") == "blank")
        .then(pl.col("remark_alone"))
    )
    below = says == "below_quantification"
    return (
        read.join(remarks, on="raw_qualifier", how="left", maintain_order="left")
        .with_columns(
            notation=pl.coalesce(says.replace({"estimated": None}), "notation"),
            printed_estimate=pl.col("printed_estimate") | (says == "estimated").fill_null(False),
            printed_limit=pl.when(below).then("printed_number").otherwise("printed_limit"),
        )
        .drop("remark_says", "remark_alone")
    )


def _rejected_in_note() -> pl.Expr:
    """Heed a comment on the cell that rejects its number."""
    rejected = pl.col("note").str.contains(f"(?i){REJECTION}").fill_null(False)
    return pl.when(rejected).then(pl.lit("rejected"))
