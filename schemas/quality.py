"""Load the rules of quality control and of unit slips."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

JUDGEMENTS = ("pass", "warn", "fail", "not judged")


@dataclass(frozen=True)
class Precision:
    """What is expected from a level (ug/L or ug/kg) upwards: recovery in %, repeatability in %."""

    level: float
    recovery: tuple[float, float]
    rsd_r: float


@dataclass(frozen=True)
class ChartRule:
    """A rule of control charts: of `points` in a row `at_least` lie `beyond` so many deviations."""

    name: str
    points: int
    at_least: int
    beyond: float
    judgement: str


@dataclass(frozen=True)
class PublishedRange:
    """Lowest and highest amount published of one smoke marker, in `unit`, and where."""

    unit: str
    form: str
    analyte: str
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class SlipRules:
    """When a shift by a power of ten is taken for a slip of the unit; all spreads in log10."""

    powers: tuple[int, ...]
    limits_within: float
    amounts_within: float
    other_limits: int
    history: int
    lot_history: int
    least_spread: float
    most_spread: float
    modified_z: float
    vote: float
    voters: int
    published: tuple[PublishedRange, ...]


@dataclass(frozen=True)
class QualityRules:
    """The numbers of every rule; `source` names where each comes from."""

    source: Mapping[str, str]
    precision: tuple[Precision, ...]
    smallest_share: float
    difference: float
    factor: float
    near_limit: float
    points: int
    chart_rules: tuple[ChartRule, ...]
    run_rule: tuple[str, float]
    range_rule: tuple[str, float]
    z_warn: float
    z_fail: float
    uncertain_share: float
    pairs: int
    horrat: tuple[float, float]
    grubbs: Mapping[int, tuple[float, float]]
    dixon: Mapping[int, tuple[float, float]]
    slip: SlipRules


def _published(tables: list[dict[str, Any]]) -> tuple[PublishedRange, ...]:
    return tuple(
        PublishedRange(table["unit"], table["form"], analyte, ends[0], ends[1], table["source"])
        for table in tables
        for analyte, ends in table["range"].items()
    )


def _slip_rules(table: Mapping[str, Any]) -> SlipRules:
    shaped = {"powers": tuple(table["powers"]), "published": _published(table["published"])}
    return SlipRules(**{**table, **shaped})


def _critical(table: Mapping[str, list[float]]) -> dict[int, tuple[float, float]]:
    return {int(n): (usual, strict) for n, (usual, strict) in table.items()}


@cache
def load_quality_rules() -> QualityRules:
    """Read the shipped rules; a missing number is a KeyError, for the file is the program's own."""
    table = tomllib.loads(files("schemas").joinpath("quality.toml").read_text(encoding="utf-8"))
    control, slip = table["control"], table["slip"]
    return QualityRules(
        source=table["source"],
        precision=tuple(
            Precision(p["level"], tuple(p["recovery"]), p["rsd_r"]) for p in table["precision"]
        ),
        smallest_share=table["spike"]["smallest_share"],
        **table["duplicate"],
        points=control["points"],
        chart_rules=tuple(ChartRule(**rule) for rule in control["rule"]),
        run_rule=(control["run"]["name"], control["run"]["beyond"]),
        range_rule=(control["range"]["name"], control["range"]["beyond"]),
        z_warn=table["proficiency"]["warn"],
        z_fail=table["proficiency"]["fail"],
        uncertain_share=table["proficiency"]["uncertain_share"],
        pairs=table["horrat"]["pairs"],
        horrat=tuple(table["horrat"]["range"]),
        grubbs=_critical(table["grubbs"]),
        dixon=_critical(table["dixon"]),
        slip=_slip_rules(slip),
    )
