"""What a person may set, as frozen dataclasses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from pathlib import Path

from schemas.layout import OwnLayout
from schemas.vocabulary import Background, OdourSet, Threshold, load_vocabulary


@dataclass(frozen=True)
class Laboratory:
    """What is known of a laboratory beside its reports; null where nothing is.

    density in kg/L; plus_minus is U (expanded) or s (standard deviation). The rest maps "analyte" or
    "analyte/form", in the stored unit: methods to a relative standard uncertainty, or to relative
    and absolute, and within: what of it scatters within the laboratory; controls to the assigned
    value and its standard uncertainty, one for each level; limits to lod and loq. confirmed are
    numbers of reports whose units the laboratory has confirmed.
    """

    name: str
    density: float | None = None
    plus_minus: str | None = None
    coverage_factor: float | None = None
    methods: Mapping[str, float | Mapping[str, float]] = field(default_factory=dict)
    controls: Mapping[str, Mapping[str, float] | tuple[Mapping[str, float], ...]] = field(
        default_factory=dict
    )
    limits: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    confirmed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Email:
    """How the digest is sent; the password comes from CINDERLOT_EMAIL_PASSWORD."""

    server: str
    sender: str
    port: int = 587
    encryption: str = "starttls"
    user: str | None = None


@dataclass(frozen=True)
class Recipient:
    """Who gets the digest; with vineyards or lots named, only what concerns those."""

    address: str
    vineyards: tuple[str, ...] = ()
    lots: tuple[str, ...] = ()


@dataclass(frozen=True)
class Serving:
    """When `cinderlot serve` does the weekly run, and what it does then.

    every is week, day or a number of hours, counted from `day` at `at`, in local time; out is where
    the digest goes (null: `digest` beside the store); settle is how many seconds a file must have
    stayed as it is before it is read.
    """

    every: str | int = "week"
    day: str = "monday"
    at: time = time(7)
    out: Path | None = None
    send: bool = True
    settle: float = 10.0


@dataclass(frozen=True)
class Settings:
    """Everything a person may set; what is shipped (thresholds, sets, backgrounds) has their own on top.

    Thresholds and backgrounds are in the stored unit of their matrix. Null paths and e-mail are not set.
    `own_layouts` are what was read of the folder `layouts`.
    """

    confidence: float = 0.95
    assume_uncertainty: bool = True
    growth_minimum: float = 0.05
    false_discovery_rate: float = 0.05
    thresholds: tuple[Threshold, ...] = field(default_factory=lambda: load_vocabulary().thresholds)
    backgrounds: tuple[Background, ...] = field(
        default_factory=lambda: load_vocabulary().backgrounds
    )
    exposure_markers: int = 2
    exposure_false_alarm: float = 0.05
    exposure_references: int = 20
    odour_sets: tuple[OdourSet, ...] = field(default_factory=lambda: load_vocabulary().odour_sets)
    laboratories: Mapping[str, Laboratory] = field(default_factory=dict)
    layouts: Path | None = None
    own_layouts: tuple[OwnLayout, ...] = ()
    vocabulary: Path | None = None
    inbox: Path | None = None
    serving: Serving = Serving()
    email: Email | None = None
    recipients: tuple[Recipient, ...] = ()

    @property
    def confirmed_reports(self) -> tuple[tuple[str, str], ...]:
        """List (laboratory, report number) whose units a laboratory has confirmed."""
        return tuple((lab.name, no) for lab in self.laboratories.values() for no in lab.confirmed)
