"""Before picking: grapes and mini-ferments of each block beside the background of their variety."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.digest.exposure import exposure
from pipeline.digest.words import day, interval, listed, number, plural, with_unit
from pipeline.withheld import is_trusted
from schemas.terms import Background
from schemas.vocabulary import Vocabulary, squash

# Grapes sampled longer ago than this, with no wine after them, are no longer before picking
# (common practice, no source).
RECENT_DAYS = 60
MOST_NAMED = 4
KINDS = {"lot": "grapes", "mini-ferment": "mini-ferment"}
_SAMPLE = ("lot", "lab", "sample_id")


@dataclass(frozen=True)
class Fruit:
    """One sample before picking; `markers` are (marker, value, background).

    `unmatched` are (marker, value) of those whose background is not known.
    """

    what: str
    verdict: str
    markers: tuple[tuple[str, str, str], ...]
    unmatched: tuple[tuple[str, str], ...] = ()

    @property
    def unmatched_words(self) -> str:
        """Say which markers were measured and have no background to stand beside; many by count."""
        names = [name for name, _ in self.unmatched]
        named = f" ({listed(names)})" if len(names) <= MOST_NAMED else ""
        return f"no background for {plural(len(names), 'marker')}{named}"


@dataclass(frozen=True)
class Picking:
    """A block whose fruit is not picked yet, or not known to be."""

    block: str
    lot: str
    facts: str
    due: str
    fruit: tuple[Fruit, ...]


def before_picking(results: pl.DataFrame, lots: pl.DataFrame, today: date) -> pl.DataFrame:
    """Keep results of grapes and mini-ferments of lots that are not picked yet.

    Not picked: the expected day is not past, or the last grapes or mini-ferment are from the last
    60 days and newer than any must or wine of the lot. The newest sample of each kind and
    laboratory counts.
    """
    fruit = (pl.col("sample_kind") == "lot") & (pl.col("matrix") == "grape")
    small = pl.col("sample_kind") == "mini-ferment"
    cellar = (pl.col("sample_kind") == "lot") & (pl.col("matrix") != "grape")
    days = results.group_by("lot").agg(
        _fruit=pl.col("sampled_on").filter(fruit | small).max(),
        _cellar=pl.col("sampled_on").filter(cellar).max(),
    )
    recent = pl.col("_fruit") >= today - timedelta(days=RECENT_DAYS)
    newer = recent & (pl.col("_fruit") > pl.col("_cellar")).fill_null(True)
    waiting = days.join(lots.select("lot", "expected_picking_on"), on="lot", how="left").filter(
        ((pl.col("expected_picking_on") >= today) | newer).fill_null(False)
    )
    newest = pl.col("sampled_on") == pl.col("sampled_on").max().over("lot", "lab", "sample_kind")
    return (
        results.filter(fruit | small, is_trusted(results))
        .join(waiting.select("lot", "expected_picking_on"), on="lot")
        .filter(newest.fill_null(True))
    )


def with_background(
    rows: pl.DataFrame, backgrounds: Sequence[Background], vocabulary: Vocabulary
) -> pl.DataFrame:
    """Add `background` and `background_source` of the variety, matrix, marker, form and unit.

    `named` is the marker with its form, which a glycoside does not need.
    """
    varieties = rows["variety"].drop_nulls().unique().to_list()
    kin = {name: _kin(name, vocabulary) for name in varieties}
    known = pl.DataFrame(
        [(_kin(b.variety, vocabulary), b.matrix, b.analyte, b.form, b.unit, b.value, b.source)
         for b in backgrounds],
        schema={"kin": pl.String, "matrix": pl.String, "analyte": pl.String, "form": pl.String,
                "unit": pl.String, "background": pl.Float64, "background_source": pl.String},
        orient="row",
    )  # fmt: skip
    sugars = [name for name, analyte in vocabulary.analytes.items() if analyte.is_glycoside]
    form = pl.when(~(pl.col("analyte").is_in(sugars) & (pl.col("form") == "bound"))).then("form")
    named = rows.with_columns(
        kin=pl.col("variety").replace_strict(kin, default=None, return_dtype=pl.String),
        named=pl.concat_str([form, "analyte"], separator=" ", ignore_nulls=True),
    )
    key = ["kin", "matrix", "analyte", "form", "unit"]
    return named.join(known, on=key, how="left", maintain_order="left").drop("kin")


def _kin(variety: str, vocabulary: Vocabulary) -> str:
    folded = squash(variety)
    return squash(vocabulary.same_variety.get(folded, folded))


def _measured(row: Mapping[str, Any]) -> str:
    return interval(row["lower"], row["upper"], row["unit"], row["standard_uncertainty"])


def _marker(row: Mapping[str, Any]) -> tuple[str, str, str]:
    return row["named"], _measured(row), with_unit(number(row["background"]), row["unit"])


def _fruit(rows: list[dict[str, Any]], flags: Sequence[Mapping[str, Any]]) -> Fruit:
    first = rows[0]
    mine = [f for f in flags if (f["lab"], f["sample_id"]) == (first["lab"], first["sample_id"])]
    known = [r for r in rows if r["background"] is not None]
    known.sort(key=lambda r: (-(r["lower"] or 0.0) / r["background"], r["analyte"], r["form"]))
    is_lot = first["sample_kind"] == "lot"
    parts = (KINDS[first["sample_kind"]], first["stage"], day(first["sampled_on"]), first["lab"])
    return Fruit(
        what=", ".join(part for part in parts if part),
        verdict=exposure(mine, first["variety"]) if is_lot else "",
        markers=tuple(_marker(r) for r in known),
        unmatched=tuple((r["named"], _measured(r)) for r in rows if r["background"] is None),
    )


def pickings(rows: pl.DataFrame, lots: pl.DataFrame, flags: pl.DataFrame) -> tuple[Picking, ...]:
    """List blocks by expected day of picking, unknown days last.

    `rows` as from `before_picking` and `with_background`, `flags` the current ones. Numbers of
    grapes stay numbers of grapes: nothing is converted.
    """
    register = {row["lot"]: row for row in lots.iter_rows(named=True)}
    by_lot = flags.filter(pl.col("lot").is_not_null()).partition_by("lot", as_dict=True)
    found = []
    order = rows.sort("sample_kind", *_SAMPLE, "sampled_on", "analyte", "form", nulls_last=True)
    for (lot,), group in order.partition_by("lot", as_dict=True, maintain_order=True).items():
        told = by_lot.get((lot,))
        samples = group.partition_by("sample_kind", *_SAMPLE, maintain_order=True)
        judged = [] if told is None else told.to_dicts()
        fruit = tuple(_fruit(sample.to_dicts(), judged) for sample in samples)
        found.append(_picking(str(lot), group.row(0, named=True), register.get(lot, {}), fruit))
    return tuple(sorted(found, key=lambda p: (not p.due, p.due, p.facts, p.block, p.lot)))


def _picking(
    lot: str, row: Mapping[str, Any], known: Mapping[str, Any], fruit: tuple[Fruit, ...]
) -> Picking:
    facts = [known.get(name) or row[name] for name in ("vineyard", "variety")]
    due = row["expected_picking_on"]
    return Picking(
        block=str(known.get("block") or row["block"] or "block unknown"),
        lot=lot,
        facts=", ".join(str(fact) for fact in facts if fact),
        due=day(due) if due else "",
        fruit=fruit,
    )
