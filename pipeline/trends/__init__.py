"""Follow one analyte over regions, growers, lots, laboratories, vintages or stages."""

from pipeline.trends.choose import Choice, choose_results
from pipeline.trends.draw import draw_trend
from pipeline.trends.groups import (
    APART,
    DIMENSIONS,
    POOLABLE,
    mixes_laboratories,
    pools,
    resolve_analyte,
)
from pipeline.trends.summarise import trend
from pipeline.trends.write import Heading, write_trend

__all__ = [
    "APART",
    "DIMENSIONS",
    "POOLABLE",
    "Choice",
    "Heading",
    "choose_results",
    "draw_trend",
    "mixes_laboratories",
    "pools",
    "resolve_analyte",
    "trend",
    "write_trend",
]
