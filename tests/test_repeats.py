"""Replicates, re-analyses and double reports become one row."""

import tomllib
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.repeats import combine_repeats, number_samples
from pipeline.settings import Laboratory
from pipeline.uncertainty import CHART, NO_RECORD, RECORD_LINES, record_frame
from schemas.frames import RESULTS

WORKED = tomllib.loads(
    (Path(__file__).parent / "reference" / "replicates.toml").read_text(encoding="utf-8")
)
BASE = {
    "report_id": "r1", "lab": "Testing Bench", "sample_id": "S1", "sample_kind": "lot",
    "lot": "L1", "matrix": "red wine", "analyte": "guaiacol", "form": "free", "unit": "ug/L",
    "method": "GC", "file": "a.xlsx", "sheet": "Sheet1",
}  # fmt: skip


def results(*rows: dict[str, Any]) -> pl.DataFrame:
    filled = [BASE | {"cell": f"C{k}"} | row for k, row in enumerate(rows)]
    return pl.DataFrame(
        [{name: row.get(name) for name in RESULTS} for row in filled], schema=RESULTS
    )


def quantified(value: float, **more: Any) -> dict[str, Any]:
    return {"value": value, "lower": value, "upper": value, **more}


def below(limit: float, **more: Any) -> dict[str, Any]:
    return {"lower": 0.0, "upper": limit, **more}


def combine(*rows: dict[str, Any], record: pl.DataFrame = NO_RECORD) -> list[dict[str, Any]]:
    numbered, _ = number_samples(results(*rows))
    return combine_repeats(numbered, record).sort("lower").to_dicts()


def test_replicates_are_the_mean_of_lowers_and_of_uppers() -> None:
    [row] = combine(quantified(3.0, replicate="1"), below(1.0, replicate="2"))
    assert (row["lower"], row["upper"]) == (1.5, 2.0)
    assert row["cells"] == ["a.xlsx|Sheet1!C0", "a.xlsx|Sheet1!C1"]


def test_the_mean_of_a_published_series_and_its_uncertainty() -> None:
    case = WORKED["temperature"]
    [row] = combine(*(quantified(v, replicate=str(k)) for k, v in enumerate(case["values"])))
    assert row["uncertainty_source"] == "replicates"
    # s / sqrt n, which is all of it: no other uncertainty is known.
    found = (row["lower"], row["u_lower"])
    assert found == pytest.approx((case["mean"], case["uncertainty"]), abs=case["tolerance"])


def test_a_replicate_without_upper_end_leaves_the_mean_open() -> None:
    [row] = combine(quantified(3.0), {"lower": 5.0, "upper": None})
    assert (row["lower"], row["upper"]) == (4.0, None)


def test_the_latest_analysis_counts() -> None:
    rows = combine(
        quantified(30.0, analysed_on=date(2026, 1, 10), report_id="r2"),
        quantified(20.0, analysed_on=date(2026, 1, 3)),
        quantified(10.0),
    )
    assert {row["lower"]: row["latest"] for row in rows} == {30.0: True, 20.0: False, 10.0: False}
    assert {row["reports"] for row in rows} == {1}


def test_undated_analyses_are_the_latest_where_none_is_dated() -> None:
    [row] = combine(quantified(30.0), quantified(20.0))
    assert (row["lower"], row["latest"]) == (25.0, True)


def test_two_reports_of_the_same_day_span_both_values() -> None:
    [row] = combine(quantified(20.0), quantified(26.0, report_id="r2"))
    assert (row["lower"], row["upper"], row["reports"]) == (20.0, 26.0, 2)


@pytest.mark.parametrize(
    "other",
    [{"method": "LC"}, {"form": "total"}, {"unit": "ug/kg"}, {"sample_id": "S2"},
     {"lab": "Other Bench"}, {"dose": 40.0}, {"sample_kind": "bench treated"},
     {"lab": None, "report_id": "r2"}, {"expressed_as": "syringol"}],
    ids=str,
)  # fmt: skip
def test_what_differs_in_kind_stays_apart(other: dict[str, Any]) -> None:
    assert [row["lower"] for row in combine(quantified(1.0), quantified(2.0, **other))] == [1, 2]


def test_two_reports_without_laboratory_stay_apart() -> None:
    rows = combine(
        quantified(1.0, lab=None), quantified(2.0, lab=None, report_id="r2"),
    )  # fmt: skip
    assert [row["lower"] for row in rows] == [1.0, 2.0]


RECORD = record_frame({" testing  BENCH": Laboratory("Testing Bench", methods={"guaiacol": 0.08})})
BY_FORM = record_frame(
    {
        "Testing Bench": Laboratory(
            "Testing Bench",
            methods={"guaiacol": 0.5, "guaiacol/free": {"relative": 0.03, "absolute": 0.8}},
        )
    }
)
CHARTED = pl.DataFrame(
    [("Testing Bench", "GC", "guaiacol", "free", "ug/L", 0.1, 0.0, CHART, None)],
    schema=RECORD_LINES,
    orient="row",
)


# By hand: 22 % of 20 is 4.4 (Thompson 2000); 8 % of 20 is 1.6; 3 % of 20 is 0.6, and with 0.8 it is
# 1.0 (3, 4, 5); 19, 20, 21 scatter by 1, and the mean of three by 1/sqrt(3) = 0.57735; 10 % is 2.
@pytest.mark.parametrize(
    ("rows", "record", "u", "source"),
    [
        ([quantified(20.0, standard_uncertainty=1.0, uncertainty_source="report")], RECORD, 1.0,
         "report"),
        ([quantified(20.0, expanded_uncertainty=3.0, coverage_factor=2.0)], NO_RECORD, 1.5,
         "report"),
        ([quantified(20.0)], RECORD, 1.6, "laboratory record"),
        ([quantified(20.0)], BY_FORM, 1.0, "laboratory record"),
        ([quantified(20.0, form="total")], BY_FORM, 10.0, "laboratory record"),
        ([quantified(20.0, analyte="phenol")], RECORD, 4.4, "default (Horwitz-Thompson)"),
        ([quantified(20.0)], CHARTED, 2.0, "control chart"),
        ([quantified(20.0, method="LC")], CHARTED, 4.4, "default (Horwitz-Thompson)"),
        ([quantified(v) for v in (19.0, 20.0, 21.0)], CHARTED, 0.57735, "replicates"),
        ([quantified(v) for v in (19.0, 21.0)], CHARTED, 2.0, "control chart"),
        ([quantified(20.0)], pl.concat([CHARTED, RECORD]), 1.6, "laboratory record"),
        ([quantified(20.0, uncertainty_source="printed, kind unknown")], NO_RECORD, 4.4,
         "printed, kind unknown; default (Horwitz-Thompson)"),
        ([quantified(v) for v in (19.0, 20.0, 21.0)], NO_RECORD, 0.57735, "replicates"),
        ([quantified(v) for v in (20.0, 20.0, 20.0)], NO_RECORD, 4.4,
         "default (Horwitz-Thompson)"),
        ([quantified(v) for v in (19.0, 21.0)], NO_RECORD, 4.4, "default (Horwitz-Thompson)"),
        ([quantified(20.0)], NO_RECORD, 4.4, "default (Horwitz-Thompson)"),
        ([quantified(v, standard_uncertainty=1.0) for v in (19.0, 21.0)], NO_RECORD, 1.0,
         "report"),
        ([quantified(0.5, unit="AU", analyte="A420", form=None)], NO_RECORD, None, None),
    ],
)  # fmt: skip
def test_uncertainty_is_taken_from_the_best_source(
    rows: list[dict[str, Any]], record: pl.DataFrame, u: float | None, source: str | None
) -> None:
    [row] = combine(*rows, record=record)
    assert row["u_lower"] == pytest.approx(u, abs=1e-5) if u else row["u_lower"] is None
    assert row["u_upper"] == row["u_lower"]
    assert row["uncertainty_source"] == source


def test_a_censored_value_has_no_uncertainty() -> None:
    [row] = combine(below(20.0))
    assert (row["u_lower"], row["u_upper"], row["uncertainty_source"]) == (None, None, None)


def test_a_partly_censored_mean_has_an_uncertainty_at_either_end() -> None:
    [row] = combine(quantified(30.0), below(10.0))
    # Mean [15, 20]; 22 % of either end.
    assert (row["u_lower"], row["u_upper"]) == pytest.approx((3.3, 4.4))


def test_the_newest_loading_is_kept() -> None:
    numbered, _ = number_samples(results(quantified(1.0), quantified(2.0, report_id="r2")))
    days = [datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 2, 1, tzinfo=UTC)]
    loaded = pl.DataFrame({"report_id": ["r1", "r2"], "loaded_at": days})
    [row] = combine_repeats(numbered, NO_RECORD, loaded).to_dicts()
    assert row["loaded_at"] == days[1]


def test_a_sample_keeps_what_any_of_its_rows_says() -> None:
    _, samples = number_samples(
        results(quantified(1.0, matrix=None), quantified(2.0, variety="Shiraz", sample_kind=None))
    )
    [row] = samples.to_dicts()
    assert (row["matrix"], row["variety"], row["sample_kind"]) == ("red wine", "Shiraz", "lot")


@pytest.mark.parametrize(
    "other",
    [
        {"lot": "L2"},
        {"stage": "ageing"},
        {"sampled_on": date(2026, 2, 1)},
        {"received_on": date(2026, 2, 1)},
    ],
)
def test_a_name_that_comes_again_for_something_else_is_another_sample(
    other: dict[str, Any],
) -> None:
    numbered, samples = number_samples(results(quantified(1.0), quantified(2.0, **other)))
    assert samples.height == numbered["sample"].n_unique() == 2
