"""Small questions of the pages, each against the documented views taken whole."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal
from serving import load_season

from pipeline.errors import CinderlotError
from pipeline.store import Browser, Store, read_view
from pipeline.store.select import FILTERS, ORDERS
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


@pytest.mark.parametrize("column", FILTERS)
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
