"""Flags on small lots and on a published table of wines."""

import inspect
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from scipy.stats import binom

from pipeline.analyses import analyse
from pipeline.flag import flag, kinds, settings_of
from pipeline.settings import Laboratory, Settings
from pipeline.uncertainty import record_frame
from pipeline.withheld import WITHHELD
from schemas.frames import FLAGS, RESULTS
from schemas.vocabulary import OdourSet, Threshold, load_vocabulary

REFERENCE = Path(__file__).parent / "reference"
WINES = tomllib.loads((REFERENCE / "wines_2022.toml").read_text(encoding="utf-8"))
WORKED = tomllib.loads((REFERENCE / "bound_fraction.toml").read_text(encoding="utf-8"))
VOCABULARY = load_vocabulary()
SETTINGS = Settings()
LOADED = datetime(2026, 3, 1, tzinfo=UTC)
BASE = {
    "report_id": "r1", "lab": "Testing Bench", "sample_id": "S1", "sample_kind": "lot",
    "lot": "L1", "matrix": "red wine", "unit": "ug/L", "method": "GC", "vintage": 2025,
    "form": "free", "file": "a.xlsx", "sheet": "Sheet1",
}  # fmt: skip
INTERVENTIONS = {
    "lot": pl.String, "kind": pl.String, "agent": pl.String, "dose": pl.Float64,
    "dose_unit": pl.String, "done_on": pl.Date, "permission_note": pl.String,
}  # fmt: skip
MOVEMENTS = {
    "from_lot": pl.String, "to_lot": pl.String, "kind": pl.String, "volume_l": pl.Float64,
    "moved_on": pl.Date,
}  # fmt: skip
Row = dict[str, Any]


def results(*rows: Row) -> pl.DataFrame:
    filled = [BASE | {"cell": f"C{k}"} | row for k, row in enumerate(rows)]
    return pl.DataFrame(
        [{name: row.get(name) for name in RESULTS} for row in filled], schema=RESULTS
    )


def found(analyte: str, value: float | str, **more: Any) -> Row:
    text = str(value)
    low, high = (0.0, float(text[1:])) if text.startswith("<") else (float(text), float(text))
    return {"analyte": analyte, "lower": low, "upper": high, **more}


def flags(
    *rows: Row,
    kind: str | None = None,
    current: bool = True,
    interventions: list[tuple[Any, ...]] | None = None,
    movements: list[tuple[Any, ...]] | None = None,
    loaded: Mapping[str, datetime] | None = None,
    reported: Mapping[str, date] | None = None,
    withheld: pl.DataFrame | None = None,
    **settings: Any,
) -> list[Row]:
    frame = results(*rows)
    reports = frame.select("report_id").unique().with_columns(
        loaded_at=pl.col("report_id").replace_strict(
            loaded or {}, default=LOADED, return_dtype=pl.Datetime("us", "UTC")
        ),
        reported_on=pl.col("report_id").replace_strict(
            reported or {}, default=None, return_dtype=pl.Date
        ),
    )  # fmt: skip
    chosen = replace(SETTINGS, **settings)
    more = {} if withheld is None else {"withheld": withheld}
    record = record_frame(chosen.laboratories)
    raised = flag(
        analyse(frame, VOCABULARY, record=record, loaded=reports, **more),
        reports,
        pl.DataFrame(interventions or [], schema=INTERVENTIONS, orient="row"),
        pl.DataFrame(movements or [], schema=MOVEMENTS, orient="row"),
        chosen,
    )
    assert raised.schema == pl.Schema(FLAGS)
    if kind:
        raised = raised.filter(pl.col("kind") == kind)
    return raised.filter(pl.col("status") == "current").to_dicts() if current else raised.to_dicts()


def wines() -> list[Row]:
    rows = []
    for name, *printed in WINES["wines"]:
        matrix = WINES["matrix"][name.rsplit(" ", 1)[0]]
        for analyte, text in zip(WINES["columns"], printed, strict=True):
            limit = WINES["loq_of"].get(analyte, WINES["loq"])
            form = "bound" if analyte.endswith("oside") else "free"
            value = f"<{limit}" if text == "<LoQ" else text
            rows.append(found(analyte, value, form=form, lot=name, sample_id=name, matrix=matrix))
    return rows


# The published table


def test_wines_above_a_threshold_at_simple_acceptance() -> None:
    above = [f for f in flags(*wines(), kind="over_threshold", confidence=0.5)
             if f["decision"] == "above"]  # fmt: skip
    expected = WINES["expected"]
    assert sorted(f["lot"] for f in above) == expected["above_threshold"]
    assert {f["analyte"] for f in above} == {expected["only_analyte_above"]}


def test_summed_odour_activity_of_the_wines() -> None:
    raised = flags(*wines(), kind="odour_activity", confidence=0.5)
    expected = WINES["expected"]
    above = {f["lot"] for f in raised if f["decision"] == "above"}
    assert above == {*expected["above_threshold"], *expected["above_odour_sum_only"]}
    sums = {f["lot"]: f["upper"] for f in raised}
    # Shiraz B is printed with m-cresol below its limit: its sum is given at the lower end.
    lows = {f["lot"]: f["lower"] for f in raised}
    for lot, value in expected["odour_sum"].items():
        end = lows if lot == "shiraz B" else sums
        assert end[lot] == pytest.approx(value, abs=expected["odour_tolerance"]), lot


@pytest.mark.parametrize("lot", WINES["expected"]["undecided_with_uncertainty"])
def test_wines_near_the_threshold_are_undecided_with_uncertainty(lot: str) -> None:
    [guaiacol] = [f for f in flags(*wines(), kind="over_threshold")
                  if f["lot"] == lot and f["analyte"] == "guaiacol"]  # fmt: skip
    assert (guaiacol["decision"], guaiacol["reason"]) == ("undecided", "within_uncertainty")


def test_white_wines_have_no_threshold_and_no_odour_set() -> None:
    raised = [f for f in flags(*wines()) if f["lot"] == "chardonnay C"]
    assert {(f["kind"], f["decision"], f["reason"], f["severity"]) for f in raised} == {
        ("over_threshold", "undecided", "no_threshold", "note")
    }


# One compound


# By hand with T = 23: 22 % of 31 is 6.82, z = 1.173, P = 0.8796; u 4, z = 2, P = 0.97725;
# u 2 at 19, z = -2, P = 0.02275.
@pytest.mark.parametrize(
    ("row", "decision", "reason", "probability", "severity"),
    [
        (found("guaiacol", 31), "undecided", "within_uncertainty", 0.8796, "warn"),
        (found("guaiacol", 31, standard_uncertainty=4.0), "above", None, 0.97725, "act"),
        (found("guaiacol", 19, standard_uncertainty=2.0), "below", None, 0.02275, "note"),
        (found("guaiacol", "<20"), "below", None, None, "note"),
        (found("guaiacol", "<23"), "below", None, None, "note"),
        (found("guaiacol", "<25"), "undecided", "limit_above_threshold", None, "warn"),
        ({"analyte": "guaiacol", "lower": 50.0, "upper": None}, "above", None, None, "act"),
        ({"analyte": "guaiacol", "lower": 5.0, "upper": None}, "undecided",
         "above_range", None, "warn"),
        ({"analyte": "guaiacol", "lower": 23.0, "upper": None}, "undecided",
         "above_range", None, "warn"),
        (found("phenol", 31), "undecided", "no_threshold", None, "note"),
        (found("guaiacol", 31, matrix="wine"), "undecided", "colour_unknown", None, "warn"),
        (found("m+p-cresol", 90), "undecided", "isomer_sum", None, "note"),
        (found("cresols", 90), "undecided", "isomer_sum", None, "note"),
    ],
    ids=str,
)  # fmt: skip
def test_one_compound(
    row: Row, decision: str, reason: str | None, probability: float | None, severity: str
) -> None:
    [raised] = flags(row, kind="over_threshold")
    assert (raised["decision"], raised["reason"], raised["severity"]) == (
        decision, reason, severity,
    )  # fmt: skip
    if probability is None:
        assert raised["probability"] is None
    else:
        assert raised["probability"] == pytest.approx(probability, abs=0.0001)


# 22.99999 and 23.00001 differ by far less than their uncertainty: P is one half all but exactly.
@pytest.mark.parametrize(("value", "decision"), [(22.9, "below"), (23, "below"), (23.1, "above")])
def test_simple_acceptance_and_equality(value: float, decision: str) -> None:
    [raised] = flags(found("guaiacol", value), kind="over_threshold", confidence=0.5)
    assert raised["decision"] == decision


def test_the_record_of_the_laboratory_comes_before_the_default() -> None:
    # 5 % of 31 is 1.55, z = 8 / 1.55 = 5.16; with the default 22 % it is undecided (see above).
    bench = Laboratory("Testing Bench", methods={"guaiacol": 0.05})
    laboratories = {"Testing Bench": bench}
    [raised] = flags(found("guaiacol", 31), kind="over_threshold", laboratories=laboratories)
    assert raised["decision"] == "above"


def test_a_partly_censored_mean_is_judged_at_both_ends() -> None:
    # Mean of 60 and below 40 is [30, 50]: z at 30 with 22 % is 1.06, so not above at 0.95.
    replicates = [found("guaiacol", 60), found("guaiacol", "<40")]
    [unsure] = flags(*replicates, kind="over_threshold")
    assert (unsure["lower"], unsure["upper"], unsure["decision"]) == (30.0, 50.0, "undecided")
    [sure] = flags(*replicates, kind="over_threshold", confidence=0.8)
    assert sure["decision"] == "above"
    assert sure["probability"] == pytest.approx(0.8556, abs=0.0005)


def test_a_row_says_value_limit_and_whose() -> None:
    [raised] = flags(found("guaiacol", 123.456), kind="over_threshold")
    for part in ("Free guaiacol 123 ug/L", "23 ug/L", "red wine", "Parker et al."):
        assert part in raised["message"]
    assert (raised["threshold"], raised["cells"]) == (23.0, "a.xlsx|Sheet1!C0")
    assert raised["threshold_source"].startswith("Parker et al.")


def test_a_limit_is_printed_as_a_limit() -> None:
    [raised] = flags(found("guaiacol", "<2"), kind="over_threshold")
    assert "Free guaiacol < 2 ug/L is not above 23 ug/L" in raised["message"]


def test_bound_forms_and_glycosides_need_a_threshold_of_their_own() -> None:
    rows = [found("guaiacol rutinoside", 50, form="bound"), found("guaiacol", 90, form="total")]
    assert flags(*rows, kind="over_threshold") == []
    limit = Threshold(
        "guaiacol rutinoside", "bound", "red wine", 20.0, "ug/L", "house", "cellar rule"
    )
    [raised] = flags(*rows, kind="over_threshold", thresholds=(limit,))
    assert (raised["analyte"], raised["decision"]) == ("guaiacol rutinoside", "above")
    assert raised["threshold_source"] == "cellar rule"


def test_grapes_are_compared_per_kilogram_only() -> None:
    per_litre = Threshold("guaiacol", "free", "grape", 5.0, "ug/L", "x", "wrong unit")
    row = found("guaiacol", 90, matrix="grape", unit="ug/kg")
    [raised] = flags(row, kind="over_threshold", thresholds=(per_litre,))
    assert raised["reason"] == "no_threshold"
    per_kilogram = replace(per_litre, unit="ug/kg")
    [raised] = flags(row, kind="over_threshold", thresholds=(per_kilogram,))
    assert (raised["decision"], raised["unit"]) == ("above", "ug/kg")


@pytest.mark.parametrize("kind", ["mini-ferment", "bench control", "bench treated", "reference"])
def test_only_the_lot_itself_is_flagged(kind: str) -> None:
    assert flags(found("guaiacol", 90, sample_kind=kind)) == []
    assert flags(found("guaiacol", 90, sample_kind=None)) != []


# Which sample counts


def test_the_latest_sample_is_current() -> None:
    rows = [
        found("guaiacol", 90, sample_id="S1", sampled_on=date(2025, 10, 1), stage="end of AF"),
        found("guaiacol", 10, sample_id="S2", sampled_on=date(2026, 1, 5), stage="ageing"),
    ]
    raised = flags(*rows, kind="over_threshold", current=False)
    assert {f["sample_id"]: f["status"] for f in raised} == {"S1": "superseded", "S2": "current"}


def test_without_dates_the_stage_tells_which_is_later() -> None:
    rows = [
        found("guaiacol", 90, sample_id="S9", stage="end of AF"),
        found("guaiacol", 10, sample_id="S1", stage="bottled"),
    ]
    [raised] = flags(*rows, kind="over_threshold")
    assert raised["sample_id"] == "S1"


def test_without_dates_and_stage_the_report_issued_last_is_current() -> None:
    rows = [found("guaiacol", 50, sample_id="S1"),
            found("guaiacol", 10, sample_id="S2", report_id="r2")]  # fmt: skip
    issued = {"r1": date(2025, 10, 1), "r2": date(2025, 12, 1)}
    [raised] = flags(*rows, kind="over_threshold", reported=issued)
    assert (raised["sample_id"], raised["lower"]) == ("S2", 10.0)


def test_of_two_tanks_sampled_together_the_worse_is_current() -> None:
    day = {"sampled_on": date(2026, 1, 5), "stage": "ageing"}
    rows = [
        found("guaiacol", 90, sample_id="S1", **day),
        found("guaiacol", 9, sample_id="S2", **day),
    ]
    [raised] = flags(*rows, kind="over_threshold")
    assert raised["sample_id"] == "S1"


@pytest.mark.parametrize(
    "other",
    [{"lab": "Other Bench"}, {"method": "LC"}, {"lot": "L2"}, {"analyte": "phenol"}],
    ids=str,
)
def test_other_laboratories_and_methods_are_current_beside_it(other: Row) -> None:
    early = found("guaiacol", 90, sample_id="S1", sampled_on=date(2025, 10, 1))
    late = found("guaiacol", 10, sample_id="S2", sampled_on=date(2026, 1, 5))
    assert len(flags(early, late, kind="over_threshold")) == 1
    assert len(flags(early, {**late, **other}, kind="over_threshold")) == 2


def test_an_earlier_analysis_of_the_sample_is_shown_as_superseded() -> None:
    rows = [found("guaiacol", 90, analysed_on=date(2026, 1, 3)),
            found("guaiacol", 10, analysed_on=date(2026, 1, 9), report_id="r2")]  # fmt: skip
    raised = flags(*rows, kind="over_threshold", current=False)
    assert {f["upper"]: f["status"] for f in raised} == {90.0: "superseded", 10.0: "current"}
    [summed] = flags(*rows, kind="odour_activity", current=False)
    assert summed["lower"] == pytest.approx(10 / 23)


def test_a_sample_without_lot_is_flagged_by_itself() -> None:
    rows = [found("guaiacol", 90, lot=None, sample_id="S1"),
            found("guaiacol", 95, lot=None, sample_id="S2")]  # fmt: skip
    raised = flags(*rows, kind="over_threshold")
    assert [(f["lot"], f["sample_id"]) for f in raised] == [(None, "S1"), (None, "S2")]


def test_the_flag_is_as_old_as_its_newest_report() -> None:
    early, late = datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 2, 1, tzinfo=UTC)
    rows = [found("guaiacol", 90), found("guaiacol", 95, report_id="r2")]
    [raised] = flags(*rows, kind="over_threshold", loaded={"r1": early, "r2": late})
    assert raised["raised_at"] == late


# Odour activity


def cresols(**values: float | str) -> list[Row]:
    names = {"g": "guaiacol", "o": "o-cresol", "m": "m-cresol", "p": "p-cresol",
             "mp": "m+p-cresol", "all": "cresols"}  # fmt: skip
    return [found(names[short], value) for short, value in values.items()]


# By hand with 23, 62, 20, 64: 11.5/23 = 0.5, 6.2/62 = 0.1, 4/20 = 0.2, 6.4/64 = 0.1;
# a sum of 6.4 for m+p gives [6.4/64, 6.4/20], of 6.2 for all three [6.2/64, 6.2/20].
@pytest.mark.parametrize(
    ("rows", "lower", "upper", "reason"),
    [
        (cresols(g=11.5, o=6.2, m=4.0, p=6.4), 0.9, 0.9, "within_uncertainty"),
        (cresols(g=11.5, o=6.2, mp=6.4), 0.7, 0.92, "within_uncertainty"),
        (cresols(g=11.5, all=6.2), 0.596875, 0.81, "within_uncertainty"),
        (cresols(g=4.6, all=6.2), 0.296875, 0.51, None),
        (cresols(g=11.5, o=6.2, m=4.0, p=6.4, mp=99.0), 0.9, 0.9, "within_uncertainty"),
        (cresols(g="<2.3", o="<6.2", m="<2", p="<6.4"), 0.0, 0.4, None),
        (cresols(g=11.5, o=6.2), 0.6, None, "member_missing"),
        (cresols(g=11.5), 0.5, None, "member_missing"),
    ],
    ids=str,
)
def test_odour_sum(rows: list[Row], lower: float, upper: float | None, reason: str | None) -> None:
    [raised] = flags(*rows, kind="odour_activity")
    assert raised["lower"] == pytest.approx(lower)
    assert raised["upper"] == (None if upper is None else pytest.approx(upper))
    assert raised["reason"] == reason
    assert (raised["analyte"], raised["unit"], raised["threshold"]) == ("smoke phenols", "1", 1.0)


def test_a_missing_member_is_named_and_cannot_hide_an_excess() -> None:
    [raised] = flags(*cresols(g=11.5, o=6.2), kind="odour_activity")
    assert "m-cresol, p-cresol" in raised["message"]
    [raised] = flags(*cresols(g=90.0), kind="odour_activity")
    assert (raised["decision"], raised["severity"]) == ("above", "act")


def test_uncertainties_of_the_members_add_in_squares() -> None:
    # (23 + 3 u), u = 2.3 and 20 u = 2: 1 + 1, u = sqrt(0.1^2 + 0.1^2) = 0.1414, P = Phi(7.07).
    rows = [found("guaiacol", 13.8, standard_uncertainty=2.3),
            found("m-cresol", 12, standard_uncertainty=2.0),
            found("o-cresol", "<0.0001"), found("p-cresol", "<0.0001")]  # fmt: skip
    [raised] = flags(*rows, kind="odour_activity")
    # 0.6 + 0.6 = 1.2, z = 0.2 / 0.141421 = 1.41421, P = 0.92135.
    assert raised["decision"] == "undecided"
    [raised] = flags(*rows, kind="odour_activity", confidence=0.9)
    assert raised["probability"] == pytest.approx(0.92135, abs=0.0001)
    assert raised["decision"] == "above"


def test_odour_sum_says_it_is_a_screening_assumption() -> None:
    [raised] = flags(*cresols(g=40.0, o=6.2, m=4.0, p=6.4), kind="odour_activity")
    assert "screening assumption" in raised["message"]


def test_odour_sum_in_wine_of_unknown_colour() -> None:
    [raised] = flags(found("guaiacol", 90, matrix="wine"), kind="odour_activity")
    assert (raised["decision"], raised["reason"]) == ("undecided", "colour_unknown")


def test_a_set_of_the_cellar_in_another_matrix() -> None:
    limit = Threshold("guaiacol", "free", "white wine", 10.0, "ug/L", "house", "cellar rule")
    house = OdourSet("house", "white wine", ("guaiacol",))
    [raised] = flags(
        found("guaiacol", 90, matrix="white wine"),
        kind="odour_activity", thresholds=(limit,), odour_sets=(house,),
    )  # fmt: skip
    assert (raised["analyte"], raised["lower"], raised["decision"]) == ("house", 9.0, "above")


# Growth of the bound share

AF = {"sample_id": "S1", "stage": "end of AF", "sampled_on": date(2025, 10, 1)}
LATE = {"sample_id": "S2", "stage": "ageing", "sampled_on": date(2026, 2, 1)}
LATER = {"sample_id": "S3", "stage": "pre-bottling", "sampled_on": date(2026, 5, 1)}
MUST = {"sample_id": "S0", "stage": "must", "sampled_on": date(2025, 9, 1), "matrix": "must"}
U = {"standard_uncertainty": 0.5}


def totals(free: float | str, total: float | str, **sample: Any) -> list[Row]:
    return [found("guaiacol", free, **sample),
            found("guaiacol", total, **{"form": "total", **sample})]  # fmt: skip


def glycosides(free: float | str, bound: float | str, **sample: Any) -> list[Row]:
    rutinoside = {"form": "bound", "expressed_as": "guaiacol rutinoside", **sample}
    return [found("guaiacol", free, **sample), found("guaiacol rutinoside", bound, **rutinoside)]


def growth(*rows: Row, **more: Any) -> list[Row]:
    return flags(*rows, kind="bound_growth", **more)


def test_bound_that_rose_is_above() -> None:
    [raised] = growth(*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U))
    # 20/50 = 0.4 and 50/80 = 0.625.
    assert (raised["lower"], raised["upper"]) == pytest.approx((0.225, 0.225))
    assert (raised["decision"], raised["severity"], raised["sample_id"]) == ("above", "act", "S2")
    assert raised["probability"] > 0.99
    assert "total minus free" in raised["method"]
    # 20 and 50 ug/L of guaiacol are 161 and 403 nmol/L.
    assert "bound rose from 161 to 403" in raised["message"]
    ends = (raised["bound_change_lower"], raised["bound_change_upper"])
    assert ends == pytest.approx((30_000 / 124.139,) * 2)  # 30 ug/L by the molar mass of guaiacol
    assert (raised["bound_change"], raised["change_unit"]) == ("rose", "nmol/L")
    assert (raised["free_change"], raised["free_change_upper"]) == ("within uncertainty", 0.0)
    assert "bound reserve is now 403 nmol/L" in raised["message"]
    assert "will" not in raised["message"]


def test_the_test_of_the_worked_example() -> None:
    case = WORKED["growth"]
    # 50/50 -> 70/30 in molar terms, all 10 %: the rutinoside weighs 432.422 / 124.139 times more.
    heavy = 432.422 / 124.139

    def sample(free: float, bound: float, **more: Any) -> list[Row]:
        rows = glycosides(free, bound * heavy, **more)
        return [row | {"standard_uncertainty": 0.1 * row["lower"]} for row in rows]

    [raised] = growth(*sample(50.0, 50.0, **AF), *sample(30.0, 70.0, **LATE))
    assert raised["lower"] == pytest.approx(0.2, abs=1e-6)
    # One lot alone in its family: the adjusted p value is p itself.
    assert 1 - raised["probability"] == pytest.approx(case["p"], rel=0.001)


def test_a_total_shares_the_error_of_its_free_part() -> None:
    # By hand: T 50, F 30, u 1 each, then T 60, F 30: d ln(B/F) = dT/B - T dF/(F B).
    # Baseline (1/20)^2 + (50/600)^2 = 0.0094444; later (1/30)^2 + (60/900)^2 = 0.0055556.
    # z = ln(1) - ln(2/3) = 0.4054651 over 0.1224745 = 3.31062, p = 0.000465.
    one = {"standard_uncertainty": 1.0}
    [raised] = growth(*totals(30, 50, **AF, **one), *totals(30, 60, **LATE, **one))
    assert 1 - raised["probability"] == pytest.approx(0.000465, rel=0.005)


def test_loss_of_free_phenols_is_not_growth() -> None:
    case = WORKED["selective_treatment"]
    before, after = case["before"], case["after"]
    rows = [
        *totals(before["free"], before["free"] + before["bound"], **AF),
        *totals(after["free"], after["free"] + after["bound"], **LATE),
    ]
    fining = [("L1", "fining", "activated carbon", 40.0, "g/hL", date(2026, 1, 8), None)]
    [raised] = growth(*rows, interventions=fining)
    assert raised["lower"] == pytest.approx(after["fraction"] - before["fraction"], abs=1e-4)
    assert (raised["decision"], raised["reason"]) == ("below", "free_removed")
    assert "loss of free phenols, and formation of bound is not shown" in raised["message"]
    assert "fining (activated carbon 40 g/hL) on 2026-01-08" in raised["message"]


def test_bound_that_may_have_risen_enough_by_itself_is_not_called_a_loss_of_free() -> None:
    # By hand: free 40 to 20, bound 40 to 52 with u = 8.6 of the change: P = 0.92, not 0.95. Bound alone
    # would bring 52/92 - 40/80 = 0.065; at 44 (total 64) it would bring 44/84 - 0.5 = 0.024.
    def pair(total: float) -> list[Row]:
        free = [
            found("guaiacol", x, standard_uncertainty=1.0, **s) for x, s in ((40, AF), (20, LATE))
        ]
        return [*free, *(
            found("guaiacol", t, form="total", standard_uncertainty=6.0, **s)
            for t, s in ((80, AF), (total, LATE))
        )]  # fmt: skip

    [raised] = growth(*pair(72))
    assert (raised["decision"], raised["reason"]) == ("undecided", "within_uncertainty")
    assert "the share grew, but too near to tell is whether bound was formed" in raised["message"]
    assert "free fell from 322 to 161" in raised["message"]
    [raised] = growth(*pair(64))
    assert (raised["decision"], raised["reason"]) == ("below", "free_removed")


def test_growth_of_just_the_minimum_reaches_it() -> None:
    # 20/40 = 0.5 to 22/40 = 0.55; in binary the difference is 0.04999999999999993.
    sure = {"standard_uncertainty": 0.05}
    [raised] = growth(*totals(20, 40, **AF, **sure), *totals(18, 40, **LATE, **sure))
    assert (raised["decision"], raised["lower"]) == ("above", pytest.approx(0.05))
    [raised] = growth(*totals(20, 40, **AF, **sure), *totals(18.4, 40, **LATE, **sure))
    assert raised["decision"] == "below"
    assert "no growth of 0.05 or more; free fell" in raised["message"]


def test_values_below_their_limits_are_no_assumed_uncertainty() -> None:
    # A value below its limit decides by its interval; nothing is assumed of it.
    syringol = [
        found("syringol", "<2", form=form, **s) for s in (AF, LATE) for form in ("free", "total")
    ]
    rows = [*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U), *syringol]
    [raised] = growth(*rows)
    assert "Horwitz" not in raised["note"]
    [raised] = growth(*totals(30, 50, **AF, **U), *totals(30, 80, **LATE), *syringol)
    assert "Horwitz" in raised["note"]


def test_bound_and_free_that_both_changed_are_told_apart() -> None:
    [raised] = growth(*totals(30, 50, **AF, **U), *totals(15, 65, **LATE, **U))
    assert raised["decision"] == "above"
    assert "free fell from 242 to 121" in raised["message"]
    assert (raised["free_change"], raised["bound_change"]) == ("fell", "rose")
    assert raised["free_change_lower"] == pytest.approx(-15_000 / 124.139)
    assert "bound rose from 161 to 403" in raised["message"]


def test_a_share_that_grew_while_neither_part_clearly_moved_is_undecided() -> None:
    # u = 2 each: free falls by 4.4 and bound rises by 4.4, either z = 4.4 / 2.828 = 1.56 < 1.645,
    # while ln(34.4 / 25.6) = 0.2954 over 0.1355 is z = 2.18.
    heavy = 432.422 / 124.139

    def sample(free: float, bound: float, **more: Any) -> list[Row]:
        rows = glycosides(free, bound * heavy, **more)
        return [
            row | {"standard_uncertainty": u}
            for row, u in zip(rows, (2.0, 2.0 * heavy), strict=True)
        ]

    [raised] = growth(*sample(30.0, 30.0, **AF), *sample(25.6, 34.4, **LATE))
    assert raised["probability"] == pytest.approx(0.9854, abs=0.0005)
    assert (raised["decision"], raised["reason"]) == ("undecided", "within_uncertainty")


def test_an_unchanged_share_without_a_minimum_is_a_matter_of_uncertainty() -> None:
    [raised] = growth(*totals(30, 50, **AF), *totals(30, 50, **LATE), growth_minimum=0.0)
    assert (raised["decision"], raised["reason"]) == ("undecided", "within_uncertainty")


def test_a_small_growth_is_below_the_minimum() -> None:
    # 0.4 -> 0.42 with tiny uncertainties.
    tiny = {"standard_uncertainty": 0.001}
    rows = [*totals(30, 50, **AF, **tiny), *totals(29, 50, **LATE, **tiny)]
    [raised] = growth(*rows)
    assert raised["decision"] == "below"
    [raised] = growth(*totals(30, 50, **AF, **tiny), *totals(30, 51.8, **LATE, **tiny),
                      growth_minimum=0.01)  # fmt: skip
    assert raised["decision"] == "above"


def test_a_growth_within_its_uncertainty_is_undecided() -> None:
    [raised] = growth(*totals(30, 50, **AF), *totals(30, 58, **LATE))
    assert (raised["decision"], raised["reason"]) == ("undecided", "within_uncertainty")
    assert "smallest growth that could have been seen" in raised["message"]


def test_adjusting_over_the_lots_of_a_vintage() -> None:
    # p = 0.000465 alone (see above); the same among 200 lots without growth is 0.093 or more.
    one = {"standard_uncertainty": 1.0}
    grown = [*totals(30, 50, **AF, **one), *totals(30, 60, **LATE, **one)]
    assert [f["decision"] for f in growth(*grown)] == ["above"]
    still = []
    for k in range(200):
        names = [{"lot": f"M{k}", "sample_id": f"M{k}-{n}"} for n in (1, 2)]
        still += totals(30, 50, **{**AF, **one, **names[0]})
        still += totals(30, 50, **{**LATE, **one, **names[1]})
    [raised] = [f for f in growth(*grown, *still) if f["lot"] == "L1"]
    assert raised["decision"] == "undecided"
    other_vintage = [row | {"vintage": 2024} for row in still]
    [raised] = [f for f in growth(*grown, *other_vintage) if f["lot"] == "L1"]
    assert raised["decision"] == "above"


@pytest.mark.parametrize(
    "before",
    [MUST, {**MUST, "stage": "fermenting", "matrix": "red wine"}, {**MUST, "stage": "harvest"}],
    ids=lambda sample: sample["stage"],
)
def test_must_and_fermenting_wine_are_no_baseline(before: Row) -> None:
    [raised] = growth(*totals(30, 40, **before, **U), *totals(30, 80, **LATE, **U))
    assert (raised["decision"], raised["reason"]) == ("undecided", "no_baseline")
    assert raised["severity"] == "note"


def test_nothing_is_said_before_there_is_something_to_compare() -> None:
    assert growth(*totals(30, 50, **AF)) == []
    assert growth(*totals(30, 50, **MUST)) == []
    assert growth(*totals(30, 50, **LATE)) == []
    assert growth(*totals(30, 40, **MUST), *totals(30, 80, **AF)) == []


def test_the_earliest_later_wine_sample_is_the_baseline_where_none_is_at_the_end() -> None:
    rows = [
        *totals(30, 40, **MUST, **U),
        *totals(30, 50, **LATE, **U),
        *totals(30, 80, **LATER, **U),
    ]
    [raised] = growth(*rows, current=False)
    assert (raised["sample_id"], raised["decision"]) == ("S3", "above")


def test_each_later_sample_is_compared_with_the_baseline() -> None:
    rows = [*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U), *totals(30, 50, **LATER, **U)]
    raised = growth(*rows, current=False)
    assert {f["sample_id"]: (f["decision"], f["status"]) for f in raised} == {
        "S2": ("above", "superseded"), "S3": ("below", "current"),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("later", "why"),
    [
        (totals(30, 80, **LATE, lab="Other Bench"), "Other Bench"),
        (totals(30, 80, **LATE, lab=None), "unknown laboratory"),
        (totals(30, 80, **LATE, method="LC"), "other methods"),
        (glycosides(30, 80, **LATE), "glycosides"),
        ([found("syringol", 30, **LATE), found("syringol", 60, form="total", **LATE)],
         "share no smoke phenol"),
    ],
    ids=["laboratory", "no laboratory", "methods", "basis", "compounds"],
)  # fmt: skip
def test_what_cannot_be_compared_says_why(later: list[Row], why: str) -> None:
    [raised] = growth(*totals(30, 50, **AF), *later)
    assert (raised["decision"], raised["reason"]) == ("undecided", "not_comparable")
    assert why in raised["message"]
    assert raised["cells"]


def test_only_shared_compounds_are_compared() -> None:
    extra = [found("syringol", 1, **LATE), found("syringol", 900, form="total", **LATE)]
    [raised] = growth(*totals(30, 50, **AF, **U), *totals(30, 50, **LATE, **U), *extra)
    assert (raised["lower"], raised["decision"]) == (pytest.approx(0.0), "below")


def test_other_glycosides_of_the_same_compound_do_not_compare() -> None:
    more = found("guaiacol glucoside", 50, form="bound", **LATE)
    [raised] = growth(*glycosides(30, 50, **AF), *glycosides(30, 50, **LATE), more)
    assert raised["reason"] == "not_comparable"


@pytest.mark.parametrize(
    ("before", "after"),
    [(("<2", 50), ("<2", 45)), ((10, "<2"), (10, "<2")), (("<2", "<2"), ("<2", "<2"))],
    ids=str,
)
def test_values_under_the_limits_leave_growth_open(
    before: tuple[Any, Any], after: tuple[Any, Any]
) -> None:
    [raised] = growth(*glycosides(*before, **AF), *glycosides(*after, **LATE), growth_minimum=0.01)
    assert (raised["decision"], raised["reason"]) == ("undecided", "not_comparable")
    assert "under the laboratory's limits" in raised["message"]


def test_a_limit_at_the_baseline_does_not_hide_growth() -> None:
    # Bound < 3.4833 ug/L of rutinoside is at most 1 ug/L of guaiacol: fraction at most 1/31; later
    # 30 of 60: growth at least 0.5 - 0.0323.
    heavy = 432.422 / 124.139
    rows = [*glycosides(30, f"<{heavy}", **AF), *glycosides(30, 30 * heavy, **LATE)]
    [raised] = growth(*rows)
    assert raised["decision"] == "above"
    assert raised["lower"] == pytest.approx(0.5 - 1 / 31, abs=1e-6)


def test_a_glycoside_held_back_leaves_growth_open() -> None:
    rows = [*glycosides(30, 40, **AF, **U), *glycosides(30, 120, **LATE, **U)]
    assert growth(*rows)[0]["decision"] == "above"
    [late] = {row["sample_id"] for row in rows} - {AF.get("sample_id", "S1")}
    at_baseline = pl.DataFrame(
        [(BASE["lab"], None, "S1" if late != "S1" else AF["sample_id"], "guaiacol glucoside")],
        schema=WITHHELD, orient="row",
    )  # fmt: skip
    [raised] = growth(*rows, withheld=at_baseline)
    assert (raised["decision"], raised["reason"]) == ("undecided", "not_comparable")
    assert "held back" in raised["message"]


def test_a_blend_in_between_is_named() -> None:
    moved = [("L7", "L1", "blend", 500.0, date(2025, 12, 1)),
             ("L8", "L1", "blend", 100.0, date(2026, 3, 1)),
             ("L9", "L1", "rack", 100.0, date(2025, 12, 1))]  # fmt: skip
    [raised] = growth(*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U), movements=moved)
    assert "blend of 500 L from L7 on 2025-12-01" in raised["message"]
    assert "L8" not in raised["message"]
    assert "rack of 100 L from L9 on 2025-12-01" in raised["message"]


# Totals


# By hand: 7.36 - 6.12 = 1.24; 22 % of each gives u = 2.106 and P = 0.7220; with u 0.3 and 0.4
# u = 0.5 and P = 0.99343.
@pytest.mark.parametrize(
    ("u_total", "u_free", "decision", "probability"),
    [(None, None, "undecided", 0.7220), (0.3, 0.4, "above", 0.99343)],
)
def test_total_below_free(
    u_total: float | None, u_free: float | None, decision: str, probability: float
) -> None:
    rows = [found("syringol", 6.12, form="total", standard_uncertainty=u_total),
            found("syringol", 7.36, standard_uncertainty=u_free)]  # fmt: skip
    [raised] = flags(*rows, kind="total_below_free")
    assert raised["lower"] == pytest.approx(1.24)
    assert (raised["decision"], raised["severity"]) == (decision, "warn")
    assert raised["probability"] == pytest.approx(probability, abs=0.0002)
    assert "6.12 ug/L" in raised["message"]
    assert "7.36 ug/L" in raised["message"]
    bound = "at most 1 ug/L" if u_total else "not known"  # 2 * 0.5
    assert f"its bound amount is {bound}, ask" in raised["message"]
    assert "cannot" not in raised["message"]


def test_an_isomer_below_its_free_form_says_what_becomes_of_its_group() -> None:
    rows = [found(f"{x}-cresol", 2) for x in "omp"]
    rows += [
        found(f"{x}-cresol", value, form="total") for x, value in zip("omp", (8, 8, 1), strict=True)
    ]
    [raised] = flags(*rows, kind="total_below_free")
    assert raised["analyte"] == "p-cresol"
    assert "not known (the group of isomers is judged by its own total)" in raised["message"]


def test_total_at_or_above_free_is_silent() -> None:
    assert flags(*totals(30, 30), *totals(2, "<4", sample_id="S2"), kind="total_below_free") == []


def test_an_older_total_below_free_is_superseded_by_a_sound_one() -> None:
    rows = [*totals(30, 20, **AF), *totals(30, 50, **LATE)]
    [raised] = flags(*rows, kind="total_below_free", current=False)
    assert (raised["sample_id"], raised["status"]) == ("S1", "superseded")
    assert raised["uncertainty_source"] is None, "two values' uncertainties have no one source"


def test_a_total_that_rises_by_itself() -> None:
    rows = [*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U)]
    [raised] = flags(*rows, kind="mass_balance")
    assert (raised["decision"], raised["severity"]) == ("above", "warn")
    assert raised["lower"] == pytest.approx(30000 / 124.139)
    assert "swapped sample" in raised["message"]


@pytest.mark.parametrize(
    "register",
    [
        {"movements": [("L7", "L1", "blend", 500.0, date(2025, 12, 1))]},
        {"interventions": [("L1", "wood", None, None, None, date(2025, 12, 1), None)]},
    ],
    ids=["blend", "wood"],
)
def test_a_rise_with_a_cause_is_silent(register: dict[str, Any]) -> None:
    rows = [*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U)]
    assert flags(*rows, kind="mass_balance", **register) == []


@pytest.mark.parametrize(
    "rows",
    [
        [*totals(30, 50, **AF), *totals(30, 52, **LATE)],
        [*glycosides(30, 50, **AF, **U), *glycosides(30, 90, **LATE, **U)],
        [*totals(30, 50, **MUST, **U), *totals(30, 80, **AF, **U)],
    ],
    ids=["within uncertainty", "glycosides", "from must"],
)
def test_no_rise_of_the_total_no_flag(rows: list[Row]) -> None:
    assert flags(*rows, kind="mass_balance") == []


# Conflicting reports


def test_two_reports_that_disagree() -> None:
    rows = [found("guaiacol", 10, report_no="A1"),
            found("guaiacol", 14, report_no="A2", report_id="r2", file="b.xlsx")]  # fmt: skip
    [raised] = flags(*rows, kind="conflicting_reports")
    assert (raised["lower"], raised["upper"], raised["severity"]) == (10.0, 14.0, "warn")
    assert "A1 and A2" in raised["message"]
    assert raised["cells"] == "a.xlsx|Sheet1!C0; b.xlsx|Sheet1!C1"
    [judged] = flags(*rows, kind="over_threshold")
    assert judged["upper"] == 14.0


def test_a_threshold_between_two_reports_is_undecided() -> None:
    tiny = {"standard_uncertainty": 0.1}
    rows = [found("guaiacol", 10, **tiny), found("guaiacol", 40, report_id="r2", **tiny)]
    [raised] = flags(*rows, kind="over_threshold")
    assert (raised["decision"], raised["reason"]) == ("undecided", "conflicting_reports")


@pytest.mark.parametrize(
    "second",
    [
        found("guaiacol", 10, report_id="r2"),
        found("guaiacol", 14, report_id="r1", replicate="2"),
        found("guaiacol", 14, report_id="r2", analysed_on=date(2026, 1, 5)),
        found("guaiacol", 14, report_id="r2", lab="Other Bench"),
        found("guaiacol", 14, report_id="r2", method="LC"),
    ],
    ids=["same value", "replicate", "another day", "another laboratory", "another method"],
)
def test_what_is_no_conflict(second: Row) -> None:
    assert flags(found("guaiacol", 10), second, kind="conflicting_reports") == []


def test_reports_of_unknown_laboratories_are_no_conflict() -> None:
    rows = [found("guaiacol", 10, lab=None), found("guaiacol", 14, lab=None, report_id="r2")]
    assert flags(*rows, kind="conflicting_reports") == []


# The package


def test_kinds_are_the_functions_of_the_package() -> None:
    assert set(kinds()) == {
        "over_threshold", "odour_activity", "bound_growth", "total_below_free",
        "conflicting_reports", "mass_balance", "above_background",
        "quality_control", "unit_slip",
    }  # fmt: skip


@pytest.mark.parametrize("kind", kinds().values(), ids=lambda kind: kind.__name__)
def test_settings_and_their_defaults_agree(kind: Any) -> None:
    defaults = {
        name: parameter.default
        for name, parameter in inspect.signature(kind).parameters.items()
        if parameter.kind is inspect.Parameter.KEYWORD_ONLY and parameter.default != ()
    }
    settings = settings_of(kind, SETTINGS)
    assert {name: settings[name] for name in defaults} == defaults
    assert inspect.getdoc(kind)


def test_no_results_raise_no_flags() -> None:
    assert flags() == []


def test_the_order_of_loading_does_not_matter() -> None:
    frame = results(*wines())
    told = {"report_id": ["r1"], "loaded_at": [LOADED], "reported_on": [date(2026, 2, 27)]}
    reports = pl.DataFrame(told)
    register = pl.DataFrame(schema=INTERVENTIONS), pl.DataFrame(schema=MOVEMENTS)

    def raised(rows: pl.DataFrame) -> pl.DataFrame:
        return flag(analyse(rows, VOCABULARY, loaded=reports), reports, *register, SETTINGS)

    assert raised(frame.reverse()).equals(raised(frame))


def test_a_key_has_one_current_row() -> None:
    rows = [*wines(), *totals(30, 50, **AF), *totals(30, 80, **LATE), *glycosides(30, 80, **LATER)]
    key = ["lot", "kind", "analyte", "form", "lab", "method"]
    frame = pl.DataFrame(flags(*rows), schema=FLAGS)
    assert frame.select(key).is_unique().all()


# Without any uncertainty the value itself decides (unless the settings assume one)


@pytest.mark.parametrize(
    ("value", "decision"), [(30.0, "above"), (23.01, "above"), (23.0, "below"), (22.9, "below")]
)
def test_a_value_without_uncertainty_decides_by_itself(value: float, decision: str) -> None:
    (row,) = flags(found("guaiacol", value), kind="over_threshold", assume_uncertainty=False)
    assert (row["decision"], row["probability"]) == (decision, None)


def test_a_printed_uncertainty_counts_whether_or_not_one_is_assumed() -> None:
    printed = found("guaiacol", 26.0, standard_uncertainty=3.0)
    (row,) = flags(printed, kind="over_threshold", assume_uncertainty=False)
    assert row["decision"] == "undecided"
    assert row["probability"] == pytest.approx(
        0.8413, abs=1e-4
    )  # Phi(1): table of the standard normal distribution


# What stands beside a decision


def note_of(row: Row, **more: Any) -> str:
    [raised] = flags(row, kind="over_threshold", **more)
    return raised["note"] or ""


def test_an_assumed_coverage_factor_and_a_bare_scatter_are_said() -> None:
    stated = {"standard_uncertainty": 3.0, "expanded_uncertainty": 6.0, "coverage_factor": 2.0}
    told = note_of(found("guaiacol", 26, uncertainty_source="report, k = 2 assumed", **stated))
    assert told == (
        "Testing Bench prints an expanded uncertainty without its coverage factor: k = 2 is taken."
    )
    assert note_of(found("guaiacol", 26, uncertainty_source="report", **stated)) == ""
    rows = [found("guaiacol", value, replicate=str(value)) for value in (25, 27, 32)]
    [raised] = flags(*rows, kind="over_threshold")
    assert raised["uncertainty_source"] == "replicates"
    assert "the scatter of a few replicates alone, and a bias" in raised["note"].lower()


def test_an_assumed_uncertainty_is_said() -> None:
    [raised] = flags(found("guaiacol", 26), kind="over_threshold")
    assert raised["uncertainty_source"] == "default (Horwitz-Thompson)"
    assert "usual scatter between laboratories is assumed" in raised["note"]
    [raised] = flags(found("guaiacol", 26, standard_uncertainty=3.0), kind="over_threshold")
    assert (raised["uncertainty_source"], raised["note"]) == ("report", None)


def test_a_printed_spread_that_nobody_explains_is_said_to_be_left_aside() -> None:
    row = found("guaiacol", 26, uncertainty_source="printed, kind unknown")
    assert "nobody says what it stands for" in note_of(row)


# Directive 2009/90/EC, Art. 4: at most 30 % of 23 ug/L, that is 6.9 ug/L.
@pytest.mark.parametrize(("loq", "said"), [(6.9, False), (7.0, True), (None, False)])
def test_a_high_limit_is_a_note_on_quality(loq: float | None, said: bool) -> None:
    for value in (10, "<5", 40):
        assert ("Directive 2009/90/EC" in note_of(found("guaiacol", value, loq=loq))) is said


WOOD = [("L1", "wood", "new barrels", None, None, date(2026, 1, 5), None)]
YEAST = Threshold("4-ethylphenol", "free", "red wine", 245.0, "ug/L", "x", "cellar rule")


@pytest.mark.parametrize(
    ("row", "register", "words"),
    [
        (found("guaiacol", 40, sampled_on=date(2026, 2, 1)), WOOD, "new barrels on 2026-01-05"),
        (found("guaiacol", 40, variety="Shiraz"), [], "13.1 ug/L in 99 of 100"),
        (found("4-ethylphenol", 400), [], "Brettanomyces"),
    ],
    ids=["wood", "variety", "yeast"],
)  # fmt: skip
def test_another_source_is_said_beside_the_flag(row: Row, register: Any, words: str) -> None:
    note = note_of(row, interventions=register, thresholds=(*SETTINGS.thresholds, YEAST))
    assert "Possible other source" in note
    assert words in note


@pytest.mark.parametrize(
    ("row", "register"),
    [
        (found("guaiacol", 40, sampled_on=date(2026, 1, 4)), WOOD),
        (found("guaiacol", 40, sampled_on=date(2029, 1, 4)), WOOD),
        (found("guaiacol", 40, sampled_on=date(2026, 2, 1), lot="L2"), WOOD),
        (found("guaiacol", 40, variety="Merlot"), []),
        (found("guaiacol", 2, variety="Shiraz"), []),
        (found("m-cresol", 40, variety="Shiraz", sampled_on=date(2026, 2, 1)), WOOD),
    ],
    ids=["before the wood", "long after", "another lot", "another variety", "below", "no such"],
)
def test_where_no_other_source_is_known(row: Row, register: Any) -> None:
    assert "other source" not in note_of(row, interventions=register)


def test_the_winemakers_risk_and_the_claim_are_told_apart() -> None:
    [raised] = flags(found("guaiacol", 26), kind="over_threshold")
    # 22 % of 26 is 5.72, z = 3 / 5.72 = 0.5245, P = 0.70.
    assert "winemaker's risk that it is above: 70 %" in raised["message"]
    assert "too little for a laboratory to claim it" in raised["message"]
    # 22 % of 36 is 7.92, z = 13 / 7.92 = 1.6414, P = 0.9496: not 95 %. z = -6 / 3.74, P = 0.0543.
    [raised] = flags(found("guaiacol", 36), kind="over_threshold")
    assert "risk that it is above: 94 %, too little for a laboratory" in raised["message"]
    [raised] = flags(found("guaiacol", 17), kind="over_threshold")
    assert "risk that it is above: 6 %, too much to rule it out" in raised["message"]
    [raised] = flags(found("guaiacol", 15), kind="over_threshold")
    # z = -8 / 3.3 = -2.42, P = 0.0077.
    assert "risk of being above all the same: 1 %" in raised["message"]


# By hand with 23, 62, 20, 64: guaiacol 13.8 is 0.6; a sum of 12.8 for m+p gives [0.2, 0.64];
# m-cresol < 16 gives [0, 0.8].
@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        (cresols(g=13.8, o=6.2, m="<16", p=6.4), "limit_above_threshold"),
        (cresols(g=13.8, o=6.2, mp=12.8), "isomers_unresolved"),
        (cresols(g=13.8, o="<6.2", mp=12.8), "isomers_unresolved"),
        (cresols(g=13.8, o="<6.2", mp="<12.8"), "limit_above_threshold"),
    ],
    ids=str,
)
def test_what_keeps_a_sum_undecided(rows: list[Row], reason: str) -> None:
    [raised] = flags(*rows, kind="odour_activity")
    assert (raised["decision"], raised["reason"]) == ("undecided", reason)
    assert raised["severity"] == "warn"
    assert "Regulation (EU) 2017/644" in raised["note"]


def test_a_sum_that_does_not_rest_on_limits() -> None:
    [raised] = flags(*cresols(g=20.0, o=6.2, m=4.0, p="<3"), kind="odour_activity")
    assert "2017/644" not in (raised["note"] or "")


@pytest.mark.parametrize("case", WORKED["visible"], ids=lambda case: str(case["relative"]))
def test_the_smallest_growth_that_could_have_been_seen(case: dict[str, Any]) -> None:
    heavy, r = 432.422 / 124.139, case["relative"]
    rows = [
        row | {"standard_uncertainty": r * row["lower"]}
        for when in (AF, LATE)
        for row in glycosides(50.0, 50.0 * heavy, **when)
    ]
    [raised] = growth(*rows, growth_minimum=0.001)
    smallest = float(raised["message"].split("could have been seen is ")[1].split(" percent")[0])
    # The message gives two digits, in per cent of one.
    assert smallest == pytest.approx(100 * (case["fraction"] - 0.5), abs=0.6)
    k = case["factor"]
    assert k / (1 + k) == pytest.approx(case["fraction"], abs=0.0006)


@pytest.mark.parametrize(
    ("register", "words"),
    [
        ({"movements": [("L7", "L1", "blend", 500.0, date(2025, 12, 1))]}, "a blend brings"),
        ({"interventions": [("L1", "other", "Press fraction", 5.0, "L", date(2025, 12, 1), None)]},
         "press fractions hold more"),
        ({"interventions": [("L1", "membrane", None, None, None, date(2025, 12, 1), None)]},
         "membrane work"),
    ],
    ids=["blend", "press fraction", "membrane"],
)  # fmt: skip
def test_a_growth_that_the_register_explains(register: dict[str, Any], words: str) -> None:
    rows = [*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U)]
    [raised] = growth(*rows, **register)
    assert (raised["decision"], raised["reason"], raised["severity"]) == (
        "above", "explained", "warn",
    )  # fmt: skip
    assert words in raised["message"]


@pytest.mark.parametrize("kind", ["wood", "fining", "sorting"])
def test_what_explains_no_growth_of_the_bound_share(kind: str) -> None:
    rows = [*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U)]
    done = [("L1", kind, None, None, None, date(2025, 12, 1), None)]
    [raised] = growth(*rows, interventions=done)
    assert (raised["reason"], raised["severity"]) == (None, "act")


def test_a_sum_of_glycosides_that_rises_is_outside_the_measured_glycosides() -> None:
    rows = [*glycosides(30, 50, **AF, **U), *glycosides(30, 150, **LATE, **U)]
    [raised] = growth(*rows)
    assert "outside the measured glycosides" in raised["message"]
    assert flags(*rows, kind="mass_balance") == []
    still = [*glycosides(30, 50, **AF, **U), *glycosides(30, 50, **LATE, **U)]
    assert "outside the measured" not in growth(*still)[0]["message"]


def test_a_growth_of_the_total_names_the_swapped_sample_first() -> None:
    rows = [*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U)]
    [raised] = growth(*rows)
    assert "swapped sample or a unit slip" in raised["message"]


def test_other_laboratories_do_not_compare_and_a_study_says_why() -> None:
    later = totals(30, 80, **LATE, lab="Other Bench")
    [raised] = growth(*totals(30, 50, **AF), *later)
    assert "Molecules 27 (2022) 4892" in raised["message"]


def test_growth_says_that_its_uncertainty_is_assumed() -> None:
    [raised] = growth(*totals(30, 50, **AF), *totals(30, 80, **LATE))
    assert "scatter between laboratories" in raised["note"]
    [raised] = growth(*totals(30, 50, **AF, **U), *totals(30, 80, **LATE, **U))
    assert "scatter between laboratories" not in raised["note"]
    assert "whole uncertainty of both samples is counted" in raised["note"]


def split_record(relative: float, within: float | None) -> dict[str, Laboratory]:
    """Give the laboratory a record of guaiacol and its rutinoside."""
    line = {"relative": relative} | ({} if within is None else {"within": within})
    methods = {"guaiacol": line, "guaiacol rutinoside": line}
    return {"Testing Bench": Laboratory("Testing Bench", methods=methods)}


# By hand, JCGM 100:2008, 5.1, and Nordtest TR 537 (u_Rw beside u_bias). Glycosides 40 -> 60 at the
# same free: ln 1.5 over sqrt(4 0.05^2) = 4.0547, or over sqrt(4 0.22^2) = 0.9215 by the whole.
# Totals 60 -> 80 at free 20: own variances 2 0.075^2 + 2 (1/15)^2 = 0.0201389; the shares 2/3 and
# 3/4 leave (1.5 - 1.3333)^2 2 (0.15^2 - 0.05^2) = 0.0011111 of the bias: ln 1.5 / 0.1457738 =
# 2.7815; by the whole ln 1.5 / sqrt(2 0.15^2 (1.5^2 + 1.3333^2)) = 0.9526. Phi of each:
@pytest.mark.parametrize(
    ("made", "amounts", "relative", "within", "probability", "decision"),
    [
        (glycosides, (40, 60), 0.22, 0.05, 0.999975, "above"),
        (glycosides, (40, 60), 0.22, None, 0.821608, "undecided"),
        (totals, (60, 80), 0.15, 0.05, 0.997294, "above"),
        (totals, (60, 80), 0.15, None, 0.829550, "undecided"),
    ],
)
def test_growth_leaves_out_the_bias_that_both_samples_share(
    made: Any, amounts: tuple[int, int], relative: float, within: float | None,
    probability: float, decision: str,
) -> None:  # fmt: skip
    rows = [*made(20, amounts[0], **AF), *made(20, amounts[1], **LATE)]
    [raised] = growth(*rows, laboratories=split_record(relative, within))
    assert raised["probability"] == pytest.approx(probability, abs=2e-6)
    assert raised["decision"] == decision
    said = "whole uncertainty of both samples is counted"
    assert (said in (raised["note"] or "")) == (within is None)


def test_reports_of_unknown_laboratories_keep_flags_of_their_own() -> None:
    # Unknown compares with nothing: neither report supersedes the other, and the key tells which.
    told = ((60, "r1", date(2026, 1, 1)), (2, "r2", date(2026, 2, 1)))
    rows = [found("guaiacol", v, lab=None, report_id=r, sampled_on=day) for v, r, day in told]
    for lot in ("L1", None):
        raised = flags(*(row | {"lot": lot} for row in rows), kind="over_threshold")
        assert {(r["report_without_lab"], r["decision"]) for r in raised} == {
            ("r1", "above"), ("r2", "below"),
        }  # fmt: skip


# Background of unexposed fruit and wine: exposure, not perception


def clean(k: int, value: float | str, analyte: str = "guaiacol", **more: Any) -> Row:
    """Give a value of a lot that never met smoke."""
    told = {"lot": f"R{k}", "sample_id": f"R{k}", "sample_kind": "reference", "variety": "Merlot"}
    return found(analyte, value, **(told | more))


def background(*rows: Row, **more: Any) -> list[Row]:
    """Give the rows of the kind, without assumed uncertainty."""
    told = {"confidence": 0.5, "assume_uncertainty": False, **more}
    return flags(*rows, kind="above_background", **told)


@pytest.mark.parametrize("variety", ["Shiraz", "SYRAH", "shiraz"])
def test_background_of_a_variety_by_any_of_its_names(variety: str) -> None:
    # AJGWR 2022, article 9820204, Table 4: 13.1 ug/L guaiacol in unexposed Shiraz
    row = background(found("guaiacol", 14, variety=variety))[0]
    assert (row["threshold"], row["decision"], row["severity"]) == (13.1, "above", "note")
    assert "article 9820204, Table 4" in row["threshold_source"]


@pytest.mark.parametrize(
    "more",
    [{"variety": "Merlot"}, {"variety": "Chardonnay"}],
)
def test_background_holds_for_no_other_variety_or_matrix(more: Row) -> None:
    rows = background(found("guaiacol", 50, **more))
    assert [(r["decision"], r["reason"], r["analyte"]) for r in rows] == [
        ("undecided", "no_background", None)
    ]


@pytest.mark.parametrize("more", [{"variety": "Merlot", "matrix": "must"}, {"variety": None}])
def test_nothing_to_look_up_raises_nothing(more: Row) -> None:
    assert background(found("guaiacol", 50, **more)) == []


def test_background_equal_to_the_value_is_below() -> None:
    # the contract: equality is below; 1.0 is also the limit of quantitation of the source
    assert background(found("p-cresol", 1, variety="Shiraz"))[0]["decision"] == "below"


def test_glycosides_as_equivalents_have_no_background() -> None:
    told = {"form": "bound", "variety": "Shiraz", "expressed_as": "syringol gentiobioside"}
    rows = background(
        found("guaiacol rutinoside", 40, **told), found("syringol gentiobioside", 40, **told)
    )
    assert [r["analyte"] for r in rows] == ["syringol gentiobioside"]


@pytest.mark.parametrize(
    ("above", "needed", "severity"),
    # 13 markers at 1 %: by hand 1 - 0.99^13 = 12 %, two or more 0.7 %
    [(1, 1, "note"), (2, 2, "warn"), (2, 3, "note"), (3, 3, "warn")],
)
def test_markers_needed_before_exposure_is_said(above: int, needed: int, severity: str) -> None:
    wine = next(w for w in WINES["wines"] if w[0] == "chardonnay B")
    rows = [
        found(name, 50 if k < above else 0.5, variety="Chardonnay", matrix="white wine",
              form="bound" if name.endswith("oside") else "free")
        for k, name in enumerate(WINES["columns"])
    ]  # fmt: skip
    assert len(rows) == len(wine) - 1 == 13
    found_above = [
        r for r in background(*rows, exposure_markers=needed) if r["decision"] == "above"
    ]
    assert [r["severity"] for r in found_above] == [severity] * above
    assert all(f"{above} of its 13 markers" in r["message"] for r in found_above)


def test_chance_is_told_where_one_marker_is_above() -> None:
    rows = [
        found(name, 50 if name == "guaiacol" else 0.5, variety="Chardonnay", matrix="white wine",
              form="bound" if name.endswith("oside") else "free")
        for name in WINES["columns"]
    ]  # fmt: skip
    said = next(r for r in background(*rows) if r["decision"] == "above")
    share = round(100 * WINES["expected_background"]["one_or_more"])
    assert f"in up to {share} % of unexposed samples" in said["message"]


def test_wood_explains_what_oak_gives() -> None:
    # Am. J. Enol. Vitic. 75 (2024) 0750017: guaiacol and syringol up to 200 ug/L in oaked wine
    rows = [found("guaiacol", 30, variety="Shiraz"), found("syringol", 30, variety="Shiraz")]
    wood = [("L1", "wood", "barrel", None, None, date(2025, 10, 1), None)]
    assert {r["severity"] for r in background(*rows)} == {"warn"}
    oaked = background(*rows, interventions=wood)
    assert {(r["decision"], r["severity"]) for r in oaked} == {("above", "note")}
    assert all("wood contact" in r["message"] for r in oaked)


def test_enough_own_references_come_before_what_is_published() -> None:
    lots = [clean(k, 1 + k / 10, variety="Shiraz") for k in range(20)]
    row = background(*lots, found("guaiacol", 5, variety="Shiraz"))[0]
    # By hand: the highest of 20 is 2.9; 0.05^(1/20) = 0.861, so 86 % at 95 % confidence.
    assert (row["threshold"], row["decision"]) == (2.9, "above")
    assert "20 own reference lots of Testing Bench" in row["threshold_source"]
    assert "86 % of unexposed lots with 95 % confidence" in row["threshold_source"]


def test_few_own_references_give_way_to_what_is_published() -> None:
    lots = [clean(k, 1, variety="Shiraz") for k in range(19)]
    assert background(*lots, found("guaiacol", 5, variety="Shiraz"))[0]["threshold"] == 13.1


@pytest.mark.parametrize(
    ("value", "decision", "reason"),
    [
        (1.2, "below", None),
        (9, "undecided", "few_references"),
        ("<4", "undecided", "few_references"),
    ],
)
def test_few_own_references_can_only_clear(value: Any, decision: str, reason: str | None) -> None:
    rows = background(clean(1, 1.5), clean(2, "<1"), found("guaiacol", value, variety="Merlot"))
    assert [(r["decision"], r["reason"]) for r in rows] == [(decision, reason)]


def test_few_own_references_do_not_hide_exposure_by_other_markers() -> None:
    rows = [found("guaiacol", 30, variety="Shiraz"), found("syringol", 30, variety="Shiraz"),
            found("phenol", 30, variety="Shiraz")]  # fmt: skip
    lots = [clean(k, 1, "phenol", variety="Shiraz") for k in range(2)]
    found_rows = {r["analyte"]: r for r in background(*lots, *rows)}
    assert found_rows["phenol"]["reason"] == "few_references"
    assert found_rows["guaiacol"]["severity"] == found_rows["syringol"]["severity"] == "warn"
    assert "2 of its 2 markers" in found_rows["guaiacol"]["message"]


def test_wood_alone_leaves_nothing_to_count() -> None:
    wood = [("L1", "wood", "barrel", None, None, None, None)]
    rows = background(found("guaiacol", 30, variety="Shiraz"), interventions=wood)
    assert [(r["decision"], r["severity"]) for r in rows] == [("above", "note")]


def test_own_references_of_another_laboratory_or_method_do_not_count() -> None:
    lots = [clean(k, 1, lab="Other Bench") for k in range(20)]
    lots += [clean(k, 1, method="LC") for k in range(20)]
    row = background(*lots, found("guaiacol", 5, variety="Merlot"))[0]
    assert row["reason"] == "no_background"
    assert "for Merlot in red wine by the methods of Testing Bench" in row["message"]


def test_the_share_that_own_references_cover_is_never_rounded_up() -> None:
    # Wilks (1941): 0.05 ^ (1 / 25) = 0.887, so not "at least 89 %".
    lots = [clean(k, 1) for k in range(25)]
    row = background(*lots, found("guaiacol", 5, variety="Merlot"))[0]
    assert "above at least 88 % of unexposed lots with 95 % confidence" in row["threshold_source"]


def test_a_reference_lot_counts_once_by_its_highest_value() -> None:
    lots = [clean(k, 1) for k in range(19)]
    lots += [clean(18, 8, sample_id="again")]
    row = background(*lots, found("guaiacol", 5, variety="Merlot"), exposure_references=20)[0]
    assert (row["threshold"], row["decision"]) == (8, "below")
    assert row["threshold_source"].startswith("19 own reference lots")


def test_own_references_below_a_limit_raise_the_background_to_the_limit_only() -> None:
    lots = [clean(k, "<1") for k in range(20)]
    rows = background(*lots, found("guaiacol", 1.1, variety="Merlot"))
    assert [(r["threshold"], r["decision"]) for r in rows] == [(1, "above")]


def test_many_own_references_give_the_percentile_itself() -> None:
    # Wilks (1941): from 299 lots on the highest bounds 99 % with 95 % confidence; the second highest
    # does from 473 on, by the binomial distribution of SciPy
    assert binom.cdf(471, 473, 0.99) >= 0.95 > binom.cdf(470, 472, 0.99)
    lots = [clean(k, float(k)) for k in range(1, 474)]
    row = background(*lots, found("guaiacol", 472.5, variety="Merlot"))[0]
    assert (row["threshold"], row["decision"]) == (472, "above")
    assert "above at least 99 % of unexposed lots" in row["threshold_source"]


def test_a_later_sample_takes_the_place_of_one_without_background() -> None:
    grape = found("guaiacol", 3, variety="Shiraz", matrix="grape", unit="ug/kg", sample_id="G",
                  sampled_on=date(2025, 9, 1))  # fmt: skip
    wine = found("guaiacol", 3, variety="Shiraz", sampled_on=date(2025, 12, 1))
    assert [r["reason"] for r in background(grape)] == ["no_background"]
    assert [r["decision"] for r in background(grape, wine)] == ["below"]
