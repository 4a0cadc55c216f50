"""All results brought to analyses and molar amounts once, for deriving and for flagging."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.amounts import pair_forms, pool_amounts
from pipeline.repeats import MEASURE, combine_repeats, number_samples
from pipeline.uncertainty import NO_RECORD
from pipeline.withheld import NONE_WITHHELD, open_sums
from schemas.frames import SUSPECTS
from schemas.vocabulary import Vocabulary

_CELL = ["report_id", "sheet", "cell"]


@dataclass(frozen=True)
class Analyses:
    """Samples of all kinds, and what was found in them, without suspected results.

    `results`: printed rows with `sample`, suspected ones too. `rows`: those without them. `samples`:
    one row per sample (see `pipeline.repeats`). `combined`: one row per sample, measurand and day
    of analysis; `repeats` the latest of them. `amounts`: their molar amounts, pooled; `pairs`: free
    and bound amounts side by side (see `pipeline.amounts`). `suspects`: analyses like `repeats` of
    suspected results alone, with power and evidence.
    """

    results: pl.DataFrame
    rows: pl.DataFrame
    samples: pl.DataFrame
    combined: pl.DataFrame
    repeats: pl.DataFrame
    amounts: pl.DataFrame
    pairs: pl.DataFrame
    suspects: pl.DataFrame
    vocabulary: Vocabulary


def analyse(
    results: pl.DataFrame,
    vocabulary: Vocabulary,
    *,
    record: pl.DataFrame = NO_RECORD,
    withheld: pl.DataFrame = NONE_WITHHELD,
    suspects: pl.DataFrame | None = None,
    loaded: pl.DataFrame | None = None,
) -> Analyses:
    """Number the samples of all results, set suspected results apart and combine repeats.

    `record` is what is known of uncertainties beside the reports (see `pipeline.uncertainty`),
    `withheld` are values held back (see `pipeline.withheld`), `suspects` (SUSPECTS) are results
    whose unit may have slipped, `loaded` holds report_id and loaded_at.
    """
    slips = pl.DataFrame(schema=SUSPECTS) if suspects is None else suspects
    instants = loaded.select("report_id", "loaded_at") if loaded is not None else None
    every, samples = number_samples(results)
    rows = every.join(slips, on=_CELL, how="anti", nulls_equal=True, maintain_order="left")
    suspected = every.join(slips, on=_CELL, nulls_equal=True)
    combined = combine_repeats(rows, record, instants)
    repeats = combined.filter("latest")
    amounts = pool_amounts(repeats, vocabulary, open_sums(rows, withheld, vocabulary))
    return Analyses(
        results=every,
        rows=rows,
        samples=samples,
        combined=combined,
        repeats=repeats,
        amounts=amounts,
        pairs=pair_forms(amounts),
        suspects=_with_evidence(suspected, combine_repeats(suspected, record, instants)),
        vocabulary=vocabulary,
    )


def _with_evidence(rows: pl.DataFrame, combined: pl.DataFrame) -> pl.DataFrame:
    """Say of combined suspects what is said of their rows; power and evidence are one of theirs."""
    why = rows.group_by(MEASURE).agg(
        pl.col("power", "evidence").sort_by("power", "evidence").last()
    )
    return combined.filter("latest").join(why, on=MEASURE, nulls_equal=True)
