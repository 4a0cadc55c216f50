"""Bound reserve: lots with little free phenol and a large bound part."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.digest.course import NOT_YET_WINE, in_life_order
from pipeline.digest.model import Reserve
from pipeline.digest.states import with_subject
from pipeline.digest.words import interval, share, sources

# A reserve is listed when at least this share of what was measured is bound (lower end).
# It only orders the reading; common practice, no source.
LEAST_SHARE = 0.5


@dataclass(frozen=True)
class Unexposed:
    """What wines never exposed to smoke carry, in nmol/L; a size to read against, not a limit."""

    aglycone: str
    nmol_per_litre: float
    text: str


# Sum over six glycosides of the 99th percentiles in Shiraz, the highest of three varieties:
# syringol gentiobioside 8.8, 4-methylsyringol gentiobioside 1.0, rutinosides of phenol 2.7,
# guaiacol 12.6, cresol 7.2, 4-methylguaiacol 6.4 µg/L, each by its molar mass. Australian Journal
# of Grape and Wine Research 2022, article 9820204, table 4.
_GLYCOSIDES = Unexposed(
    "panel",
    88.0,
    "88 nmol/L is the sum of the 99th percentiles in unexposed Shiraz, the highest of three "
    "varieties (Aust. J. Grape Wine Res. 2022, article 9820204)",
)
# Unsmoked, un-oaked Pinot noir: total 12.0 less free 1.2 µg/L guaiacol = 10.8 µg/L, 124.14 g/mol.
# Merrell, Arvik, Runnebaum, Catalyst.
_RELEASED = Unexposed(
    "guaiacol",
    87.0,
    "for guaiacol alone up to 87 nmol/L was found bound in unexposed Pinot noir "
    "(Merrell, Arvik, Runnebaum, Catalyst)",
)
UNEXPOSED = {
    "glycosides": _GLYCOSIDES,
    "total minus free": _RELEASED,
    "reported bound": _RELEASED,
}


def _latest(fractions: pl.DataFrame) -> pl.DataFrame:
    """Keep each subject's latest sample for each laboratory, basis and compound."""
    wine = with_subject(fractions).filter(
        pl.col("sample_kind") == "lot",
        pl.col("lot").is_not_null(),
        pl.col("unit") == "nmol/L",
        ~pl.col("stage").is_in(NOT_YET_WINE).fill_null(False),
    )
    return in_life_order(wine, "subject").group_by(
        "subject", "lab", "bound_basis", "aglycone", maintain_order=True
    ).last()  # fmt: skip


def _large(latest: pl.DataFrame) -> pl.DataFrame:
    sizes = pl.DataFrame(
        [(basis, u.aglycone, u.nmol_per_litre) for basis, u in UNEXPOSED.items()],
        schema=["bound_basis", "aglycone", "unexposed"],
        orient="row",
    )
    above = (
        latest.join(sizes, on=["bound_basis", "aglycone"])
        .filter(pl.col("bound_lower") > pl.col("unexposed"))
        .select("subject", "lab", "bound_basis")
        .unique()
    )
    panel = latest.filter(
        pl.col("aglycone") == "panel", pl.col("bound_fraction_lower") >= LEAST_SHARE
    )
    return panel.join(above, on=["subject", "lab", "bound_basis"], how="semi", nulls_equal=True)


def _free_above(flags: pl.DataFrame) -> pl.DataFrame:
    return flags.filter(
        pl.col("kind").is_in(["over_threshold", "odour_activity"]),
        pl.col("decision") == "above",
        pl.col("form").is_null() | (pl.col("form") == "free"),
    )


def reserves(fractions: pl.DataFrame, flags: pl.DataFrame) -> tuple[Reserve, ...]:
    """List lots with no free phenol above a threshold and a large bound part, largest first.

    Large: at least half of the panel is bound (lower end, molar) and the bound size exceeds what
    wines never exposed to smoke were found to carry on the same basis. Sizes in nmol/L. `flags` are
    current flags with `subject`.
    """
    found = (
        _large(_latest(fractions))
        .join(_free_above(flags), on="subject", how="anti")
        .sort("bound_lower", "subject", descending=[True, False])
    )
    return tuple(_reserve(row) for row in found.iter_rows(named=True))


def _reserve(row: dict[str, object]) -> Reserve:
    basis = str(row["bound_basis"])
    return Reserve(
        subject=str(row["subject"]),
        facts=f"{row['stage'] or 'stage unknown'}, {row['lab'] or 'laboratory unknown'}",
        size=interval(_float(row["bound_lower"]), _float(row["bound_upper"]), "nmol/L"),
        fraction=share(_float(row["bound_fraction_lower"]), _float(row["bound_fraction_upper"])),
        basis=basis,
        compared=UNEXPOSED[basis].text,
        sources=sources(str(row["cells"] or "")),
    )


def _float(end: object) -> float | None:
    return None if end is None else float(str(end))
