"""One lot: its flags, its path through the stages, its time line, and every number of it."""

from __future__ import annotations

import re
from typing import Any

import polars as pl
from markupsafe import Markup

from pipeline.digest import chart
from pipeline.digest.course import course, in_life_order
from pipeline.digest.exposure import KIND as EXPOSURE
from pipeline.digest.exposure import exposure
from pipeline.digest.words import interval, share, sureness
from pipeline.errors import WrongUse
from pipeline.page.asked import Asked, Pairs, read_text
from pipeline.page.listing import result_rows
from pipeline.page.places import reference_links
from pipeline.page.site import Site
from pipeline.page.timelines import timeline
from pipeline.phrases import shown_unit
from pipeline.settings import deciding_key
from pipeline.store import Store
from schemas.vocabulary import SAMPLE_KINDS

MOST = 2_000
FACTS = ("variety", "vintage", "vineyard", "block", "grower", "region")
# Marks beside the word, for whoever does not tell colours apart: a shape for each decision.
MARKS = {"above": "▲", "undecided": "◇", "below": "▽"}
_WORST = {"above": 0, "undecided": 1, "below": 2}
_SEVERITY = {"act": 0, "warn": 1, "note": 2}
Row = dict[str, Any]
What = tuple[str, str | None, str | None]


def _facts(told: pl.DataFrame, results: pl.DataFrame) -> list[tuple[str, Any]]:
    """Give what is known of a lot: the register's word, else the reports'."""
    known: Row = told.row(0, named=True) if told.height else {}
    printed: Row = results.row(0, named=True) if results.height else {}
    facts = [(name, known.get(name) or printed.get(name)) for name in FACTS]
    colour, volume, picking = (known.get(n) for n in ("colour", "volume_l", "expected_picking_on"))
    facts += [("colour", colour), ("volume", f"{volume:,.0f}\u00a0L" if volume else None)]
    facts += [("expected picking", picking)]
    return [(name, value) for name, value in facts if value is not None]


def _flag_rows(flags: pl.DataFrame) -> list[Row]:
    rows = [
        row
        | {
            "mark": MARKS.get(row["decision"], ""),
            "sure": sureness(row["probability"], row["decision"], row["kind"]),
            "links": reference_links(row["cells"]),
        }
        for row in flags.iter_rows(named=True)
    ]
    return sorted(
        rows,
        key=lambda r: (_WORST.get(r["decision"], 3), _SEVERITY.get(r["severity"], 3), r["kind"]),
    )


def _fraction_rows(fractions: pl.DataFrame) -> list[Row]:
    return [
        row
        | {
            "free": interval(row["free_lower"], row["free_upper"], row["unit"]),
            "bound": interval(row["bound_lower"], row["bound_upper"], row["unit"]),
            "share": share(row["bound_fraction_lower"], row["bound_fraction_upper"]),
            "links": reference_links(row["cells"]),
        }
        for row in in_life_order(fractions).iter_rows(named=True)
    ]


def _what(row: What) -> str:
    return " ".join(p for p in (row[1], row[0]) if p) + (
        f", {shown_unit(row[2])}" if row[2] else ""
    )


def measured(results: pl.DataFrame) -> list[What]:
    """List analyte, form and unit of the lot's own samples, those measured most often first."""
    keys = ["analyte", "form", "unit"]
    own = results.filter(pl.col("sample_kind") == "lot", pl.col("lower").is_not_null())
    counted = own.group_by(keys).len().sort("len", *keys, descending=[True, False, False, False])
    return [(a, f, u) for a, f, u in counted.select(keys).iter_rows()]


def choose_drawn(wanted: str, known: list[What], flags: list[Row]) -> What | None:
    """Choose what to draw: what was asked for, else the worst current flag's, else the first.

    Raises WrongUse when what was asked for was never measured in this lot.
    """
    if wanted:
        found = next((what for what in known if _what(what) == wanted), None)
        if found is None:
            raise WrongUse(f'"{wanted[:200]}" was not measured in this lot; choose from its list')
        return found
    # What no threshold is set for stands behind what was judged.
    told = sorted(
        (r for r in flags if r["kind"] == "over_threshold"), key=lambda r: r["threshold"] is None
    )
    flagged = ((r["analyte"], r["form"], r["unit"]) for r in told)
    return next((what for what in flagged if what in known), known[0] if known else None)


def _threshold(drawn: What, flags: list[Row]) -> float | None:
    same = (r for r in flags if (r["analyte"], r["form"], r["unit"]) == drawn)
    return next((r["threshold"] for r in same if r["kind"] == "over_threshold"), None)


def draw_path(
    results: pl.DataFrame, fractions: pl.DataFrame, drawn: What | None, flags: list[Row]
) -> Row | None:
    """Draw the lot's own samples in the order of its life; null when there is nothing to draw."""
    if drawn is None:
        return None
    analyte, form, unit = drawn
    path = course(
        results.filter(pl.col("sample_kind") == "lot"),
        fractions.filter(pl.col("sample_kind") == "lot"),
        analyte, form, unit or "", _threshold(drawn, flags),
    )  # fmt: skip
    if path is None:
        return None
    svg = re.sub(r' style="[^"]*"', "", chart.as_svg(chart.draw(path)))
    return {
        "svg": Markup(svg),
        "spoken": path.spoken,
        "notes": path.notes,
        "panel": bool(path.panel),
    }


def _variety(told: pl.DataFrame, results: pl.DataFrame) -> str | None:
    names = [*told["variety"].to_list(), *results["variety"].to_list()]
    return next((name for name in names if name is not None), None)


def _downloads(lot: str) -> list[tuple[str, str]]:
    chosen = Asked({"lot": (lot,), "sample_kind": SAMPLE_KINDS})
    return [(kind, chosen.link(f"/download/results.{kind}")) for kind in ("csv", "parquet", "xlsx")]


def lot_view(site: Site, store: Store, pairs: Pairs) -> tuple[str, Row]:
    """Show all that is known of one lot. Raises WrongUse when no lot has this name."""
    lot, browser = read_text(pairs, "lot"), site.browse(store)
    told = browser.of_lot(lot)
    everything = {"lot": (lot,), "sample_kind": SAMPLE_KINDS}
    results = in_life_order(browser.page(everything, "oldest", 0, MOST))
    if results.is_empty() and all(frame.is_empty() for frame in told.values()):
        raise WrongUse(f'no lot is called "{lot[:200]}"; look for it in the list of lots')
    flags = _flag_rows(told["flags"])
    current = [row for row in flags if row["status"] == "current"]
    known = measured(results)
    drawn = choose_drawn(read_text(pairs, "what"), known, current)
    return "lot", {
        "title": f"Lot {lot}", "lot": lot,
        "facts": _facts(told["lots"], results),
        "is_stale": store.derived_with() != deciding_key(site.settings),
        "current": [row for row in current if row["kind"] != EXPOSURE],
        "exposure": exposure(current, _variety(told["lots"], results)),
        "exposed": [row for row in current if row["kind"] == EXPOSURE],
        "superseded": [row for row in flags if row["status"] != "current"],
        "path": draw_path(results, told["fractions"], drawn, current),
        "drawn": _what(drawn) if drawn else "", "measured": [_what(what) for what in known],
        "path_rows": [r for r in result_rows(results.to_dicts())
                      if (r["analyte"], r["form"], r["unit"]) == drawn],
        "events": timeline(lot, results, told),
        "fractions": _fraction_rows(told["fractions"]),
        "rows": result_rows(results.to_dicts()), "most": MOST,
        "all_results": Asked({"lot": (lot,), "sample_kind": SAMPLE_KINDS}).link("/results"),
        "downloads": _downloads(lot),
    }  # fmt: skip
