"""Printed numbers in the stored unit, against decimal arithmetic of the standard library."""

from __future__ import annotations

from decimal import Decimal

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.units import converted
from schemas.vocabulary import load_vocabulary

FACTORS = sorted({unit.factor for unit in load_vocabulary().units.values()})
PRINTED = st.decimals(min_value=0, max_value=99_999, places=5)


def in_stored_unit(number: float, factor: float) -> float | None:
    frame = pl.DataFrame({"number": [number], "factor": [factor]})
    found: float | None = frame.select(converted(pl.col("number"), pl.col("factor"))).item()
    return found


@given(number=PRINTED, factor=st.sampled_from(FACTORS))
def test_a_conversion_is_that_of_the_printed_decimals(number: Decimal, factor: float) -> None:
    exact = float(number * Decimal(repr(factor)))
    assert in_stored_unit(float(number), factor) == exact


def test_a_milligram_number_at_its_threshold_is_not_above_it() -> None:
    # 0.0041 * 1000 is 4.1000000000000005 in binary; the contract: equality is below
    assert in_stored_unit(0.0041, 1000.0) == 4.1


@pytest.mark.parametrize("factor", [1.0, 1000.0])
def test_what_is_unknown_stays_null(factor: float) -> None:
    frame = pl.DataFrame({"number": [None, 2.0], "factor": [factor, None]}, schema_overrides={
        "number": pl.Float64(), "factor": pl.Float64()})  # fmt: skip
    found = frame.select(converted(pl.col("number"), pl.col("factor"))).to_series()
    assert found.to_list() == [None, None]
