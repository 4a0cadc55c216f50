"""Published tables, laid out as laboratory workbooks, from the file to the flags."""

from __future__ import annotations

import io
import tomllib
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest

from pipeline.flows import Workplace, load
from pipeline.settings import load_settings
from pipeline.store import Store

REFERENCE = Path(__file__).parent / "reference"
WINES = tomllib.loads((REFERENCE / "wines_2022.toml").read_text(encoding="utf-8"))
STUBBLE = tomllib.loads((REFERENCE / "stubble_smoke_2023.toml").read_text(encoding="utf-8"))
SHORT = "SyGG MSyGG PhRG GuRG CrRG MGuRG MGu Gu oCr pCr mCr Sy MSy".split()  # noqa: SIM905


def _number(text: str) -> str | float:
    return float(text) if text.replace(".", "").isdigit() else text


def wines_workbook(*, matrix: bool) -> bytes:
    """Lay the table of 23 wines out as a laboratory would, with sample numbers and a limit row."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Table 4"
    sheet.append(["Phenolic compounds in wines, µg/L"])
    sheet.append([])
    stub = ["Sample no.", "Cultivar", "Vineyard"] + (["Matrix"] if matrix else [])
    panels = [*[None] * len(stub), "Phenolic glycosides", *[None] * 5, "Free volatile phenols"]
    sheet.append(panels)
    sheet.append(stub + SHORT)
    limits = [WINES["loq_of"].get(name, WINES["loq"]) for name in WINES["columns"]]
    sheet.append(["LoQ", *[None] * (len(stub) - 1), *limits])
    for number, (name, *values) in enumerate(WINES["wines"], start=1):
        cultivar, vineyard = name.rsplit(" ", 1)
        kind = [WINES["matrix"][cultivar]] if matrix else []
        sheet.append([f"W{number:02d}", cultivar, vineyard, *kind, *map(_number, values)])
    first = len(stub) + 1
    sheet.merge_cells(start_row=3, end_row=3, start_column=first, end_column=first + 5)
    sheet.merge_cells(start_row=3, end_row=3, start_column=first + 6, end_column=first + 12)
    return _saved(book)


def stubble_workbook(*, limits: bool, title: str = "mean ± SD (n = 3)") -> bytes:
    """Lay the mixed table of grapes and wines out with sample numbers, and a limit row or none."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append([f"Free volatile phenols, {title}; n.d = not detected"])
    sheet.append([])
    sheet.append(["Sample no.", "Matrix", "Unit", "Treatment", *STUBBLE["columns"]])
    if limits:
        sheet.append(["LOD", None, None, None, *[STUBBLE["assumed_lod"]] * 7])
    for number, row in enumerate(STUBBLE["rows"], start=1):
        sheet.append([f"S{number:02d}", *row])
    return _saved(book)


def _saved(book: openpyxl.Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def loaded(folder: Path, content: bytes, settings: str = "") -> dict[str, pl.DataFrame]:
    """Load one workbook into a new store and return its views."""
    (folder / "report.xlsx").write_bytes(content)
    config = folder / "cinderlot.toml"
    config.write_text(settings, encoding="utf-8")
    place = Workplace(folder / "store.duckdb", load_settings(config))
    summary = load([folder / "report.xlsx"], place, lambda *_: None)
    assert summary.count("refused") == 0, summary.files
    with Store(place.store, read_only=True) as store:
        names = ("results", "held", "reports", "fractions", "flags")
        return {name: getattr(store, name)() for name in names}


def above(flags: pl.DataFrame, kind: str) -> pl.DataFrame:
    return flags.filter(kind=kind, decision="above", status="current")


@pytest.fixture(scope="module", params=[True, False], ids=["with matrix", "colour from variety"])
def wines(request: pytest.FixtureRequest, tmp_path_factory: Any) -> dict[str, pl.DataFrame]:
    content = wines_workbook(matrix=request.param)
    return loaded(tmp_path_factory.mktemp("wines"), content, "[decision]\nconfidence = 0.5\n")


def _wine(sample: str) -> str:
    return str(WINES["wines"][int(sample[1:]) - 1][0])


def test_eight_wines_are_above_by_guaiacol_only(wines: dict[str, pl.DataFrame]) -> None:
    # AJGWR 2022, article 9820204, Table 4, against Parker et al. 2012 and Boidron et al. 1988
    found = above(wines["flags"], "over_threshold")
    assert sorted(map(_wine, found["sample_id"])) == sorted(WINES["expected"]["above_threshold"])
    assert set(found["analyte"]) == {WINES["expected"]["only_analyte_above"]}


def test_the_sum_of_odour_activities_adds_one_wine(wines: dict[str, pl.DataFrame]) -> None:
    single = set(map(_wine, above(wines["flags"], "over_threshold")["sample_id"]))
    summed = set(map(_wine, above(wines["flags"], "odour_activity")["sample_id"]))
    assert sorted(summed - single) == WINES["expected"]["above_odour_sum_only"]
    assert single <= summed


def test_near_the_threshold_the_default_confidence_decides_nothing(tmp_path: Path) -> None:
    # Pinot noir C (26 against 23) and Shiraz D (21), with the usual scatter between laboratories
    flags = loaded(tmp_path, wines_workbook(matrix=True))["flags"]
    guaiacol = flags.filter(kind="over_threshold", analyte="guaiacol", status="current")
    told = {_wine(row["sample_id"]): row for row in guaiacol.to_dicts()}
    near = {name: told[name] for name in WINES["expected"]["undecided_with_uncertainty"]}
    assert sorted(near) == ["pinot noir C", "shiraz D"]
    for row in near.values():
        assert (row["decision"], row["reason"]) == ("undecided", "within_uncertainty")
        assert row["uncertainty_source"] == "default (Horwitz-Thompson)"
    assert [(near[n]["upper"], near[n]["threshold"]) for n in sorted(near)] == [(26, 23), (21, 23)]


def test_the_plain_number_decides_at_one_half_whether_or_not_scatter_is_assumed(
    wines: dict[str, pl.DataFrame], tmp_path: Path
) -> None:
    settings = "[decision]\nconfidence = 0.5\nassume_uncertainty = false\n"
    plain = loaded(tmp_path, wines_workbook(matrix=True), settings)["flags"]
    key = ["sample_id", "kind", "analyte", "form", "status", "decision", "reason"]
    judged = [
        f.filter(pl.col("kind") != "bound_growth").select(key) for f in (plain, wines["flags"])
    ]
    assert judged[0].sort(key).equals(judged[1].sort(key))


def test_molar_bound_fractions_of_the_panel(wines: dict[str, pl.DataFrame]) -> None:
    panel = wines["fractions"].filter(aglycone="panel")
    for name, expected in WINES["expected"]["bound_fraction"].items():
        row = panel.filter(pl.col("sample_id").map_elements(_wine, return_dtype=pl.String) == name)
        got = row.select("bound_fraction_lower", "bound_fraction_upper").row(0)
        assert got == pytest.approx(expected, abs=WINES["expected"]["fraction_tolerance"])


def background(flags: pl.DataFrame, decision: str, wine: str) -> list[str]:
    found = flags.filter(kind="above_background", decision=decision, status="current")
    return sorted(r["analyte"] for r in found.to_dicts() if _wine(r["sample_id"]) == wine)


@pytest.mark.parametrize("wine", WINES["expected_background"]["above"])
def test_markers_above_the_published_background(wines: dict[str, pl.DataFrame], wine: str) -> None:
    # AJGWR 2022, article 9820204, Table 4: rows of unexposed wines beside the exposed ones
    expected = WINES["expected_background"]
    assert background(wines["flags"], "above", wine) == expected["above"][wine]
    for name in expected["undecided"].get(wine, ()):
        assert name in background(wines["flags"], "undecided", wine)


def test_what_a_limit_above_the_background_leaves_open(wines: dict[str, pl.DataFrame]) -> None:
    expected = WINES["expected_background"]["undecided"]
    for wine, names in expected.items():
        assert background(wines["flags"], "undecided", wine) == names
        told = wines["flags"].filter(kind="above_background", decision="undecided")
        reasons = {r["reason"] for r in told.to_dicts() if _wine(r["sample_id"]) == wine}
        assert reasons == {"limit_above_background"}


def test_the_wine_with_six_glycosides_has_no_free_phenol_above(
    wines: dict[str, pl.DataFrame],
) -> None:
    found = wines["flags"].filter(kind="above_background", decision="above", status="current")
    forms = [r["form"] for r in found.to_dicts() if _wine(r["sample_id"]) == "chardonnay C"]
    assert forms == ["bound"] * 6


def test_background_speaks_of_exposure_and_never_of_a_threshold(
    wines: dict[str, pl.DataFrame],
) -> None:
    said = wines["flags"].filter(kind="above_background")
    assert not said["message"].str.contains("threshold").any()
    assert "act" not in said["severity"].to_list()
    assert (
        not wines["flags"].filter(kind="over_threshold")["message"].str.contains("background").any()
    )


def test_every_cell_of_the_wines_is_a_result(wines: dict[str, pl.DataFrame]) -> None:
    report = wines["reports"].row(0, named=True)
    assert (report["n_values"], report["n_results"]) == (23 * 13, 23 * 13)
    below = wines["results"].filter(raw_value="<LoQ")
    printed = sum(row.count("<LoQ") for row in WINES["wines"])
    assert below.height == printed
    assert below["lower"].unique().to_list() == [0.0]
    assert set(below.filter(analyte="syringol", form="free")["upper"]) == {2.0}


def test_grapes_and_wines_of_one_table_are_never_pooled(tmp_path: Path) -> None:
    views = loaded(tmp_path, stubble_workbook(limits=True))
    results = views["results"]
    assert results.height == STUBBLE["expected"]["cells"]
    assert results.filter(censoring="left").height == STUBBLE["expected"]["not_detected"]
    assert set(results.filter(matrix="grape")["unit"]) == {"ug/kg"}
    assert set(results.filter(unit="ug/kg")["matrix"]) == {"grape"}
    assert results.filter(unit="ug/L").height == 49
    assert set(views["flags"].filter(kind="over_threshold")["unit"]) <= {"ug/kg", "ug/L"}


def test_value_deviation_and_letter_of_one_cell(tmp_path: Path) -> None:
    results = loaded(tmp_path, stubble_workbook(limits=True))["results"]
    cell = results.filter(raw_value="3.7 ± 0.58 a", matrix="grape").row(0, named=True)
    assert (cell["analyte"], cell["form"], cell["value"]) == ("guaiacol", "free", 3.7)
    assert cell["standard_uncertainty"] == 0.58  # the title says SD
    assert cell["expanded_uncertainty"] is None
    assert "a" in cell["qualifier"].split("; ")


def test_a_plus_minus_that_nobody_explains_is_said_to_be_unknown(tmp_path: Path) -> None:
    content = stubble_workbook(limits=True, title="triplicates")
    cell = loaded(tmp_path, content)["results"].filter(raw_value="3.7 ± 0.58 a", matrix="grape")
    assert cell["standard_uncertainty"].to_list() == [None]
    assert cell["uncertainty_source"].to_list() == ["printed, kind unknown"]


def test_without_limits_every_not_detected_is_held(tmp_path: Path) -> None:
    views = loaded(tmp_path, stubble_workbook(limits=False))
    held = views["held"]
    assert held.height == STUBBLE["expected"]["not_detected"]
    assert set(held["reason_code"]) == {"limit_unknown"}
    assert set(held["raw_value"]) == {"n.d"}
    assert views["reports"]["n_results"].item() == 98 - STUBBLE["expected"]["not_detected"]
