"""Name the analyte and its form, and the substance whose mass a number is."""

from __future__ import annotations

import polars as pl

from pipeline.names import Names
from pipeline.names.equivalents import substance_called

_HEADING = {
    "heading": pl.String(),
    "analyte": pl.String(),
    "heading_form": pl.String(),
    "heading_unit": pl.String(),
    "heading_lod": pl.String(),
    "heading_loq": pl.String(),
    "heading_limit": pl.String(),
    "heading_expressed_as": pl.String(),
    "heading_version": pl.String(),
    "out_of_scope": pl.Boolean(),
    "name_hint": pl.String(),
    "sum_or_form": pl.Boolean(),
}


def name_measurands(readings: pl.DataFrame, names: Names) -> pl.DataFrame:
    """Add analyte, form and expressed_as; null where the printed words do not tell them.

    A glycoside is bound whatever its panel is called; colour and phenolics have no form.
    """
    return (
        readings.with_columns(heading=pl.coalesce("read_as", "raw_analyte"))
        .pipe(
            lambda r: r.join(_headings(r, names), on="heading", how="left", maintain_order="left")
        )
        .pipe(_take_told)
        .join(
            _forms(readings, names),
            on="raw_form",
            how="left",
            maintain_order="left",
            nulls_equal=True,
        )
        .join(_facts(names), on="analyte", how="left", maintain_order="left")
        .join(
            _expressed(readings, names),
            on="raw_expressed_as",
            how="left",
            maintain_order="left",
            nulls_equal=True,
        )
        .with_columns(
            out_of_scope=pl.col("out_of_scope").fill_null(False),
            form=pl.when(pl.col("is_glycoside"))
            .then(pl.lit("bound"))
            .when(pl.col("has_form"))
            .then(pl.when(~_contradicted()).then(pl.coalesce("heading_form", "read_form"))),
        )
        .with_columns(form=_settle_sums())
        .with_columns(expressed_as=_mass_of(), version=pl.coalesce("version", "heading_version"))
        .drop(
            "heading",
            "read_form",
            "read_expressed_as",
            "heading_expressed_as",
            "heading_form",
            "heading_version",
        )
    )


def _take_told(named: pl.DataFrame) -> pl.DataFrame:
    """Let a user's layout say which analyte a printed name is; the printed name stays."""
    if "told_analyte" not in named.columns:
        return named
    untold = pl.col("told_analyte").is_null()
    return named.with_columns(
        analyte=pl.coalesce("told_analyte", "analyte"),
        out_of_scope=pl.col("out_of_scope") & untold,
    )


def _headings(readings: pl.DataFrame, names: Names) -> pl.DataFrame:
    rows = []
    for text in readings["heading"].drop_nulls().unique().to_list():
        h = names.heading(text)
        rows.append(
            (
                text,
                h.analyte,
                h.form,
                h.unit,
                h.lod,
                h.loq,
                h.limit,
                h.expressed_as,
                h.version,
                h.out_of_scope,
                h.hint,
                h.sum_or_form,
            )
        )
    return pl.DataFrame(rows, schema=_HEADING, orient="row")


def _forms(readings: pl.DataFrame, names: Names) -> pl.DataFrame:
    """Read the printed form of each line or table; a text that names two forms tells none."""
    rows: list[tuple[str | None, str | None]] = [(None, None)]
    for text in readings["raw_form"].drop_nulls().unique().to_list():
        rows.append((text, names.heading(text).form or names.title(text).form))
    return pl.DataFrame(
        rows, schema={"raw_form": pl.String(), "read_form": pl.String()}, orient="row"
    )


def _expressed(readings: pl.DataFrame, names: Names) -> pl.DataFrame:
    rows: list[tuple[str | None, str | None]] = [(None, None)]
    for text in readings["raw_expressed_as"].drop_nulls().unique().to_list():
        rows.append((text, substance_called(text, names)))
    schema = {"raw_expressed_as": pl.String(), "read_expressed_as": pl.String()}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _facts(names: Names) -> pl.DataFrame:
    rows = [
        (a.name, a.has_form, a.is_glycoside, a.aglycone, a.unit, a.molar_mass, a.family)
        for a in names.vocabulary.analytes.values()
    ]
    schema = {
        "analyte": pl.String(),
        "has_form": pl.Boolean(),
        "is_glycoside": pl.Boolean(),
        "aglycone": pl.String(),
        "own_unit": pl.String(),
        "molar_mass": pl.Float64(),
        "family": pl.String(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


def _settle_sums() -> pl.Expr:
    """The form of "total cresols": what is told around it, unless the sheet says "total" of a form.

    Where nothing is told, it is the total form beside other totals or beside the free cresols.
    """
    either, told, form = pl.col("sum_or_form").fill_null(False), pl.col("read_form"), pl.col("form")
    sheet = ["report_id", "sheet"]
    totals = (pl.col("heading_form") == "total").fill_null(False).any().over(sheet)
    free = ((form == "free") & ~either).fill_null(False).any().over([*sheet, "analyte"])
    as_form = totals | free
    settled = (
        pl.when(told == "total").then(told)
        .when(told.is_null() & as_form).then(pl.lit("total"))
        .when(told.is_not_null() & ~as_form).then(told)
    )  # fmt: skip
    return pl.when(either).then(settled).otherwise(form)


def _contradicted() -> pl.Expr:
    """The name in a line gives one form and the line's own column of forms another."""
    differ = (pl.col("heading_form") != pl.col("read_form")).fill_null(False)
    return differ & pl.col("form_in_line")


def _mass_of() -> pl.Expr:
    """The substance whose mass the number is: stated, else the analyte itself."""
    stated = pl.coalesce("heading_expressed_as", "read_expressed_as")
    return (
        pl.when(~pl.col("has_form"))
        .then(None)
        .when((stated == "aglycone") & pl.col("is_glycoside"))
        .then(pl.col("aglycone"))
        .when(stated == "aglycone")
        .then(pl.col("analyte"))
        .otherwise(pl.coalesce(stated, pl.col("analyte")))
    )
