"""What the rules say of quality controls; every case is worked by hand beside its rule."""

import statistics
import tomllib
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.control_charts import chart_points, struck_rule
from pipeline.quality import judge_quality
from schemas.frames import QUALITY, RESULTS
from schemas.quality import load_quality_rules
from schemas.report import CONTROLS

WORKED = tomllib.loads(
    (Path(__file__).parent / "reference" / "quality.toml").read_text(encoding="utf-8")
)
RULES = load_quality_rules()
BASE = {
    "report_id": "r1", "lab": "Testing Bench", "report_no": "T-1", "method": "GC",
    "analysed_on": date(2026, 1, 5), "sample_kind": "lot", "unit": "ug/L", "form": "free",
    "analyte": "guaiacol", "lod": 0.2, "loq": 0.6, "file": "a.xlsx", "sheet": "Sheet1",
}  # fmt: skip
Row = dict[str, Any]
QC = {**RESULTS, "qc_kind": pl.String(), **CONTROLS}


def found(value: float | str | None, **more: Any) -> Row:
    text = str(value)
    low, high = (0.0, float(text[1:])) if text.startswith("<") else (float(text), float(text))
    number = None if text.startswith("<") else high
    return {"value": number, "raw_value": text, "lower": low, "upper": high, **more}


def frame(rows: Sequence[Row], schema: dict[str, Any]) -> pl.DataFrame:
    filled = [BASE | {"cell": f"C{k}", "sample_id": f"X{k}"} | row for k, row in enumerate(rows)]
    return pl.DataFrame([{n: row.get(n) for n in schema} for row in filled], schema=schema)


def judged(qc: Sequence[Row], samples: Sequence[Row] = ()) -> list[Row]:
    own = frame(samples, RESULTS)
    controls = frame(qc, QC)
    reports = pl.concat([own["report_id"], controls["report_id"]]).unique().to_frame()
    told = judge_quality(
        controls, own, reports.with_columns(reported_on=pl.lit(None, pl.Date)), RULES
    )
    assert dict(told.schema) == QUALITY
    return told.to_dicts()


def one(qc: Row, *samples: Row, rule: str | None = None) -> Row:
    rows = [r for r in judged([qc], list(samples)) if rule is None or r["rule"] == rule]
    rows = [r for r in rows if r["rule"] != "HorRat"]
    assert len(rows) == 1
    return rows[0]


@pytest.mark.parametrize(
    ("value", "limits", "judgement"),
    [
        ("<0.2", {}, "pass"),
        ("0.1", {}, "pass"),
        ("0.4", {}, "warn"),
        ("0.9", {}, "fail"),
        ("<0.6", {"lod": None, "loq": None}, "pass"),
        ("0.4", {"lod": None, "loq": None}, "not judged"),
    ],
)
def test_blank_is_held_against_the_limits(value: str, limits: Row, judgement: str) -> None:
    # Common practice, no source.
    blank = one(found(value, qc_kind="blank", **limits))
    assert (blank["rule"], blank["judgement"]) == ("blank", judgement)
    assert blank["cells"] == "a.xlsx|Sheet1!C0"


def spike(value: float | str, own: float | str, added: float | None, **more: Any) -> Row:
    return one(
        found(value, qc_kind="spike", parent_sample="S 1", added=added, **more),
        found(own, sample_id="S-1"),
    )


@pytest.mark.parametrize(
    ("value", "own", "added", "recovery", "judgement"),
    [
        (24.0, 4.0, 20.0, (100.0, 100.0), "pass"),
        (15.9, 4.0, 20.0, (59.5, 59.5), "fail"),  # 60-115 % at 10 ug/kg
        (27.1, 4.0, 20.0, (115.5, 115.5), "fail"),
        (5.0, 4.0, 2.0, (50.0, 50.0), "pass"),  # 40-120 % at 1 ug/kg
        (20.1, "<0.2", 20.0, (99.5, 100.5), "pass"),
        (2.6, "<0.6", 2.0, (100.0, 130.0), "not judged"),  # across 120 %
        (104.0, 100.0, 20.0, (20.0, 20.0), "not judged"),  # 20 is below a quarter of 100
    ],
)
def test_recovery_of_a_spike(
    value: float, own: float | str, added: float, recovery: tuple[float, float], judgement: str
) -> None:
    row = spike(value, own, added)
    assert (row["lower"], row["upper"]) == pytest.approx(recovery)
    assert row["judgement"] == judgement
    assert row["cells"] == "a.xlsx|Sheet1!C0; a.xlsx|Sheet1!C0"


def test_spike_without_its_amount_or_its_sample_is_not_judged_and_says_why() -> None:
    assert "how much was added" in spike(24.0, 4.0, None)["message"]
    lost = one(found(24.0, qc_kind="spike", parent_sample="S-9", added=20.0), found(4.0))
    assert lost["judgement"] == "not judged"
    assert "no report of the laboratory has such a value of S-9" in lost["message"]


def test_parent_in_another_report_of_the_laboratory_is_found() -> None:
    # By hand: 100 (24 - 4) / 20 = 100 %.
    made_of = found(24.0, qc_kind="spike", parent_sample="S-9", added=20.0)
    parent = found(4.0, sample_id="s 9", report_id="r0", cell="C9")
    row = one(made_of, parent)
    assert (row["lower"], row["judgement"]) == (100.0, "pass")
    assert row["cells"] == "a.xlsx|Sheet1!C0; a.xlsx|Sheet1!C9"
    assert one(made_of, parent | {"lab": "Other"})["judgement"] == "not judged"
    twice = one(made_of, parent, parent | {"report_id": "r2", "cell": "C8"})
    assert "several reports of the laboratory" in twice["message"]
    # The report's own parent goes first.
    own = found(9.0, sample_id="S-9", cell="C7")
    assert one(made_of, parent, own)["lower"] == 75.0


def test_parent_in_a_report_of_an_unknown_laboratory_is_not_taken() -> None:
    made_of = found(10.0, qc_kind="duplicate", parent_sample="S-9", lab=None)
    parent = found(10.0, sample_id="S-9", report_id="r0", lab=None)
    assert one(made_of, parent)["judgement"] == "not judged"


@pytest.mark.parametrize(
    ("percent", "judgement"),
    [(95.0, "pass"), (48.0, "not judged"), (30.0, "fail"), (130.0, "fail")],
)
def test_recovery_in_percent_is_judged_only_where_all_ranges_agree(
    percent: float, judgement: str
) -> None:
    row = one(found(percent, qc_kind="spike", unit="%", lod=None, loq=None))
    assert row["judgement"] == judgement


@pytest.mark.parametrize(
    ("percent", "expected", "judgement"),
    [
        (95.0, None, "pass"),
        (48.0, None, "not judged"),
        (30.0, None, "fail"),
        (118.0, 5.0, "pass"),  # 40-120 % below 10 ug/L
        (118.0, 50.0, "fail"),  # 60-115 % from 10 ug/L on
    ],
)
def test_control_printed_in_percent_is_judged_as_a_recovery(
    percent: float, expected: float | None, judgement: str
) -> None:
    # AOAC, Appendix F, table A5.
    control = found(percent, qc_kind="control", unit="%", expected=expected, lod=None, loq=None)
    row = one(control, rule="recovery")
    assert (row["judgement"], row["lower"], row["unit"]) == (judgement, percent, "%")
    if judgement == "not judged":
        assert "depends on the amount, which is not printed" in row["message"]


@pytest.mark.parametrize("line", WORKED["precision"]["lines"], ids=lambda line: str(line["level"]))
def test_ranges_by_level_are_the_printed_ones(line: Row) -> None:
    row = one(
        found(line["level"], qc_kind="control", expected=line["level"], loq=None, lod=None),
        rule="recovery",
    )
    assert [row["limit_lower"], row["limit_upper"]] == line["recovery"]
    pair = duplicate(line["level"], line["level"])
    # r = 2.8 s_r, ISO 5725-6; never below 20 %.
    assert pair["limit_upper"] == pytest.approx(max(20.0, 2.8 * line["rsd"]))


def duplicate(a: float | str, b: float | str, **more: Any) -> Row:
    limits = {"lod": None, "loq": None} | more
    return one(
        found(a, qc_kind="duplicate", parent_sample="S-1", **limits),
        found(b, sample_id="S-1", **limits),
    )


@pytest.mark.parametrize(
    ("a", "b", "rule", "judgement"),
    [
        # 200 |a - b| / (a + b) against 2.8 x 21 % = 58.8 % at 10 ug/kg
        (10.0, 12.0, "repeatability", "pass"),
        (10.0, 18.2, "repeatability", "pass"),
        (10.0, 18.6, "repeatability", "fail"),
        # below 5 x LOQ: |a - b| against the LOQ of 0.6
        (2.0, 2.6, "near limit", "pass"),
        (2.0, 2.7, "near limit", "fail"),
        ("<0.2", "<0.2", "near limit", "pass"),
        ("<0.2", 0.7, "near limit", "not judged"),
        ("<0.2", 1.0, "near limit", "fail"),
    ],
)
def test_duplicates(a: float | str, b: float | str, rule: str, judgement: str) -> None:
    row = duplicate(a, b, lod=0.2, loq=0.6)
    assert (row["rule"], row["judgement"]) == (rule, judgement)


@pytest.mark.parametrize("line", WORKED["difference"]["lines"])
def test_relative_difference_of_duplicates(line: list[float]) -> None:
    a, b, percent = line
    found_one = duplicate(a, b)["lower"]
    assert found_one == pytest.approx(percent, abs=WORKED["difference"]["tolerance"])


@pytest.mark.parametrize("line", WORKED["recovery"]["lines"])
def test_recovery_of_a_spike_in_print(line: list[float]) -> None:
    spiked, own, added, percent = line
    row = spike(spiked, own, added)
    assert (row["lower"], row["upper"]) == pytest.approx((percent, percent))


def test_z_score_of_a_proficiency_round() -> None:
    case = WORKED["proficiency"]
    row = one(
        found(case["value"], qc_kind="control", expected=case["assigned"],
              assigned_deviation=case["deviation"]),
        rule="z-score",
    )  # fmt: skip
    assert row["lower"] == pytest.approx(case["z"], abs=case["tolerance"])
    assert row["judgement"] == "pass"


WIDE = WORKED["uncertain_proficiency"]


def test_scores_of_a_round_whose_assigned_value_is_uncertain() -> None:
    case = WORKED["proficiency"]
    told = {"expected": case["assigned"], "assigned_deviation": case["deviation"],
            "assigned_uncertainty": WIDE["u_assigned"], "standard_uncertainty": WIDE["u_result"]}  # fmt: skip
    rows = judged([found(case["value"], qc_kind="control", **told)])
    scores = {r["rule"]: r["lower"] for r in rows if r["source"].startswith("ISO 13528")}
    assert scores == {
        "z'-score": pytest.approx(WIDE["z_prime"], abs=WIDE["tolerance"]),
        "zeta-score": pytest.approx(WIDE["zeta"], abs=WIDE["tolerance"]),
    }


def test_uncertainties_of_the_gears_are_those_of_their_data() -> None:
    case = WORKED["zeta"]
    batches = case["batches"]
    assert statistics.stdev(batches[0]) == pytest.approx(case["u_result"], abs=5e-7)
    every = [diameter for batch in batches for diameter in batch]
    assert statistics.stdev(every) == pytest.approx(case["u_assigned"], abs=5e-7)
    assert [line[0] for line in case["lines"]] == batches[0][:5]


@pytest.mark.parametrize("line", WORKED["zeta"]["lines"], ids=lambda line: str(line[0]))
def test_zeta_scores_of_the_gears(line: list[float]) -> None:
    case = WORKED["zeta"]
    told = {"expected": case["assigned"], "assigned_uncertainty": case["u_assigned"],
            "standard_uncertainty": case["u_result"]}  # fmt: skip
    row = one(found(line[0], qc_kind="control", **told), rule="zeta-score")
    assert row["lower"] == pytest.approx(line[1], abs=case["tolerance"])


@pytest.mark.parametrize(
    ("value", "judgement"), [(14.0, "pass"), (14.1, "warn"), (15.9, "warn"), (16.0, "fail"),
                             (4.0, "fail")]
)  # fmt: skip
def test_z_score_warns_above_two_and_fails_from_three(value: float, judgement: str) -> None:
    # ISO 13528:2022, 9.4: up to 2 acceptable, 2 to 3 a warning signal, 3 and more an action signal.
    row = one(
        found(value, qc_kind="control", expected=10.0, assigned_deviation=2.0), rule="z-score"
    )
    assert row["judgement"] == judgement


def controls(values: list[float], **more: Any) -> list[Row]:
    start = date(2025, 1, 1)
    return [
        found(v, qc_kind="control", report_id=f"r{k:03}", report_no=f"T-{k}", sample_id="Q",
              analysed_on=start + timedelta(days=k), **more)
        for k, v in enumerate(values)
    ]  # fmt: skip


STEADY = [9.0, 11.0] * 10  # mean 10, s = sqrt(20 / 19) = 1.026


@pytest.mark.parametrize(
    ("after", "rule", "judgement"),
    [
        ([10.0], "1-3s", "pass"),
        ([13.2], "1-3s", "fail"),
        ([6.8], "1-3s", "fail"),
        ([12.5], "1-2s", "warn"),
        ([12.6, 12.9], "2-2s", "fail"),
        ([12.6, 7.5], "1-2s", "warn"),
        ([11.4, 11.6, 11.8, 12.0], "4-1s", "fail"),
        ([10.4] * 10, "10x", "fail"),
        ([10.4] * 9, "1-3s", "pass"),
    ],
)
def test_rules_of_control_charts(after: list[float], rule: str, judgement: str) -> None:
    # Rules as in Westgard et al., Clin. Chem. 27 (1981) 493; values chosen against mean and s.
    # The last of STEADY is 11, above the mean: nine more on that side would make ten.
    values = [11.0, 9.0] * 10 + after
    last = [r for r in judged(controls(values)) if r["rule"] not in ("recovery", "HorRat")]
    newest = next(r for r in last if r["report_id"] == f"r{len(values) - 1:03}")
    assert (newest["rule"], newest["judgement"]) == (rule, judgement)


def test_limits_come_from_the_points_before_and_need_twenty() -> None:
    rows = judged(controls([*STEADY[:19], 50.0]))
    assert {r["judgement"] for r in rows} == {"not judged"}
    assert "19 earlier points are fewer than 20" in rows[-1]["message"]
    (newest,) = [r for r in judged(controls([*STEADY, 50.0])) if r["judgement"] == "fail"]
    # (50 - 10) / 1.025978 = 38.987, by hand: 50 itself is in neither mean nor s
    assert newest["lower"] == pytest.approx(38.987, abs=0.001)


def test_limits_of_a_chart_from_a_published_series() -> None:
    # The limits after twenty observations are their mean and standard deviation.
    case = tomllib.loads(
        (Path(__file__).parent / "reference" / "replicates.toml").read_text("utf-8")
    )
    series = case["temperature"]
    rows = frame(controls([*series["values"], 100.0]), QC)
    points = chart_points(rows, rows.select("report_id", reported_on="analysed_on"), RULES)
    last = points.row(-1, named=True)
    found_limits = (last["before"], last["mean"], last["deviation"])
    assert found_limits == pytest.approx(
        (20, series["mean"], series["deviation"]), abs=series["tolerance"]
    )


def test_point_beyond_three_deviations_does_not_widen_later_limits() -> None:
    points = chart_points(
        frame(controls([*STEADY, 50.0, 10.0]), QC),
        pl.DataFrame({"report_id": ["r000"], "reported_on": [date(2025, 1, 1)]}),
        RULES,
    )
    assert points["mean"].to_list()[-1] == pytest.approx(10.0)
    assert points["before"].to_list()[-1] == 20


def test_two_controls_of_one_report_four_deviations_apart() -> None:
    rows = frame(
        [*controls(STEADY, expected=10.0), *controls([20.0 * v / 10 for v in STEADY], expected=20.0),
         found(12.3, qc_kind="control", report_id="r9", sample_id="Q", expected=10.0),
         found(15.4, qc_kind="control", report_id="r9", sample_id="P", expected=20.0)],
        QC,
    )  # fmt: skip
    points = chart_points(rows, rows.select("report_id", reported_on="analysed_on").unique(), RULES)
    struck = points.with_columns(rule=struck_rule(RULES)).filter(pl.col("report_id") == "r9")
    assert set(struck["rule"]) == {"R-4s"}


def test_controls_of_several_days_in_one_report_are_runs_of_their_own() -> None:
    # R-4s speaks of the controls of one run (Westgard et al., Clin. Chem. 27 (1981) 493): 12.3 and 7.6
    # of two days are 1-2s each; of one day they strike, and 10.1 beside them does not.
    days = controls([*STEADY, 12.3, 7.6, 10.1])
    same = [row | {"analysed_on": date(2026, 1, 1)} for row in days[-3:]]
    for rows, rules in (
        (days, ["1-2s", "1-2s", None]),
        ([*days[:-3], *same], ["R-4s", "R-4s", None]),
    ):
        told = [
            dict(row, report_id="r", report_no="T-1", cell=f"A{k}") for k, row in enumerate(rows)
        ]
        points = chart_points(
            frame(told, QC), pl.DataFrame({"report_id": ["r"], "reported_on": [date(2026, 1, 9)]}),
            RULES,
        ).with_columns(rule=struck_rule(RULES))  # fmt: skip
        assert points["rule"].to_list()[-3:] == rules


def test_rules_strike_the_days_of_a_published_exercise() -> None:
    case = WORKED["multirule"]
    rows = [
        {"material": str(k), "day": date(2026, 1, d), "report_id": f"r{d}", "value": float(value),
         "mean": mean, "deviation": s, "z": (value - mean) / s, "number": d}
        for k, (values, mean, s) in enumerate(
            zip((case["first"], case["second"]), case["means"], case["deviations"], strict=True), 1)
        for d, value in enumerate(values, 1)
    ]  # fmt: skip
    series = dict.fromkeys(("lab", "source", "method", "analyte", "form", "unit"), "one")
    points = pl.DataFrame([row | series | {"before": 20} for row in rows])
    struck = points.with_columns(rule=struck_rule(RULES)).drop_nulls("rule")
    found = struck.select("number", pl.col("material").cast(pl.Int64), "rule")
    assert sorted(found.rows()) == [tuple(line) for line in case["struck"]]
    for reach, name in ((2, "beyond_two"), (3, "beyond_three")):
        beyond = points.filter(pl.col("z").abs() > reach)["number"].unique().sort().to_list()
        assert beyond == case[name]


def test_a_round_of_a_proficiency_test_is_no_point_of_a_chart() -> None:
    # ISO 13528:2022: each round has its own material and assigned value; it is judged by its scores.
    rounds = [row | {"assigned_deviation": 2.0} for row in controls([14.0], expected=10.0)]
    rows = judged([*controls(STEADY, expected=10.0), *rounds])
    assert {r["rule"] for r in rows if r["judgement"] in ("warn", "fail")} == set()
    assert [r["rule"] for r in rows if r["rule"] not in ("1-3s", "recovery", "HorRat")] == [
        "z-score"
    ]


def materials(values: Sequence[tuple[int, float]]) -> dict[str, int]:
    """Count the points of each chart; a value comes with the day of its report."""
    rows = [
        found(v, qc_kind="control", sample_id="QC", report_id=f"r{day}",
              analysed_on=date(2026, 1, 1) + timedelta(days=day))
        for day, v in values
    ]  # fmt: skip
    reports = pl.DataFrame({"report_id": sorted({r["report_id"] for r in rows})})
    points = chart_points(
        frame(rows, QC), reports.with_columns(reported_on=pl.lit(None, pl.Date)), RULES
    )
    return dict(points.group_by("material").len().sort("material").iter_rows())


def test_a_control_of_two_levels_makes_two_charts() -> None:
    # Five reports with 5 and 50 ug/L side by side, and one of 52 alone.
    both = [(day, v) for day in range(5) for v in (5.0 + 0.1 * day, 50.0 - day)]
    assert materials([*both, (9, 52.0)]) == {"QC, about 48": 6, "QC, about 5.2": 5}


def test_a_chart_that_jumps_or_a_single_point_astray_makes_no_level() -> None:
    jumped = [(day, 5.0 if day < 10 else 50.0) for day in range(20)]
    assert materials(jumped) == {"QC": 20}
    astray = [*((day, 5.0) for day in range(10)), (3, 50.0), (4, 51.0)]
    assert materials(astray) == {"QC": 12}


def test_horrat_of_a_series_of_duplicates() -> None:
    # Eight pairs 9 and 11: RSD_r = 100 x 2 / (sqrt 2 x 10) = 14.142 %; PRSD_R at 10 ug/L is
    # 2 x (1e-8)^-0.15 = 31.698 %; their ratio is 0.4462.
    pairs = [found(9.0, qc_kind="duplicate", parent_sample=f"S{k}") for k in range(8)]
    own = [found(11.0, sample_id=f"S{k}") for k in range(8)]
    (row,) = [r for r in judged(pairs, own) if r["rule"] == "HorRat"]
    assert row["lower"] == pytest.approx(0.4462, abs=0.0001)
    assert row["judgement"] == "pass"
    (few,) = [r for r in judged(pairs[:7], own) if r["rule"] == "HorRat"]
    assert few["judgement"] == "not judged"


@pytest.mark.parametrize("line", WORKED["horwitz"]["lines"], ids=lambda line: str(line[0]))
def test_horrat_compares_with_the_printed_curve(line: list[float]) -> None:
    level, predicted = line
    pairs = [found(0.9 * level, qc_kind="duplicate", parent_sample=f"S{k}") for k in range(8)]
    own = [found(1.1 * level, sample_id=f"S{k}") for k in range(8)]
    (row,) = [r for r in judged(pairs, own) if r["rule"] == "HorRat"]
    assert 14.142 / row["lower"] == pytest.approx(predicted, abs=WORKED["horwitz"]["tolerance"])


def replicates(values: list[float | str]) -> dict[str, str]:
    rows = [found(v, sample_id="S-1", replicate=str(k)) for k, v in enumerate(values)]
    return {r["rule"]: r["judgement"] for r in judged([], rows)}


@pytest.mark.parametrize(
    ("values", "judgements"),
    [
        # G = 1.155 at most for three; r10 of 10.0 10.1 14.0 is 3.9 / 4.0 = 0.975
        ([10.0, 10.1, 14.0], {"Grubbs": "pass", "Dixon": "warn"}),
        # r10 = 8.7 / 9.0 = 0.967, G = 1.7874 by hand: both beyond 1 % of five
        ([10.0, 10.1, 10.2, 10.3, 19.0], {"Grubbs": "fail", "Dixon": "fail"}),
        ([10.0, 10.1, 10.2, 10.3, 10.4], {"Grubbs": "pass", "Dixon": "pass"}),
        ([10.0, 19.0], {}),
        ([10.0, 10.1, "<0.2"], {}),
    ],
)
def test_replicates_that_stand_apart(values: list[float | str], judgements: dict[str, str]) -> None:
    assert replicates(values) == judgements


def test_judgements_do_not_depend_on_the_order_of_rows() -> None:
    qc = frame([*controls([*STEADY, 50.0, 12.6, 12.9]), found(0.9, qc_kind="blank")], QC)
    own = frame([found(v, sample_id="S-1", replicate=str(v)) for v in (1.0, 1.1, 9.0)], RESULTS)
    reports = qc.select("report_id", reported_on="analysed_on").unique("report_id")
    told = judge_quality(qc, own, reports)
    for seed in range(5):
        mixed = [f.sample(fraction=1, shuffle=True, seed=seed) for f in (qc, own, reports)]
        assert judge_quality(*mixed).equals(told)
