"""Part limits that stand in one cell: "0.1/0.3" under "LOD/LOQ"."""

from __future__ import annotations

import polars as pl

_JOINT = r"^\s*[<≤]?\s*([\d.,]+)\s*/\s*[<≤]?\s*([\d.,]+)\s*(\D.*)?$"


def part_joint_limits(readings: pl.DataFrame) -> pl.DataFrame:
    """Give each of two limits in one cell its own, the first of its heading first.

    A limit of detection above that of quantification is left as printed, so that it is not read.
    """
    return _part(_part(readings, "lod", "loq"), "loq", "lod")


def _part(readings: pl.DataFrame, first: str, second: str) -> pl.DataFrame:
    printed = pl.col(f"raw_{first}")
    joint = readings[f"raw_{first}"].str.contains(_JOINT).any()
    if not joint:
        return readings
    numbers = {first: printed.str.extract(_JOINT, 1), second: printed.str.extract(_JOINT, 2)}
    unit = printed.str.extract(_JOINT, 3).fill_null("")
    size = {n: t.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
            for n, t in numbers.items()}  # fmt: skip
    ordered = (size["lod"] <= size["loq"]).fill_null(value=False)
    texts = {n: pl.concat_str(t, unit, separator=" ").str.strip_chars() for n, t in numbers.items()}
    return readings.with_columns(
        pl.when(ordered).then(texts[first]).otherwise(printed).alias(f"raw_{first}"),
        pl.when(ordered)
        .then(pl.coalesce(f"raw_{second}", texts[second]))
        .otherwise(f"raw_{second}")
        .alias(f"raw_{second}"),
    )
