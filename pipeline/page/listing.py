"""Lists in pages: results one by one, drawn beside their table, and lots."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from pipeline.digest.words import interval
from pipeline.page.asked import ORDER_WORDS, ROWS, Asked, Pairs, read_text, read_view
from pipeline.page.brushing import strips
from pipeline.page.drawing import Bar, draw
from pipeline.page.filtering import form
from pipeline.page.places import cell_link, lot_link, mark_of
from pipeline.page.site import Site
from pipeline.phrases import shown_unit
from pipeline.store import Store
from pipeline.store.select import RANGES, VALUES
from pipeline.uncertainty import DEFAULT

LOTS = 50
# What each heading of the table sorts by, upwards and downwards.
_SORTED = {
    "lot": ("lot", "lot-down"), "what": ("what", "what-down"), "value": ("lowest", "highest"),
    "stage": ("stage", "stage-down"), "sampled": ("oldest", "newest"), "lab": ("lab", "lab-down"),
}  # fmt: skip
_FILES = ("csv", "parquet", "xlsx")
Row = dict[str, Any]


def shown_value(row: Row) -> str:
    """Say a result with its unit, rounded to its uncertainty; a censored one as its interval.

    An uncertainty that is only assumed rounds nothing: the laboratory gave its digits.
    """
    assumed = DEFAULT in (row["uncertainty_source"] or "")
    u = None if assumed else row["standard_uncertainty"]
    return interval(row["lower"], row["upper"], row["unit"], u)


def what(row: Row) -> str:
    """Say what was measured: form, analyte, and as which substance it is expressed."""
    other = row["expressed_as"]
    basis = f" as {other}" if other not in (None, row["analyte"]) else ""
    return " ".join(p for p in (row["form"], row["analyte"]) if p) + basis


def result_rows(rows: list[Row]) -> list[Row]:
    """Add to each result what its row of a table shows."""
    return [
        row
        | {
            "id": f"r{i}",
            "what": what(row),
            "shown": shown_value(row),
            "link": cell_link(row),
            "mark": mark_of(row),
            "lot_link": lot_link(row["lot"]) if row["lot"] else None,
        }
        for i, row in enumerate(rows)
    ]


def _bar(row: Row) -> Bar:
    spread = row["expanded_uncertainty"] if row["lower"] == row["upper"] else None
    low, high = (row["lower"] - spread, row["lower"] + spread) if spread else (None, None)
    name = row["lot"] or row["sample_id"] or ""
    return Bar(row["id"], name, row["lower"], row["upper"], low and max(low, 0.0), high)


def draw_results(rows: list[Row], is_one_kind: bool) -> Markup:
    """Draw results that share analyte, form and unit; nothing where they do not."""
    bars = [_bar(row) for row in rows if row["lower"] is not None]
    if not is_one_kind or not bars or len({row["unit"] for row in rows}) > 1:
        return Markup("")
    return draw(bars, shown_unit(rows[0]["unit"]))


def only_kind(asked: Asked) -> str:
    """Say what all chosen results are results of; empty where they may be several things."""
    analytes, forms = (asked.chosen.get(name, ()) for name in ("analyte", "form"))
    if len(analytes) != 1 or len(forms) != 1:
        return ""
    return " ".join(part for part in (forms[0], analytes[0]) if part)


def counted(site: Site, store: Store, asked: Asked) -> tuple[int, int]:
    """Count the chosen results, and those of them that are intervals; once per state of the store."""
    key = asked.link("count", by="vineyard", order="newest", rows=25, every=False, marks=())
    n: tuple[int, int] = site.remember(key, lambda: site.browse(store).count(asked.selection()))
    return n


def sorting(asked: Asked) -> dict[str, Row]:
    """Give each heading the address that sorts by it, the other way when it does so already."""
    found = {}
    for name, (up, down) in _SORTED.items():
        wanted = down if asked.order == up else up
        way = {up: "ascending", down: "descending"}.get(asked.order)
        found[name] = {"link": asked.link("/results", order=wanted), "way": way}
    return found


@dataclass(frozen=True)
class Marked:
    """The marked results, drawn; `found` of them fit the filters, `elsewhere` are on other pages."""

    chart: Markup
    found: int
    elsewhere: tuple[str, ...]
    away: str
    downloads: list[tuple[str, str]]


def _drawn_marks(site: Site, store: Store, asked: Asked, rows: list[Row]) -> Marked | None:
    """Draw the marked results by themselves, tied to the rows of this page; null without any."""
    if not asked.marks:
        return None
    found = site.browse(store).page(asked.marked(), asked.order, 0, len(asked.marks)).to_dicts()
    ids = {row["mark"]: row["id"] for row in rows}
    marked = [
        row | {"id": ids.get(mark_of(row), f"r{len(rows) + i}")} for i, row in enumerate(found)
    ]
    kinds = {(row["analyte"], row["form"], row["expressed_as"]) for row in marked}
    return Marked(
        draw_results(marked, len(kinds) == 1),
        len(marked),
        tuple(mark for mark in asked.marks if mark not in ids),
        asked.link("/results", marks=(), page=asked.page),
        [(kind, asked.link(f"/download/results.{kind}")) for kind in _FILES],
    )


def _pages(asked: Asked, n: int) -> Row:
    last = max(-(-n // asked.rows), 1)
    steps = {"first": 1, "before": asked.page - 1, "after": asked.page + 1, "last": last}
    return {
        "page": asked.page, "pages": last,
        "sizes": [(size, asked.link("/results", rows=int(size))) for size in ROWS],
        **{
            name: asked.link("/results", page=page)
            if 1 <= page <= last and page != asked.page and n else None
            for name, page in steps.items()
        },
    }  # fmt: skip


def results_view(site: Site, store: Store, pairs: Pairs) -> tuple[str, Row]:
    """Show the chosen results, a page of them at a time, each with the way to its cell."""
    asked = read_view(pairs)
    n, n_censored = counted(site, store, asked)
    start = (asked.page - 1) * asked.rows
    browser = site.browse(store)
    found = browser.page(asked.selection(), asked.order, start, asked.rows) if n > start else None
    rows = result_rows([] if found is None else found.to_dicts())
    only = only_kind(asked)
    drawn, units = strips(site, store, asked) if only else ([], [])
    marked = _drawn_marks(site, store, asked, rows)
    whole = replace(asked, marks=())
    return "results", {
        "title": "Results",
        "form": form(site, store, asked, "/results"),
        "orders": list(ORDER_WORDS.items()), "order": asked.order, "sorting": sorting(asked),
        "rows": rows, "only": only, "marked": marked,
        "chart": marked.chart if marked else draw_results(rows, bool(only)),
        "strips": drawn, "units": units, "asked": asked,
        "ranges": {name: next(iter(asked.chosen.get(name, ())), "") for name in RANGES},
        "n": n, "n_censored": n_censored,
        "first": start + 1, "last": start + len(rows), "turn": _pages(asked, n),
        "start_link": asked.link("/results"),
        "compare_link": whole.dropping(*VALUES).link("/", order="newest", rows=25),
        "downloads": [(kind, whole.link(f"/download/results.{kind}")) for kind in _FILES],
    }  # fmt: skip


def lots_view(site: Site, store: Store, pairs: Pairs) -> tuple[str, Row]:
    """Show the lots whose name, vineyard, variety or vintage holds some words, flagged ones first."""
    words = read_text(pairs, "words").strip()
    place = read_view([(name, value) for name, value in pairs if name == "page"])
    start = (place.page - 1) * LOTS
    rows = site.browse(store).known_lots(words, start, LOTS).to_dicts()
    found = rows[0]["n_found"] if rows else 0
    return "lots", {
        "title": "Lots",
        "words": words,
        "rows": [row | {"link": lot_link(row["lot"])} for row in rows],
        "found": found, "first": start + 1, "last": start + len(rows),
        "page": place.page, "more": start + len(rows) < found,
    }  # fmt: skip
