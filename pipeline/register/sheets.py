"""What the register's sheets hold: their columns, in order, and the words they accept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import polars as pl

from schemas.vocabulary import SAMPLE_KINDS, STAGES

NOTES = "read me"  # the sheet of explanations that the template carries
Kind = Literal["text", "number", "whole", "date"]
TYPES: dict[Kind, pl.DataType] = {
    "text": pl.String(),
    "number": pl.Float64(),
    "whole": pl.Int32(),
    "date": pl.Date(),
}
COLOURS = ("red", "white", "rose")
MATRICES = ("grape", "must", "red wine", "white wine", "rose wine", "model wine", "wine")


@dataclass(frozen=True)
class Column:
    """A column of a register sheet; `words` are the only ones it accepts, when given."""

    name: str
    means: str
    kind: Kind = "text"
    needed: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """A register sheet: its columns, and those that tell its rows apart."""

    name: str
    means: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()

    @property
    def schema(self) -> dict[str, pl.DataType]:
        """Give the frame's columns and types."""
        return {column.name: TYPES[column.kind] for column in self.columns}


LOT = Column("lot", "the lot, as in the sheet lots", needed=True)
DOSE = Column("dose", "amount used, in dose_unit", "number")
DOSE_UNIT = Column("dose_unit", "g/hL, g/L, mg/L; mL/hL, mL/L; or as it is said, but not ppm")

SHEETS = (
    Sheet(
        "lots",
        "one line per lot",
        (
            Column("lot", "name of the lot, each once", needed=True),
            Column("region", "region of the fruit"),
            Column("grower", "grower of the fruit"),
            Column("vineyard", "vineyard of the fruit"),
            Column("block", "block of the vineyard"),
            Column("variety", "grape variety"),
            Column("colour", "colour of the wine", words=COLOURS),
            Column("vintage", "year of the harvest", "whole"),
            Column("volume_l", "volume in litres", "number"),
            Column("expected_picking_on", "date on which picking is expected", "date"),
        ),
        key=("lot",),
    ),
    Sheet(
        "samples",
        "one line per sample that was sent to a laboratory",
        (
            Column("sample_id", "the identifier the laboratory prints", needed=True),
            Column("lab", "the laboratory; empty: any laboratory"),
            LOT,
            Column("sample_kind", "empty: as the report says", words=SAMPLE_KINDS),
            Column("matrix", "what was sampled", words=MATRICES),
            Column("stage", "point in the lot's life", words=STAGES),
            Column("sampled_on", "date of sampling", "date"),
            Column("bunches", "number of bunches in a grape sample", "whole"),
            Column("brix", "soluble solids in degrees Brix", "number"),
            Column("treatment", "treatment of a bench sample"),
            DOSE,
            DOSE_UNIT,
            Column("trial", "name of the trial"),
        ),
        key=("lab", "sample_id"),
    ),
    Sheet(
        "movements",
        "one line per blend, split or racking (not needed)",
        (
            Column("from_lot", "lot the wine comes from", needed=True),
            Column("to_lot", "lot the wine goes to", needed=True),
            Column("kind", "what was done", needed=True, words=("blend", "split", "rack")),
            Column("volume_l", "volume in litres", "number"),
            Column("moved_on", "date of the movement", "date"),
        ),
    ),
    Sheet(
        "interventions",
        "one line per treatment of a lot (not needed)",
        (
            LOT,
            Column(
                "kind",
                "what was done",
                needed=True,
                words=(
                    "sorting", "pressing", "yeast", "tannin", "fining", "membrane", "wood",
                    "other",
                ),
            ),
            Column("agent", "what was used, in generic words"),
            DOSE,
            DOSE_UNIT,
            Column("done_on", "date of the treatment", "date"),
            Column("permission_note", "note on whether it is allowed"),
        ),
    ),
    Sheet(
        "tastings",
        "one line per tasted attribute (not needed)",
        (
            LOT,
            Column("attribute", "what was scored", needed=True),
            Column("score", "mean score of the panel", "number"),
            Column("scale_max", "highest score of the scale", "number"),
            Column("panel_size", "number of tasters", "whole"),
            Column("tasted_on", "date of the tasting", "date"),
        ),
    ),
    Sheet(
        "decisions",
        "one line per decision on a lot (not needed)",
        (
            LOT,
            Column(
                "decision",
                "what was decided",
                needed=True,
                words=("hold", "treat", "blend", "bottle", "release"),
            ),
            Column("decided_on", "date of the decision", "date"),
            Column("who", "who decided"),
            Column("note", "remark"),
            Column("retest_due_on", "date by which to test again", "date"),
        ),
    ),
    Sheet(
        "exposures",
        "one line per smoke event of a block (not needed)",
        (
            Column("block", "block of the vineyard", needed=True),
            Column("from", "first day", "date"),
            Column("to", "last day", "date"),
            Column("growth_stage", "growth stage of the vine"),
            Column("index", "measure of the exposure, from 0", "number"),
            Column("source", "where the measure comes from"),
        ),
    ),
)  # fmt: skip
