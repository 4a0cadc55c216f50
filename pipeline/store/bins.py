"""Count chosen values in bins; `v` and `s` are the tables of `pipeline.store.select`."""

from __future__ import annotations

# The ends are joined as a row of their own: a window over all rows trips the engine up (before 1.5.6).
_COUNTED = """, spots AS MATERIALIZED (
    SELECT lower, upper, {spot} AS spot FROM v JOIN s USING (sample_key))
SELECT coalesce({place}, 0)::INTEGER AS place,
    count(*) FILTER (lower = upper)::INTEGER AS n_known,
    count(*) FILTER (lower IS DISTINCT FROM upper)::INTEGER AS n_spans, {ends}
FROM spots CROSS JOIN (SELECT {over} FROM spots)
WHERE spot IS NOT NULL GROUP BY ALL ORDER BY ALL"""


def in_bins_of_values(bins: int) -> str:
    """Write the query that counts by the upper end, else the lower: equal steps of the root."""
    return _COUNTED.format(
        place=f"least(floor(sqrt(spot / nullif(top, 0)) * {bins}), {bins - 1})",
        ends="top", over="max(spot) AS top", spot="coalesce(upper, lower)",
    )  # fmt: skip


def in_bins_of_days(bins: int) -> str:
    """Write the query that counts by the day of sampling, in equal steps."""
    return _COUNTED.format(
        place=f"least(floor((spot - first) * {bins} / nullif(last - first, 0)), {bins - 1})",
        ends="first, last", over="min(spot) AS first, max(spot) AS last", spot="sampled_on",
    )  # fmt: skip
