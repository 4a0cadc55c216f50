"""A trend's page in a real browser, opened as a file: no network, light and dark, phone width."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from playwright.sync_api import Browser, Page, expect
from serving import load_season

from pipeline.store import Store
from pipeline.trends import Heading, trend, write_trend
from tests.browser.chromium import started_chromium
from tests.browser.page_checks import CONTRAST, DESK, PHONE


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the page of an invented season."""
    folder = tmp_path_factory.mktemp("season")
    with Store(load_season(folder), read_only=True) as store:
        table = trend(store.results(), "guaiacol", "lot")
    write_trend(table, folder / "trend.html", Heading("lot", (), ("take care",)))
    return folder / "trend.html"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Chromium once."""
    with started_chromium() as chromium:
        yield chromium


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def page(browser: Browser, file: Path, request: pytest.FixtureRequest) -> Iterator[Page]:
    """Open the file; at its end, nothing was complained of and nothing else was asked for."""
    context = browser.new_context(viewport=request.param, offline=True)
    tab = context.new_page()
    complaints: list[str] = []
    asked: list[str] = []
    tab.on("console", lambda said: complaints.append(said.text))
    tab.on("pageerror", lambda error: complaints.append(str(error)))
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(file.as_uri())
    yield tab
    context.close()
    assert complaints == []
    assert asked == [file.as_uri()]


def test_page_is_not_wider_than_its_window(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0


def test_mark_says_its_row(page: Page) -> None:
    row = page.locator("tr[data-row]").first
    mark = page.locator(f"figure [data-row='{row.get_attribute('data-row')}']").first
    mark.scroll_into_view_if_needed()
    mark.hover(force=True)
    tip = page.locator("#tip")
    expect(tip).to_be_visible()
    facts = row.locator("xpath=ancestor::section").get_attribute("data-facts")
    for told in (facts, "samples:", "censored:", "median", "µg/L"):
        assert told in tip.inner_text()
    assert "lit" in (row.get_attribute("class") or "")
    box = tip.bounding_box()
    assert box
    assert box["x"] + box["width"] <= page.viewport_size["width"]  # type: ignore[index]
    page.keyboard.press("Escape")
    expect(tip).to_be_hidden()


def test_panels_are_chosen(page: Page) -> None:
    every = page.locator("section").count()
    page.get_by_label("Laboratory").select_option("Bench Two")
    shown = [part for part in page.locator("section").all() if part.is_visible()]
    assert 0 < len(shown) < every
    assert {part.get_attribute("data-lab") for part in shown} == {"Bench Two"}
    noun = "panel" if len(shown) == 1 else "panels"
    expect(page.get_by_role("status")).to_have_text(f"{len(shown)} {noun} shown")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(browser: Browser, file: Path, scheme: str) -> None:
    # At least 4.5 to 1: WCAG 2.2, success criterion 1.4.3 (contrast minimum), and its formula.
    context = browser.new_context(color_scheme=scheme)
    tab = context.new_page()
    tab.goto(file.as_uri())
    poor = tab.evaluate(CONTRAST)
    context.close()
    assert poor == []


def test_numbers_stand_in_the_table_without_script(browser: Browser, file: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto(file.as_uri())
    rows = tab.locator("tr[data-row]").count()
    context.close()
    with Store(file.parent / "season.duckdb", read_only=True) as store:
        assert rows == trend(store.results(), "guaiacol", "lot").select(pl.len()).item()
