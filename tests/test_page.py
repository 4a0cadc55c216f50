"""The pages, asked over HTTP from a server process of its own."""

from __future__ import annotations

import io
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urlencode, urljoin

import openpyxl
import polars as pl
import pytest
from serving import COMMAND, QUOTED, WILD, Pages, load_season

from pipeline.addresses import cell_name
from pipeline.errors import WrongUse
from pipeline.page.asked import NONE, Asked, read_view
from pipeline.page.cells import place
from pipeline.page.drawing import Bar, as_svg, ceiling, draw_bars
from pipeline.page.lots import choose_drawn
from pipeline.store import Store
from tests.benchmarks.page import draw_store

FREE = {"analyte": "guaiacol", "form": "free"}
EVERY = ("/", "/results", "/lots", "/lot?lot=L-1", f"/results?{urlencode(FREE)}")


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
def results(season: Path) -> pl.DataFrame:
    """Take the results of the season from the store, as a user may."""
    with Store(season, read_only=True) as store:
        return store.view("results")


class Outline(HTMLParser):
    """What a page links to and holds, found by a parser that knows nothing of the templates."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.ids: list[str] = []
        self.faults: list[str] = []
        self.rows: list[list[str]] = []
        self.cell: list[str] | None = None
        self.labels = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note links, ids, and what a careful page would not hold."""
        told = dict(attrs)
        self.links += [told[name] or "" for name in ("href", "src") if name in told]
        self.ids += [told["id"] or ""] if "id" in told else []
        self.labels += tag == "label"
        self.faults += [
            f"{tag} {name}" for name in told if name == "style" or name.startswith("on")
        ]
        if tag == "th" and "scope" not in told:
            self.faults.append("th without scope")
        needs_label = tag == "select" or (tag == "input" and told.get("type") != "hidden")
        if needs_label and not self.labels and not told.get("aria-label"):
            self.faults.append(f"{tag} without label")
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.cell = []

    def handle_endtag(self, tag: str) -> None:
        """Close labels and cells."""
        self.labels -= tag == "label"
        if tag in ("td", "th") and self.cell is not None and self.rows:
            self.rows[-1].append(" ".join("".join(self.cell).split()))
            self.cell = None

    def handle_data(self, data: str) -> None:
        """Gather the text of a cell."""
        if self.cell is not None:
            self.cell.append(data)


def cells_linked(text: str) -> list[str]:
    """Give the addresses of source cells that a page links to, in its order."""
    return [link for link in Outline(text).links if link.startswith("/cell?")]


def as_links(frame: pl.DataFrame) -> list[str]:
    """Write the addresses that lead to the cells of some results."""
    keys = frame.select(report="report_id", sheet="sheet", cell="cell")
    return [f"/cell?{urlencode(row)}" for row in keys.iter_rows(named=True)]


@pytest.mark.parametrize("path", EVERY)
def test_page_is_whole_and_needs_nothing_from_elsewhere(pages: Pages, path: str) -> None:
    got = pages.get(path)
    assert got.status == 200
    outline = Outline(got.text)
    assert [link for link in outline.links if not link.startswith(("/", "#"))] == []
    assert outline.faults == []
    assert len(outline.ids) == len(set(outline.ids))
    assert "default-src 'none'" in got.headers["content-security-policy"]
    assert "unsafe" not in got.headers["content-security-policy"]


def test_every_link_leads_to_a_page(pages: Pages) -> None:
    seen: set[str] = set()
    waiting = ["/"]
    while waiting and len(seen) < 45:
        path = waiting.pop(0).partition("#")[0]
        if path in seen:
            continue
        seen.add(path)
        got = pages.get(path)
        assert got.status == 200, path
        if got.headers["content-type"].startswith("text/html"):
            waiting += [urljoin(path, link) for link in Outline(got.text).links]
    assert len(seen) > 40


def test_only_this_machine_may_ask_and_only_to_read(pages: Pages) -> None:
    assert pages.get("/", host="rebound.example.org").status == 400
    assert pages.get("/", host=f"127.0.0.1.example.org:{pages.port}").status == 400
    assert pages.get("/", host=f"localhost:{pages.port}").status == 200
    for method in ("POST", "PUT", "DELETE"):
        got = pages.get("/results", method=method)
        assert got.status == 405
        assert "can only be read" in got.text
    # 127.0.0.2 is this machine too, but another address of it: nobody answers there.
    with socket.socket() as outside:
        outside.settimeout(2)
        assert outside.connect_ex(("127.0.0.2", pages.port)) != 0


@pytest.mark.parametrize(
    ("path", "hint"),
    [
        ("/results?vinyard=x", "did you mean vineyard?"),
        ("/?analyte=guaiacl", "did you mean guaiacol?"),
        ("/?by=grwer", "did you mean grower?"),
        ("/results?order=up", "use one of newest"),
        ("/results?low=much", "use a number such as 1.5"),
        ("/results?high=inf", "use a number such as 1.5"),
        ("/results?from=3.1.2026", "use a day such as 2026-03-01"),
        ("/results?rows=7", "use one of 25, 100, 250"),
        ("/results?page=0", "use a whole number from 1"),
        ("/results?page=99999999999999999999", "use a whole number from 1"),
        ("/lot?lot=nowhere", "list of lots"),
        ("/lot?lot=L-1&what=mercury", "choose from its list"),
        ("/cell?report=none&sheet=a&cell=A1", "follow a link"),
        ("/download/results.exe", "use the links below a table"),
        (f"/results?lot={'x' * 300}", "shorten the address"),
    ],
)
def test_bad_address_gets_a_page_with_the_next_step(pages: Pages, path: str, hint: str) -> None:
    got = pages.get(path)
    assert got.status == 400
    assert hint in got.text
    assert "?." not in got.text
    assert "Traceback" not in got.text


def test_store_without_reports_says_how_to_begin(tmp_path: Path) -> None:
    Store(tmp_path / "new.duckdb").close()
    with Pages(tmp_path / "new.duckdb") as served:
        for path in ("/", "/results", "/lots"):
            assert "cinderlot load" in served.get(path).text
        assert "cinderlot load" not in served.get("/lots?words=x").text


@pytest.mark.parametrize(
    "path",
    ["/results?lot=%00", "/results?lot=%ff%fe", "/results?lot=a%27%20OR%201=1--", "/lots?words=%25",
     "/lots?words=%00", "/results?vintage=two", "/results?page=9000"],
)  # fmt: skip
def test_strange_values_are_asked_for_and_not_found(pages: Pages, path: str) -> None:
    got = pages.get(path)
    assert got.status == 200
    assert cells_linked(got.text) == []


def test_missing_page_says_so(pages: Pages) -> None:
    assert pages.get("/nowhere").status == 404
    assert pages.get("/static/../app.py").status == 404


def test_all_that_is_stored_is_shown_as_text(pages: Pages) -> None:
    paths = ["/results", "/lots", "/?by=lot", f"/lot?{urlencode({'lot': WILD})}",
             f"/results?{urlencode({'lot': WILD})}", f"/lot?{urlencode({'lot': QUOTED})}",
             f"/lots?{urlencode({'words': WILD})}"]  # fmt: skip
    for path in paths:
        text = pages.get(path).text
        assert "<script>alert" not in text
        assert "<b>Bold" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in pages.get("/lots").text


@pytest.mark.parametrize(
    ("chosen", "kept"),
    [
        ({"vineyard": "Upper Hollow"}, pl.col("vineyard") == "Upper Hollow"),
        ({"vintage": "2024", "form": "free"}, (pl.col("vintage") == 2024) & (pl.col("form") == "free")),
        ({"lab": "Bench Two"}, pl.col("lab") == "Bench Two"),
        ({"variety": "Merlot"}, pl.col("variety") == "Merlot"),
        ({"stage": "ageing", **FREE}, (pl.col("stage") == "ageing") & (pl.col("form") == "free")
         & (pl.col("analyte") == "guaiacol")),
        ({"block": NONE}, pl.col("block").is_null()),
    ],
)  # fmt: skip
def test_filter_shows_the_same_results_as_the_store(
    pages: Pages, results: pl.DataFrame, chosen: dict[str, str], kept: pl.Expr
) -> None:
    wanted = results.filter(kept)
    assert 0 < wanted.height < results.height
    text = pages.get(f"/results?{urlencode(chosen)}").text
    assert sorted(cells_linked(text)) == sorted(as_links(wanted))


def test_values_carry_unit_and_interval(pages: Pages) -> None:
    rows = Outline(pages.get(f"/results?{urlencode({**FREE, 'lab': 'Bench One'})}").text).rows
    shown = {row[0]: row[1].replace("\u00a0", " ") for row in rows if row[0].startswith("L-")}
    assert shown["L-2"] == "< 0.5 µg/L"
    assert shown["L-3"] == "8.25 µg/L"


def test_a_range_narrows_the_table_and_stands_on_its_strip(
    pages: Pages, results: pl.DataFrame
) -> None:
    asked = {**FREE, "low": "5", "to": "2026-01-13", "order": "oldest"}
    text = pages.get(f"/results?{urlencode(asked)}").text
    wanted = results.filter(
        pl.col("analyte") == "guaiacol", pl.col("form") == "free",
        pl.col("upper") >= 5, pl.col("sampled_on").cast(pl.String) <= "2026-01-13",
    )  # fmt: skip
    assert sorted(cells_linked(text)) == sorted(as_links(wanted))
    assert text.count('class="taken"') == 2
    assert 'aria-sort="ascending"' in text
    compared = pages.get(f"/?{urlencode(asked)}").text
    assert "at least" not in compared, "a comparison is not made of a range of values"
    assert "sampled until: 2026-01-13" in compared


def drawn_rows(text: str) -> set[str]:
    """Give the rows that a page's chart of results has marks of."""
    chart = re.search(r"<figure aria-hidden.*?</figure>", text, re.DOTALL)
    return set(re.findall(r'data-row="(r\d+)"', chart[0])) if chart else set()


def test_marked_rows_alone_are_drawn_and_taken_away_as_files(
    pages: Pages, results: pl.DataFrame
) -> None:
    free = results.filter(pl.col("analyte") == "guaiacol", pl.col("form") == "free")
    wanted = free.filter(pl.col("unit") == "ug/L").sort("file", "cell").head(2)
    marks = [f"{r['report_id']} {r['sheet']}!{r['cell']}" for r in wanted.iter_rows(named=True)]
    query = urlencode([*FREE.items(), *(("mark", mark) for mark in marks)])
    text = pages.get(f"/results?{query}").text
    assert len(cells_linked(text)) == free.height, "the table keeps all its rows"
    assert len(drawn_rows(text)) == 2
    assert text.count(" checked>") - len(FREE) - 1 == 2, "beside two filters and the kind of sample"
    got = pl.read_csv(pages.get(f"/download/results.csv?{query}").content)
    assert sorted(got["cell"].to_list()) == sorted(wanted["cell"].to_list())
    other = next(r for r in results.iter_rows(named=True) if r["analyte"] != "guaiacol")
    beside = f"{other['report_id']} {other['sheet']}!{other['cell']}"
    mixed = f"{query}&{urlencode({'mark': beside})}"
    assert "1 on other pages or not chosen" in pages.get(f"/results?{mixed}").text
    lost = urlencode({**FREE, "mark": f"{QUOTED} x!A1"})
    assert "0 marked results" in pages.get(f"/results?{lost}").text
    many = urlencode([("mark", str(n)) for n in range(51)])
    assert pages.get(f"/results?{many}").status == 400


def test_laboratories_are_never_pooled(pages: Pages) -> None:
    # By hand: Bench One measured L-1 and L-2 of Upper Hollow (24.5, 25.1, <0.5), Bench Two 19.9.
    rows = Outline(pages.get(f"/?{urlencode(FREE)}").text).rows
    upper = [row for row in rows if row and row[0] == "Upper Hollow"]
    assert sorted(
        (row[1], row[2], row[3], row[4], row[5].replace("\u00a0", " ")) for row in upper
    ) == [
        ("1", "19.9", "19.9", "19.9", "0 %"),
        ("3", "24.5", "< 0.5", "25.1", "1 of 3, 33 %"),
    ]


def test_row_of_a_comparison_leads_to_its_results(pages: Pages, results: pl.DataFrame) -> None:
    links = [link for link in Outline(pages.get(f"/?{urlencode(FREE)}").text).links
             if link.startswith("/results?") and "Upper+Hollow" in link and "Bench+One" in link]  # fmt: skip
    wanted = results.filter(pl.col("lab") == "Bench One", pl.col("vineyard") == "Upper Hollow",
                            pl.col("analyte") == "guaiacol", pl.col("form") == "free")  # fmt: skip
    assert sorted(cells_linked(pages.get(links[0]).text)) == sorted(as_links(wanted))
    assert wanted.height == 3


def test_lot_page_tells_its_whole_history(pages: Pages) -> None:
    text = pages.get("/lot?lot=L-1").text
    for told in ("activated carbon 40\u00a0g/hL", "ash aftertaste: 3.4 of 9, 8 tasters", "hold (winemaker)",
                 "re-test due 2026-03-01", "150\u00a0L to L-9", "block B7, until 2025-08-09",
                 "end of AF: S-1", "ageing: T-1"):  # fmt: skip
        assert told in text, told
    dates = [row[0] for row in Outline(text).rows if len(row) == 3 and re.match(r"\d{4}-", row[0])]
    assert dates == sorted(dates)
    assert len(dates) == 8
    assert "superseded by newer samples" in text


def test_source_cell_shows_its_neighbourhood_from_the_file(pages: Pages) -> None:
    link = next(c for c in cells_linked(pages.get("/results?lot=L-3").text) if c.endswith("=I7"))
    text = pages.get(link).text
    assert "one.csv" in text
    assert "Read again from the file" in text
    grid = {row[0]: row[1:] for row in Outline(text).rows}
    # As written in the file: row 7 is the third sample, column I its free guaiacol.
    assert grid["7"][grid[""].index("I")] == "8.25"
    assert grid["6"][grid[""].index("I")] == "<0.5"
    assert grid["4"][grid[""].index("H")] == "Vintage"


def test_source_cell_says_when_the_file_has_changed_or_gone(tmp_path: Path) -> None:
    store = load_season(tmp_path)
    file = tmp_path / "reports" / "bench" / "one.csv"
    with Pages(store, "--reports", str(tmp_path / "reports")) as pages:
        link = next(
            c for c in cells_linked(pages.get("/results?lot=L-3").text) if c.endswith("=I7")
        )
        file.write_text(file.read_text().replace("8.25", "9.25"))
        changed = pages.get(link).text
        file.unlink()
        gone = pages.get(link).text
    assert "is no longer what was loaded" in changed
    assert "is not under" in gone
    for text in (changed, gone):
        grid = {row[0]: row[1:] for row in Outline(text).rows}
        assert grid["7"][grid[""].index("I")] == "8.25"
        assert "9.25" not in text


def test_held_value_has_its_reason_and_next_step(pages: Pages, season: Path) -> None:
    with Store(season, read_only=True) as store:
        held = store.held().row(0, named=True)
    query = urlencode({"report": held["report_id"], "sheet": held["sheet"], "cell": held["cell"]})
    text = pages.get(f"/cell?{query}").text
    assert "Held back:" in text
    assert "n.q.w.x" in text


def test_downloads_hold_what_is_shown(pages: Pages, results: pl.DataFrame) -> None:
    query = urlencode({**FREE, "lab": "Bench One"})
    wanted = results.filter(pl.col("analyte") == "guaiacol", pl.col("form") == "free",
                            pl.col("lab") == "Bench One").sort("cell")  # fmt: skip
    csv = pl.read_csv(pages.get(f"/download/results.csv?{query}").content)
    assert csv.columns == wanted.columns
    assert csv.sort("cell")["cell"].to_list() == wanted["cell"].to_list()
    parquet = pl.read_parquet(io.BytesIO(pages.get(f"/download/results.parquet?{query}").content))
    assert parquet.sort("cell").equals(wanted)
    got = pages.get(f"/download/results.xlsx?{query}")
    assert "attachment" in got.headers["content-disposition"]
    sheet = openpyxl.load_workbook(io.BytesIO(got.content)).worksheets[0]
    assert sheet.max_row == wanted.height + 1
    comparison = pl.read_csv(pages.get(f"/download/comparison.csv?{query}").content)
    assert comparison["n"].sum() == wanted.height


def test_pages_of_a_long_list_hold_each_result_once(tmp_path: Path) -> None:
    store = tmp_path / "long.duckdb"
    draw_store(store, 60_000)
    with Pages(store) as pages:
        chosen = urlencode({**FREE, "variety": "Variety 3", "order": "highest"})
        links, path = [], f"/results?{chosen}"
        while path:
            text = pages.get(path).text
            links += cells_linked(text)
            path = next(
                (
                    link.replace("&amp;", "&")
                    for link in re.findall(r'href="([^"]+)" rel="next"', text)
                ),
                "",
            )
        with Store(store, read_only=True) as opened:
            wanted = opened.results().filter(pl.col("analyte") == "guaiacol", pl.col("form") == "free",
                                             pl.col("variety") == "Variety 3")  # fmt: skip
        assert wanted.height > 25
        assert sorted(links) == sorted(as_links(wanted))
        refused = pages.get("/download/results.xlsx")
        assert refused.status == 400
        assert "too many for one xlsx file" in refused.text
        assert pages.get("/download/results.csv").content.count(b"\n") == 60_001


HOLDER = """
import sys
from pipeline.store import Store
with Store(sys.argv[1]):
    print("open", flush=True)
    sys.stdin.read()
"""


def test_a_load_and_the_page_take_turns(tmp_path: Path) -> None:
    store = load_season(tmp_path)
    with Pages(store) as pages:
        with subprocess.Popen(
            [sys.executable, "-c", HOLDER, str(store)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        ) as holder:  # fmt: skip
            assert holder.stdout is not None
            assert holder.stdout.readline() == "open\n"
            busy = pages.get("/results")
            holder.communicate(timeout=300)
        assert busy.status == 503
        assert busy.headers["retry-after"] == "5"
        assert "is using the store" in busy.text
        assert "Try again" in busy.text
        assert pages.get("/results").status == 200
        # The page is up, and a load goes through at once, and its results are shown.
        more = tmp_path / "three.csv"
        shutil.copy(tmp_path / "reports" / "two.csv", more)
        more.write_text(more.read_text().replace("B2-1", "B2-2").replace("L-1", "L-77"))
        code = subprocess.run(
            [sys.executable, "-c", COMMAND, "load", str(more), "--db", str(store)],
            check=False, capture_output=True,
        ).returncode  # fmt: skip
        assert code == 0
        assert "L-77" in pages.get("/lots").text


def _page(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", COMMAND, "page", *words],
        check=False, capture_output=True, text=True, timeout=300,
    )  # fmt: skip


def test_port_in_use_is_a_sentence_with_the_next_step(pages: Pages, season: Path) -> None:
    done = _page("--port", str(pages.port), "--db", str(season))
    assert done.returncode == 3
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "is in use" in done.stderr
    assert "--port" in done.stderr


def test_wrong_port_and_missing_store_are_told(tmp_path: Path) -> None:
    assert _page("--port", "70000").returncode == 2
    done = _page("--port", "0", "--db", str(tmp_path / "none.duckdb"))
    assert done.returncode == 3
    assert "there is no store yet; load a report first" in done.stderr


def test_ctrl_c_ends_quietly(season: Path) -> None:
    served = Pages(season)
    assert served.get("/").status == 200
    code, complaints = served.stop()
    assert (code, complaints) == (0, "")


def test_ctrl_c_ends_while_a_browser_keeps_its_connection(season: Path) -> None:
    served = Pages(season)
    with socket.create_connection(("127.0.0.1", served.port)) as kept:
        kept.sendall(b"GET /lots HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert kept.recv(12) == b"HTTP/1.1 200"
        begun = time.monotonic()
        assert served.stop() == (0, "")
        assert time.monotonic() - begun < 60


def test_being_told_to_end_ends_it(season: Path) -> None:
    served = Pages(season)
    served.process.send_signal(signal.SIGTERM)
    assert served.process.wait(timeout=300) in (0, -signal.SIGTERM)
    served.stop()


def test_censored_values_are_never_drawn_as_points() -> None:
    bars = [Bar("r0", "a", 5.0, 5.0), Bar("r1", "b", 0.0, 0.5), Bar("r2", "c", 50.0, None)]
    chart = draw_bars(bars, "µg/L")
    drawn = {layer["mark"]["type"]: [v["row"] for v in layer["data"]["values"]]
             for layer in chart["layer"] if layer["mark"].get("fillOpacity") != 0}  # fmt: skip
    assert drawn == {"rule": [], "bar": ["r1", "r2"], "point": ["r0"]}
    open_ended = next(v for v in chart["layer"][2]["data"]["values"] if v["row"] == "r2")
    assert open_ended["upper"] == ceiling(bars) > 50


def test_chart_holds_no_script_style_or_outside_reference() -> None:
    svg = as_svg(draw_bars([Bar("r0", f"{WILD}{QUOTED}", 1.0, 2.0, 0.0, 3.0)], WILD))
    assert "<script" not in svg
    assert "style=" not in svg
    assert "http" not in svg
    assert 'data-row="r0"' in svg


def test_address_and_view_say_the_same() -> None:
    view = Asked(
        {"vineyard": ("A & B", None), "lab": ("x=y?#",)}, by="lot", order="lowest", page=3,
        marks=("0a S & T!C7",),
    )  # fmt: skip
    address = view.link("/", page=3)
    from urllib.parse import parse_qsl

    assert read_view(parse_qsl(address.partition("?")[2])) == view
    assert view.without("vineyard", None).chosen["vineyard"] == ("A & B",)
    assert Asked().link("/") == "/"


@pytest.mark.parametrize("text", ["", "7", "C", "c7", "C0", "ABCD1", "C7!", "C99999999"])
def test_what_is_no_cell_is_refused(text: str) -> None:
    with pytest.raises(WrongUse, match="is no cell"):
        place(text)


@pytest.mark.parametrize("cell", ["A1", "Z9", "AA10", "XFD1048576"])
def test_cell_goes_to_row_and_column_and_back(cell: str) -> None:
    assert cell_name(*place(cell)) == cell


def test_a_lots_path_begins_with_what_a_threshold_is_set_for() -> None:
    pairs = [("4-methylguaiacol", None), ("guaiacol", 23.0)]
    flags = [
        {"kind": "over_threshold", "analyte": name, "form": "free", "unit": "ug/L", "threshold": at}
        for name, at in pairs
    ]
    known = [(name, "free", "ug/L") for name, _ in pairs]
    assert choose_drawn("", known, flags) == ("guaiacol", "free", "ug/L")
