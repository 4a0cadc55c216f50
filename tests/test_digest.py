"""The digest: first line, silence, order, sources, charts that keep intervals, safe workbook."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest
from test_digest_length import MOST_WORDS, Unfolded

from pipeline.digest import (
    Digest,
    Views,
    first_line,
    gather,
    render_html,
    write_digest,
    write_workbook,
)
from pipeline.digest.addressed import addressed
from pipeline.digest.chart import as_svg, draw, mark_rows
from pipeline.digest.labels import Label, lifts
from pipeline.digest.letter import render_text
from pipeline.digest.links import reachable
from pipeline.digest.model import Course, Mark
from pipeline.digest.states import current, lot_states
from pipeline.digest.views import (
    AMENDED,
    CONTRADICTIONS,
    DECISIONS,
    HELD_LOTS,
    INTERVENTIONS,
    LOTS,
    MOVEMENTS,
    QUALITY,
    SUSPECTS,
    TASTINGS,
    UNASSIGNED,
)
from pipeline.digest.words import brief, interval, likelihood, number, sources
from pipeline.digest.write import replace_whole
from pipeline.errors import CinderlotError
from pipeline.settings import Recipient, Settings
from pipeline.store import Store
from schemas.frames import FLAGS, FRACTIONS, HELD, PANELS, RESULTS
from schemas.report import STORED, UNUSED, Report
from schemas.vocabulary import load_vocabulary

MADE = datetime(2026, 3, 16, 7, 30, tzinfo=UTC)
LAB = "Tressock Laboratory of Oenology"
PARKER = "Parker et al., J. Agric. Food Chem. 60 (2012) 2629"
CELLS = "W11/tressock.xlsx|Phenols!C5; W11/tressock.xlsx|Phenols!D5"
HELD_VIEW = HELD | {"status": pl.String(), "is_current": pl.Boolean()}
REPORTS = {"report_id": pl.String(), "loaded_at": pl.Datetime("us", "UTC")}


def frame(schema: dict[str, pl.DataType], *rows: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame([dict.fromkeys(schema) | row for row in rows], schema=schema)


def flag(lot: str | None, decision: str = "above", **more: Any) -> dict[str, Any]:
    name = lot or "HK25-0991"
    return {
        "lot": lot, "sample_id": f"{name}/6", "stage": "pre-bottling", "lab": LAB,
        "sampled_on": date(2026, 2, 23), "kind": "over_threshold", "analyte": "guaiacol",
        "form": "free", "lower": 42.3, "upper": 42.3, "unit": "ug/L", "threshold": 23.0,
        "threshold_source": PARKER, "probability": 0.97, "decision": decision,
        "severity": "act" if decision == "above" else "note",
        "message": f"Free guaiacol of {name} is {decision} 23 ug/L.", "cells": CELLS,
        "status": "current",
    } | more  # fmt: skip


def result(
    lot: str | None, lower: float = 42.3, upper: float | None = None, **more: Any
) -> dict[str, Any]:
    name = lot or "HK25-0991"
    return {
        "report_id": "r1", "lab": LAB, "report_no": "TR-26-0119", "method": "GC-MS",
        "sample_id": f"{name}/6", "sample_kind": "lot", "lot": lot, "matrix": "red wine",
        "variety": "Shiraz", "vineyard": "Hawkanner", "vintage": 2025, "stage": "pre-bottling",
        "sampled_on": date(2026, 2, 23), "analyte": "guaiacol", "form": "free", "unit": "ug/L",
        "lower": lower, "upper": lower if upper is None else upper, "raw_value": f"{lower:g}",
        "file": "W11/tressock.xlsx", "sheet": "Phenols", "cell": "C5",
    } | more  # fmt: skip


def fraction(lot: str, **more: Any) -> dict[str, Any]:
    return {
        "lot": lot, "sample_id": f"{lot}/6", "sample_kind": "lot", "stage": "pre-bottling",
        "sampled_on": date(2026, 2, 23), "lab": LAB, "aglycone": "panel", "free_lower": 0.0,
        "free_upper": 32.0, "bound_lower": 172.0, "bound_upper": 176.0, "unit": "nmol/L",
        "bound_fraction_lower": 0.843, "bound_fraction_upper": 1.0, "bound_basis": "glycosides",
        "cells": CELLS,
    } | more  # fmt: skip


def views(
    flags: Iterable[dict[str, Any]] = (),
    results: Iterable[dict[str, Any]] = (),
    fractions: Iterable[dict[str, Any]] = (),
    held: Iterable[dict[str, Any]] = (),
    **more: pl.DataFrame,
) -> Views:
    return Views(
        reports=more.pop("reports", frame(REPORTS, {"report_id": "r1", "loaded_at": MADE})),
        results=frame(RESULTS, *results),
        held=frame(HELD_VIEW, *held),
        fractions=frame(FRACTIONS, *fractions),
        flags=frame(FLAGS, *flags),
        **more,
    )


def gathered(seen: Views, **more: Any) -> Digest:
    return gather(seen, Settings(), load_vocabulary(), MADE, **more)


WHITE = {"threshold": None, "threshold_source": None, "probability": None, "reason": "no_threshold"}
SEASON = views(
    flags=[
        flag("25-SH-04", lower=30.6, upper=30.6),
        flag("25-SH-01"),
        flag("25-SH-01", analyte="m-cresol", lower=25.7, upper=25.7, threshold=20.0),
        flag("25-PN-01", "undecided", lower=22.6, upper=22.6, probability=0.46,
             reason="within_uncertainty", severity="warn"),
        flag("25-CS-03", "below", lower=1.9, upper=1.9, probability=0.0001),
        flag("25-CS-03", "undecided", analyte="syringol", **WHITE),
        flag("25-CH-01", "undecided", lower=0.0, upper=0.5, **WHITE),
        flag(None, lower=41.0, upper=41.0),
        flag("25-CS-03", kind="total_below_free", analyte="syringol", severity="warn",
             message="Total syringol lies below free syringol."),
    ],
    results=[
        result("25-SH-01", 0.0, 0.5, sample_id="25-SH-01/2", stage="must", matrix="must",
               sampled_on=date(2025, 9, 15), raw_value="<0.5"),
        result("25-SH-01", standard_uncertainty=3.8, expanded_uncertainty=7.6, coverage_factor=2.0),
        result("25-SH-04", 30.6),
        result("25-PN-01", 22.6, variety="Pinot noir"),
        result("25-CS-03", 1.9),
        result("25-CS-03", 3.0, analyte="syringol"),
        result("25-CS-03", 9.0, form="total"),
        result("25-CH-01", 0.0, 0.5, matrix="white wine", variety="Chardonnay"),
        result(None, 41.0),
        result("25-ZZ-01", 90.0, sample_kind="bench treated"),
    ],
    fractions=[fraction("25-CH-01"), fraction("25-SH-01", bound_lower=900.0)],
    held=[
        {"reason_code": "limit_unknown", "status": "open", "raw_value": "=1+1"},
        {"reason_code": "limit_unknown", "status": "asked"},
        {"reason_code": "unit_missing", "status": "open", "is_current": True},
        {"reason_code": "unit_missing", "status": "open", "is_current": False},
        {"reason_code": "unit_missing", "status": "dismissed"},
    ],
    lots=frame(LOTS, {"lot": "25-SH-01", "variety": "Shiraz"}, {"lot": "25-CS-05"}),
    interventions=frame(
        INTERVENTIONS,
        {"lot": "25-PN-01", "kind": "fining", "agent": "activated carbon", "dose": 20.0,
         "dose_unit": "g/hL", "done_on": date(2026, 3, 1)},
        {"lot": "25-SH-04", "kind": "fining", "done_on": date(2026, 1, 8)},
    ),
    tastings=frame(TASTINGS, {"lot": "25-SH-01", "attribute": "smoke flavour", "score": 6.1,
                              "scale_max": 9.0, "panel_size": 8, "tasted_on": date(2025, 12, 10)}),
    unassigned=frame(UNASSIGNED, {"lab": LAB, "sample_id": "HK25-0991", "n_results": 12,
                                  "nearest": "HK25-0591"}),
)  # fmt: skip


@pytest.fixture(scope="module")
def digest() -> Digest:
    return gathered(SEASON)


@pytest.fixture(scope="module")
def page(digest: Digest) -> str:
    return render_html(digest)


class Outline(HTMLParser):
    """Collect tags, links, identifiers and text in the order of the page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][0] != "style":
            self.text.append(data)

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


def words_of(page: str) -> str:
    return re.sub(r"\s+", " ", " ".join(Outline(page).text))


def test_first_line_counts(digest: Digest) -> None:
    # By hand from SEASON: lots SH-01, SH-04, PN-01, CS-03, CH-01; held: open, asked, open in force.
    assert first_line(digest) == (
        "5 lots looked at, 2 flagged, 2 undecided, 3 values held back, "
        "1 register lot with no current panel, 4 lots with free results only, "
        "1 lot last tested before a treatment or blend, 1 sample without a lot (1 flagged)"
    )


def test_first_line_stands_first(page: str) -> None:
    text = words_of(page)
    assert text.index("5 lots looked at") < text.index("Not looked at") < text.index("Flagged lots")


def test_page_is_self_contained(page: str) -> None:
    outline = Outline(page)
    assert not re.search(r"https?:|//[a-z]", page)
    assert not {"script", "link", "img", "iframe", "object"} & {tag for tag, _ in outline.tags}
    assert not re.search(r"url\(|@import|\son\w+=", page)
    assert all(str(a.get("href")).startswith("#") for a in outline.named("a"))


def test_links_reach_their_target(page: str) -> None:
    outline = Outline(page)
    targets = {attributes.get("id") for _, attributes in outline.tags}
    assert {str(a["href"])[1:] for a in outline.named("a")} <= targets


def test_page_is_semantic(page: str) -> None:
    outline = Outline(page)
    assert outline.named("html")[0]["lang"] == "en"
    assert len(outline.named("h1")) == 1
    assert len(outline.named("table")) == len(outline.named("caption"))
    assert all(a.get("scope") in {"col", "row"} for a in outline.named("th"))
    assert all(a.get("aria-label") for a in outline.named("figure"))


def test_flagged_lots_worst_first(digest: Digest, page: str) -> None:
    # SH-01 has two flags to act on; the sample's 41.0 / 23 is worse than SH-04's 30.6 / 23.
    names = ["25-SH-01", f"sample HK25-0991/6 ({LAB})", "25-SH-04"]
    assert [lot.name for lot in digest.flagged] == names
    articles = [str(a["aria-labelledby"]) for a in Outline(page).named("article")]
    assert articles == [f"{lot.anchor}-name" for lot in digest.flagged]


def test_single_compounds_stand_before_sums() -> None:
    odour = flag("a", kind="odour_activity", analyte="smoke phenols", lower=3.2, threshold=1.0)
    found = gathered(views([odour, flag("a")], [result("a")])).flagged[0]
    assert [f.kind for f in found.above] == ["over_threshold", "odour_activity"]


def test_a_coverage_factor_that_nobody_printed_is_marked() -> None:
    spread = {"expanded_uncertainty": 7.6, "coverage_factor": 2.0, "standard_uncertainty": 3.8}
    rows = [result("L-1", lower=42.3, upper=42.3, value=42.3, **spread)]
    for source, said in (("report", "(k = 2)"), ("report, k = 2 assumed", "(k = 2 assumed)")):
        above = flag("L-1", lower=42.3, upper=42.3, uncertainty_source=source)
        text = words_of(render_html(gathered(views([above], rows))))
        assert f"42.3 ± 7.6 µg/L {said}" in text


def test_number_threshold_and_sureness(page: str) -> None:
    text = words_of(page)
    assert "42.3 ± 7.6 µg/L (k = 2)" in text
    assert "above 23 µg/L: 97 % probable" in text
    assert "Thresholds: free guaiacol 23 µg/L, free m-cresol 20 µg/L (Parker et al. 2012)." in text
    assert f"Threshold: 23 µg/L, {PARKER}." in text
    assert "very likely (probability 0.97 of being above)" in text
    assert "ug/L" not in text


def test_what_else_to_know_is_said_once_for_a_lot() -> None:
    wood = "Possible other source of guaiacol: wood (a source, Table 4)."
    assumed = "No uncertainty of the laboratory is known, up to 4.2 ug/L."
    flags = [
        flag("L1", note=f"{wood} {assumed}"),
        flag("L1", analyte="m-cresol", note=assumed),
        flag("L2", "undecided", reason="within_uncertainty", note=wood),
    ]
    page = render_html(gathered(views(flags, [result("L1"), result("L2")])))
    assert page.count("known, up to 4.2 µg/L.") == 1
    assert page.count("wood (a source, Table 4).") == 2


def test_panels_of_open_lots_have_a_sheet(tmp_path: Path) -> None:
    sums = {"sample_kind": "lot", "panel": "smoke", "basis": "free", "lower": 1.0, "upper": 2.0,
            "n_members": 5, "limit_driven": True, "sample_id": "x", "lab": LAB}  # fmt: skip
    panels = frame(PANELS, {"lot": "L1", **sums}, {"lot": "L2", **sums})
    seen = views([flag("L1"), flag("L2", "below")], [result("L1"), result("L2")], panels=panels)
    write_workbook(gathered(seen), tmp_path / "digest.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "digest.xlsx")["panels"]
    rows = list(sheet.iter_rows(min_row=2, values_only=True))
    assert [row[0] for row in rows] == ["L1"]
    assert {"members (count)", "limit-driven"} <= {cell.value for cell in sheet[1]}


def test_sources_are_named(page: str) -> None:
    assert "W11/tressock.xlsx, sheet Phenols, C5, D5" in words_of(page)


@pytest.mark.parametrize(
    ("rows", "state"),
    [
        ([("above", None), ("below", None)], "above"),
        ([("undecided", "within_uncertainty"), ("below", None)], "undecided"),
        ([("undecided", "no_threshold"), ("below", None)], "below"),
        ([("undecided", "no_threshold")], "undecided"),
        ([("undecided", None), ("below", None)], "undecided"),
        ([("undecided", "colour_unknown")], "undecided"),
    ],
)
def test_state_is_the_worst_decision(rows: list[tuple[str, str | None]], state: str) -> None:
    flags = frame(FLAGS, *(flag("a", decision, reason=reason) for decision, reason in rows))
    assert lot_states(current(flags))["state"].to_list() == [state]


def test_superseded_flags_do_not_count() -> None:
    seen = views([flag("a", status="superseded"), flag("a", "below")], [result("a")])
    assert [lot.name for lot in gathered(seen).below] == ["a"]


def test_white_lot_says_why_it_is_undecided(digest: Digest) -> None:
    why = {lot.name: lot.why for lot in digest.undecided}
    assert why["25-CH-01"] == "no threshold set for white wine"
    assert why["25-PN-01"] == "the threshold lies within the uncertainty of the value"


def test_unjudged_analytes_are_said_once_per_matrix(page: str) -> None:
    text = words_of(page)
    assert text.count("No threshold is set for free syringol in red wine") == 1
    assert text.count("No threshold is set for free guaiacol in white wine") == 1


def test_lot_with_results_but_no_flag_is_not_silent() -> None:
    digest = gathered(views([], [result("a")]))
    assert [lot.name for lot in digest.undecided] == ["a"]
    assert digest.counts.lots == 1


def test_bench_samples_are_no_lots(page: str) -> None:
    assert "25-ZZ-01" not in page


def test_silence_is_listed(digest: Digest) -> None:
    gaps = {gap.title: gap.lines for gap in digest.gaps}
    assert gaps["No current panel"] == ("25-CS-05",)
    names = {gap.title: gap.names for gap in digest.gaps}
    assert names["No current panel"] == ("25-CS-05",)
    assert names["Free results only"] == gaps["Free results only"]
    assert gaps["Free results only"] == ("25-CH-01", "25-PN-01", "25-SH-01", "25-SH-04")
    assert gaps["Last test older than a treatment or blend"] == (
        "25-PN-01: last sample 2026-02-23, activated carbon 2026-03-01",
    )
    assert gaps["Samples without a lot"] == (
        f"HK25-0991 ({LAB}), 12 results; nearest known name: HK25-0591",
    )


def test_blend_after_the_last_sample_and_overdue_retest() -> None:
    moved = {"from_lot": "b", "to_lot": "a", "kind": "blend", "moved_on": date(2026, 3, 2)}
    racked = {"from_lot": "a", "to_lot": "a", "kind": "rack", "moved_on": date(2026, 3, 3)}
    due = {"lot": "a", "decision": "hold", "decided_on": date(2026, 3, 1),
           "retest_due_on": date(2026, 3, 10)}  # fmt: skip
    later = due | {"lot": "c", "retest_due_on": date(2026, 6, 1)}
    seen = views(
        [flag("a")],
        [result("a")],
        movements=frame(MOVEMENTS, moved, racked),
        decisions=frame(DECISIONS, due, later),
    )
    gaps = {gap.title: gap.lines for gap in gathered(seen).gaps}
    assert gaps["Last test older than a treatment or blend"] == (
        "a: last sample 2026-02-23, blend with b 2026-03-02",
    )
    assert gaps["Re-test due"] == ("a: due 2026-03-10, last sample 2026-02-23",)


def test_what_reports_say_otherwise_than_the_register_or_each_other() -> None:
    place = {"file": "f.xlsx", "sheet": "S", "cell": "B2"}
    row = {"lot": "a", "field": "stage", "in_report": "ageing", "in_register": "bottled", **place}
    two = {"lot": "a", "sample_id": "Tank 4", "field": "lot", "in_report": "a",
           "in_other_reports": "b", **place}  # fmt: skip
    seen = views([flag("a")], [result("a")], contradictions=frame(CONTRADICTIONS, row, two))
    lines = next(g.lines for g in gathered(seen).gaps if g.title.startswith("Reports disagree"))
    assert lines == (
        "a Tank 4: lot “a” in the report, “b” in other reports (f.xlsx, S!B2)",
        "a: stage “ageing” in the report, “bottled” in the register (f.xlsx, S!B2)",
    )


def test_held_values_by_reason_with_the_command(digest: Digest, page: str) -> None:
    assert [(h.count, h.reason[:22]) for h in digest.held] == [
        (2, "reported as below or a"),
        (1, "no unit stands in the "),
    ]
    assert "cinderlot held --csv" in page


def held_value(held_id: str, value: str, **more: Any) -> dict[str, Any]:
    return {
        "held_id": held_id, "report_id": "r1", "file": "f.csv", "sheet": "f", "cell": "B2",
        "raw_sample": "s", "raw_analyte": "Free guaiacol", "raw_value": value,
        "reason_code": "not_a_number", "status": "open", "is_current": True,
    } | more  # fmt: skip


def test_lots_whose_values_are_held_back_are_named(tmp_path: Path) -> None:
    waiting = [
        held_value("h1", "about 5"), held_value("h2", "about 9"), held_value("h3", "x"),
        held_value("h4", "y", status="dismissed"),
    ]  # fmt: skip
    places = {"h1": "a", "h2": "b", "h3": "no line", "h4": "c"}
    seen = views(
        [flag("a", "below"), flag("c", "below")], [result("a"), result("c")], held=waiting,
        held_lots=frame(HELD_LOTS, *({"held_id": h, "lot": x} for h, x in places.items())),
        lots=frame(LOTS, {"lot": "a"}, {"lot": "b"}, {"lot": "c"}),
    )  # fmt: skip
    digest = gathered(seen)
    gaps = {gap.title: gap.lines for gap in digest.gaps}
    assert gaps["No current panel"] == ("b, 1 value held back",)
    assert gaps["Values held back"] == (
        "a: Free guaiacol “about 5”",
        "b: Free guaiacol “about 9”; nothing else is current",
        "no line: Free guaiacol “x”; nothing else is current",
    )
    assert "3 lots with values held back" in first_line(digest)
    page = words_of(render_html(digest))
    assert "Values held back a, b, no line" in page
    assert "Held back, in no decision: Free guaiacol “about 5”." in page
    assert "- Values held back: a, b, no line\n" in render_text(digest)
    write_workbook(digest, tmp_path / "d.xlsx")
    book = openpyxl.load_workbook(tmp_path / "d.xlsx")
    assert [row[1].value for row in book["held"].iter_rows(min_row=2)] == ["a", "b", "no line"]
    only = Recipient("a@example.org", lots=("b",))
    told = {gap.title: gap.lines for gap in gathered(addressed(seen, only)).gaps}
    assert told["Values held back"] == gaps["Values held back"][1:2]


def suspect(suspect_id: str, lot: str | None, status: str = "open") -> dict[str, Any]:
    return {
        "suspect_id": suspect_id, "lab": LAB, "sample_id": "T-7", "lot": lot, "status": status,
        "raw_analyte": "Guaiacol", "raw_value": "9000", "file": "f", "sheet": "s", "cell": "B2",
    }  # fmt: skip


def test_lots_that_are_silent_because_a_number_is_suspected_are_named(tmp_path: Path) -> None:
    told = [suspect("s1", "a"), suspect("s2", "b", "asked"), suspect("s3", "c", "confirmed"),
            suspect("s4", None)]  # fmt: skip
    slipped = frame(RESULTS | {"suspected_factor": pl.Float64()},
                    result("a"), result("b", 9000.0, suspected_factor=0.001), result("c"))  # fmt: skip
    seen = replace(
        views([flag("a"), flag("c", "below")], lots=frame(LOTS, {"lot": "b"})),
        results=slipped, suspects=frame(SUSPECTS, *told),
    )  # fmt: skip
    digest = gathered(seen)
    gaps = {gap.title: gap.lines for gap in digest.gaps}
    assert gaps["No current panel"] == ("b, 1 number suspected",)
    assert gaps["Numbers suspected"] == (
        "a: Guaiacol “9000”", "b: Guaiacol “9000”; nothing else is current",
        f"sample T-7 ({LAB}): Guaiacol “9000”; nothing else is current",
    )  # fmt: skip
    assert "0 values held back, 3 numbers suspected, " in first_line(digest)
    assert "3 lots with suspected numbers" in first_line(digest)
    page = words_of(render_html(digest))
    assert f"Numbers suspected a, b, sample T-7 ({LAB})" in page
    assert "1 number suspected." in page  # beside the flagged lot
    assert "- Numbers suspected: a, b" in render_text(digest)
    write_workbook(digest, tmp_path / "d.xlsx")
    heads, first, *_ = openpyxl.load_workbook(tmp_path / "d.xlsx")["lots"].iter_rows(
        values_only=True
    )
    assert dict(zip(heads, first, strict=True))["suspected (count)"] == 1
    only = gathered(addressed(seen, Recipient("a@example.org", lots=("a",))))
    assert [gap.names for gap in only.gaps if gap.title == "Numbers suspected"] == [("a",)]


def test_other_words_for_the_same_are_no_news() -> None:
    seen = views([flag("a"), flag("b", "below")], [result("a"), result("b")])
    state = gathered(seen).state
    reworded = [flag("a", message="Said otherwise.", note="A note."), flag("b", "below")]
    assert gathered(replace(seen, flags=frame(FLAGS, *reworded[::-1]))).state == state
    news = (
        {"flags": frame(FLAGS, flag("a"), flag("b"))},
        {"results": frame(RESULTS, result("a", 42.4), result("b"))},
        {"suspects": frame(SUSPECTS, suspect("s1", "a"))},
        {"lots": frame(LOTS, {"lot": "c"})},
        {"tastings": frame(TASTINGS, {"lot": "a", "attribute": "smoke", "score": 2.0})},
    )
    told = {gathered(replace(seen, **more)).state for more in news}
    assert len(told | {state}) == len(news) + 1
    louder = Settings(confidence=0.9)
    assert gather(seen, louder, load_vocabulary(), MADE).state != state


def crowded(n_lots: int) -> Digest:
    """A season of many flagged lots: two laboratories, three matters, another source in each."""
    names = [f"L-{n:02}" for n in range(1, n_lots + 1)]
    kinds = {"guaiacol": 20.0, "m-cresol": 23.0, "o-cresol": 62.0}
    wood = "Possible other source of guaiacol: wood gives it off too, toasted wood above all (x)."
    flags = [
        flag(name, analyte=kind, threshold=at, lower=at + 1, upper=at + 1, lab=lab, note=wood)
        for name in names
        for kind, at in kinds.items()
        for lab in (LAB, "Ombrelow Analytical Bench")
    ]
    return gathered(
        views(flags, [result(name) for name in names],
              lots=frame(LOTS, *({"lot": f"U-{n}"} for n in range(8)))),
        before=frame(FLAGS), previous_at=MADE,
    )  # fmt: skip


@pytest.mark.parametrize("n_lots", [12, 25])
def test_many_flagged_lots_are_all_seen_and_still_read_in_two_minutes(n_lots: int) -> None:
    """Two minutes: 238 words each, Brysbaert, Journal of Memory and Language 109 (2019) 104047."""
    season = crowded(n_lots)
    page, letter = render_html(season), render_text(season)
    seen = " ".join(Unfolded(page).words)
    assert len(seen.split()) <= MOST_WORDS
    assert len(letter.partition("FOR LATER")[0].split()) <= MOST_WORDS
    for text in (seen, letter.partition("FOR LATER")[0].replace("\xa0", " ")):
        assert "Free guaiacol; free m-cresol; free o-cresol" in text
        assert "free guaiacol 20 µg/L, free m-cresol 23 µg/L" in text
        assert "(Parker et al. 2012)" in text
        assert text.count("bench trial before treating") == 1
        for name in (f"L-{n:02}" for n in range(1, n_lots + 1)):
            assert re.search(rf"{name}:? (21 µg/L, 97 %, wood\?|Shiraz)", text), name
    assert page.count("<svg") == n_lots


def test_few_flagged_lots_stand_open_with_what_else_may_be_behind_them() -> None:
    page = render_html(crowded(2))
    assert page.count("<article") == 2
    assert Unfolded(page).words.count("source:") == 2
    assert "Other possible source: wood." in words_of(page)


def test_a_lot_that_several_laboratories_measured_is_not_worse_for_it() -> None:
    twice = [flag("a", lower=30.0, upper=30.0, lab=lab) for lab in (LAB, "Bench B")]
    season = gathered(views([*twice, flag("b")], [result("a"), result("b")]))
    assert [lot.name for lot in season.flagged] == ["b", "a"]


def test_growth_of_a_share_is_told_in_percentage_points() -> None:
    grown = flag("a", kind="bound_growth", analyte="panel", form=None, unit="1", lower=0.302,
                 upper=0.302, threshold=0.05, threshold_source="settings: [growth] minimum")  # fmt: skip
    said = words_of(render_html(gathered(views([grown], [result("a")]))))
    assert (
        "growth of the bound share 30.2 percentage points , above 5; that it rose at all: 97 % probable"
        in said
    )
    assert "growth of the bound share 5 percentage points (settings)" in said


def test_numbers_of_a_chart_are_lifted_until_they_touch_nothing() -> None:
    # By hand: letters of 8.2 pixels, so three are 24.6 wide and columns of 20 let neighbours touch.
    def label(column: float, above: float) -> Label:
        return Label(20 * column, above, above, "123")

    assert lifts([label(n, 50) for n in range(4)]) == [0, 1, 0, 1]
    assert lifts([label(2 * n, 50) for n in range(4)]) == [0] * 4
    assert lifts([label(0, 50), label(1, 10)]) == [0, 0]
    # The number of a low mark would lie on the mark of its neighbour, 17 pixels higher.
    assert lifts([label(0, 50), Label(15, 33, 33, "123")])[1] > 0


def test_a_chart_of_sixteen_samples_fits_a_telephone() -> None:
    # 390 pixels less the page's margins of 1.15 rem on both sides (16 pixels each rem).
    slots = tuple(f"{n}|ageing|a" for n in range(16))
    marks = tuple(Mark(s, "value", 20.5, 20.5, None, "20.5") for s in slots)
    drawn = as_svg(draw(Course(slots, "x", "µg/L", marks, None, "p", "nmol/L", (), (), "")))
    found = re.search(r'width="([\d.]+)"', drawn)
    assert found
    assert float(found[1]) <= 390 - 2 * 1.15 * 16
    assert drawn.count("20.5") == 16


def test_a_season_without_a_register_is_not_called_complete() -> None:
    rows = [result("a"), result("a", form="total")]
    said = words_of(render_html(gathered(views([flag("a", "below")], rows))))
    assert "The register names no lots: which have no results is not known." in said
    assert "Everything: no lot has results" in words_of(render_html(gathered(views())))


def test_reserve_needs_no_free_phenol_above(digest: Digest, page: str) -> None:
    # 25-SH-01 carries a larger reserve but is flagged by its free guaiacol.
    assert [r.subject for r in digest.reserves] == ["25-CH-01"]
    text = words_of(page)
    assert "172 to 176 nmol/L" in text
    assert "84 to 100 %" in text
    assert "Ristic et al., J. Agric. Food Chem. 65 (2017) 4146" in text


@pytest.mark.parametrize(
    "more",
    [
        {"bound_lower": 80.0},  # no more than unexposed wine carries
        {"bound_fraction_lower": 0.4},  # less than half is bound
        {"unit": "nmol/kg"},  # grapes
        {"bound_basis": "glycosides as equivalents"},  # nothing published to read it against
        {"stage": "must"},  # not wine yet
        {"sample_kind": "bench treated"},  # not the lot itself
    ],
)
def test_small_reserve_is_not_listed(more: dict[str, Any]) -> None:
    seen = views([flag("a", "below")], [result("a")], [fraction("a", **more)])
    assert gathered(seen).reserves == ()


FORBIDDEN = (
    "will become", "will rise", "will be released", "will release", "expected to reach",
    "is expected to", "forecast", "predict", "in the future", "would reach", "potential free",
)  # fmt: skip


def test_no_promise_of_a_future_concentration(page: str, digest: Digest, tmp_path: Path) -> None:
    write_workbook(digest, tmp_path / "d.xlsx")
    book = openpyxl.load_workbook(tmp_path / "d.xlsx")
    cells = (str(c.value) for sheet in book for row in sheet for c in row if c.value is not None)
    text = f"{words_of(page)} {' '.join(cells)}".casefold()
    assert [phrase for phrase in FORBIDDEN if phrase in text] == []


def test_caution_closes_the_page(page: str) -> None:
    text = words_of(page)
    assert "allergens (milk, egg, fish)" in text
    assert text.index("What a colleague would do next") < text.index("it never takes one")


def test_history_and_tasting(digest: Digest) -> None:
    lots = {lot.name: lot for lot in digest.flagged + digest.undecided}
    assert lots["25-SH-01"].tastings == ("smoke flavour 6.1 of 9, 8 tasters (2025-12-10)",)
    assert lots["25-SH-04"].history == ("fining (2026-01-08)",)
    assert lots["25-PN-01"].history == (
        "activated carbon, 20 g/hL (2026-03-01, after the last sample)",
    )


def test_other_findings_go_to_the_laboratory(digest: Digest) -> None:
    assert [(f.subject, f.kind) for f in digest.notices] == [("25-CS-03", "total_below_free")]
    assert "25-CS-03" in [lot.name for lot in digest.below]


def _layers(spec: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [
        row
        for strip in spec["vconcat"]
        for layer in strip["layer"]
        if layer["mark"]["type"] == kind
        for row in layer["data"]["values"]
    ]


def test_chart_never_draws_a_censored_value_as_a_point(digest: Digest) -> None:
    course = digest.flagged[0].course
    assert course is not None
    assert [slot.split("|")[1] for slot in course.slots] == ["must", "pre-bottling"]
    spec = draw(course)
    points, boxes = _layers(spec, "point"), _layers(spec, "bar")
    assert [row["lower"] for row in points] == [42.3]
    assert [(row["low"], row["high"]) for row in boxes[:1]] == [(0.0, 0.5)]
    assert {(row["low"], row["high"]) for row in boxes[1:]} == {(0.0, 32.0), (900.0, 176.0)}


def test_chart_says_threshold_unit_and_uncertainty(digest: Digest) -> None:
    course = digest.flagged[0].course
    assert course is not None
    spec = draw(course)
    assert spec["vconcat"][0]["title"]["text"] == "free guaiacol, µg/L"
    whiskers = [row for row in _layers(spec, "rule") if "low" in row]
    # 42.3 less and plus 7.6
    assert [(round(r["low"], 1), round(r["high"], 1)) for r in whiskers] == [(34.7, 49.9)]
    assert [r["at"] for r in _layers(spec, "rule") if "at" in r] == [23.0]
    assert spec["vconcat"][0]["title"]["subtitle"] == "dashed line: threshold 23 µg/L"


def _written(spec: dict[str, Any]) -> list[str]:
    return [
        row["label"] for layer in spec["vconcat"][-1]["layer"] for row in layer["data"]["values"]
    ]


def test_stages_are_named_once_and_shortly_where_they_would_touch() -> None:
    seen = views(
        [flag("a")],
        [result("a", 30.0 + n, sample_id=f"a/{n}", stage=stage, sampled_on=date(2025, 9, n))
         for n, stage in enumerate(["must", "end of AF", "ageing", "ageing", "bottled"], 1)],
    )  # fmt: skip
    course = gathered(seen).flagged[0].course
    assert course is not None
    assert _written(draw(course)) == ["must", "end of\nAF", "ageing", "bottled", *[""] * 5][:4]
    crowded = replace(course, slots=tuple(f"{n}|{s}|" for n, s in enumerate(
        ["fermenting", "pre-bottling", "stage unknown", "fermenting", "harvest", "ageing",
         "fermenting", "vineyard", "bottled"])), marks=(), panel=course.marks[:0])  # fmt: skip
    assert "ferm." in _written(draw(crowded))


def test_open_upper_end_is_drawn_to_the_top() -> None:
    rows = mark_rows((Mark("0|must|", "value", 50.0, None, None, ">50"),), 130.0)
    assert (rows[0]["is_point"], rows[0]["low"], rows[0]["high"]) == (False, 50.0, 130.0)


def test_chart_takes_the_pages_colours(digest: Digest) -> None:
    course = digest.flagged[0].course
    assert course is not None
    svg = as_svg(draw(course))
    assert "currentColor" in svg
    assert "var(--accent)" in svg
    assert "xmlns" not in svg
    assert not re.search(r"(fill|stroke)=\"(#0[0-9]0|black|#000|#333)", svg)


def test_unknown_stage_stands_where_its_date_puts_it() -> None:
    rows = [
        result("a", 9.0, stage=None, sample_id="a/3", sampled_on=date(2025, 11, 2)),
        result("a", 8.0, stage="end of AF", sample_id="a/2", sampled_on=date(2025, 10, 6)),
        result("a"),
    ]
    course = gathered(views([flag("a")], rows)).flagged[0].course
    assert course is not None
    assert [m.label for m in course.marks] == ["8", "9", "42.3"]
    assert course.slots[1].split("|")[1] == "stage unknown"


def test_grapes_are_not_drawn_with_wine() -> None:
    grapes = result("a", 8.0, unit="ug/kg", matrix="grape", stage="harvest", sample_id="a/1")
    course = gathered(views([flag("a")], [grapes, result("a")])).flagged[0].course
    assert course is not None
    assert [m.label for m in course.marks] == ["42.3"]
    assert course.notes == ()
    page = render_html(gathered(views([flag("a")], [grapes, result("a")])))
    assert "grapes (µg/kg) are not drawn with wine (µg/L)" in page


def test_laboratories_are_told_apart() -> None:
    other = result("a", 30.0, lab="Ombrelow", sample_id="a/5")
    course = gathered(views([flag("a")], [other, result("a")])).flagged[0].course
    assert course is not None
    assert [slot.split("|")[2] for slot in course.slots] == ["a", "b"]
    assert course.notes == ("a = Ombrelow", f"b = {LAB}")


def test_a_letter_stands_for_one_laboratory_in_all_charts() -> None:
    rows = [result("a", 30.0), result("a", 30.0, lab="Zinnober", sample_id="a/5"),
            result("b", 30.0), result("b", 30.0, lab="Ombrelow", sample_id="b/5")]  # fmt: skip
    several = gathered(views([flag("a"), flag("b")], rows))
    text = words_of(render_html(several))
    assert f"In charts: a = Ombrelow; b = {LAB}; c = Zinnober." in text
    letters = [
        {slot.split("|")[2] for slot in lot.course.slots} for lot in several.flagged if lot.course
    ]
    assert letters == [{"b", "c"}, {"a", "b"}]


def test_names_not_looked_at_stand_unfolded_below_the_first_line(page: str) -> None:
    unfolded = words_of(re.sub(r"(?s)<details.*?</details>", "", page))
    silent = unfolded[unfolded.index("Not looked at") : unfolded.index("Since the last digest")]
    for name in ("25-CS-05", "25-CH-01", "25-PN-01", "25-SH-04", "HK25-0591"):
        assert name in silent


def test_hostile_names_stay_text() -> None:
    name = "<script>alert(1)</script>"
    rows = [result(name, variety='"><img src=x onerror=alert(1)>', lab="<b>L</b>|x")]
    page = render_html(gathered(views([flag(name, message="<i>m</i>")], rows)))
    outline = Outline(page)
    assert not {"script", "img", "b"} & {tag for tag, a in outline.tags if not a} - {"b"}
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;i&gt;m&lt;/i&gt;" in page


def test_empty_store_gives_a_page() -> None:
    page = render_html(gathered(views()))
    assert "0 lots looked at" in words_of(page)
    assert "No lot is above a threshold" in page


def test_workbook_sheets_and_numbers(digest: Digest, tmp_path: Path) -> None:
    write_workbook(digest, tmp_path / "digest.xlsx")
    book = openpyxl.load_workbook(tmp_path / "digest.xlsx")
    assert book.sheetnames == [
        "lots", "flags", "results", "panels", "exposure", "timeline", "picking", "quality", "held",
        "changes", "about",
    ]  # fmt: skip
    for name in book.sheetnames:
        assert book[name].freeze_panes == "B2"
        assert book[name].auto_filter.ref.startswith("A1:")
    lots = list(book["lots"].iter_rows(min_row=2, values_only=True))
    assert [row[:2] for row in lots[:1]] == [("25-SH-01", "above")]
    assert {row[0] for row in lots} >= {"25-CH-01", "25-CS-03", "25-PN-01"}
    heads = [cell.value for cell in book["results"][1]]
    assert {"source file", "source sheet", "source cell", "unit"} <= set(heads)
    names = [row[0] for row in book["results"].iter_rows(min_row=2, values_only=True)]
    assert "25-SH-01" in names
    assert "25-CS-03" not in names
    flags = book["flags"]
    column = [cell.value for cell in flags[1]].index("probability above") + 1
    assert flags.cell(2, column).number_format == "0.0##"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\x01=1+1", "#N/A", "=cmd|' /c x'!A1"])
def test_workbook_never_holds_a_formula(text: str, tmp_path: Path) -> None:
    held = {"reason_code": "not_a_number", "status": "open", "raw_value": text}
    digest = gathered(
        views([flag(text, message=text)], [result(text, raw_value=text)], held=[held])
    )
    write_workbook(digest, tmp_path / "digest.xlsx")
    book = openpyxl.load_workbook(tmp_path / "digest.xlsx")
    cells = [cell for sheet in book for row in sheet for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} <= {"s", "n", "d", "b"}
    assert text.lstrip("\x01") in {cell.value for cell in cells}


def test_settings_used_are_in_the_workbook(digest: Digest, tmp_path: Path) -> None:
    write_workbook(digest, tmp_path / "digest.xlsx")
    rows = list(openpyxl.load_workbook(tmp_path / "digest.xlsx")["about"].values)
    assert ("setting", "confidence of a decision", "0.95") in rows
    assert any("threshold of free guaiacol in red wine" in str(row[1]) for row in rows)


BEFORE = frame(
    FLAGS,
    flag("25-SH-01"),  # gains m-cresol
    flag("25-SH-04", analyte="o-cresol"),  # another compound than now
    flag("25-CS-03"),  # now below
    flag("25-PN-01", "below"),  # now undecided
    flag("25-CH-01", "undecided", reason="within_uncertainty"),  # undecided as before
)


def test_changes_since_the_last_digest() -> None:
    digest = gathered(SEASON, before=BEFORE, previous_at=datetime(2026, 3, 9, tzinfo=UTC))
    found = {change.subject: (change.kind, change.text) for change in digest.changes}
    assert found == {
        f"sample HK25-0991/6 ({LAB})": ("new", "now above: free guaiacol"),
        "25-SH-01": ("worse", "in addition above: free m-cresol"),
        "25-SH-04": ("worse", "in addition above: free guaiacol"),
        "25-CS-03": ("cleared", "no longer above; now below"),
        "25-PN-01": ("worse", "undecided, was below"),
    }


def test_fewer_compounds_above_is_better() -> None:
    before = frame(FLAGS, flag("a"), flag("a", analyte="m-cresol"))
    digest = gathered(views([flag("a")], [result("a")]), before=before, previous_at=MADE)
    assert [(c.kind, c.text) for c in digest.changes] == [
        ("better", "no longer above: free m-cresol")
    ]


def test_a_doubt_or_no_panel_at_all_is_no_clearance() -> None:
    before = frame(FLAGS, flag("a"), flag("b"), flag("c"), flag("d", "below"))
    seen = views(
        [flag("a", "below"), flag("b", "undecided", reason="conflicting_reports")],
        [result("a"), result("b")],
    )
    found = {c.subject: (c.kind, c.text) for c in gathered(seen, before=before).changes}
    assert found == {
        "a": ("cleared", "no longer above; now below"),
        "b": ("no longer known", "undecided, was above: not known to be clean"),
        "c": ("no longer known", "no current panel, was above"),
        "d": ("no longer known", "no current panel, was below"),
    }


def test_a_sample_that_has_found_its_lot_is_not_lost() -> None:
    before = frame(FLAGS, flag(None, "below"))
    seen = views([flag("a", "below", sample_id="HK25-0991/6")], [result("a")])
    assert gathered(seen, before=before).changes == ()


def test_same_flags_change_nothing() -> None:
    digest = gathered(SEASON, before=SEASON.flags, previous_at=MADE)
    assert digest.changes == ()
    assert "Nothing has moved since 2026-03-16" in words_of(render_html(digest))


def test_first_digest_compares_with_nothing(digest: Digest, page: str) -> None:
    assert digest.changes == ()
    assert "No earlier digest was published" in page


AMENDMENT = {
    "report_id": "r1", "report_no": "TR-25-0631", "revision": "1", "lot": "25-CS-02",
    "analyte": "guaiacol", "form": "free", "change": "changed", "old_lower": 10.46,
    "old_upper": 10.46, "old_unit": "ug/L", "lower": 9.8, "upper": 9.8, "unit": "ug/L",
    "raw_before": "10.46", "raw_now": "9.8",
}  # fmt: skip


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "free guaiacol: 10.5 µg/L is now 9.8 µg/L (report TR-25-0631, revision 1)"),
        ({"change": "withdrawn", "revision": None},
         "free guaiacol: 10.5 µg/L withdrawn (report TR-25-0631)"),
        ({"change": "added"}, "free guaiacol: 9.8 µg/L added (report TR-25-0631, revision 1)"),
        ({"lower": 10.47, "upper": 10.47, "raw_now": "10.47"},
         "free guaiacol: “10.46” is now “10.47” (report TR-25-0631, revision 1)"),
    ],
)  # fmt: skip
def test_amended_reports(more: dict[str, Any], said: str) -> None:
    seen = views([flag("a")], [result("a")], amended=frame(AMENDED, AMENDMENT | more))
    changes = gathered(seen).changes
    assert [(c.kind, c.text.replace("\xa0", " ")) for c in changes] == [
        ("revised by the laboratory", said)
    ]


@pytest.mark.parametrize(
    ("was", "now", "more", "said"),
    [
        ("undecided", "above", {},
         ["free guaiacol: above, was undecided; changed by report TR-25-0631, revision 1"]),
        ("above", "above", {}, []),
        ("undecided", "above", {"analyte": "phenol"}, []),
        ("undecided", "above", {"lot": "other"}, []),
        ("above", None, {"change": "withdrawn", "revision": None},
         ["free guaiacol: not judged any more, was above; changed by report TR-25-0631"]),
    ],
)  # fmt: skip
def test_a_decision_that_a_revision_changed_is_listed(
    was: str, now: str | None, more: dict[str, Any], said: list[str]
) -> None:
    told = frame(AMENDED, AMENDMENT | {"lot": "a"} | more)
    flags = [flag("a", now)] if now else [flag("b")]
    seen = views(flags, [result("a")], amended=told)
    changes = gathered(seen, before=views([flag("a", was)], [result("a")]).flags).changes
    assert [c.text for c in changes if c.kind == "decided otherwise by a revision"] == said


def test_decisions_of_one_lot_that_changed_alike_stand_on_one_line() -> None:
    names = ("guaiacol", "m-cresol", "p-cresol")
    told = frame(AMENDED, *(AMENDMENT | {"lot": "a", "analyte": name} for name in names))
    before = frame(FLAGS, *(flag("a", "below", analyte=name) for name in names))
    seen = views([flag("a"), *(flag("a", analyte=n) for n in names[1:])], [result("a")],
                 amended=told)  # fmt: skip
    found = [c.text for c in gathered(seen, before=before).changes if "otherwise" in c.kind]
    assert found == [
        "free guaiacol, free m-cresol and free p-cresol: above, was below; changed by report "
        "TR-25-0631, revision 1"
    ]


def test_a_newer_sample_is_no_decision_changed_by_a_revision() -> None:
    told = frame(AMENDED, AMENDMENT | {"lot": "a"})
    seen = views([flag("a", sample_id="new")], [result("a")], amended=told)
    before = views([flag("a", "undecided", sample_id="old")], [result("a")]).flags
    kinds = {c.kind for c in gathered(seen, before=before).changes}
    assert kinds == {"new", "revised by the laboratory"}


def test_amendments_before_the_last_digest_are_not_repeated() -> None:
    seen = views([flag("a")], [result("a")], amended=frame(AMENDED, AMENDMENT))
    later = gathered(seen, before=seen.flags, previous_at=datetime(2026, 3, 17, tzinfo=UTC))
    assert later.changes == ()


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    # JCGM 100:2008, 7.2.6: two digits of the uncertainty; without one, three digits.
    [(42.3456, 3.8, "42.3"), (1.9, 0.2, "1.90"), (1234.0, 56.0, "1234"), (0.0456, None, "0.0456"),
     (23.0, None, "23"), (1234.0, None, "1230"), (0.0, None, "0"), (-3.25, None, "\u22123.25")],
)  # fmt: skip
def test_numbers_are_rounded(value: float, uncertainty: float | None, text: str) -> None:
    assert number(value, uncertainty) == text


@pytest.mark.parametrize(
    ("lower", "upper", "text", "short"),
    [
        (0.0, 0.5, "< 0.5 µg/L", "<0.5"),
        (0.5, 1.0, "0.5 to 1 µg/L", "0.5\u20131"),
        (50.0, None, "> 50 µg/L", ">50"),
        (26.1, 26.1, "26.1 µg/L", "26.1"),
    ],
)
def test_intervals_are_said(lower: float, upper: float | None, text: str, short: str) -> None:
    assert interval(lower, upper, "ug/L").replace("\xa0", " ") == text
    assert brief(lower, upper) == short


@pytest.mark.parametrize(
    ("probability", "words"),
    # Mastrandrea et al., IPCC guidance note (2010), table 1
    [(0.999, "virtually certain (probability above 0.99"), (0.9, "very likely (probability 0.90"),
     (0.7, "likely"), (0.5, "about as likely as not"), (0.2, "unlikely"), (0.05, "very unlikely"),
     (0.9496, "very likely (probability 0.94 "),
     (0.001, "exceptionally unlikely (probability below 0.01")],
)  # fmt: skip
def test_probability_in_words(probability: float, words: str) -> None:
    assert likelihood(probability).startswith(words)


def test_the_probability_of_a_growth_is_not_that_of_the_minimum() -> None:
    # 1 - p of a test of no growth says that the share rose at all, not that it rose by 0.05.
    rose = flag("L-1", kind="bound_growth", analyte="panel", form="bound", unit="1", lower=0.3,
                upper=0.3, threshold=0.05, threshold_source="settings: [growth] minimum")  # fmt: skip
    text = words_of(render_html(gathered(views([rose], [result("L-1")]))))
    assert "above 5; that it rose at all: 97 % probable" in text
    assert "(probability 0.97 of having risen at all)" in text


def test_sources_are_grouped_by_sheet() -> None:
    assert sources("a.xlsx|S!B2; a.xlsx|S!C2; b!c.csv|t!A1") == (
        "a.xlsx, sheet S, B2, C2",
        "b!c.csv, sheet t, A1",
    )


def stored_report(*rows: dict[str, Any], no: str = "TR-1", revision: str | None = None) -> Report:
    report_id = hashlib.sha256(f"{no}{revision}".encode()).hexdigest()
    stored = frame(STORED, *(r | {"report_id": report_id[:16], "outcome": "result"} for r in rows))
    return Report(
        report_id=report_id[:16], file=f"{no}.xlsx", sha256=report_id, lab=LAB, report_no=no,
        revision=revision, replaces=None, layout="samples_down", reported_on=date(2026, 3, 12),
        n_values=len(rows), stored=stored, held=frame(HELD), unused=frame(UNUSED),
    )  # fmt: skip


def raised(*rows: dict[str, Any]) -> tuple[pl.DataFrame, pl.DataFrame]:
    return frame(FRACTIONS), frame(FLAGS, *(row | {"raised_at": MADE} for row in rows))


def test_changes_between_two_digests_of_a_store(tmp_path: Path) -> None:
    with Store(tmp_path / "s.duckdb") as store:
        store.add_report(stored_report(result("a"), result("b", 30.0)))
        store.replace_derived(*raised(flag("a"), flag("b", "below")))
        first = write_digest(store, tmp_path / "out", Settings())
        assert first.changes == ()
        store.add_report(stored_report(result("a", 9.8), result("b", 30.0), revision="1"))
        store.replace_derived(*raised(flag("a", "below"), flag("b")))
        seen = write_digest(store, tmp_path / "out", Settings(), publish=False)
        again = write_digest(store, tmp_path / "out", Settings())
    told = [(c.kind, c.subject) for c in again.changes]
    assert told == [
        ("new", "b"),
        ("cleared", "a"),
        ("decided otherwise by a revision", "a"),
        ("revised by the laboratory", "a"),
    ]
    assert seen.changes == again.changes
    assert again.changes[3].text.startswith("free guaiacol: 42.3\xa0µg/L is now 9.8\xa0µg/L")
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["digest.html", "digest.xlsx"]
    page = (tmp_path / "out" / "digest.html").read_text(encoding="utf-8")
    assert "free guaiacol: 42.3 µg/L is now 9.8 µg/L" in words_of(page)


def test_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file in the way")
    with (
        Store(tmp_path / "s.duckdb") as store,
        pytest.raises(CinderlotError, match="out: the digest cannot be written"),
    ):
        write_digest(store, tmp_path / "out", Settings())


def test_half_written_file_never_appears(tmp_path: Path) -> None:
    target = tmp_path / "digest.html"
    target.write_text("old")

    def fail(half: Path) -> None:
        half.write_text("half")
        raise OSError("disk full")

    with pytest.raises(OSError, match="disk full"):
        replace_whole(target, fail)
    assert [(p.name, p.read_text()) for p in tmp_path.iterdir()] == [("digest.html", "old")]


@pytest.mark.parametrize(
    ("name", "said"), [("none/t.csv", "there is no folder .*none; make it"), ("", "is a folder")]
)
def test_place_where_no_file_can_be_is_told(tmp_path: Path, name: str, said: str) -> None:
    with pytest.raises(CinderlotError, match=said):
        replace_whole(tmp_path / name, lambda half: half.write_text("x"))


def test_many_flagged_lots_are_told_in_full_for_the_worst(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("gather", "page"):
        monkeypatch.setattr(import_module(f"pipeline.digest.{module}"), "MOST_DETAILED", 1)
    seen = views([flag("a"), flag("b", lower=30.0)], [result("a"), result("b")])
    page = render_html(gathered(seen))
    assert page.count("<svg") == 1
    assert len(Outline(page).named("article")) == 1
    assert "1 more flagged lot, less far above" in page
    assert "free guaiacol 30 to 42.3 µg/L" in words_of(page)


def test_gathering_does_not_change_the_frames() -> None:
    seen = replace(SEASON)
    gathered(seen)
    assert seen.flags.equals(SEASON.flags)


def marker(analyte: str, decision: str = "above", **more: Any) -> dict[str, Any]:
    told = {
        "kind": "above_background", "analyte": analyte, "threshold": 13.1, "severity": "warn",
        "message": f"Free {analyte} is above the background.",
    }  # fmt: skip
    return flag("L-1", decision, **(told | more))


def told_of_exposure(*flags: dict[str, Any], **more: Any) -> str:
    lot = gathered(views([flag("L-1"), *flags], [result("L-1", **more)])).flagged[0]
    assert lot.above[0].kind == "over_threshold"
    assert not lot.notices
    return lot.exposure


def test_exposure_is_a_line_of_its_own_apart_from_thresholds() -> None:
    rows = [marker("guaiacol"), marker("syringol"), marker("o-cresol", "below", severity="note")]
    said = told_of_exposure(*rows)
    assert said.startswith("2 of 3 markers above the background of unexposed samples")
    assert "threshold" not in said
    digest = gathered(views([flag("L-1"), *rows], [result("L-1")]))
    page = render_html(digest)
    assert f"Exposure: {said}." in page
    assert f"Exposure: {said}." in render_text(digest)
    assert digest.counts.flagged == 1
    assert not digest.notices


def test_markers_above_their_background_flag_no_lot() -> None:
    digest = gathered(views([flag("L-1", "below"), marker("guaiacol")], [result("L-1")]))
    assert (digest.counts.flagged, len(digest.below)) == (0, 1)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([marker("guaiacol", severity="note")], "no sign of smoke by themselves"),
        ([marker("guaiacol", "below")], "none of 1 marker is above"),
        ([marker("guaiacol", "undecided", reason="no_background")], "no background is known"),
        ([marker("guaiacol", "undecided", reason="limit_above_background")], "1 undecided"),
        ([], ""),
    ],
)
def test_exposure_in_words(rows: list[dict[str, Any]], said: str) -> None:
    assert said in told_of_exposure(*rows)


def test_exposure_of_a_lot_of_unknown_variety_is_said_to_be_unknown() -> None:
    assert told_of_exposure(variety=None) == "not judged: the variety is not known"


def test_of_two_laboratories_the_one_with_more_markers_above_is_told() -> None:
    other = marker("guaiacol", "below", lab="Other Bench", severity="note")
    assert told_of_exposure(other, marker("syringol")).startswith("1 of 1 marker above")


def growth(
    decision: str,
    free: tuple[float, float | None, str],
    bound: tuple[float, float | None, str],
    **more: Any,
) -> dict[str, Any]:
    ends = ("change_lower", "change_upper", "change")
    moved = {
        f"{part}_{end}": said
        for part, told in (("free", free), ("bound", bound))
        for end, said in zip(ends, told, strict=True)
    }
    return (
        flag("L-1", decision, kind="bound_growth", analyte=None, change_unit="nmol/L", **moved)
        | more
    )


def test_where_a_change_came_from_is_read_from_columns() -> None:
    still = (0.0, 0.0, "within uncertainty")
    rows = [
        growth("above", (12.0, 12.0, "within uncertainty"), (840.0, None, "rose"), lab="A"),
        growth("below", (-200.0, -180.0, "fell"), still, reason="free_removed", lab="B"),
        growth("below", still, still, lab="C"),
        growth("below", still, still, lab="D"),
    ]
    lot = gathered(views([flag("L-1"), *rows], [result("L-1")])).flagged[0]
    assert {line.replace("\xa0", " ") for line in lot.origin} == {
        "the bound share grew: free +12 nmol/L (within uncertainty), bound +840 or more nmol/L (rose)",
        "the share rose by a loss of free phenols: free \N{MINUS SIGN}200 to "
        "\N{MINUS SIGN}180 nmol/L (fell), bound 0 nmol/L (within uncertainty)",
        "no growth of the bound share (C and D)",
    }


@pytest.mark.parametrize(
    ("row", "steps"),
    # common practice, no source
    [
        (flag("L-1"), ["taste", "trial"]),
        (flag("L-1", "undecided", reason="within_uncertainty"), ["taste", "retest"]),
        (flag("L-1", kind="bound_growth", analyte=None), ["check", "taste", "retest"]),
        (flag("L-1", "undecided", reason="isomers_unresolved"), ["apart"]),
        (flag("L-1", "below"), []),
    ],
)
def test_next_steps_follow_the_flags(row: dict[str, Any], steps: list[str]) -> None:
    rows = [result("L-1"), result("L-1", form="total")]
    digest = gathered(views([row], rows))
    [lot] = digest.flagged + digest.undecided + digest.below
    assert [step.name for step in lot.next_steps] == steps
    assert set(digest.next_steps) == set(lot.next_steps)


def test_a_lot_changed_since_its_last_sample_is_to_be_tested_again(digest: Digest) -> None:
    lots = {lot.name: [s.name for s in lot.next_steps] for lot in digest.undecided}
    assert lots["25-PN-01"] == ["taste", "retest", "bound"]


def test_days_of_a_lot_stand_in_order_with_samples_brought_together() -> None:
    day = date(2025, 12, 10)
    early = result("L-1", stage="must", matrix="must", sampled_on=date(2025, 9, 15))
    middle = result("L-1", stage="ageing", sampled_on=date(2025, 11, 1))
    seen = views(
        [flag("L-1")],
        [early, middle, result("L-1")],
        tastings=frame(TASTINGS, {"lot": "L-1", "attribute": "smoke", "score": 4.0,
                                  "scale_max": 9.0, "panel_size": 8, "tasted_on": day}),
        interventions=frame(INTERVENTIONS, {"lot": "L-1", "kind": "wood", "agent": "used barrels",
                                            "done_on": date(2026, 3, 1)}),
        movements=frame(MOVEMENTS, {"from_lot": "L-1", "to_lot": "L-2", "kind": "blend"}),
    )  # fmt: skip
    lot = gathered(seen).flagged[0]
    assert [(m.on, m.what) for m in lot.timeline] == [
        ("2025-09-15 to 2025-11-01", "sampled: must, ageing"),
        ("2025-12-10", "smoke 4 of 9, 8 tasters"),
        ("2026-02-23", "sampled: pre-bottling"),
        ("2026-03-01", "wood: used barrels"),
        ("date not given", "blend to L-2"),
    ]
    assert "2026-03-01 wood: used barrels" in words_of(render_html(gathered(seen)))


def test_an_assumed_uncertainty_is_said_once_and_marked_at_each_number() -> None:
    said = "No uncertainty of A is known: the usual scatter is assumed (Horwitz-Thompson)."
    flags = [flag(name, note=said, uncertainty_source="default (Horwitz-Thompson)")
             for name in ("L-1", "L-2", "L-3")]  # fmt: skip
    digest = gathered(views(flags, [result(name) for name in ("L-1", "L-2", "L-3")]))
    text = words_of(render_html(digest))
    assert digest.assumed == (said,)
    assert text.count(said) == 1
    assert text.count("97 %* probable") == 3
    assert text.count("* uncertainty assumed") == 1
    assert text.count(", uncertainty assumed") == 3  # in the sentences of each lot


GRAPES = {"matrix": "grape", "stage": "vineyard", "unit": "ug/kg", "raw_value": "4"}
MINI = {"sample_kind": "mini-ferment", "sample_id": "m1", "stage": "end of AF"}
PICKED_LATER = frame(
    LOTS,
    {"lot": "late", "block": "B2", "variety": "Shiraz", "expected_picking_on": date(2026, 3, 30)},
    {"lot": "soon", "block": "B1", "variety": "Syrah", "expected_picking_on": date(2026, 3, 20)},
    {"lot": "done", "block": "B3", "variety": "Shiraz", "expected_picking_on": date(2026, 2, 1)},
)


def test_before_picking_stands_by_block_and_nothing_is_converted() -> None:
    # 99th percentiles: Shiraz wine 13.1 ug/L (table 4), Chardonnay grapes 1.0 ug/kg (table 3); none
    # for Shiraz grapes. Aust. J. Grape Wine Res. 2022, 9820204.
    rows = [
        result("late", 2.0, **GRAPES | {"variety": "Chardonnay"}),
        result("soon", 4.0, variety="Syrah", **GRAPES),
        result("soon", 16.0, variety="Syrah", **MINI),
        result("done", 4.0, sample_id="g", **GRAPES | {"sampled_on": date(2026, 1, 20)}),
        result("done"),
        result("wild", 5.0, variety="Grenache", **GRAPES),
    ]
    digest = gathered(views([], rows, lots=PICKED_LATER))
    assert [(p.block, p.lot, p.due) for p in digest.picking] == [
        ("B1", "soon", "2026-03-20"), ("B2", "late", "2026-03-30"), ("block unknown", "wild", ""),
    ]  # fmt: skip
    soon = {fruit.what.partition(",")[0]: fruit for fruit in digest.picking[0].fruit}
    [(name, value, background)] = soon["mini-ferment"].markers
    assert (name, value, background) == ("free guaiacol", "16\xa0µg/L", "13.1\xa0µg/L")
    assert soon["mini-ferment"].verdict == ""
    assert soon["grapes"].markers == ()
    assert soon["grapes"].unmatched == (("free guaiacol", "4\xa0µg/kg"),)
    [late] = digest.picking[1].fruit
    assert late.markers == (("free guaiacol", "2\xa0µg/kg", "1\xa0µg/kg"),)
    assert soon["grapes"].unmatched_words == "no background for 1 marker (free guaiacol)"
    text = words_of(render_html(digest))
    assert "Before picking" in text
    assert "picking expected 2026-03-20" in text
    assert text.count("no background for 1 marker (free guaiacol)") == 2
    assert "BEFORE PICKING" in render_text(digest)
    assert digest.tables["picking"]["background"].null_count() == 2


def test_a_glycoside_before_picking_is_not_called_bound() -> None:
    more = {"analyte": "guaiacol rutinoside", "form": "bound"}
    seen = views([], [result("soon", 4.0, **GRAPES | more)], lots=PICKED_LATER)
    [block] = gathered(seen).picking
    assert block.fruit[0].unmatched == (("guaiacol rutinoside", "4\xa0µg/kg"),)


def test_nothing_is_said_before_picking_when_all_is_wine(page: str, digest: Digest) -> None:
    assert digest.picking == ()
    assert "Before picking" not in page


@pytest.mark.parametrize(("kept", "linked"), [(b"as loaded", True), (b"another", False)])
def test_workbook_links_to_the_cell_of_the_file_that_was_loaded(
    kept: bytes, linked: bool, tmp_path: Path
) -> None:
    source = tmp_path / "in" / "W 11" / "tressock.xlsx"
    source.parent.mkdir(parents=True)
    source.write_bytes(kept)
    row = ("W 11/tressock.xlsx", hashlib.sha256(b"as loaded").hexdigest())
    found = reachable([row], [tmp_path / "in"], tmp_path / "out")
    seen = views([flag("a", cells="")], [result("a", file="W 11/tressock.xlsx", sheet="It's")])
    write_workbook(gathered(seen), tmp_path / "digest.xlsx", found)
    sheet = openpyxl.load_workbook(tmp_path / "digest.xlsx")["results"]
    at = [cell.value for cell in sheet[1]].index("source cell") + 1
    link = sheet.cell(2, at).hyperlink
    assert sheet.cell(2, at).value == "C5"
    assert (link is not None) is linked
    if link is not None:
        # ECMA-376-1, 18.3.1.47: the target by relationship, the place in it by location.
        assert (link.target, link.location) == ("../in/W%2011/tressock.xlsx", "'It''s'!C5")


def test_a_limited_reader_hears_of_no_other_lots_batch() -> None:
    wanted = Recipient("a@example.org", lots=("L-1",))
    judged = [{"report_id": "r1", "judgement": "fail"}, {"report_id": "r2", "judgement": "fail"}]
    seen = views([flag("L-1")], [result("L-1"), result("L-2", report_id="r2")],
                 quality=frame(QUALITY, *judged))  # fmt: skip
    assert addressed(seen, wanted).quality["report_id"].to_list() == ["r1"]
