"""Read each distinct text of a column once."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import polars as pl


def map_texts(
    readings: pl.DataFrame, source: str, target: str, read: Callable[[str], str | None]
) -> pl.DataFrame:
    """Add a column by reading each distinct text once."""
    texts = readings[source].drop_nulls().unique().to_list()
    table: Mapping[str, str | None] = {text: read(text) for text in texts}
    found = pl.DataFrame(
        {source: list(table), target: list(table.values())},
        schema={source: pl.String(), target: pl.String()},
    )
    return readings.join(found, on=source, how="left", maintain_order="left")
