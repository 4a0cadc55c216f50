"""Trends: never pooled over laboratories, censored values kept as intervals."""

from __future__ import annotations

import re
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest

from pipeline.errors import WrongUse
from pipeline.flows import Workplace, load
from pipeline.settings import Settings
from pipeline.store import Store
from pipeline.trends import (
    Choice,
    Heading,
    choose_results,
    draw_trend,
    mixes_laboratories,
    pools,
    resolve_analyte,
    trend,
    write_trend,
)  # fmt: skip
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
    with pytest.raises(WrongUse, match=r"\.csv, \.parquet, \.xlsx, \.svg, \.png, \.html"):
        write_trend(pl.DataFrame(), tmp_path / "trend.doc")


def drawn(panel: dict[str, Any], mark: str, field: str) -> list[Any]:
    """Give one field of the rows that a layer of a panel draws with a mark."""
    return [
        row[field]
        for layer in panel["layer"]
        if layer["mark"]["type"] == mark and layer["encoding"].get("x", {}).get("field") == field
        for row in layer["data"]["values"]
    ]


def test_chart_keeps_laboratories_and_censored_medians_apart() -> None:
    table = trend(
        results(result("a", 0, 2), result("b", 9, 9, lab="B", lot="b")), "guaiacol", "lot"
    )
    first, second, _ = draw_trend(table)["vconcat"]
    titles = [[*p["title"]["text"], *p["title"]["subtitle"]] for p in (first, second)]
    assert titles == [
        ["free guaiacol, red wine", "A, GC, µg/L"], ["free guaiacol, red wine", "B, GC, µg/L"],
    ]  # fmt: skip
    assert drawn(first, "point", "point") == []
    assert drawn(first, "bar", "middle_low") == [0]
    assert drawn(second, "point", "point") == [9]
    assert drawn(second, "bar", "middle_low") == []


def test_open_end_is_an_arrow_and_no_point() -> None:
    table = trend(results(result("a", 50, None)), "guaiacol", "lot")
    panel = draw_trend(table)["vconcat"][0]
    assert drawn(panel, "point", "point") == []
    assert len(drawn(panel, "point", "open")) == 1


@pytest.mark.parametrize(
    ("ends", "said"),
    [((0, 1.5), "< 1.5, n 1, 100 % censored"), ((0.5, 1.5), "0.5-1.5, n 1, 100 % censored"),
     ((50, None), "> 50, n 1, 100 % censored"), ((14.35, 14.35), "14.4, n 1, 0 % censored")],
)  # fmt: skip
def test_chart_says_median_samples_and_share(ends: tuple[float, float | None], said: str) -> None:
    panel = draw_trend(trend(results(result("a", *ends)), "guaiacol", "lot"))["vconcat"][0]
    texts = [
        row["said"] for layer in panel["layer"] for row in layer["data"]["values"]
        if layer["encoding"].get("text") == {"field": "said"}
    ]  # fmt: skip
    assert texts == [said]


@pytest.mark.parametrize(
    ("ending", "starts"), [(".svg", b"<svg"), (".png", b"\x89PNG"), (".html", b"<!DOCTYPE html>")]
)
def test_chart_is_written(tmp_path: Path, ending: str, starts: bytes) -> None:
    write_trend(trend(results(result("a", 0, 1)), "guaiacol", "lot"), tmp_path / f"t{ending}")
    assert (tmp_path / f"t{ending}").read_bytes().startswith(starts)


def test_nothing_to_draw_is_said(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match="nothing to draw"):
        write_trend(trend(results(), "guaiacol", "lot"), tmp_path / "t.svg")
    assert list(tmp_path.iterdir()) == []


def test_method_follows_the_share_below_a_limit() -> None:
    # Kaplan-Meier up to 50 %, robust ROS to 80 %, counts beyond: as the R packages EPATADA and NADA do
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
    # ranks 2 and 9 of ten values enclose the median with 95 % (Conover 1999)
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


class Page(HTMLParser):
    """What a page asks for, and the rows of its tables."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.rows: list[list[str]] = []
        self.is_cell = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = {name: value for name, value in attrs if value}
        self.addresses += [named[n] for n in ("src", "href", "data", "action") if n in named]
        if tag == "link":
            self.addresses.append("link")
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
            self.is_cell = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.is_cell = False

    def handle_data(self, data: str) -> None:
        if self.is_cell:
            self.rows[-1][-1] += data


def page_of(table: pl.DataFrame, folder: Path, heading: Heading | None = None) -> str:
    write_trend(table, folder / "t.html", heading)
    return (folder / "t.html").read_text("utf-8")


def test_page_asks_nobody(tmp_path: Path) -> None:
    text = page_of(trend(results(result("a", 0, 1)), "guaiacol", "lot"), tmp_path)
    assert Page(text).addresses == []
    assert not re.findall(r"\w+://|url\(|@import|fetch\(|XMLHttp|import\(|WebSocket", text)
    # CSP level 3: with default-src 'none' the browser itself refuses whatever would be fetched.
    assert "default-src 'none'" in text


def test_page_has_the_numbers_as_a_table(tmp_path: Path) -> None:
    rows = [result("a", 0, 2), result("b", 3.5, 3.5), result("c", 9, 9, lab="B")]
    text = page_of(trend(results(*rows), "guaiacol", "vineyard"), tmp_path, Heading("vineyard"))
    found = [row for row in Page(text).rows if row[0] == "Hawkanner"]
    # By hand: lowers 0 and 3.5, uppers 2 and 3.5; the medians of two are their middles.
    assert found == [
        ["Hawkanner", "2", "1 (50 %)", "1.75-2.75", "< 2", "3.5", "2026-02-23"],
        ["Hawkanner", "1", "0 (0 %)", "9", "9", "9", "2026-02-23"],
    ]
    assert "<title>guaiacol by vineyard</title>" in text


def test_names_in_a_page_stay_text(tmp_path: Path) -> None:
    wild = "<script>alert(1)</script>"
    rows = results(result("a", 1, 1, vineyard=wild, lab=f'"{wild}', method="</style>"))
    text = page_of(trend(rows, "guaiacol", "vineyard"), tmp_path)
    assert "<script>alert" not in text
    assert text.count("</style>") == 1


def test_pooling_says_so_and_pools_only_what_was_asked() -> None:
    # By hand: 2, 9 and 4 of three laboratories, median 4; another unit stays apart.
    rows = [result("a", 2, 2), result("b", 9, 9, lab="B", method="LC"), result("c", 4, 4, lab=None),
            result("d", 7, 7, lab="B", unit="ug/kg")]  # fmt: skip
    table = trend(results(*rows), "guaiacol", "vineyard", pool=("lab", "method"))
    assert table.select("lab", "method", "unit", "n", "median_lower", "pooled").rows() == [
        ("pooled", "pooled", "ug/L", 3, 4, "laboratories: A, B, not given; methods: GC, LC"),
        ("pooled", "pooled", "ug/kg", 1, 7, "laboratories: B; methods: GC"),
    ]
    assert pools(table)
    methods = trend(results(*rows), "guaiacol", "vineyard", pool=("method",))
    assert methods["lab"].to_list() == ["A", "B", "B", None]
    assert not pools(trend(results(*rows), "guaiacol", "vineyard"))


@pytest.mark.parametrize(
    ("by", "pool", "said"),
    [("lab", "lab", "give one of them"), ("lot", "unit", "none of lab, method"),
     ("lot", "labs", "did you mean lab")],
)  # fmt: skip
def test_what_cannot_be_pooled_is_explained(by: str, pool: str, said: str) -> None:
    with pytest.raises(WrongUse, match=said):
        trend(results(), "guaiacol", by, pool=(pool,))


NAMES = ("Anselbury", "Bromfold", "Cattermere", "Dunwick", "Eskmoor", "Farlow", "Gildale")


def grown(*more: dict[str, Any]) -> pl.DataFrame:
    return results(
        *(result(f"s{n}", n, n, vineyard=name, method=f"{name} 7", lab=f"Bench {name}")
          for n, name in enumerate(NAMES)), *more,
    )  # fmt: skip


def test_anonymous_output_holds_no_name(tmp_path: Path) -> None:
    for by in ("vineyard", "lot", "lab"):
        table = trend(grown(), "guaiacol", by, anonymous=True)
        text = table.write_csv() + page_of(table, tmp_path, Heading(by))
        assert not [name for name in (*NAMES, "2026-02", "s3") if name in text]


def test_anonymous_numbers_are_the_same_for_the_same_values_only() -> None:
    table = trend(grown(), "guaiacol", "vineyard", anonymous=True)
    shuffled = trend(grown().reverse(), "guaiacol", "vineyard", anonymous=True)
    assert table.equals(shuffled)
    other = trend(grown(result("x", 1, 1)), "guaiacol", "vineyard", anonymous=True)
    place = dict(table.select("minimum_lower", "by").rows())
    elsewhere = dict(other.filter(pl.col("lab") != "A").select("minimum_lower", "by").rows())
    assert place != {n: name for n, name in elsewhere.items() if n in place}


def test_anonymous_order_is_neither_the_alphabet_nor_the_amount() -> None:
    # The names rise with their amounts; of 8! orders that one is to come up in none of 40 stores.
    orders = []
    for store in range(40):
        table = trend(grown(result(f"k{store}", 9, 9)), "guaiacol", "vineyard", anonymous=True)
        orders.append(table.sort("by")["minimum_lower"].to_list())
    assert sorted(orders[0]) not in orders
    assert len({tuple(order) for order in orders}) > 30


def test_anonymous_keeps_what_is_no_name_and_notes_small_groups() -> None:
    rows = [result(f"s{k}", k, k, variety="Shiraz") for k in range(3)]
    rows += [result("x", 1, 1, variety="Merlot", lab=None)]
    table = trend(results(*rows), "guaiacol", "variety", anonymous=True)
    assert table.select("by", "lab", "method", "note").rows() == [
        ("Merlot", None, "method 1", "fewer than 3 samples: may be recognised"),
        ("Shiraz", "laboratory 1", "method 1", None),
    ]
    assert not {"first_sampled_on", "last_sampled_on"} & set(table.columns)


def test_workbook_has_units_frozen_heads_filters_and_meanings(tmp_path: Path) -> None:
    table = trend(results(result("a", 0, 1)), "guaiacol", "lot")
    write_trend(table, tmp_path / "t.xlsx", Heading("lot", ("vintage: 2025",), ("take care",)))
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    sheet = book["trend"]
    heads = [cell.value for cell in sheet[1]]
    assert "median, upper end (µg/L)" in heads
    assert not [head for head in heads if "{" in str(head) or "_" in str(head)]
    assert (sheet.freeze_panes, sheet.auto_filter.ref) == ("B2", sheet.dimensions)
    told = [tuple(cell.value for cell in row) for row in book["about"].iter_rows(max_row=4)]
    assert told[1:] == [("grouped by", "lot"), ("chosen", "vintage: 2025"), ("beware", "take care")]


SEASON = """Laboratory,Bench One
Report number,B1-7
,
Sample,Lot,Matrix,Stage,Sampled,Vineyard,Variety,Vintage,Free guaiacol (ug/L)
S-1,L-1,Red wine,ageing,2025-10-02,Upper Hollow,Shiraz,2025,24.5
S-2,L-2,Red wine,ageing,2024-10-03,Upper Hollow,Merlot,2024,<0.5
S-3,L-3,White wine,ageing,,Lower Hollow,Chardonnay,2024,8.25
"""


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Load three invented samples."""
    folder = tmp_path_factory.mktemp("season")
    (folder / "one.csv").write_text(SEASON, encoding="utf-8")
    load([folder / "one.csv"], Workplace(folder / "s.duckdb", Settings()), lambda *_: None)
    return folder / "s.duckdb"


@pytest.mark.parametrize(
    ("choice", "lots", "undated"),
    [
        (Choice(), ["L-1", "L-2", "L-3"], 0),
        (Choice(vintage=("2024",)), ["L-2", "L-3"], 0),
        (Choice(vintage=("2024",), matrix=("red wine",)), ["L-2"], 0),
        (Choice(variety=("shiraz", "MERLOT")), ["L-1", "L-2"], 0),
        (Choice(lab=("bench one",)), ["L-1", "L-2", "L-3"], 0),
        (Choice(since=date(2025, 10, 2)), ["L-1"], 1),
        (Choice(until=date(2024, 10, 3)), ["L-2"], 1),
    ],
)
def test_choice_of_results(season: Path, choice: Choice, lots: list[str], undated: int) -> None:
    with Store(season, read_only=True) as store:
        rows, left_out = choose_results(store, "guaiacol", "lot", choice)
    assert (trend(rows, "guaiacol", "lot")["by"].to_list(), left_out) == (lots, undated)


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        (Choice(variety=("Shirza",)), "did you mean Shiraz"),
        (Choice(vintage=("1999",)), "known: 2024, 2025"),
        (Choice(matrix=("red win",)), "did you mean red wine"),
        (Choice(since=date(2026, 1, 2), until=date(2026, 1, 1)), "exchange them"),
    ],
)
def test_choice_of_what_is_not_there_is_explained(season: Path, choice: Choice, said: str) -> None:
    with Store(season, read_only=True) as store, pytest.raises(WrongUse, match=said):
        choose_results(store, "guaiacol", "lot", choice)
