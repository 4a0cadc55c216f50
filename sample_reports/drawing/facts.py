"""Load the declared facts of the season: lots, laboratories, deliveries, samples."""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

Facts = dict[str, Any]

FOLDER = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Lot:
    """A lot as the cellar knows it; `smoke` is its share of the season's profile."""

    number: int
    name: str
    variety: str
    colour: str
    vineyard: str
    block: str
    smoke: float
    volume_l: int
    picking_on: date


@dataclass(frozen=True)
class Sample:
    """A bottle sent to one laboratory; factors differ from one on the bench only."""

    lot: Lot
    stage: str
    sampled_on: date
    reference: str
    printed_reference: str
    lab_number: str
    kind: str = "lot"
    treatment: str = ""
    dose: int | None = None
    free_factor: float = 1.0
    colour_factor: float = 1.0

    @property
    def matrix(self) -> str:
        """Name the matrix in the words of the contract."""
        if self.stage == "harvest":
            return "grape"
        if self.stage == "must":
            return "must"
        return f"{self.lot.colour.replace('é', 'e')} wine"


@dataclass(frozen=True)
class Odd:
    """One declared oddity of a report."""

    lot: int
    analyte: str
    form: str
    what: str
    text: str


@dataclass(frozen=True)
class Report:
    """One report: its printed heading, its samples and its oddities."""

    file: str
    lab: Facts
    number: str
    revision: str
    issued: date
    stage: str
    panels: tuple[str, ...]
    samples: tuple[Sample, ...]
    odds: tuple[Odd, ...]
    declared: Facts

    def odd(self, sample: Sample, analyte: str, form: str) -> Odd | None:
        """Find the oddity declared for one value, if any."""
        if sample.kind != "lot":
            return None
        key = (sample.lot.number, analyte, form)
        return next((o for o in self.odds if (o.lot, o.analyte, o.form) == key), None)


@dataclass(frozen=True)
class Season:
    """All facts of the season."""

    facts: Facts
    register: Facts
    lots: dict[int, Lot]
    reports: tuple[Report, ...]


def load_season(folder: Path = FOLDER) -> Season:
    """Read season.toml, deliveries.toml and register.toml of a folder."""
    facts = read_toml(folder / "season.toml")
    lots = {row[0]: Lot(*row) for row in facts["lots"]["rows"]}
    declared = read_toml(folder / "deliveries.toml")["report"]
    reports = tuple(build_report(entry, facts, lots) for entry in declared)
    return Season(facts, read_toml(folder / "register.toml"), lots, reports)


def read_toml(path: Path) -> Facts:
    """Read one TOML file."""
    with path.open("rb") as stream:
        return tomllib.load(stream)


def build_report(entry: Facts, facts: Facts, lots: dict[int, Lot]) -> Report:
    """Turn one declared report into its samples, numbered in order of appearance."""
    lab = facts["laboratory"][entry["lab"]]
    samples = [*lot_samples(entry, facts, lots, lab), *trial_samples(entry, facts, lots, lab)]
    return Report(
        file=f"{entry['file']}.{entry.get('suffix', 'xlsx')}",
        lab=lab,
        number=entry["number"],
        revision=entry.get("revision", "0"),
        issued=entry["issued"],
        stage=entry["stage"],
        panels=tuple(entry["panels"]),
        samples=tuple(samples),
        odds=tuple(Odd(*row) for row in entry.get("odd", [])),
        declared=entry,
    )


def lot_samples(entry: Facts, facts: Facts, lots: dict[int, Lot], lab: Facts) -> Iterator[Sample]:
    """Yield the lot samples of a report."""
    misprint = entry.get("misprint", {})
    for index, number in enumerate(entry["lots"]):
        reference = facts["season"]["reference"].format(
            number=facts["stages"][entry["stage"]] + number
        )
        printed = misprint["reference"] if misprint.get("lot") == number else reference
        yield Sample(
            lot=lots[number],
            stage=entry["stage"],
            sampled_on=entry["sampled"] + timedelta(days=index // 4),
            reference=reference,
            printed_reference=printed,
            lab_number=lab["number"].format(number=entry["first"] + index),
        )


def trial_samples(entry: Facts, facts: Facts, lots: dict[int, Lot], lab: Facts) -> Iterator[Sample]:
    """Yield the bench samples a report carries after its lot samples."""
    trial = facts["trial"]
    arms = trial["arms"] if entry.get("trial") else []
    for index, (reference, treatment, dose, free, colour) in enumerate(arms):
        yield Sample(
            lot=next(lot for lot in lots.values() if lot.name == trial["lot"]),
            stage=trial["stage"],
            sampled_on=trial["sampled"],
            reference=reference,
            printed_reference=reference,
            lab_number=lab["number"].format(number=entry["first"] + len(entry["lots"]) + index),
            kind="bench treated" if dose else "bench control",
            treatment=treatment,
            dose=dose,
            free_factor=free,
            colour_factor=colour,
        )
