"""The things the vocabulary speaks of: analytes, units, thresholds, odour sets."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Analyte:
    """A measurand: its stored name, its chemistry and its printed names."""

    name: str
    family: str
    formula: str | None = None
    molar_mass: float | None = None
    cas: str | None = None
    smoke: bool = False
    group: str | None = None
    members: tuple[str, ...] = ()
    aglycone: str | None = None
    unit: str | None = None
    spellings: tuple[str, ...] = ()

    @property
    def is_glycoside(self) -> bool:
        """Tell whether the substance itself is a bound form."""
        return self.aglycone is not None

    @property
    def has_form(self) -> bool:
        """Tell whether free, bound and total differ for this measurand."""
        return self.family in {"volatile phenol", "sum of isomers", "glycoside"}


@dataclass(frozen=True)
class Unit:
    """A printed unit: its kind and the factor into the kind's stored unit."""

    name: str
    kind: str
    factor: float


@dataclass(frozen=True)
class Threshold:
    """A sensory threshold with where it comes from; `unit` as printed in `source`."""

    analyte: str
    form: str
    matrix: str
    value: float
    unit: str
    kind: str
    source: str


@dataclass(frozen=True)
class Background:
    """What one marker reaches in fruit or wine of one variety that never met smoke.

    `value` in `unit`, the unit of its matrix; `percentile` of `n` samples, both null where the
    source does not tell.
    """

    variety: str
    matrix: str
    analyte: str
    form: str
    value: float
    unit: str
    source: str
    percentile: float | None = None
    n: int | None = None


@dataclass(frozen=True)
class OdourSet:
    """Analytes whose concentration/threshold ratios are summed in one matrix."""

    name: str
    matrix: str
    members: tuple[str, ...]
