"""Trends: never pooled over laboratories, censored values kept as intervals."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest

from pipeline.errors import WrongUse
from pipeline.trends import draw_trend, mixes_laboratories, resolve_analyte, trend, write_trend
from schemas.frames import RESULTS
from schemas.vocabulary import load_vocabulary

DAY = date(2026, 2, 23)


def result(sample: str, lower: float, upper: float | None, **more: Any) -> dict[str, Any]:
    row = dict.fromkeys(RESULTS)
    row |= {
        "sample_id": sample, "sample_kind": "lot", "lot": sample, "lab": "A", "method": "GC",
        "matrix": "red wine", "unit": "ug/L", "analyte": "guaiacol", "form": "free",
        "vineyard": "Hawkanner", "lower": lower, "upper": upper, "sampled_on": DAY,
    }  # fmt: skip
    return row | more


def results(*rows: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame(list(rows), schema=RESULTS)


def test_censored_median_is_an_interval() -> None:
    # By hand: lowers 0, 0, 8 -> 0; uppers 1, 2, 8 -> 2; extremes 0..1 and 8..8.
    table = trend(
        results(result("a", 0, 1), result("b", 0, 2), result("c", 8, 8)), "guaiacol", "vineyard"
    )
    row = table.row(0, named=True)
    assert (row["n"], row["n_censored"]) == (3, 2)
    assert row["share_censored"] == pytest.approx(2 / 3)
    assert (row["median_lower"], row["median_upper"]) == (0, 2)
    assert (row["minimum_lower"], row["minimum_upper"]) == (0, 1)
    assert (row["maximum_lower"], row["maximum_upper"]) == (8, 8)


def test_no_upper_bound_stays_open() -> None:
    table = trend(results(result("a", 50, None), result("b", 4, 4)), "guaiacol", "vineyard")
    row = table.row(0, named=True)
    assert (row["maximum_lower"], row["maximum_upper"]) == (50, None)
    assert (row["minimum_lower"], row["minimum_upper"]) == (4, 4)
    assert (row["median_lower"], row["median_upper"]) == (27, None)


@pytest.mark.parametrize(
    ("column", "other"),
    [
        ("lab", "B"),
        ("method", "LC"),
        ("matrix", "white wine"),
        ("unit", "ug/kg"),
        ("form", "total"),
        ("expressed_as", "syringol gentiobioside"),
    ],
)
def test_never_pooled_over(column: str, other: str) -> None:
    table = trend(
        results(result("a", 2, 2), result("b", 9, 9, **{column: other})), "guaiacol", "vineyard"
    )
    assert table["n"].to_list() == [1, 1]
    assert sorted(table["median_lower"]) == [2, 9]


def test_by_lab_and_unknown_lab_stand_apart() -> None:
    table = trend(results(result("a", 2, 2), result("b", 9, 9, lab=None)), "guaiacol", "lab")
    assert table["by"].to_list() == ["A", None]


def test_stages_stand_in_the_order_of_a_lots_life() -> None:
    stages = ["bottled", "must", "end of AF", "harvest"]
    table = trend(
        results(*(result(s, 1, 1, stage=s) for s in stages)), "guaiacol", "stage", form="free"
    )
    assert table["by"].to_list() == ["harvest", "must", "end of AF", "bottled"]


def test_only_the_lots_own_samples() -> None:
    table = trend(
        results(result("a", 2, 2), result("b", 90, 90, sample_kind="bench treated")),
        "guaiacol",
        "vineyard",
    )
    assert table["maximum_upper"].to_list() == [2]


def test_replicates_and_older_analyses_count_once() -> None:
    # By hand: the later analysis counts, its replicates 4 and 6 average to 5.
    table = trend(
        results(
            result("a", 40, 40, analysed_on=date(2026, 2, 25)),
            result("a", 4, 4, replicate="1", analysed_on=date(2026, 3, 2)),
            result("a", 6, 6, replicate="2", analysed_on=date(2026, 3, 2)),
        ),
        "guaiacol",
        "lot",
    )
    assert table.select("n", "median_lower", "median_upper").row(0) == (1, 5, 5)


def test_dates_span_the_samples() -> None:
    table = trend(
        results(result("a", 2, 2, sampled_on=date(2025, 9, 3)), result("b", 2, 2)),
        "guaiacol",
        "lab",
    )
    assert table.select("first_sampled_on", "last_sampled_on").row(0) == (date(2025, 9, 3), DAY)


@pytest.mark.parametrize(
    ("printed", "stored"),
    [("4-MG", "4-methylguaiacol"), ("Guaiacol", "guaiacol"), ("SyGG", "syringol gentiobioside"),
     ("m/p-cresol", "m+p-cresol")],
)  # fmt: skip
def test_spelling_resolves(printed: str, stored: str) -> None:
    assert resolve_analyte(printed, load_vocabulary()) == stored


@pytest.mark.parametrize(
    ("printed", "said"),
    [("guaicol", "did you mean guaiacol"), ("cresol", "which cresol"), ("zzzz", "no analyte")],
)
def test_unknown_analyte_is_explained(printed: str, said: str) -> None:
    with pytest.raises(WrongUse, match=said):
        trend(results(), printed, "lot")


def test_unknown_dimension_and_form_are_explained() -> None:
    with pytest.raises(WrongUse, match="did you mean vineyard"):
        trend(results(), "guaiacol", "vinyard")
    with pytest.raises(WrongUse, match="free, bound, total"):
        trend(results(), "guaiacol", "lot", form="loose")


def test_nothing_measured_is_an_empty_table() -> None:
    assert trend(results(), "guaiacol", "lot").is_empty()


@pytest.mark.parametrize("ending", [".csv", ".parquet", ".xlsx"])
def test_written_by_ending(tmp_path: Path, ending: str) -> None:
    table = trend(results(result("=2+3", 0, 1)), "guaiacol", "lot")
    path = tmp_path / f"trend{ending}"
    write_trend(table, path)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    if ending == ".xlsx":
        cell = openpyxl.load_workbook(path)["trend"]["A2"]
        assert (cell.value, cell.data_type) == ("=2+3", "s")
    else:
        read = pl.read_csv(path) if ending == ".csv" else pl.read_parquet(path)
        assert read["median_upper"].to_list() == [1.0]


def test_other_endings_are_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match=r"\.csv, \.parquet, \.xlsx, \.svg, \.png"):
        write_trend(pl.DataFrame(), tmp_path / "trend.doc")


def test_chart_keeps_laboratories_and_censored_medians_apart() -> None:
    table = trend(
        results(result("a", 0, 2), result("b", 9, 9, lab="B", lot="b")), "guaiacol", "lot"
    )
    panels = draw_trend(table)["vconcat"]
    titles = [panel["title"]["text"] for panel in panels]
    assert titles == ["free guaiacol, red wine, A, GC", "free guaiacol, red wine, B, GC"]
    assert [p["data"]["values"][0]["point"] for p in panels] == [None, 9]
    assert panels[0]["data"]["values"][0]["middle_end"] == 2


@pytest.mark.parametrize(("ending", "starts"), [(".svg", b"<svg"), (".png", b"\x89PNG")])
def test_chart_is_written(tmp_path: Path, ending: str, starts: bytes) -> None:
    write_trend(trend(results(result("a", 0, 1)), "guaiacol", "lot"), tmp_path / f"t{ending}")
    assert (tmp_path / f"t{ending}").read_bytes().startswith(starts)


def test_nothing_to_draw_is_said(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match="nothing to draw"):
        write_trend(trend(results(), "guaiacol", "lot"), tmp_path / "t.svg")
    assert list(tmp_path.iterdir()) == []


def test_method_follows_the_share_below_a_limit() -> None:
    # Helsel (2012): Kaplan-Meier to 50 %, robust ROS to 80 %, counts beyond (from memory)
    def method(n_below: int) -> str:
        rows = [result(f"s{k}", 0, 1) for k in range(n_below)]
        rows += [result(f"d{k}", k + 2, k + 2) for k in range(10 - n_below)]
        return str(trend(results(*rows), "guaiacol", "vineyard")["statistic"].item())

    assert [method(n) for n in (0, 1, 5, 6, 7, 8, 10)] == [
        "all quantified", "Kaplan-Meier", "Kaplan-Meier", "robust ROS", "robust ROS",
        "counts only", "counts only",
    ]  # fmt: skip


def test_a_median_below_the_limits_is_said_so() -> None:
    rows = [result(f"s{k}", 0, 1) for k in range(9)] + [result("d", 7, 7)]
    row = trend(results(*rows), "guaiacol", "vineyard").row(0, named=True)
    assert (row["median_estimate"], row["median_below"]) == (None, 1)
    assert (row["highest_limit"], row["n_over_limit"]) == (1, 1)
    # ranks 2 and 9 of ten values enclose the median with 95 % (Conover 1999, from memory)
    assert (row["median_confidence_lower"], row["median_confidence_upper"]) == (0, 1)


def test_slope_of_a_lot_over_its_days() -> None:
    # By hand: 1 ug/L each 73.05 days is 5 ug/L a year; five values in order: p = 2 / 5!.
    days = [date(2025, 1, 1), date(2025, 3, 15), date(2025, 5, 27), date(2025, 8, 8),
            date(2025, 10, 20)]  # fmt: skip
    rows = [result(f"s{k}", k, k, lot="L", sampled_on=day) for k, day in enumerate(days)]
    row = trend(results(*rows), "guaiacol", "lot").row(0, named=True)
    assert row["slope"] == pytest.approx(5, rel=0.01)
    assert (row["slope_n"], row["slope_note"]) == (5, None)
    assert row["slope_p"] == pytest.approx(2 / 120)


def test_slope_over_vintages_is_that_of_their_medians() -> None:
    # By hand: medians 1, 2, 3, 4, 5 in five vintages; each row of the laboratory carries it.
    rows = [
        result(f"{vintage}-{k}", vintage - 2020 + k, vintage - 2020 + k, vintage=vintage)
        for vintage in range(2021, 2026) for k in (-1, 0, 1)
    ]  # fmt: skip
    table = trend(results(*rows, result("x", 1, 1, lab="B", vintage=2021)), "guaiacol", "vintage")
    assert table.filter(lab="A")["slope"].to_list() == [1] * 5
    assert table.filter(lab="B")["slope_note"].to_list() == ["1 of at least 5 values with a time"]


def test_too_few_values_and_other_groupings_say_why_there_is_no_slope() -> None:
    rows = [result(f"s{k}", k, k, lot="L") for k in range(4)]
    assert trend(results(*rows), "guaiacol", "lot")["slope_note"].to_list() == [
        "4 of at least 5 values with a time"
    ]
    note = trend(results(*rows), "guaiacol", "vineyard")["slope_note"].item()
    assert "by lot or vintage" in note


def test_samples_without_a_lot_are_no_lot_with_a_slope() -> None:
    rows = [result(f"s{k}", k, k, lot=None, sampled_on=date(2025, 1, 1 + k)) for k in range(8)]
    row = trend(results(*rows), "guaiacol", "lot").row(0, named=True)
    assert (row["slope"], row["slope_note"]) == (None, "0 of at least 5 values with a time")


def test_rows_of_several_laboratories_are_told() -> None:
    two = trend(results(result("a", 2, 2), result("b", 9, 9, lab="B")), "guaiacol", "vineyard")
    assert mixes_laboratories(two)
    assert not mixes_laboratories(two.filter(lab="A"))
