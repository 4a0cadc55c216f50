"""Statistics of values of which some are known only as intervals.

Every function takes the two ends of each value: equal for a number, [0, limit] for one below its
limit, [LOD, LOQ] for one between both, a null upper end where nothing bounds it. Nothing is ever
substituted.
"""

from __future__ import annotations

from pipeline.statistics.columns import (
    ESTIMATES,
    SLOPES,
    add_estimates,
    add_slopes,
    leave_slopes_out,
)
from pipeline.statistics.estimates import Summary, summarise
from pipeline.statistics.slopes import Slope, trend_slope

__all__ = [
    "ESTIMATES",
    "SLOPES",
    "Slope",
    "Summary",
    "add_estimates",
    "add_slopes",
    "leave_slopes_out",
    "summarise",
    "trend_slope",
]
