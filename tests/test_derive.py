"""Bound fractions from results, against a published table and worked examples."""

import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.analyses import analyse
from pipeline.derive import derive, derive_all
from pipeline.names import Names
from pipeline.withheld import name_withheld
from schemas.frames import FRACTIONS, PANELS, RESULTS
from schemas.vocabulary import load_vocabulary

REFERENCE = Path(__file__).parent / "reference"
WINES = tomllib.loads((REFERENCE / "wines_2022.toml").read_text(encoding="utf-8"))
WORKED = tomllib.loads((REFERENCE / "bound_fraction.toml").read_text(encoding="utf-8"))
SUMMED = tomllib.loads((REFERENCE / "panel_sum.toml").read_text(encoding="utf-8"))
VOCABULARY = load_vocabulary()
GRAMS = {"guaiacol": 124.139, "cresols": 108.140, "guaiacol rutinoside": 432.422}
BASE = {
    "report_id": "r1", "lab": "Testing Bench", "sample_id": "S1", "sample_kind": "lot",
    "lot": "L1", "matrix": "red wine", "unit": "ug/L", "method": "GC", "file": "a.xlsx",
    "sheet": "Sheet1",
}  # fmt: skip


def results(*rows: dict[str, Any]) -> pl.DataFrame:
    filled = [BASE | {"cell": f"C{k}"} | row for k, row in enumerate(rows)]
    return pl.DataFrame(
        [{name: row.get(name) for name in RESULTS} for row in filled], schema=RESULTS
    )


def found(analyte: str, form: str, value: float | str, **more: Any) -> dict[str, Any]:
    text = str(value)
    low, high = (0.0, float(text[1:])) if text.startswith("<") else (float(text), float(text))
    return {"analyte": analyte, "form": form, "lower": low, "upper": high, **more}


def fractions(*rows: dict[str, Any], aglycone: str = "panel") -> list[dict[str, Any]]:
    frame = derive(results(*rows), VOCABULARY)
    assert frame.schema == pl.Schema(FRACTIONS)
    return frame.filter(pl.col("aglycone") == aglycone).to_dicts()


def ends(row: dict[str, Any], name: str) -> tuple[float | None, float | None]:
    return row[f"{name}_lower"], row[f"{name}_upper"]


def wine(name: str) -> list[dict[str, Any]]:
    [row] = [row for row in WINES["wines"] if row[0] == name]
    rows = []
    for analyte, printed in zip(WINES["columns"], row[1:], strict=True):
        limit = WINES["loq_of"].get(analyte, WINES["loq"])
        form = "bound" if analyte.endswith("oside") else "free"
        value = f"<{limit}" if printed == "<LoQ" else printed
        rows.append(found(analyte, form, value, sample_id=name))
    return rows


@pytest.mark.parametrize("name", WINES["expected"]["bound_fraction"])
def test_published_wines(name: str) -> None:
    [panel] = fractions(*wine(name))
    assert ends(panel, "bound_fraction") == pytest.approx(
        tuple(WINES["expected"]["bound_fraction"][name]),
        abs=WINES["expected"]["fraction_tolerance"],
    )
    assert (panel["bound_basis"], panel["unit"]) == ("glycosides", "nmol/L")


def test_phenol_stays_out_where_free_phenol_was_not_measured() -> None:
    frame = derive(results(*wine("shiraz I")), VOCABULARY)
    assert set(frame["aglycone"]) == {
        "panel", "guaiacol", "4-methylguaiacol", "cresols", "syringol", "4-methylsyringol",
    }  # fmt: skip


def test_molar_amounts_of_a_glycoside() -> None:
    case = WORKED["molar"]
    [row] = fractions(
        found("guaiacol", "free", case["free"]),
        found("guaiacol rutinoside", "bound", case["glycoside"], method="LC"),
        aglycone="guaiacol",
    )
    assert row["free_lower"] == pytest.approx(case["free_nmol"], abs=case["tolerance"])
    assert row["bound_upper"] == pytest.approx(case["bound_nmol"], abs=case["tolerance"])
    assert row["bound_fraction_lower"] == pytest.approx(case["fraction"], abs=case["tolerance"])
    assert (row["free_method"], row["bound_method"]) == ("GC", "LC")
    assert row["cells"] == "a.xlsx|Sheet1!C0; a.xlsx|Sheet1!C1"


@pytest.mark.parametrize("when", ["before", "after"])
def test_selective_treatment_raises_the_fraction(when: str) -> None:
    case = WORKED["selective_treatment"]
    [row] = fractions(
        found("guaiacol", "free", case[when]["free"]),
        found("guaiacol", "total", case[when]["free"] + case[when]["bound"]),
    )
    assert row["bound_basis"] == "total minus free"
    assert row["bound_fraction_lower"] == pytest.approx(
        case[when]["fraction"], abs=case["tolerance"]
    )


def test_each_basis_is_a_row_of_its_own() -> None:
    rows = fractions(
        found("guaiacol", "free", 10),
        found("guaiacol", "total", 30),
        found("guaiacol", "bound", 15),
        found("guaiacol rutinoside", "bound", 40, expressed_as="guaiacol rutinoside"),
        found("guaiacol glucoside", "bound", 12, expressed_as="syringol gentiobioside"),
    )
    assert [row["bound_basis"] for row in rows] == [
        "glycosides", "glycosides as equivalents", "reported bound", "total minus free",
    ]  # fmt: skip
    # 12 ug/L of equivalents of 478.447 g/mol are 25.081 nmol/L.
    assert [row["bound_lower"] for row in rows] == pytest.approx(
        [92.502, 25.081, 15000 / 124.139, 20000 / 124.139], abs=0.001
    )


def test_sugars_of_one_aglycone_are_summed() -> None:
    [row] = fractions(
        found("guaiacol", "free", 10),
        found("guaiacol rutinoside", "bound", 43.2422),
        found("guaiacol glucoside", "bound", "<28.628"),
        aglycone="guaiacol",
    )
    # 100 nmol/L of one and up to 100 nmol/L of the other.
    assert ends(row, "bound") == pytest.approx((100.0, 200.0))


@pytest.mark.parametrize(
    ("free", "expected"),
    [
        ([("o-cresol", 2), ("m-cresol", 3), ("p-cresol", 5)], 10.0),
        ([("o-cresol", 2), ("m+p-cresol", 7)], 9.0),
        ([("cresols", 8)], 8.0),
        ([("o-cresol", 2), ("m-cresol", 3), ("m+p-cresol", 7)], 9.0),
        ([("o-cresol", 2), ("m-cresol", 3)], None),
        ([("m+p-cresol", 7)], None),
    ],
)
def test_cresols_pair_as_a_group_only_when_all_are_known(
    free: list[tuple[str, float]], expected: float | None
) -> None:
    rows = fractions(
        *(found(name, "free", value) for name, value in free),
        found("cresol rutinoside", "bound", 10),
        aglycone="cresols",
    )
    [row] = rows
    if expected is None:
        assert ends(row, "free") == ends(row, "bound_fraction") == (None, None)
    else:
        assert row["free_lower"] * GRAMS["cresols"] / 1000 == pytest.approx(expected)


def test_a_single_cresol_glycoside_does_not_stand_for_the_group() -> None:
    free = [found(f"{x}-cresol", "free", 1) for x in "omp"]
    [row] = fractions(*free, found("o-cresol glucoside", "bound", 5), aglycone="cresols")
    assert ends(row, "free") == pytest.approx((3000 / 108.140, 3000 / 108.140))
    assert ends(row, "bound") == ends(row, "bound_fraction") == (None, None)


def test_totals_of_some_isomers_are_no_total_of_the_group() -> None:
    free = [found("guaiacol", "free", 10), found("cresols", "free", 6)]
    totals = {"guaiacol": 30, "o-cresol": 4, "m-cresol": 5}
    rows = free + [found(name, "total", value) for name, value in totals.items()]
    [row] = fractions(*rows, aglycone="cresols")
    assert row["free_upper"] == pytest.approx(6000 / 108.140)
    assert ends(row, "bound") == ends(row, "bound_fraction") == (None, None)
    assert row["cells"].count("|") == 3
    [panel] = fractions(*rows)
    assert ends(panel, "bound_fraction") == pytest.approx((2 / 3, 2 / 3))


def test_free_above_the_calibration_leaves_the_fraction_a_lower_end_of_nothing() -> None:
    rows = [found("guaiacol", "free", 100) | {"upper": None}, found("guaiacol", "total", 150)]
    for aglycone in ("guaiacol", "panel"):
        [row] = fractions(*rows, aglycone=aglycone)
        assert ends(row, "bound_fraction") == pytest.approx((0.0, 1 / 3))


@pytest.mark.parametrize(
    "other",
    [{"sample_id": "S2"}, {"lab": "Other Bench"}, {"unit": "ug/kg"},
     {"lab": None, "report_id": "r2"}, {"dose": 20.0}, {"lot": "L2"}, {"stage": "bottled"},
     {"sampled_on": date(2026, 5, 1)}],
    ids=str,
)  # fmt: skip
def test_free_and_bound_of_different_samples_never_pair(other: dict[str, Any]) -> None:
    assert fractions(found("guaiacol", "free", 10), found("guaiacol", "total", 30, **other)) == []


def test_one_incomplete_sugar_leaves_the_whole_group_unknown() -> None:
    free = [found(f"{x}-cresol", "free", 1) for x in "omp"]
    whole = found("cresol rutinoside", "bound", 5)
    part = found("o-cresol glucoside", "bound", 5)
    [row] = fractions(*free, whole, aglycone="cresols")
    assert row["bound_lower"] > 0
    [row] = fractions(*free, whole, part, aglycone="cresols")
    assert ends(row, "bound") == (None, None)


def test_an_unknown_laboratory_pairs_within_one_report() -> None:
    rows = [found("guaiacol", "free", 10), found("guaiacol", "total", 30)]
    [inside] = fractions(*({**row, "lab": None} for row in rows))
    assert inside["lab"] is None
    split = [{**rows[0], "lab": None}, {**rows[1], "lab": None, "report_id": "r2"}]
    assert fractions(*split) == []


def test_only_the_latest_analysis_is_paired() -> None:
    [row] = fractions(
        found("guaiacol", "free", 10, analysed_on=date(2026, 1, 3)),
        found("guaiacol", "free", 12, analysed_on=date(2026, 1, 9), report_id="r2"),
        found("guaiacol", "total", 30),
    )
    assert row["free_upper"] == pytest.approx(12000 / 124.139)


def test_grapes_have_their_own_unit() -> None:
    [row] = fractions(
        found("guaiacol", "free", 10, unit="ug/kg", matrix="grape"),
        found("guaiacol", "total", 30, unit="ug/kg", matrix="grape"),
    )
    assert row["unit"] == "nmol/kg"


# By hand: sqrt(0.3^2 + 0.4^2) = 0.5 ug/L, expanded 1.0 ug/L = 8.055 nmol/L.
@pytest.mark.parametrize(
    ("stated", "upper"), [((0.3, 0.4), 8.0555), ((0.3, None), None), ((None, None), None)]
)
def test_total_below_free_has_an_upper_end_only_from_a_stated_uncertainty(
    stated: tuple[float | None, float | None], upper: float | None
) -> None:
    total, free = stated
    [row] = fractions(
        found("guaiacol", "total", 6.12, standard_uncertainty=total),
        found("guaiacol", "free", 7.36, standard_uncertainty=free),
        aglycone="guaiacol",
    )
    assert row["bound_lower"] == 0.0
    assert row["bound_upper"] == (None if upper is None else pytest.approx(upper, abs=0.001))
    assert (row["bound_fraction_upper"] is None) == (upper is None)


def test_an_open_member_opens_the_panel() -> None:
    [panel] = fractions(
        found("guaiacol", "total", 6.12), found("guaiacol", "free", 7.36),
        found("syringol", "total", 20), found("syringol", "free", 10),
    )  # fmt: skip
    assert panel["bound_upper"] is None
    assert panel["bound_lower"] == pytest.approx(10000 / 154.165)


# Design section 2: a held value is stored nowhere, and a glycoside that is there is not zero.
GLYCOSIDES = [
    found("guaiacol", "free", 10, lab_sample_id="A-17"),
    found("guaiacol rutinoside", "bound", 43.2422),
    found("syringol", "free", 15.4165), found("syringol gentiobioside", "bound", 47.8447),
]  # fmt: skip


def with_held(
    raw_analyte: str | None, *rows: dict[str, Any], lab: str | None = BASE["lab"], **more: Any
) -> list[dict[str, Any]]:
    told = {"report_id": "r1", "raw_sample": "S1", "raw_analyte": raw_analyte, "status": "open",
            "is_current": True} | more  # fmt: skip
    texts = {"raw_analyte": pl.String, "raw_sample": pl.String}
    held = pl.DataFrame([told], schema_overrides=texts)
    reports = pl.DataFrame(
        {"report_id": ["r1", "r2"], "lab": [lab, lab]}, schema_overrides={"lab": pl.String}
    )
    withheld = name_withheld(held, reports, Names(VOCABULARY))
    return derive(results(*(rows or GLYCOSIDES)), VOCABULARY, withheld=withheld).to_dicts()


@pytest.mark.parametrize(
    "held",
    [{}, {"raw_sample": "A-17"}, {"report_id": "r2"}, {"status": "asked"},
     {"raw_analyte": "Guaiacol gentiobioside (µg/L)"}],
    ids=str,
)  # fmt: skip
def test_a_glycoside_held_back_leaves_its_sum_without_an_upper_end(held: dict[str, Any]) -> None:
    found_rows = {
        r["aglycone"]: r for r in with_held(**{"raw_analyte": "guaiacol glucoside"} | held)
    }
    assert ends(found_rows["guaiacol"], "bound") == (pytest.approx(100.0), None)
    assert found_rows["guaiacol"]["bound_fraction_upper"] is None
    assert ends(found_rows["panel"], "bound") == (pytest.approx(200.0), None)
    assert ends(found_rows["syringol"], "bound") == pytest.approx((100.0, 100.0), abs=0.001)


@pytest.mark.parametrize(
    "held",
    [{"raw_sample": "S2"}, {"raw_sample": None}, {"status": "dismissed"}, {"status": "corrected"},
     {"is_current": False}, {"raw_analyte": "Guaiacol rutinoside"}, {"raw_analyte": "Guaiacol"},
     {"raw_analyte": "flavour"}, {"raw_analyte": None}, {"raw_analyte": "eugenol glucoside"},
     {"lab": "Other Bench"}],
    ids=str,
)  # fmt: skip
def test_what_is_held_elsewhere_or_otherwise_known_leaves_the_sum(held: dict[str, Any]) -> None:
    found_rows = with_held(**{"raw_analyte": "guaiacol glucoside"} | held)
    [panel] = [row for row in found_rows if row["aglycone"] == "panel"]
    assert ends(panel, "bound") == pytest.approx((200.0, 200.0), abs=0.001)


def test_a_held_glycoside_of_the_isomers_opens_their_group_but_no_other_basis() -> None:
    free = [found(f"{x}-cresol", "free", 1) for x in "omp"]
    rows = [*free, found("cresol rutinoside", "bound", 5), found("cresols", "total", 9)]
    by_basis = {
        row["bound_basis"]: row["bound_upper"]
        for row in with_held("p-cresol glucoside", *rows)
        if row["aglycone"] == "cresols"
    }
    assert by_basis == {"glycosides": None, "total minus free": pytest.approx(6000 / 108.140)}


def test_in_reports_of_unknown_laboratories_only_the_same_report_counts() -> None:
    rows = [{**row, "lab": None} for row in GLYCOSIDES]
    for report_id, upper in (("r1", None), ("r2", pytest.approx(200.0, abs=0.001))):
        found_rows = with_held("guaiacol glucoside", *rows, lab=None, report_id=report_id)
        [panel] = [row for row in found_rows if row["aglycone"] == "panel"]
        assert panel["bound_upper"] == upper


def test_yeast_and_wood_markers_stay_out_of_the_panel() -> None:
    rows = [found("4-ethylphenol", "free", 100), found("4-ethylphenol", "total", 300)]
    assert fractions(*rows) == []
    assert len(fractions(*rows, aglycone="4-ethylphenol")) == 1


def test_every_sample_kind_is_derived() -> None:
    rows = [found("guaiacol", "free", 10), found("guaiacol", "total", 30)]
    [row] = fractions(*({**row, "sample_kind": "bench treated"} for row in rows))
    assert row["sample_kind"] == "bench treated"


def test_no_results_give_no_fractions() -> None:
    assert derive(results(), VOCABULARY).schema == pl.Schema(FRACTIONS)


def test_the_order_of_results_does_not_matter() -> None:
    rows = [row for name in ("shiraz I", "chardonnay G") for row in wine(name)]
    frame = results(*rows)
    assert derive(frame.reverse(), VOCABULARY).equals(derive(frame, VOCABULARY))


# Sums of panels


def panels(*rows: dict[str, Any], panel: str = "smoke") -> list[dict[str, Any]]:
    fractions, sums = derive_all(analyse(results(*rows), VOCABULARY))
    assert sums.schema == pl.Schema(PANELS)
    assert fractions.equals(derive(results(*rows), VOCABULARY))
    return sums.filter(pl.col("panel") == panel).to_dicts()


# Molar masses from the formulas with C 12.011, H 1.008, O 15.999.
YEAST = {"4-ethylphenol": 122.167, "4-ethylguaiacol": 152.193, "4-vinylphenol": 120.151,
         "4-vinylguaiacol": 150.177}  # fmt: skip
USUAL = ("guaiacol", "4-methylguaiacol", "cresols", "syringol", "4-methylsyringol")


def test_lower_middle_and_upper_bound_of_a_sum() -> None:
    case = SUMMED["example"]
    rows = []
    for (name, mass), printed in zip(YEAST.items(), case["members"], strict=True):
        sign, size = ("<", printed[1:]) if isinstance(printed, str) else ("", printed)
        rows.append(found(name, "free", f"{sign}{float(size) * mass / 1000!r}"))
    [row] = panels(*rows, panel="yeast")
    bounds = [row[name] for name in ("lower", "middle", "upper")]
    assert bounds == pytest.approx([case[name] for name in ("lower", "middle", "upper")], rel=1e-5)
    assert (row["n_members"], row["n_missing"], row["n_censored"]) == (4, 0, 2)
    assert (row["limit_driven"], row["unit"], row["basis"]) == (False, "nmol/L", "free")
    assert (row["upper"] - row["lower"]) / row["upper"] == pytest.approx(case["spread"], abs=5e-4)


def test_a_trace_counts_with_its_limit_of_detection() -> None:
    # [1, 3] of 124.139 g/mol beside exact members: lower 8.0555, upper 24.1664 nmol/L more.
    exact = [found(name, "free", 10.0) for name in USUAL[1:]]
    [plain] = panels(*exact, {**found("guaiacol", "free", 0.0)})
    [trace] = panels(*exact, {**found("guaiacol", "free", 0.0), "lower": 1.0, "upper": 3.0})
    assert trace["lower"] - plain["lower"] == pytest.approx(8.0555, abs=1e-3)
    assert trace["upper"] - plain["upper"] == pytest.approx(24.1664, abs=1e-3)


@pytest.mark.parametrize("left_out", USUAL)
def test_a_required_member_that_is_missing_is_not_zero(left_out: str) -> None:
    rows = [found(name, "free", 10.0) for name in USUAL if name != left_out]
    [row] = panels(*rows)
    assert (row["lower"], row["middle"], row["upper"], row["limit_driven"]) == (None,) * 4
    assert left_out in row["missing"].split(", ")
    assert (row["n_members"], row["n_missing"]) == (4, 2)


def test_a_group_of_isomers_counts_only_whole() -> None:
    others = [found(name, "free", 10.0) for name in USUAL if name != "cresols"]
    [part] = panels(*others, found("o-cresol", "free", 1.0))
    assert (part["lower"], part["missing"]) == (None, "cresols, phenol")
    [whole] = panels(*others, found("o-cresol", "free", 1.0), found("m+p-cresol", "free", 2.0))
    assert whole["missing"] == "phenol"
    assert whole["lower"] == pytest.approx(
        10_000 / 124.139 + 10_000 / 138.166 + 10_000 / 154.165 + 10_000 / 168.192 + 3000 / 108.140
    )


def test_a_sum_of_limits_says_so_and_totals_stay_apart() -> None:
    rows = [found(name, form, value) for name in USUAL
            for form, value in (("free", "<10"), ("total", 10.0))]  # fmt: skip
    told = {row["basis"]: row for row in panels(*rows)}
    assert (told["free"]["limit_driven"], told["free"]["n_censored"]) == (True, 5)
    assert (told["total"]["limit_driven"], told["total"]["n_censored"]) == (False, 0)


def test_bounds_just_a_fifth_apart_do_not_exceed_it() -> None:
    # (upper - lower) / upper shall not exceed 20 % (Regulation (EU) 2017/644, Annex III, 6.1): 1 of 5.
    rows = [{**found(name, "free", 5.0), "lower": 4.0} for name in USUAL]
    [row] = panels(*rows)
    assert row["limit_driven"] is False
    [row] = panels(*rows[:-1], {**found("4-methylsyringol", "free", 5.0), "lower": 3.9})
    assert row["limit_driven"] is True


def test_a_member_without_upper_end_leaves_the_sum_open() -> None:
    rows = [found(name, "free", 10.0) for name in USUAL[1:]]
    [row] = panels(*rows, {**found("guaiacol", "free", 5.0), "upper": None})
    assert row["lower"] is not None
    assert (row["middle"], row["upper"], row["limit_driven"]) == (None, None, None)
