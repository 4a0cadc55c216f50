"""Fold names for comparison, the same way wherever two of them meet."""

from __future__ import annotations

import polars as pl


def name_key(name: pl.Expr) -> pl.Expr:
    """Fold a name: case and extra spaces go; a blank one is null."""
    folded = name.str.to_lowercase().str.strip_chars().str.replace_all(r"\s+", " ")
    return pl.when(folded != "").then(folded)
