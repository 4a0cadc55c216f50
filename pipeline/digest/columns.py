"""What each column of the workbook is called and means."""

from __future__ import annotations

SHEETS = ("lots", "flags", "results", "held", "changes")

_UNIT_NOTE = "in the unit of the column unit"

# column -> heading, meaning
COLUMNS: dict[str, tuple[str, str]] = {
    "lot": ("lot", "the lot's name in the register"),
    "subject": ("lot or sample", "the lot, or the sample and its laboratory where no lot is known"),
    "state": ("state", "worst current decision: above, undecided or below"),
    "why": ("why undecided", "what keeps the lot from a decision"),
    "variety": ("variety", "from the register, else from the report"),
    "vintage": ("vintage", "from the register, else from the report"),
    "vineyard": ("vineyard", "from the register, else from the report"),
    "block": ("block", "from the register, else from the report"),
    "grower": ("grower", "from the register, else from the report"),
    "region": ("region", "from the register, else from the report"),
    "bound": ("bound part", "of the smoke phenols in the latest wine sample, with its share"),
    "stage": ("stage", "stage of winemaking at the latest sample"),
    "last_sample_on": ("last sample (date)", "empty when the report gives no date"),
    "laboratories": ("laboratories", "laboratories behind the current decisions"),
    "deciding": ("deciding", "the analyte or set that decides the state"),
    "value": ("value with unit", "measured value with its unit, or the interval it lies in"),
    "threshold": ("threshold", f"sensory threshold, {_UNIT_NOTE}; none set when empty"),
    "how_sure": ("how sure", "probability that the true value is above the threshold, in words"),
    "n_above": ("flags above (count)", "current flags whose decision is above"),
    "n_undecided": ("flags undecided (count)", "current flags whose decision is undecided"),
    "growth": ("free and bound", "how the bound share moved since fermentation"),
    "history": ("done so far", "treatments, blends and decisions with their dates"),
    "tastings": ("tastings", "scores with their scale, panel size and date"),
    "source": ("source: file, sheet, cells", "where the deciding number stands in the report"),
    "sampled_on": ("sampled (date)", "date of sampling"),
    "lab": ("laboratory", "laboratory; different laboratories are not compared"),
    "method": ("method", "method as the report names it"),
    "kind": ("kind", "rule that raised the flag"),
    "analyte": ("analyte", "analyte or set"),
    "form": ("form", "free, bound or total (total = free and acid-released)"),
    "lower": ("lower end (see unit)", "lower end of the value; equal ends are one number"),
    "upper": ("upper end (see unit)", "upper end of the value; empty means no upper bound"),
    "unit": ("unit", "unit of the numbers in this row; 1 or empty means no unit"),
    "threshold_source": ("threshold source", "who measured or set the threshold"),
    "probability": ("probability above", "that the true value exceeds the threshold"),
    "decision": ("decision", "above, undecided or below"),
    "reason": ("reason", "why the decision is open, or why the value was held back"),
    "severity": ("severity", "note, warn or act"),
    "message": ("message", "the flag as a sentence"),
    "cells": ("source: file|sheet!cell", "cells the flag stands on"),
    "report_no": ("report", "the laboratory's report number"),
    "revision": ("revision", "revision of the report"),
    "sample_id": ("sample", "client's reference, else the laboratory's number"),
    "matrix": ("matrix", "grape, must or wine with its colour"),
    "expressed_as": ("expressed as", "substance whose mass the number is"),
    "censoring": ("censoring", "none, estimated, left, interval or right"),
    "lod": ("limit of detection (see unit)", _UNIT_NOTE),
    "loq": ("limit of quantification (see unit)", _UNIT_NOTE),
    "expanded_uncertainty": ("expanded uncertainty (see unit)", _UNIT_NOTE),
    "coverage_factor": ("coverage factor k", "of the expanded uncertainty"),
    "raw_value": ("value as printed", "text in the report's cell"),
    "raw_unit": ("unit as printed", "text in the report"),
    "raw_sample": ("sample as printed", "text in the report"),
    "raw_analyte": ("analyte as printed", "text in the report"),
    "file": ("source file", "file the number came from"),
    "sheet": ("source sheet", "sheet of that file"),
    "cell": ("source cell", "cell of that sheet"),
    "held_id": ("held value", "identifier for cinderlot held"),
    "reason_code": ("reason code", "why the value was held back"),
    "hint": ("next step", "what to do about it"),
    "status": ("status", "open or asked; corrected and dismissed values are not listed"),
    "held_at": ("held (UTC)", "when the value was held back"),
    "is_current": ("in force", "true while no loaded report replaces this one"),
    "change": ("change", "new, worse, better, cleared, or revised by the laboratory"),
    "text": ("what changed", "against the last digest that was published"),
    "about": ("about", ""),
    "name": ("name", ""),
    "meaning": ("meaning or value", ""),
}  # fmt: skip

CAUTION = (
    "Fining agents, doses, allergens (milk, egg, fish) and legal limits differ by country: follow "
    "local codes and a licensed professional.",
    "The digest shows decisions, it never takes one. A lot below every threshold may still taste "
    "of smoke: taste it.",
    "Results of different laboratories should not be compared directly (Molecules 27 (2022) 4892).",
    "A bound reserve says nothing about a later free number: direct studies found glycosides "
    "stable in bottle, while saliva releases them in the mouth (Ristic et al., J. Agric. Food "
    "Chem. 65 (2017) 4146; Mayr et al., J. Agric. Food Chem. 62 (2014)).",
)
