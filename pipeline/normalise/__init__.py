"""Normalise: give every reading its stored name, unit, number, interval and sample.

This stage never drops a row and never raises: what is not recognised becomes null beside the printed
text, and `validate` alone judges. Printed text is not changed.
"""

from __future__ import annotations

import polars as pl

from pipeline.normalise.controls import read_controls
from pipeline.normalise.isomer_sums import doubt_sums
from pipeline.normalise.limits import censor
from pipeline.normalise.measurands import name_measurands
from pipeline.normalise.numbers import read_numbers
from pipeline.normalise.samples import name_samples
from pipeline.normalise.slips import find_slips
from pipeline.normalise.spreads import read_spreads
from pipeline.normalise.unit_values import convert_units
from pipeline.normalise.versions import settle_versions
from pipeline.readers import Readers
from pipeline.settings import Settings


def normalise(readings: pl.DataFrame, readers: Readers, settings: Settings) -> pl.DataFrame:
    """Add the typed columns of Results to Readings, and the columns `validate` judges by.

    Columns for the judge: notation, why, name_hint, out_of_scope, unit_name, unit_kind, unit_problem,
    date_problem, date_why, qc_kind, slip_power, slip_why. Values in ug/L (liquids) or ug/kg (grapes).
    """
    return (
        readings.pipe(name_measurands, readers.names)
        .pipe(name_samples, readers)
        .pipe(read_numbers, readers.notations)
        .pipe(settle_versions)
        .pipe(convert_units, readers, settings)
        .pipe(read_controls, readers)
        .pipe(censor, settings)
        .pipe(doubt_sums)
        .pipe(find_slips)
        .pipe(read_spreads, readers, settings)
    )
