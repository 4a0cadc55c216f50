"""Where an uncertainty comes from, and what is known of a laboratory beside its reports.

A record line (see RECORD_LINES) gives the standard uncertainty of one laboratory's results x as
u = sqrt(absolute^2 + (relative x)^2); the form of the line is that of Eurachem/CITAC Guide CG 4
(2012), appendix E.5 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.judgement import load_judgement
from schemas.vocabulary import FORMS

if TYPE_CHECKING:
    from pipeline.settings import Laboratory

# The values of `uncertainty_source`; a printed ± that nobody explains is said before the default.
REPORT = "report"
RECORD = "laboratory record"
REPLICATES = "replicates"
CHART = "control chart"
DEFAULT = "default (Horwitz-Thompson)"
UNEXPLAINED = "printed, kind unknown"

RECORD_LINES: dict[str, pl.DataType] = {
    "lab": pl.String(),
    "method": pl.String(),
    "analyte": pl.String(),
    "form": pl.String(),
    "unit": pl.String(),
    "relative_uncertainty": pl.Float64(),
    "absolute_uncertainty": pl.Float64(),
    "origin": pl.String(),
}
NO_RECORD = pl.DataFrame(schema=RECORD_LINES)


def is_assumed(name: str = "uncertainty_source") -> pl.Expr:
    """Tell whether an uncertainty is the default one; false where there is none."""
    return pl.col(name).str.ends_with(DEFAULT).fill_null(False)


def fold_lab(name: str = "lab") -> pl.Expr:
    """Fold a laboratory's name: case and spaces do not count."""
    return pl.col(name).str.strip_chars().str.replace_all(r"\s+", " ").str.to_lowercase()


def _by_form(entries: Mapping[str, Any]) -> Iterator[tuple[str, str | None, Any]]:
    for key, entry in entries.items():
        analyte, _, form = key.partition("/")
        forms = (form,) if form else (*FORMS, None)
        for each in forms:
            if form or f"{analyte}/{each}" not in entries:
                yield analyte, each, entry


def record_frame(laboratories: Mapping[str, Laboratory]) -> pl.DataFrame:
    """Lay out the method record of the settings as RECORD_LINES, one line per form.

    From `[laboratory."NAME".methods]`: "analyte" or "analyte/form" to a relative standard
    uncertainty, or to a table of `relative` and `absolute` (in the stored unit).
    """
    rows = []
    for name, laboratory in laboratories.items():
        for analyte, form, entry in _by_form(laboratory.methods):
            parts = entry if isinstance(entry, Mapping) else {"relative": entry}
            relative, absolute = (float(parts.get(k, 0.0)) for k in ("relative", "absolute"))
            rows.append((name, None, analyte, form, None, relative, absolute, RECORD))
    return pl.DataFrame(rows, schema=RECORD_LINES, orient="row")


def _assigned(laboratories: Mapping[str, Laboratory]) -> pl.DataFrame:
    rows = [
        (name, analyte, form, float(entry["value"]), float(entry.get("uncertainty", 0.0)))
        for name, laboratory in laboratories.items()
        for analyte, form, entry in _by_form(laboratory.controls)
    ]
    schema = {"lab": pl.String, "analyte": pl.String, "form": pl.String,
              "assigned": pl.Float64, "u_assigned": pl.Float64}  # fmt: skip
    return pl.DataFrame(rows, schema=schema, orient="row").with_columns(_lab=fold_lab()).drop("lab")


def within_and_bias(within: pl.Expr, bias: pl.Expr, reference: pl.Expr) -> pl.Expr:
    """Combine within-laboratory reproducibility, bias and the uncertainty of the reference.

    u_c = sqrt(u_Rw^2 + u_bias^2), u_bias = sqrt(bias^2 + u_ref^2), all relative or all absolute.
    Source: Nordtest TR 537, ed. 4 (2017).
    """
    return (within**2 + bias**2 + reference**2).sqrt()


def control_charts(
    qc_results: pl.DataFrame, laboratories: Mapping[str, Laboratory]
) -> pl.DataFrame:
    """Estimate uncertainties from control samples with an assigned value, as RECORD_LINES.

    Relative: u = sqrt(u_Rw^2 + u_bias^2), u_Rw = s / mean of the control results, u_bias =
    sqrt(bias^2 + (u_Rw / sqrt n)^2 + u_ref^2), for one reference material. Per laboratory, method,
    analyte, form and unit, from quantified control samples, as many as `control_points` of
    schemas/judgement.toml asks for; without an assigned value (`[laboratory."NAME".controls]`) the
    bias is not known and nothing is estimated. Source: Nordtest TR 537, ed. 4 (2017).
    """
    key = ["lab", "method", "analyte", "form", "unit"]
    n, mean = pl.len(), pl.col("value").sort().mean()
    charts = (
        qc_results.filter(
            pl.col("qc_kind") == "control", pl.col("value") > 0, pl.col("lower") == pl.col("upper")
        )
        .with_columns(_lab=fold_lab())
        .join(_assigned(laboratories), on=["_lab", "analyte", "form"], nulls_equal=True)
        .group_by(key)
        .agg(
            n=n,
            within=pl.col("value").sort().std() / mean,
            bias=mean / pl.col("assigned").first() - 1,
            reference=(pl.col("u_assigned") / pl.col("assigned")).first(),
        )
        .filter(pl.col("n") >= load_judgement().control_points)
    )
    bias = (pl.col("bias") ** 2 + pl.col("within") ** 2 / pl.col("n")).sqrt()
    return charts.select(
        *key,
        relative_uncertainty=within_and_bias(pl.col("within"), bias, pl.col("reference")),
        absolute_uncertainty=pl.lit(0.0),
        origin=pl.lit(CHART),
    ).sort(key)


def gather_record(laboratories: Mapping[str, Laboratory], qc_results: pl.DataFrame) -> pl.DataFrame:
    """Gather all that is known beside the reports: method record and control charts.

    One line per laboratory (case and spaces do not count), method, analyte, form, unit and origin.
    """
    lines = pl.concat([record_frame(laboratories), control_charts(qc_results, laboratories)])
    key = ["_lab", "method", "analyte", "form", "unit", "origin"]
    once = lines.with_columns(_lab=fold_lab()).unique(key, keep="last", maintain_order=True)
    return once.drop("_lab")


def _at_value() -> pl.Expr:
    relative = pl.col("relative_uncertainty") * pl.col("lower")
    return (pl.col("absolute_uncertainty") ** 2 + relative**2).sqrt()


def with_own_uncertainty(rows: pl.DataFrame, record: pl.DataFrame) -> pl.DataFrame:
    """Add `recorded` and `charted`: u at the value by the record and by the control chart.

    `rows` has lab, method, analyte, form, unit, lower; the uncertainties are in its unit, null
    where nothing is known.
    """
    lines = record.with_columns(_lab=fold_lab())
    found = rows.with_columns(_lab=fold_lab())
    for name, origin, key in (
        ("recorded", RECORD, ["_lab", "analyte", "form"]),
        ("charted", CHART, ["_lab", "method", "analyte", "form", "unit"]),
    ):
        own = lines.filter(pl.col("origin") == origin).unique(key, keep="last", maintain_order=True)
        parts = ("relative_uncertainty", "absolute_uncertainty")
        found = (
            found.join(own.select(*key, *parts), on=key, how="left", nulls_equal=True)
            .with_columns(_at_value().alias(name))
            .drop(parts)
        )
    return found.drop("_lab")
