"""Standard uncertainties and probabilities against worked examples."""

import math
import tomllib
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.settings import Laboratory
from pipeline.uncertainty import (
    NO_RECORD,
    adjust_p_values,
    control_charts,
    gather_record,
    horwitz_thompson,
    normal_cdf,
    probability_above,
    record_frame,
    with_own_uncertainty,
    within_and_bias,
)
from schemas.frames import RESULTS

REFERENCE = Path(__file__).parent / "reference"


def worked(name: str) -> dict[str, Any]:
    return tomllib.loads((REFERENCE / f"{name}.toml").read_text(encoding="utf-8"))


CONFORMITY = worked("conformity")
HORWITZ = worked("horwitz_thompson")
DISCOVERY = worked("false_discovery")
NORDTEST = worked("nordtest")


def above(value: float | None, limit: float, u: float | None) -> float | None:
    frame = pl.DataFrame(
        {"x": [value], "t": [limit], "u": [u]},
        schema={"x": pl.Float64, "t": pl.Float64, "u": pl.Float64},
    )
    return frame.select(probability_above(pl.col("x"), pl.col("t"), pl.col("u"))).item()


@pytest.mark.parametrize(("guard", "risk"), CONFORMITY["guard"]["at_most"])
def test_risk_behind_a_guard_band_is_the_published_one(guard: float, risk: float) -> None:
    p = above(-2 * guard, 0.0, 1.0)
    assert p is not None
    assert p <= risk
    assert p >= dict(CONFORMITY["guard"]["at_least"]).get(guard, 0.0)


@pytest.mark.parametrize(("z", "share"), CONFORMITY["normal"]["below"])
def test_normal_distribution_of_printed_tables(z: float, share: float) -> None:
    assert above(z, 0.0, 1.0) == pytest.approx(share, abs=CONFORMITY["normal"]["tolerance"])


@pytest.mark.parametrize(("value", "expected"), CONFORMITY["table"]["above"])
def test_probability_at_eleven_percent(value: float, expected: float) -> None:
    table = CONFORMITY["table"]
    p = above(value, table["limit"], table["relative_uncertainty"] * value)
    assert p == pytest.approx(expected, abs=table["tolerance"])


@pytest.mark.parametrize(
    ("value", "u", "expected"),
    [(8.0, None, 0.0), (8.1, None, 1.0), (8.0, 0.0, 0.0), (8.0, 1.0, 0.5), (None, 1.0, None)],
)
def test_without_uncertainty_the_value_decides(
    value: float | None, u: float | None, expected: float | None
) -> None:
    assert above(value, 8.0, u) == expected


# Outside source: the complementary error function of the C library.
@pytest.mark.parametrize("z", [-9.0, -7.08, -7.07, -3.0, -1.644854, 0.0, 1e-9, 0.5, 1.96, 7.1, 9.0])
def test_normal_distribution(z: float) -> None:
    found = pl.DataFrame({"z": [z]}).select(normal_cdf(pl.col("z"))).item()
    assert found == pytest.approx(0.5 * math.erfc(-z / math.sqrt(2)), rel=1e-7, abs=1e-15)


@pytest.mark.parametrize(("concentration", "relative"), HORWITZ["relative"])
def test_horwitz_thompson(concentration: float, relative: float) -> None:
    frame = pl.DataFrame({"c": [concentration]})
    sigma = frame.select(horwitz_thompson(pl.col("c"))).item()
    assert sigma / concentration == pytest.approx(relative, abs=HORWITZ["tolerance"])


def adjusted(p: list[float | None], family: list[str]) -> dict[float | None, float | None]:
    frame = adjust_p_values(pl.DataFrame({"p": p, "family": family}), ["family"])
    return dict(frame.select("p", "q").iter_rows())


def test_false_discovery_example() -> None:
    p = DISCOVERY["p"]
    found = adjusted(p, ["a"] * len(p))
    assert [found[value] for value in p] == pytest.approx(
        DISCOVERY["adjusted"], abs=DISCOVERY["tolerance"]
    )
    rejected = sum(q <= 0.05 for q in found.values() if q is not None)
    assert rejected == DISCOVERY["rejected_at_0_05"]


def test_an_untested_row_and_another_family_do_not_count() -> None:
    # One test alone in its family keeps its p; the null row is no test of family a.
    found = adjusted([0.04, 0.03, None], ["a", "b", "a"])
    assert found == {0.04: 0.04, 0.03: 0.03, None: None}


def test_the_laboratories_own_record() -> None:
    laboratories = {
        "Testing Bench": Laboratory("Testing Bench", methods={"guaiacol": 0.08}),
        "Other Bench": Laboratory("Other Bench"),
    }
    lines = record_frame(laboratories)
    assert set(lines.select("lab", "analyte", "relative_uncertainty").rows()) == {
        ("Testing Bench", "guaiacol", 0.08)
    }
    assert set(lines["form"]) == {"free", "bound", "total", None}


def test_a_record_of_a_constant_and_a_proportional_part() -> None:
    case = worked("level_dependence")["regions"]
    entry = {"relative": case["proportional"], "absolute": case["constant"]}
    record = record_frame({"A": Laboratory("A", methods={"guaiacol": entry})})
    levels = [case["first"], case["both"], case["second"]]
    rows = pl.DataFrame({"lower": levels}).with_columns(
        lab=pl.lit("A"), analyte=pl.lit("guaiacol"), form=pl.lit("free"), unit=pl.lit("ug/L"),
        method=pl.lit(None, pl.String),
    )  # fmt: skip
    low, middle, high = with_own_uncertainty(rows, record)["recorded"].to_list()
    assert low == pytest.approx(case["constant"], rel=case["close"])
    assert high == pytest.approx(case["second"] * case["proportional"], rel=case["close"])
    assert middle == pytest.approx(case["both_uncertainty"])
    assert middle > max(case["constant"], case["both"] * case["proportional"])


def test_two_spellings_of_a_laboratory_are_one() -> None:
    laboratories = {
        name: Laboratory(name, methods={"guaiacol": u})
        for name, u in (("Testing Bench", 0.08), ("testing  bench", 0.1))
    }
    lines = gather_record(laboratories, controls([]))
    assert set(lines["relative_uncertainty"]) == {0.1}
    assert lines.height == 4


def test_the_record_of_a_form_stands_before_that_of_the_analyte() -> None:
    methods = {"guaiacol": 0.08, "guaiacol/total": {"relative": 0.05, "absolute": 0.2}}
    lines = record_frame({"Bench": Laboratory("Bench", methods=methods)})
    told = {
        form: (relative, absolute)
        for form, relative, absolute in lines.select(
            "form", "relative_uncertainty", "absolute_uncertainty"
        ).iter_rows()
    }
    assert told["total"] == (0.05, 0.2)
    assert told["free"] == (0.08, 0.0)


def test_within_and_bias_combine_as_squares() -> None:
    parts = (pl.lit(NORDTEST[name]) for name in ("within", "bias", "reference"))
    found = pl.select(within_and_bias(*parts)).item()
    assert found == pytest.approx(NORDTEST["combined"], abs=NORDTEST["tolerance"])


def controls(values: list[float], **more: Any) -> pl.DataFrame:
    row = {"lab": "Bench", "method": "GC", "analyte": "guaiacol", "form": "free", "unit": "ug/L",
           "qc_kind": "control", **more}  # fmt: skip
    rows = [row | {"value": v, "lower": v, "upper": v} for v in values]
    schema = RESULTS | {"qc_kind": pl.String()}
    return pl.DataFrame([{k: r.get(k) for k in schema} for r in rows], schema=schema)


CHART = NORDTEST["chart"]
ASSIGNED = {"guaiacol": {"value": CHART["assigned"], "uncertainty": CHART["u_assigned"]}}
CHARTING = {"bench": Laboratory("bench", controls=ASSIGNED)}


def test_the_chart_of_a_control_sample() -> None:
    [line] = control_charts(controls(CHART["results"]), CHARTING).to_dicts()
    assert line["relative_uncertainty"] == pytest.approx(CHART["relative"], abs=CHART["tolerance"])
    assert (line["lab"], line["method"], line["unit"]) == ("Bench", "GC", "ug/L")


def test_control_samples_of_two_levels_are_pooled_and_not_mixed() -> None:
    levels = NORDTEST["levels"]
    known = [{"value": c["assigned"], "uncertainty": c["u_assigned"]} for c in (CHART, levels)]
    laboratories = {"bench": Laboratory("bench", controls={"guaiacol": tuple(known)})}
    rows = controls([*CHART["results"], *levels["results"]])
    [line] = control_charts(rows, laboratories).to_dicts()
    for name, column in (("relative", "relative_uncertainty"), ("within", "relative_within")):
        assert line[column] == pytest.approx(levels[name], abs=levels["tolerance"])
    # With the lower level alone in the record, results of the other level count for nothing.
    [line] = control_charts(rows, CHARTING).to_dicts()
    assert line["relative_uncertainty"] == pytest.approx(CHART["relative"], abs=CHART["tolerance"])


@pytest.mark.parametrize(
    ("rows", "laboratories"),
    [
        (controls(CHART["results"][:-1]), CHARTING),
        (controls(CHART["results"]), {"bench": Laboratory("bench")}),
        (controls(CHART["results"], qc_kind="spike"), CHARTING),
        (controls(CHART["results"], lab="Other"), CHARTING),
    ],
    ids=["too few", "no assigned value, so no bias", "no control", "another laboratory"],
)
def test_what_makes_no_chart(rows: pl.DataFrame, laboratories: dict[str, Laboratory]) -> None:
    assert control_charts(rows, laboratories).equals(NO_RECORD)
