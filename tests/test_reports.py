"""Golden pairs: every sample report against the cells its author says it holds."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipeline.find import find
from pipeline.flows import Workplace, prepare
from pipeline.settings import load_settings
from schemas.report import Report

REPORTS = Path(__file__).parents[1] / "sample_reports"
GOLDEN = sorted(p for p in REPORTS.rglob("*.expected.csv"))
NUMBERS = ("value", "lower", "upper", "lod", "loq")
WORDS = (
    *("sample_id", "lab_sample_id", "analyte", "form", "unit", "censoring", "qc_kind"),
    *("raw_analyte", "raw_value", "raw_unit"),
)


def _prepared(golden: Path) -> Report:
    stem = golden.name.removesuffix(".expected.csv")
    (report,) = (p for p in golden.parent.glob(f"{stem}.*") if p != golden)
    (source,) = find([report]).sources
    (made,) = prepare([source], Workplace(Path("unused.duckdb"), load_settings(None)))
    assert isinstance(made, Report)
    return made


def _judged(report: Report) -> pl.DataFrame:
    held = report.held.select(
        "sheet", "cell", "reason_code", "raw_analyte", "raw_value", outcome=pl.lit("held")
    )
    unused = report.unused.select("sheet", "cell", "outcome", "raw_analyte", "raw_value")
    return pl.concat([report.stored, held, unused], how="diagonal_relaxed")


def test_there_are_golden_pairs() -> None:
    assert len(GOLDEN) >= 14


@pytest.mark.parametrize("golden", GOLDEN, ids=lambda p: p.name.removesuffix(".expected.csv"))
def test_every_cell_is_what_its_author_says(golden: Path) -> None:
    expected = pl.read_csv(golden, infer_schema=False)
    report = _prepared(golden)
    judged = _judged(report)
    assert report.n_values == judged.height == expected.height
    both = expected.join(judged, on=["sheet", "cell"], suffix="_found", how="left")
    differ = both.filter(pl.col("outcome") != pl.col("outcome_found").fill_null("missing"))
    assert differ.select("cell", "outcome", "outcome_found").rows() == []
    held = both.filter(outcome="held")
    assert held["reason_code"].to_list() == held["reason_code_found"].to_list()
    stored = both.filter(pl.col("outcome").is_in(["result", "qc", "repeated"]))
    for name in WORDS:
        wrong = stored.filter(pl.col(name).fill_null("") != pl.col(f"{name}_found").fill_null(""))
        assert wrong.select("cell", name, f"{name}_found").rows() == []
    for name in NUMBERS:
        wanted = stored[name].cast(pl.Float64)
        found = stored[f"{name}_found"]
        assert wanted.is_null().to_list() == found.is_null().to_list(), name
        assert (wanted - found).abs().fill_null(0.0).max() == pytest.approx(0.0, abs=1e-9), name


@pytest.mark.parametrize("golden", GOLDEN, ids=lambda p: p.name.removesuffix(".expected.csv"))
def test_the_matrix_is_what_the_report_prints(golden: Path) -> None:
    expected = pl.read_csv(golden, infer_schema=False).filter(
        pl.col("outcome").is_in(["result", "qc"]) & pl.col("matrix").is_not_null()
    )
    found = _prepared(golden).stored.select("sheet", "cell", "matrix")
    both = expected.join(found, on=["sheet", "cell"], suffix="_found")
    assert both.height == expected.height
    assert both["matrix"].to_list() == both["matrix_found"].to_list()
