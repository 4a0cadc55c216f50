"""Decisions on held values: what a person gives, and how a decision is stored."""

from __future__ import annotations

import polars as pl

# The words a person chooses from, and how a decision is stored.
DECISIONS = {
    "correct": "correct",
    "confirm": "confirm",
    "dismiss": "dismiss",
    "ask the laboratory": "ask",
}
# These give a row of results: the reading as corrected, or as printed.
GIVES_RESULT = ("correct", "confirm")
# Where a held value stands once it is decided; a question to the laboratory leaves it open.
SETTLED = ("corrected", "confirmed", "dismissed")
# Held only because something beside the value looks wrong: a person may say that it is right.
CONFIRMABLE = ("unit_slip",)
# What a person may say of a number that is stored, and not used while its unit is suspected.
STORED = ("correct", "confirm", "ask")
# What a correction of such a number may give.
GIVEN_STORED = ("corrected_value", "corrected_number", "corrected_unit", "corrected_factor")

GIVEN: dict[str, pl.DataType] = {
    "corrected_value": pl.String(),
    "corrected_number": pl.Float64(),
    "corrected_unit": pl.String(),
    "corrected_analyte": pl.String(),
    "corrected_form": pl.String(),
    "corrected_sample": pl.String(),
    "who": pl.String(),
    "note": pl.String(),
    "corrected_date": pl.String(),
    "corrected_dose": pl.String(),
    "corrected_replicate": pl.String(),
    "corrected_path_length": pl.String(),
    "corrected_matrix": pl.String(),
    "corrected_factor": pl.Float64(),
}
SETTLEMENTS: dict[str, pl.DataType] = {"held_id": pl.String(), "decision": pl.String(), **GIVEN}
