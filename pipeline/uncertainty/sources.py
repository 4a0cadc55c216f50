"""Where an uncertainty comes from, and what is known of a laboratory beside its reports.

A record line (see RECORD_LINES) gives the standard uncertainty of one laboratory's results x as
u = sqrt(absolute^2 + (relative x)^2); the form of the line is that of Eurachem/CITAC Guide CG 4,
appendix E, "Documenting uncertainty dependent on analyte level", [1]. `relative_within` is what of
`relative` scatters within the laboratory, s_Rw; the rest is bias, which all of its results by that
method share. Null where nothing tells the two apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.judgement import load_judgement
from schemas.vocabulary import FORMS

if TYPE_CHECKING:
    from pipeline.settings import Laboratory

# The values of `uncertainty_source`; a printed ± that nobody explains is said before the default.
REPORT = "report"
# An expanded uncertainty whose coverage factor neither the report nor the laboratory's record says.
ASSUMED_FACTOR = "report, k = 2 assumed"
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
    "relative_within": pl.Float64(),
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
    uncertainty, or to a table of `relative`, `absolute` (in the stored unit) and `within`.
    """
    rows = []
    for name, laboratory in laboratories.items():
        for analyte, form, entry in _by_form(laboratory.methods):
            parts = entry if isinstance(entry, Mapping) else {"relative": entry}
            relative, absolute = (float(parts.get(k, 0.0)) for k in ("relative", "absolute"))
            line = (name, None, analyte, form, None, relative, absolute, RECORD)
            rows.append((*line, parts.get("within")))
    return pl.DataFrame(rows, schema=RECORD_LINES, orient="row")


def _assigned(laboratories: Mapping[str, Laboratory]) -> pl.DataFrame:
    rows = [
        (name, analyte, form, float(level["value"]), float(level.get("uncertainty", 0.0)))
        for name, laboratory in laboratories.items()
        for analyte, form, entry in _by_form(laboratory.controls)
        for level in ([entry] if isinstance(entry, Mapping) else entry)
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
    """Estimate uncertainties from control samples with assigned values, as RECORD_LINES.

    Relative: u = sqrt(u_Rw^2 + u_bias^2). A control result is of the level whose assigned value
    (`[laboratory."NAME".controls]`) is the nearest to what the report expects of it, else to the
    result, and of none beyond `level_gap` of schemas/judgement.toml. u_Rw = s / mean, pooled over the
    levels by their degrees of freedom; u_bias^2 = mean over the levels of bias^2 + s^2 / (n mean^2)
    + u_ref^2. Per laboratory, method, analyte, form and unit, from as many quantified control
    samples as `control_points` asks for; without an assigned value the bias is not known and
    nothing is estimated. Source: Nordtest TR 537, ed. 4 (2017).
    """
    key = ["lab", "method", "analyte", "form", "unit"]
    n, mean = pl.len(), pl.col("value").sort().mean()
    levels = (
        _of_a_level(qc_results, laboratories)
        .group_by(*key, "assigned")
        .agg(
            n=n,
            within=pl.col("value").sort().std() / mean,
            bias=mean / pl.col("assigned").first() - 1,
            reference=(pl.col("u_assigned") / pl.col("assigned")).first(),
        )
        .filter(pl.col("n") > 1)
    )
    bias = pl.col("bias") ** 2 + pl.col("within") ** 2 / pl.col("n") + pl.col("reference") ** 2
    freedom = pl.col("n") - 1
    pooled = levels.sort(*key, "assigned").group_by(key, maintain_order=True).agg(
        pl.col("n").sum(),
        within=((freedom * pl.col("within") ** 2).sum() / freedom.sum()).sqrt(),
        bias=bias.mean().sqrt(),
    )  # fmt: skip
    return (
        pooled.filter(pl.col("n") >= load_judgement().control_points)
        .select(
            *key,
            relative_uncertainty=within_and_bias(pl.col("within"), pl.col("bias"), pl.lit(0.0)),
            absolute_uncertainty=pl.lit(0.0),
            origin=pl.lit(CHART),
            relative_within="within",
        )
        .sort(key)
    )


def _of_a_level(qc_results: pl.DataFrame, laboratories: Mapping[str, Laboratory]) -> pl.DataFrame:
    """Set beside each quantified control the assigned value of its level.

    A round of a proficiency test is no result of the control material.
    """
    controls = qc_results.filter(
        pl.col("qc_kind") == "control", pl.col("value") > 0, pl.col("lower") == pl.col("upper"),
        pl.col("unit") != "%",
    )  # fmt: skip
    if "assigned_deviation" in controls.columns:
        controls = controls.filter(pl.col("assigned_deviation").is_null())
    of_it = pl.col("expected") if "expected" in controls.columns else pl.lit(None, pl.Float64)
    apart = (pl.coalesce(of_it, "value") / pl.col("assigned")).log().abs()
    return (
        controls.with_columns(_lab=fold_lab())
        .with_row_index("row")
        .join(_assigned(laboratories), on=["_lab", "analyte", "form"], nulls_equal=True)
        .with_columns(apart=apart)
        .filter(pl.col("apart") <= math.log(load_judgement().level_gap))
        .sort("row", "apart", "assigned")
        .unique("row", keep="first", maintain_order=True)
    )


def gather_record(laboratories: Mapping[str, Laboratory], qc_results: pl.DataFrame) -> pl.DataFrame:
    """Gather all that is known beside the reports: method record and control charts.

    One line per laboratory (case and spaces do not count), method, analyte, form, unit and origin.
    """
    lines = pl.concat([record_frame(laboratories), control_charts(qc_results, laboratories)])
    key = ["_lab", "method", "analyte", "form", "unit", "origin"]
    once = lines.with_columns(_lab=fold_lab()).unique(key, keep="last", maintain_order=True)
    return once.drop("_lab")


def _at_value(relative: str) -> pl.Expr:
    scattering = pl.col(relative) * pl.col("lower")
    return (pl.col("absolute_uncertainty") ** 2 + scattering**2).sqrt()


def with_own_uncertainty(rows: pl.DataFrame, record: pl.DataFrame) -> pl.DataFrame:
    """Add `recorded` and `charted`: u at the value by the record and by the control chart.

    And `within`: what of it scatters within the laboratory, by the record, else by the chart. `rows`
    has lab, method, analyte, form, unit, lower; the uncertainties are in its unit, null where
    nothing is known. Source: Eurachem/CITAC Guide CG 4, appendix E (constant and proportional part).
    """
    lines = record.with_columns(_lab=fold_lab())
    found = rows.with_columns(_lab=fold_lab(), within=pl.lit(None, pl.Float64))
    for name, origin, key in (
        ("recorded", RECORD, ["_lab", "analyte", "form"]),
        ("charted", CHART, ["_lab", "method", "analyte", "form", "unit"]),
    ):
        own = lines.filter(pl.col("origin") == origin).unique(key, keep="last", maintain_order=True)
        parts = ("relative_uncertainty", "absolute_uncertainty", "relative_within")
        found = (
            found.join(own.select(*key, *parts), on=key, how="left", nulls_equal=True)
            .with_columns(
                _at_value("relative_uncertainty").alias(name),
                within=pl.coalesce("within", _at_value("relative_within")),
            )
            .drop(parts)
        )
    return found.drop("_lab")
