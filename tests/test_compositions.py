"""Any geometry, notation, unit and country's marks together read back as they were written."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Any

import openpyxl
from corpus.books import fill, saved
from corpus.reading import read, rows_of
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from schemas.report import Report

# What a laboratory may print for each analyte: English, French, Spanish, IUPAC, short.
NAMES = {
    "guaiacol": ("Guaiacol", "Gaïacol", "Guayacol", "2-Methoxyphenol"),
    "4-methylguaiacol": ("4-Methylguaiacol", "4-MG", "Creosol", "4-Metilguayacol"),
    "o-cresol": ("o-Cresol", "ortho-Cresol", "2-Methylphenol", "o-Crésol"),
    "m-cresol": ("m-Cresol", "m-Kresol", "3-Methylphenol"),
    "p-cresol": ("p-Cresol", "p-Cresolo", "4-Methylphenol"),
    "m+p-cresol": ("m+p-Cresol", "m/p-Cresol", "p/m-Cresol"),
    "syringol": ("Syringol", "Siringol", "2,6-Dimethoxyphenol"),
    "4-methylsyringol": ("4-Methylsyringol", "4-Metilsiringolo"),
    "4-ethylphenol": ("4-Ethylphenol", "4-EP", "4-Etilfenol"),
}
TITLES = {
    "free": ("Free volatile phenols", "Phénols volatils libres", "Flüchtige Phenole, frei"),
    "total": ("Total volatile phenols", "Phénols volatils totaux", "Volatile phenols, total"),
    "bound": ("Bound volatile phenols", "Volatile phenols (glycosidically bound)"),
}
# Spelling and how many ug/L one of it is.
UNITS = {"µg/L": 1, "μg/l": 1, "ug/L": 1, "mg/L": 1000, "ng/L": 0.001, "µg L-1": 1, "ng/mL": 1}
LIMIT = 0.25
BELOW = ("<{}", "< {}", "≤{}")
NOT_DETECTED = ("nd", "n.d.", "ND", "not detected", "<LOD", "non détecté", "no detectado")
Reading = tuple[float | None, float, float]
Meant = dict[tuple[str, str, str], Reading]


@dataclass(frozen=True)
class Written:
    """A sheet as rows of cells, and what each sample's analytes were meant to be, in ug/L."""

    rows: list[list[Any]]
    meant: Meant
    mark: str


def number(value: float, mark: str, typed: bool) -> Any:
    """Write a number as one, or as text with a decimal mark."""
    return value if typed else f"{value:.2f}".replace(".", mark)


@st.composite
def results(draw: st.DrawFn, mark: str, factor: float) -> tuple[Any, Reading]:
    """Draw one printed result and its meaning: value, lower and upper end."""
    value = draw(st.integers(min_value=26, max_value=99_999)) / 100
    kind = draw(st.sampled_from(["typed", "text", "spread", "below", "not detected", "own limit"]))
    scaled = value * factor
    if kind in {"typed", "text"}:
        return number(value, mark, kind == "typed"), (scaled, scaled, scaled)
    if kind == "spread":
        printed = f"{number(value, mark, False)} ± {number(0.25, mark, False)}"
        return printed, (scaled, scaled, scaled)
    if kind == "own limit":
        word = draw(st.sampled_from(["nd (LOD {})", "ND (<{})", "n.d. (LOD {})"]))
        return word.format(number(value, mark, False)), (None, 0.0, scaled)
    if kind == "below":
        return draw(st.sampled_from(BELOW)).format(number(value, mark, False)), (None, 0.0, scaled)
    return draw(st.sampled_from(NOT_DETECTED)), (None, 0.0, LIMIT * factor)


def samples_down(w: dict[str, Any]) -> list[list[Any]]:
    """Samples down, names across; the unit in the title, the headings or a row of its own."""
    names = [w["printed"][a] for a in w["analytes"]]
    unit, place = w["unit"], w["place"]
    heads = [f"{n} ({unit})" if place == "heading" else n for n in names]
    title = f"{w['title']} ({unit})" if place == "title" else w["title"]
    lines = [[title], [w["sample_heading"], *heads]]
    if place == "own":
        lines.append([None, *[unit] * len(names)])
    lines.append(["LOD", *[w["limit"]] * len(names)])
    return lines + [[s, *[w["cells"][s, a] for a in w["analytes"]]] for s in w["samples"]]


def analytes_down(w: dict[str, Any]) -> list[list[Any]]:
    """Names down, samples across; the unit in the title or in a column of its own."""
    unit, own = w["unit"], w["place"] == "own"
    title = w["title"] if own else f"{w['title']} ({unit})"
    head = ["Analyte", *(["Unit"] if own else []), "LOD", *w["samples"]]
    lines = [[title], head]
    for a in w["analytes"]:
        cells = [w["cells"][s, a] for s in w["samples"]]
        lines.append([w["printed"][a], *([unit] if own else []), w["limit"], *cells])
    return lines


def one_per_row(w: dict[str, Any]) -> list[list[Any]]:
    """One result per row, the columns in any order."""
    columns = {
        "Sample": lambda s, a: s,
        "Analyte": lambda s, a: w["printed"][a],
        "Form": lambda s, a: w["form"],
        "Result": lambda s, a: w["cells"][s, a],
        "Unit": lambda s, a: w["unit"],
        "LOD": lambda s, a: w["limit"],
    }
    order = w["order"]
    pairs = [(s, a) for s in w["samples"] for a in w["analytes"]]
    return [list(order), *[[columns[name](s, a) for name in order] for s, a in pairs]]


LAYOUTS = {"samples_down": samples_down, "analytes_down": analytes_down, "list": one_per_row}
COLUMNS = ("Sample", "Analyte", "Form", "Result", "Unit", "LOD")


@st.composite
def blocks(draw: st.DrawFn, form: str, layout: str, mark: str) -> tuple[list[list[Any]], Meant]:
    """Draw one table: its names, unit, limits and results."""
    analytes = draw(st.lists(st.sampled_from(sorted(NAMES)), min_size=2, max_size=4, unique=True))
    unit = draw(st.sampled_from(sorted(UNITS)))
    samples = [f"W-{n}" for n in range(1, draw(st.integers(2, 4)))]
    drawn = {(s, a): draw(results(mark, UNITS[unit])) for s in samples for a in analytes}
    world = {
        "analytes": analytes,
        "printed": {a: draw(st.sampled_from(NAMES[a])) for a in analytes},
        "samples": samples,
        "form": form,
        "title": draw(st.sampled_from(TITLES[form])),
        "unit": unit,
        "place": draw(st.sampled_from(["title", "heading", "own"])),
        "sample_heading": draw(st.sampled_from(["Sample", "Échantillon", "Muestra", "Probe"])),
        "cells": {at: printed for at, (printed, _) in drawn.items()},
        "limit": number(LIMIT, mark, draw(st.booleans())),
        "order": draw(st.permutations(COLUMNS)),
    }
    return LAYOUTS[layout](world), {(s, a, form): meant for (s, a), (_, meant) in drawn.items()}


@st.composite
def sheets(draw: st.DrawFn) -> Written:
    """Draw a sheet of one or two tables under each other."""
    mark, layout = draw(st.sampled_from(".,")), draw(st.sampled_from(sorted(LAYOUTS)))
    forms = draw(st.lists(st.sampled_from(sorted(TITLES)), min_size=1, max_size=2, unique=True))
    drawn = [draw(blocks(form, layout, mark)) for form in forms]
    meant = {at: numbers for _, part in drawn for at, numbers in part.items()}
    return Written([row for rows, _ in drawn for row in [*rows, []]], meant, mark)


def as_workbook(rows: list[list[Any]], top: int, left: int) -> bytes:
    """Save the rows as a workbook, from a place on."""
    workbook = openpyxl.Workbook()
    workbook.active.title = "Results"
    fill(workbook.active, rows, top, left)
    return saved(workbook)


def as_text(rows: list[list[Any]], mark: str, encoding: str) -> bytes:
    """Save the rows as text: every number is printed with the country's mark."""
    lines = io.StringIO()
    writer = csv.writer(lines, delimiter=";" if mark == "," else ",")
    for row in rows:
        writer.writerow([str(c).replace(".", mark) if isinstance(c, float) else c for c in row])
    return lines.getvalue().encode(encoding)


def read_back(content: bytes, file: str) -> Meant:
    """What would be stored of a file: all of it results in ug/L, each once."""
    found, report = {}, read(content, file)
    assert isinstance(report, Report), report
    for row in rows_of(report).values():
        assert (row["outcome"], row.get("reason_code"), row.get("unit")) == ("result", None, "ug/L")
        found[row["sample_id"], row["analyte"], row["form"]] = (
            row["value"], row["lower"], row["upper"],
        )  # fmt: skip
    return found


def rounded(readings: dict[Any, Reading]) -> dict[Any, tuple[float | None, ...]]:
    """The same numbers without the last digits of floating point."""
    return {
        key: tuple(None if n is None else float(f"{n:.9g}") for n in numbers)
        for key, numbers in readings.items()
    }


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(sheets(), st.integers(1, 4), st.integers(1, 3), st.sampled_from(["xlsx", "utf-8", "utf-16"]))
def test_what_was_written_is_read_back(written: Written, top: int, left: int, kind: str) -> None:
    if kind == "xlsx":
        found = read_back(as_workbook(written.rows, top, left), "report.xlsx")
    else:
        found = read_back(as_text(written.rows, written.mark, kind), "report.csv")
    assert rounded(found) == rounded(written.meant)
