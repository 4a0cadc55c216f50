"""Put numbers in the place of names, for a trend that is shown to others."""

from __future__ import annotations

import hashlib

import polars as pl

# Whose names are replaced. A method's name may be one laboratory's own.
NAMED = {
    "region": "region", "grower": "grower", "vineyard": "vineyard", "block": "block",
    "lot": "lot", "lab": "laboratory", "method": "method",
}  # fmt: skip
# Below this many samples a row may be recognised by its numbers. Threshold rule of the Glossary of
# Statistical Disclosure Control (UNECE/Eurostat work session, Geneva 2005): "some agencies require at
# least five respondents in a cell, others require three".
FEWEST_HIDDEN = 3
_SECRET = ("sample_id", "lab", "sampled_on", "analysed_on", "replicate", "lower", "upper")
_DATES = ("first_sampled_on", "last_sampled_on")


def _key(results: pl.DataFrame, by: str) -> bytes:
    """Make a key of the values themselves, which only who has the store can make again."""
    columns = [*dict.fromkeys((by, *_SECRET))]
    rows = results.select(pl.col(columns).cast(pl.String)).sort(columns, nulls_last=True)
    return hashlib.blake2b(rows.write_csv().encode()).digest()


def _numbered(names: list[str], word: str, key: bytes) -> dict[str, str]:
    def place(name: str) -> bytes:
        return hashlib.blake2b(name.encode(), key=key).digest()

    width = len(str(len(names)))
    return {
        name: f"{word} {number:0{width}}"
        for number, name in enumerate(sorted(names, key=place), start=1)
    }


def hide_names(results: pl.DataFrame, by: str) -> pl.DataFrame:
    """Replace the names of places, lots, laboratories and methods by numbers.

    One name has one number throughout, in an order that a keyed hash gives: neither the alphabet
    nor the amounts show in it. The key is made of the values that were chosen, so the same question
    to the same store gives the same numbers, and another choice gives others. Null stays null.
    """
    key = _key(results, by)
    columns = [name for name in dict.fromkeys((by, "lab", "method")) if name in NAMED]
    hidden = [
        pl.col(name).replace_strict(
            _numbered(results[name].drop_nulls().unique().to_list(), NAMED[name], key),
            default=None,
            return_dtype=pl.String,
        )
        for name in columns
    ]
    return results.with_columns(hidden)


def note_recognisable(table: pl.DataFrame) -> pl.DataFrame:
    """Leave the days of sampling out and note the rows of few samples, in the column `note`."""
    few = f"fewer than {FEWEST_HIDDEN} samples: may be recognised"
    return table.drop(_DATES).with_columns(
        note=pl.when(pl.col("n") < FEWEST_HIDDEN).then(pl.lit(few))
    )
