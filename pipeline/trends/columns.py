"""What the columns of a trend are called in a workbook, and what they mean."""

from __future__ import annotations

import polars as pl

from pipeline.phrases import shown_unit

# The statistics that say more than the interval of the median does.
ESTIMATED = ("Kaplan-Meier", "robust ROS")
# column -> heading, meaning; {} takes the unit where all rows have the same
MEANINGS: dict[str, tuple[str, str]] = {
    "by": ("group", "what the row stands for; empty where it is not given"),
    "lab": ("laboratory", "rows of different laboratories are not comparable with each other"),
    "method": ("method", "method as the report names it"),
    "matrix": ("matrix", "grape, must or wine with its colour"),
    "unit": ("unit", "unit of the numbers in this row; 1 or empty means no unit"),
    "form": ("form", "free, bound or total (total = free and acid-released)"),
    "expressed_as": ("expressed as", "substance whose mass the number is"),
    "n": ("samples (count)", "each counts once for a laboratory and method, by its latest analysis"),
    "n_censored": ("censored (count)", "samples whose value is an interval, such as below a limit"),
    "share_censored": ("censored (share)", "of the samples, 0 to 1"),
    "minimum_lower": ("lowest, lower end ({})", "of the lower ends"),
    "minimum_upper": ("lowest, upper end ({})", "of the upper ends"),
    "median_lower": ("median, lower end ({})", "median of the lower ends: certain"),
    "median_upper": ("median, upper end ({})", "median of the upper ends; empty has no bound"),
    "maximum_lower": ("highest, lower end ({})", "of the lower ends"),
    "maximum_upper": ("highest, upper end ({})", "of the upper ends; empty has no bound"),
    "first_sampled_on": ("first sampled (date)", "earliest sampling"),
    "last_sampled_on": ("last sampled (date)", "latest sampling"),
    "pooled": ("pooled", "which laboratories or methods were thrown together; empty: none"),
    "analyte": ("analyte", "the analyte"),
    "statistic": ("statistic", "how the estimate was made (Helsel 2012)"),
    "median_estimate": ("median, estimate ({})", "empty where only a bound can be said"),
    "median_below": ("median below ({})", "where no number can be said"),
    "median_confidence_lower": ("median, 95 % from ({})", "free of any distribution"),
    "median_confidence_upper": ("median, 95 % to ({})", "free of any distribution"),
    "mean_estimate": ("mean, estimate ({})", "by the same method"),
    "highest_limit": ("highest limit ({})", "highest upper end of the censored values"),
    "n_over_limit": ("over that limit (count)", "values that surely reach the highest limit"),
    "slope": ("slope ({} per year)", "Akritas-Theil-Sen; empty: see slope note"),
    "slope_lower": ("slope, 95 % from ({} per year)", "lower end of its confidence"),
    "slope_upper": ("slope, 95 % to ({} per year)", "upper end of its confidence"),
    "slope_p": ("probability by chance", "of such a trend (Mann-Kendall, two-sided)"),
    "slope_n": ("values in the slope (count)", "values or vintages with a time"),
    "slope_note": ("slope note", "why there is no slope"),
    "note": ("note", "rows of few samples may be recognised"),
}  # fmt: skip


def headings(table: pl.DataFrame) -> dict[str, tuple[str, str]]:
    """Give heading and meaning of each column, with the unit where there is but one."""
    units = table["unit"].unique()
    unit = shown_unit(units[0]) or "no unit" if len(units) == 1 else "see unit"
    return {
        name: (heading.format(unit), text)
        for name, (heading, text) in MEANINGS.items()
        if name in table.columns
    }
