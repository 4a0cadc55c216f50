"""Frame contracts of what is derived from all results: columns and types; see `schemas.frames`."""

from __future__ import annotations

import polars as pl

FRACTIONS: dict[str, pl.DataType] = {
    "lot": pl.String(),
    "sample_id": pl.String(),
    "sample_kind": pl.String(),
    "stage": pl.String(),
    "sampled_on": pl.Date(),
    "lab": pl.String(),
    "free_method": pl.String(),
    "bound_method": pl.String(),
    "aglycone": pl.String(),
    "free_lower": pl.Float64(),
    "free_upper": pl.Float64(),
    "bound_lower": pl.Float64(),
    "bound_upper": pl.Float64(),
    "unit": pl.String(),
    "bound_fraction_lower": pl.Float64(),
    "bound_fraction_upper": pl.Float64(),
    "bound_basis": pl.String(),
    "cells": pl.String(),
}

PANELS: dict[str, pl.DataType] = {
    "lot": pl.String(),
    "sample_id": pl.String(),
    "sample_kind": pl.String(),
    "stage": pl.String(),
    "sampled_on": pl.Date(),
    "lab": pl.String(),
    "method": pl.String(),
    "panel": pl.String(),
    "basis": pl.String(),
    "expressed_as": pl.String(),
    "lower": pl.Float64(),
    "middle": pl.Float64(),
    "upper": pl.Float64(),
    "unit": pl.String(),
    "n_members": pl.Int32(),
    "n_missing": pl.Int32(),
    "n_censored": pl.Int32(),
    "members": pl.String(),
    "missing": pl.String(),
    "limit_driven": pl.Boolean(),
    "cells": pl.String(),
}

FLAGS: dict[str, pl.DataType] = {
    "lot": pl.String(),
    "sample_id": pl.String(),
    "stage": pl.String(),
    "sampled_on": pl.Date(),
    "lab": pl.String(),
    "method": pl.String(),
    "kind": pl.String(),
    "analyte": pl.String(),
    "form": pl.String(),
    "lower": pl.Float64(),
    "upper": pl.Float64(),
    "unit": pl.String(),
    "threshold": pl.Float64(),
    "threshold_source": pl.String(),
    "probability": pl.Float64(),
    "decision": pl.String(),
    "reason": pl.String(),
    "severity": pl.String(),
    "message": pl.String(),
    "cells": pl.String(),
    "raised_at": pl.Datetime("us", "UTC"),
    "status": pl.String(),
    "uncertainty_source": pl.String(),
    "note": pl.String(),
    "report_without_lab": pl.String(),
    "free_change_lower": pl.Float64(),
    "free_change_upper": pl.Float64(),
    "free_change": pl.String(),
    "bound_change_lower": pl.Float64(),
    "bound_change_upper": pl.Float64(),
    "bound_change": pl.String(),
    "change_unit": pl.String(),
}

# What one rule says of one result of quality control. lower and upper are the judged quantity (an
# amount, a recovery in %, a difference, a z-score); equal ends are one number.
QUALITY: dict[str, pl.DataType] = {
    "report_id": pl.String(),
    "lab": pl.String(),
    "report_no": pl.String(),
    "method": pl.String(),
    "analysed_on": pl.Date(),
    "qc_kind": pl.String(),
    "rule": pl.String(),
    "analyte": pl.String(),
    "form": pl.String(),
    "sample_id": pl.String(),
    "parent_sample": pl.String(),
    "lower": pl.Float64(),
    "upper": pl.Float64(),
    "unit": pl.String(),
    "limit_lower": pl.Float64(),
    "limit_upper": pl.Float64(),
    "judgement": pl.String(),
    "message": pl.String(),
    "source": pl.String(),
    "cells": pl.String(),
}

# Results that stand a power of ten away from all others of their kind, known only from the store.
SUSPECTS: dict[str, pl.DataType] = {
    "report_id": pl.String(),
    "sheet": pl.String(),
    "cell": pl.String(),
    "power": pl.Int64(),
    "evidence": pl.String(),
}
