"""The pages in a real browser: filter, click through to a cell, download, phone width, keyboard."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from playwright.sync_api import Browser, Page, Request, expect
from serving import Pages, load_season

from pipeline.store import Store
from tests.browser.chromium import started_chromium

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
EVERY = ("/", "/results", "/results?analyte=guaiacol&form=free", "/lots", "/lot?lot=L-1",
         "/cell?file=bench/one.csv&sheet=one&cell=I7")  # fmt: skip


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Load the season once."""
    return load_season(tmp_path_factory.mktemp("season"))


@pytest.fixture(scope="module")
def pages(season: Path) -> Iterator[Pages]:
    """Serve the season."""
    with Pages(season, "--reports", str(season.parent / "reports")) as served:
        yield served


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Chromium once."""
    with started_chromium() as chromium:
        yield chromium


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def page(browser: Browser, pages: Pages, request: pytest.FixtureRequest) -> Iterator[Page]:
    """Open an empty tab; at its end, nothing was complained of and nothing asked elsewhere."""
    tab = browser.new_context(viewport=request.param, base_url=pages.address).new_page()
    complaints: list[str] = []
    outside: list[str] = []

    def note(asked: Request) -> None:
        if not asked.url.startswith(pages.address):
            outside.append(asked.url)

    tab.on("console", lambda said: complaints.append(said.text))
    tab.on("pageerror", lambda error: complaints.append(str(error)))
    tab.on("request", note)
    yield tab
    tab.context.close()
    assert complaints == []
    assert outside == []


def unfold(page: Page, facet: str) -> None:
    """Open the filters (folded on a phone) and one of them."""
    for name in ("Filters", facet):
        summary = page.locator("summary", has_text=name).first
        if summary.locator("xpath=..").get_attribute("open") is None:
            summary.click()


def test_filter_narrows_results_and_stands_in_the_address(page: Page, season: Path) -> None:
    page.goto("/results")
    unfold(page, "Vineyard")
    page.get_by_label("Lower Hollow", exact=True).check()
    page.locator(".filters button").click()
    assert "vineyard=Lower+Hollow" in page.url
    with Store(season, read_only=True) as store:
        wanted = store.results().filter(pl.col("vineyard") == "Lower Hollow")
    expect(page.locator("tbody tr")).to_have_count(wanted.height)
    page.get_by_role("link", name="take away vineyard: Lower Hollow").click()
    assert "vineyard" not in page.url


def test_click_on_a_number_leads_to_its_source_cell(page: Page) -> None:
    page.goto("/lot?lot=L-1")
    page.get_by_role("link", name="24.5 µg/L").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("24.5")
    expect(page.locator("td.this")).to_have_text("24.5")
    expect(page.locator("main")).to_contain_text("Read again from the file")
    page.locator("dd a", has_text="L-1").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Lot L-1")


def test_download_gives_what_is_shown(page: Page, season: Path) -> None:
    page.goto("/results?analyte=guaiacol&form=free")
    with page.expect_download() as expected:
        page.get_by_role("link", name="parquet").click()
    got = pl.read_parquet(expected.value.path())
    assert expected.value.suggested_filename == "cinderlot-results.parquet"
    with Store(season, read_only=True) as store:
        wanted = store.view("results").filter(analyte="guaiacol", form="free")
    assert got.sort("cell", "file").equals(wanted.sort("cell", "file"))


def test_no_page_is_wider_than_its_window(page: Page) -> None:
    for path in EVERY:
        page.goto(path)
        too_wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert too_wide <= 0, path


def test_mark_and_row_are_tied(page: Page) -> None:
    page.goto("/?analyte=guaiacol&form=free")
    row = page.locator("tbody tr").first
    name = row.get_attribute("data-row")
    row.locator("a").focus()
    marks = page.locator(f"figure [data-row='{name}']")
    assert marks.count() >= 2
    for place in range(marks.count()):
        expect(marks.nth(place)).to_have_class("lit")
    marks.last.click(force=True)
    assert page.evaluate("document.activeElement.closest('tr').dataset.row") == name


def test_dragging_over_a_strip_filters_the_table(page: Page, season: Path) -> None:
    page.goto("/results?analyte=guaiacol&form=free")
    before = page.locator("tbody tr").count()
    box = page.locator(".strip svg").first.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 3
    page.mouse.move(box["x"] + 0.6 * box["width"], middle)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.7 * box["width"], middle, steps=3)
    with page.expect_navigation():
        page.mouse.move(box["x"] + 0.99 * box["width"], middle)
        page.mouse.up()
    assert "low=" in page.url
    low = float(page.locator(".ranges input[name=low]").input_value())
    with Store(season, read_only=True) as store:
        wanted = store.results().filter(
            pl.col("analyte") == "guaiacol", pl.col("form") == "free", pl.col("upper") >= low
        )
    assert 0 < wanted.height < before
    expect(page.locator("tbody tr")).to_have_count(wanted.height)
    expect(page.locator(".strip .taken")).to_have_count(1)
    page.get_by_role("link", name="take away at least").click()
    expect(page.locator("tbody tr")).to_have_count(before)


def test_a_range_is_typed_by_keyboard(page: Page) -> None:
    page.goto("/results?analyte=guaiacol&form=free")
    page.locator(".ranges input[name=high]").focus()
    page.keyboard.type("5")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "high=5" in page.url
    expect(page.locator(".strip .taken")).to_have_count(1)


def test_rows_are_marked_by_keyboard_and_drawn_alone(page: Page) -> None:
    page.goto("/results?analyte=guaiacol&form=free&unit=ug%2FL")
    boxes, drawn = page.locator("tbody [name=mark]"), page.locator("figure path[fill-opacity='0']")
    before = boxes.count()
    expect(drawn).to_have_count(before)
    names = [boxes.nth(place).get_attribute("value") or "" for place in (0, 2)]
    for number, name in enumerate(names, start=1):
        page.locator(f"tbody [name=mark][value='{name}']").focus()
        page.keyboard.press("Space")
        expect(drawn).to_have_count(number)
        assert page.evaluate("document.activeElement.value") == name
        expect(page.locator("#told")).to_contain_text(f"{number} marked result")
    assert page.url.count("mark=") == 2
    expect(boxes).to_have_count(before)
    row = page.locator("tbody tr").first.get_attribute("data-row")
    drawn.first.click(force=True)
    assert page.evaluate("document.activeElement.closest('tr').dataset.row") == row
    page.reload()
    expect(drawn).to_have_count(2)
    page.get_by_role("link", name="Take the marks away").click()
    expect(drawn).to_have_count(before)
    assert "mark=" not in page.url


def test_rows_are_marked_without_script(browser: Browser, pages: Pages) -> None:
    tab = browser.new_context(java_script_enabled=False, base_url=pages.address).new_page()
    tab.goto("/results?analyte=guaiacol&form=free&unit=ug%2FL")
    tab.locator("tbody [name=mark]").nth(1).check()
    tab.get_by_role("button", name="Draw the marked").click()
    expect(tab.locator("figure path[fill-opacity='0']")).to_have_count(1)
    expect(tab.locator("tbody [name=mark]:checked")).to_have_count(1)
    assert "mark=" in tab.url
    tab.context.close()


@pytest.mark.parametrize("path", EVERY)
def test_headings_go_down_by_one_and_names_are_given(
    browser: Browser, pages: Pages, path: str
) -> None:
    # WCAG 2.2, success criteria 1.3.1 and 2.4.6 (headings), 4.1.2 (name, role, value).
    tab = browser.new_context(base_url=pages.address).new_page()
    tab.goto(path)
    levels = tab.evaluate("[...document.querySelectorAll('h1,h2,h3,h4')].map((h) => +h.tagName[1])")
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    assert tab.evaluate(NAMELESS) == []
    tab.context.close()


def test_nothing_moves_where_motion_is_reduced(browser: Browser, pages: Pages) -> None:
    # WCAG 2.2, success criterion 2.3.3 (animation from interactions).
    for wanted, behaviour in (("reduce", "auto"), ("no-preference", "smooth")):
        tab = browser.new_context(reduced_motion=wanted, base_url=pages.address).new_page()
        tab.goto("/results")
        style = "getComputedStyle(document.documentElement).scrollBehavior"
        assert tab.evaluate(style) == behaviour
        tab.context.close()


def test_from_filter_to_cell_and_back_by_keyboard(page: Page) -> None:
    page.goto("/results")
    unfold(page, "Vineyard")
    page.get_by_label("Lower Hollow", exact=True).focus()
    page.keyboard.press("Space")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "vineyard=Lower+Hollow" in page.url
    listed = page.url
    page.locator("tbody th a").first.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "/lot?" in page.url
    page.locator("a[href^='/cell?']:visible").first.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator("td.this")).to_be_visible()
    page.go_back()
    page.go_back()
    assert page.url == listed


def test_everything_is_reached_by_keyboard(page: Page) -> None:
    page.goto("/results")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    outline = "getComputedStyle(document.activeElement).outlineStyle"
    assert page.evaluate(outline) == "solid"
    page.keyboard.press("Enter")
    reached: list[str] = []
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.getAttribute('href') || ''"))
        assert page.evaluate(f"document.activeElement === document.body || {outline} !== 'none'")
        if reached[-1].startswith("/cell?"):
            break
    assert reached[-1].startswith("/cell?")


def test_choice_of_grouping_is_one_step(page: Page) -> None:
    page.goto("/?analyte=guaiacol")
    page.get_by_label("By").select_option("lot")
    if "by=lot" not in page.url:
        page.locator("form.line button").click()
    page.wait_for_url("**by=lot**")
    expect(page.get_by_role("heading", level=1)).to_have_text("Guaiacol by lot")


def test_names_in_reports_stay_text(page: Page) -> None:
    page.on("dialog", lambda dialog: pytest.fail(f"a report ran a script: {dialog.message}"))
    for path in ("/lots", "/?by=lot", "/results"):
        page.goto(path)
        expect(page.get_by_role("link", name="<script>alert(1)</script>").first).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", EVERY)
def test_text_stands_out_from_its_ground(
    browser: Browser, pages: Pages, path: str, scheme: str
) -> None:
    # At least 4.5 to 1: WCAG 2.2, success criterion 1.4.3 (contrast minimum), and its formula.
    tab = browser.new_context(color_scheme=scheme, base_url=pages.address).new_page()
    tab.goto(path)
    poor = tab.evaluate(CONTRAST)
    tab.context.close()
    assert poor == []


NAMELESS = """() => [...document.querySelectorAll("a, button, input, select, summary")]
  .filter((e) => e.type !== "hidden" && e.offsetParent)
  .filter((e) => !(e.getAttribute("aria-label") || e.textContent.trim() || (e.labels && e.labels.length)))
  .map((e) => e.outerHTML.slice(0, 80))"""
CONTRAST = """() => {
  const parts = (c) => c.match(/[\\d.]+/g).map(Number);
  const light = (c) => { const [r, g, b] = parts(c).slice(0, 3).map((v) => v / 255)
      .map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ground = (e) => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
    const p = parts(c); if (p.length < 4 || p[3] > 0) return c; } return "rgb(255, 255, 255)"; };
  const poor = [];
  for (const e of document.querySelectorAll("main *, header *, footer *")) {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!own || e.closest("svg") || !e.offsetParent) continue;
    const [a, b] = [light(getComputedStyle(e).color), light(ground(e))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) poor.push(`${e.tagName} ${e.textContent.trim().slice(0, 30)} ${ratio.toFixed(2)}`);
  }
  return poor;
}"""
