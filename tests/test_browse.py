"""Small questions of the pages, each against the documented views taken whole."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import duckdb
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from serving import load_season

from pipeline.errors import CinderlotError
from pipeline.store import Browser, Store, read_view
from pipeline.store.select import FILTERS, ORDERS, RANGES
from pipeline.trends import trend

EVERYTHING = 1_000_000
KEYS = ["report_id", "sheet", "cell", "replicate"]


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Load the season once."""
    return load_season(tmp_path_factory.mktemp("season"))


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    """Open the season for reading."""
    with Store(path, read_only=True) as opened:
        yield opened


@pytest.fixture
def browser(store: Store) -> Browser:
    """Give the season's browser."""
    return store.browse()


@pytest.mark.parametrize("order", ORDERS)
def test_all_pages_together_are_the_view(store: Store, browser: Browser, order: str) -> None:
    whole = store.view("results")
    pages = [browser.page({}, order, start, 5) for start in range(0, whole.height, 5)]
    together = pl.concat(pages).select(whole.columns)
    assert_frame_equal(together.sort(KEYS), whole.sort(KEYS))


def test_orders_are_what_they_say(browser: Browser) -> None:
    chosen = {"analyte": ["guaiacol"], "form": ["free"]}
    days = browser.page(chosen, "newest", 0, EVERYTHING)["sampled_on"].to_list()
    assert days == sorted(days, reverse=True)
    tops = browser.page(chosen, "highest", 0, EVERYTHING)["upper"].to_list()
    assert tops == sorted(tops, reverse=True)


@pytest.mark.parametrize("column", [name for name in FILTERS if name not in RANGES])
def test_each_value_of_a_filter_chooses_its_rows_of_the_view(
    store: Store, browser: Browser, column: str
) -> None:
    whole = store.view("results")
    values = whole[column].cast(pl.String).unique().to_list()
    for value in values:
        wanted = whole.filter(pl.col(column).cast(pl.String).eq_missing(pl.lit(value, pl.String)))
        found = browser.page({column: [value]}, "oldest", 0, EVERYTHING)
        assert_frame_equal(found.sort(KEYS), wanted.sort(KEYS), check_row_order=True)
        n, censored = browser.count({column: [value]})
        assert n == wanted.height
        assert censored == wanted.filter(pl.col("lower").ne_missing(pl.col("upper"))).height


def test_several_values_and_none_at_once(store: Store, browser: Browser) -> None:
    wanted = store.view("results").filter(pl.col("block").is_null() | (pl.col("block") == "B7"))
    found = browser.page({"block": [None, "B7"]}, "lot", 0, EVERYTHING)
    assert 0 < wanted.height == found.height


@pytest.mark.parametrize(
    ("chosen", "wanted"),
    [
        ({"from": ["2026-01-12"]}, pl.col("sampled_on") >= date(2026, 1, 12)),
        ({"to": ["2025-10-03"]}, pl.col("sampled_on") <= date(2025, 10, 3)),
        # What may lie there counts: "<1" may be 0.2, and nothing known is left out for its limit.
        ({"low": ["0.9"], "high": ["8.25"]}, (pl.col("upper") >= 0.9) & (pl.col("lower") <= 8.25)),
        ({"analyte": ["guaiacol"], "high": ["4"]},
         (pl.col("analyte") == "guaiacol") & (pl.col("lower") <= 4)),
    ],
)  # fmt: skip
def test_a_range_of_days_or_values_is_chosen(
    store: Store, browser: Browser, chosen: dict[str, list[str | None]], wanted: pl.Expr
) -> None:
    expected = store.view("results").filter(wanted)
    found = browser.page(chosen, "oldest", 0, EVERYTHING)
    assert 0 < expected.height < store.view("results").height
    assert_frame_equal(found.sort(KEYS), expected.sort(KEYS))


@pytest.mark.parametrize(
    ("order", "column", "descending"),
    [("lot", "lot", False), ("lot-down", "lot", True), ("lab-down", "lab", True),
     ("what", "analyte", False), ("lowest", "lower", False)],
)  # fmt: skip
def test_results_come_in_the_order_that_was_asked_for(
    store: Store, browser: Browser, order: str, column: str, descending: bool
) -> None:
    found = browser.page({}, order, 0, EVERYTHING)[column].to_list()
    whole = store.view("results")[column]
    assert found == whole.sort(descending=descending, nulls_last=True).to_list()


def test_stages_come_in_the_order_of_a_lots_life(browser: Browser) -> None:
    found = browser.page({}, "stage", 0, EVERYTHING)["stage"].unique(maintain_order=True)
    assert found.to_list() == ["end of AF", "ageing"]


def test_every_chosen_result_is_in_one_bin(browser: Browser) -> None:
    chosen = {"analyte": ["guaiacol"], "form": ["free"]}
    found = browser.spread(chosen, "ug/L", 10)
    n, spans = browser.count(chosen)
    for name in ("values", "days"):
        assert found[name].select("n_known", "n_spans").sum().row(0) == (n - spans, spans)
        assert found[name]["place"].is_between(0, 9).all()
    # By hand: 25.1 is the greatest; sqrt(8.25 / 25.1) = 0.573, so 8.25 stands in the sixth of ten.
    assert found["values"]["top"][0] == 25.1
    assert 5 in found["values"]["place"].to_list()
    assert browser.units(chosen) == ["ug/L"]


def test_what_is_typed_is_a_value_and_never_a_query(browser: Browser) -> None:
    for words in ("' OR 1=1 --", "x'); DROP TABLE base.result; --", "%", "\x00"):
        assert browser.count({"lot": [words]}) == (0, 0)
        assert browser.of_lot(words)["flags"].is_empty()
        assert browser.reports_of_file(words) == []
    assert browser.count({})[0] > 0


def test_facets_are_the_values_of_the_view(store: Store, browser: Browser) -> None:
    whole = store.view("results")
    facets = browser.facets(("vineyard", "lab", "analyte", "form", "vintage"))
    for column, values in facets.items():
        assert set(values) == set(whole[column].cast(pl.String).to_list()), column


@pytest.mark.parametrize("by", ["vineyard", "lab", "lot", "stage"])
def test_trend_from_a_selection_is_the_trend_of_the_view(
    store: Store, browser: Browser, by: str
) -> None:
    rows = browser.for_trend({"analyte": ["guaiacol"]}, by)
    assert_frame_equal(trend(rows, "guaiacol", by), trend(store.results(), "guaiacol", by))


def test_lots_are_found_by_their_words(browser: Browser) -> None:
    found = browser.known_lots("lower hollow", 0, 50)
    assert set(found["lot"]) == {"L\"'&#39;=1+1", "L-3"}
    known = browser.known_lots("", 0, 2)
    assert known.height == 2
    assert known["n_found"].to_list() == [6, 6]
    assert browser.known_lots("L-9", 0, 50)["n_samples"].to_list() == [0]


def test_view_comes_in_one_line(path: Path, store: Store) -> None:
    assert_frame_equal(read_view("results", path), store.view("results"))
    with pytest.raises(CinderlotError, match="did you mean results"):
        read_view("result", path)
    with pytest.raises(CinderlotError, match="there is no store yet"):
        read_view("results", path.with_name("none.duckdb"))


# Reports whose samples, columns and values are drawn from a few names, so that many meet again.
DRAWN = """
INSERT INTO base.report (load_no, report_id, file, lab, report_no, reported_on, loaded_at, lab_key,
    no_key, named)
SELECT i, 'id ' || i, 'f', 'Lab ' || i % 3, 'R-' || i,
    CASE WHEN hash(i) % 4 > 0 THEN DATE '2025-09-01' + (i % 5)::INT END, TIMESTAMP '2026-01-01',
    CASE WHEN i % 9 > 0 THEN 'lab ' || i % 3 END, 'r-' || i, [] FROM range(1, 40) t(i);
INSERT INTO base.sample (sample_key, load_no, sample_id, sample_kind, lot, lot_key, stage, sampled_on,
    vineyard, replicate, matrix_assumed)
SELECT i << 32 | s, i, 'S' || s // 2, 'lot', l, lower(l),
    CASE WHEN hash(i, s, 1) % 2 = 0 THEN 'end of AF' END,
    CASE WHEN hash(i, s, 2) % 2 = 0 THEN DATE '2025-09-01' + (s % 2)::INT END,
    CASE WHEN hash(i, s, 3) % 2 = 0 THEN 'Vineyard ' || s % 3 END,
    CASE WHEN hash(i, s, 4) % 5 = 0 THEN '1' END, false
FROM (SELECT i, s, CASE WHEN hash(i, s) % 2 = 0 THEN 'L' || s % 3 END AS l
    FROM range(1, 40) t(i), range(8) u(s));
INSERT INTO base.measure (measure_key, load_no, method, analyte, form, unit, outcome, qc_kind, sheet)
SELECT i << 32 | c, i, CASE WHEN hash(i, c, 1) % 4 > 0 THEN 'GC-MS' END,
    list_value('guaiacol', 'phenol', 'o-cresol')[c % 3 + 1],
    CASE WHEN hash(i, c, 2) % 4 > 0 THEN 'free' END, 'ug/L',
    list_value('result', 'result', 'corrected', 'qc')[(hash(i, c, 3) % 4)::INT + 1],
    CASE WHEN hash(i, c, 4) % 9 = 0 THEN 'blank' END, 'x'
FROM range(1, 40) t(i), range(6) u(c);
INSERT INTO base.result (value_key, sample_key, measure_key, value, lower, upper)
SELECT i << 32 | (s * 6 + c), i << 32 | s, i << 32 | c, x, x, CASE WHEN x < 3 THEN x END
FROM (SELECT i, s, c, hash(i, s, c) % 4 AS x FROM range(1, 40) t(i), range(8) u(s), range(6) w(c));
INSERT INTO base.corrected SELECT value_key >> 32, 1, value_key, NULL FROM base.result
WHERE hash(value_key) % 20 = 0;
"""
SAME_SAMPLE = [
    "lab_key", "sample_id", "sample_kind", "treatment", "dose", "trial", "lot_key", "stage",
    "sampled_on", "received_on", "analysed_on", "replicate",
]  # fmt: skip
SAME_VALUE = ["analyte", "form", "expressed_as", "method", "unit", "value", "lower", "upper"]


def test_values_sent_twice_are_those_that_agree_in_everything(tmp_path: Path) -> None:
    """The view gathers samples first; here each value is compared with every other."""
    Store(tmp_path / "drawn.duckdb").close()
    with duckdb.connect(str(tmp_path / "drawn.duckdb")) as con:
        con.execute(DRAWN)
        told = con.sql("FROM base.day_told WHERE is_current AND lab_key IS NOT NULL").pl()
        values, columns, aside = (
            con.sql(f"FROM base.{name}").pl() for name in ("result", "measure", "set_aside")
        )
        found = con.sql("FROM base.repeat").pl()
    in_several = pl.col("load_no").n_unique().over("lab_key", "sample_id") > 1
    is_corrected = pl.col("outcome") == "corrected"
    order = pl.struct(
        is_corrected, pl.col("reported_on").fill_null(date.max), "report_no", "report_id"
    )
    wanted = (
        values.join(told.filter(in_several), "sample_key")
        .join(columns.drop("load_no"), "measure_key")
        .join(aside, "value_key", how="anti")
        .filter((pl.col("outcome") == "result") | is_corrected & pl.col("qc_kind").is_null())
        .filter(order.rank("dense").over(*SAME_SAMPLE, *SAME_VALUE) > 1)
    )
    assert wanted.height > 50
    assert sorted(found.select("value_key", "outcome").rows()) == sorted(
        wanted.select("value_key", "outcome").rows()
    )
