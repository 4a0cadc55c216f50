"""Quality control in the digest: one line for each batch, not one for each of its lots."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from typing import Any

import polars as pl

from pipeline.digest.model import Batch, Finding
from pipeline.digest.words import listed, sources

KIND = "quality_control"
_BATCH = ("lab", "report_no", "report_id", "method", "analysed_on")


def failed_batches(quality: pl.DataFrame, results: pl.DataFrame) -> tuple[Batch, ...]:
    """Say batch by batch what failed or warned, failures first, and which lots stand in the batch.

    `quality` as the view has it. Judgements of a whole series (HorRat) have no report and come
    last.
    """
    told = quality.filter(pl.col("judgement").is_in(["fail", "warn"])).sort(
        *_BATCH, "judgement", "analyte", "rule", "message", nulls_last=True
    )
    batches = [
        _batch(list(rows), results)
        for _, rows in groupby(
            told.iter_rows(named=True), key=lambda row: tuple(row[n] for n in _BATCH)
        )
    ]
    return tuple(sorted(batches, key=lambda batch: (batch.failed == 0, batch.name)))


def _batch(rows: list[dict[str, Any]], results: pl.DataFrame) -> Batch:
    first = rows[0]
    report = f"report {first['report_no'] or first['report_id']}" if first["report_id"] else None
    day = f"analysed {first['analysed_on']}" if first["analysed_on"] else None
    parts = (first["lab"] or "laboratory unknown", report, first["method"], day)
    failed = sum(row["judgement"] == "fail" for row in rows)
    cells = "; ".join(dict.fromkeys(row["cells"] for row in rows if row["cells"]))
    return Batch(
        name=", ".join(part for part in parts if part),
        failed=failed,
        findings=tuple(_worded(row) for row in rows),
        lots=_lots(rows, results),
        sources=sources(cells),
    )


def _worded(row: dict[str, Any]) -> str:
    verdict = "failed" if row["judgement"] == "fail" else "warns"
    return f"{verdict}: {row['message']}".replace("ug/", "µg/")


def _lots(rows: list[dict[str, Any]], results: pl.DataFrame) -> tuple[str, ...]:
    touched = {row["analyte"] for row in rows if row["qc_kind"] != "replicates"}
    samples = {row["sample_id"] for row in rows if row["qc_kind"] == "replicates"}
    agreed = [
        (pl.col(name) == rows[0][name]).fill_null(name == "analysed_on")
        for name in ("method", "analysed_on")
        if rows[0][name] is not None
    ]
    lots = results.filter(
        pl.col("report_id") == rows[0]["report_id"],
        *agreed,
        pl.col("analyte").is_in(list(touched)) | pl.col("sample_id").is_in(list(samples)),
    )["lot"]
    return tuple(lots.drop_nulls().unique().sort())


def merge_controls(findings: list[Finding]) -> list[Finding]:
    """Bring a lot's marks of quality control together in one; the batch says the rest."""
    marks = [f for f in findings if f.kind == KIND]
    others = [f for f in findings if f.kind != KIND]
    if not marks:
        return others
    names = sorted({f.what.removeprefix("quality control ") for f in marks})
    warned = all(f.severity == "note" for f in marks)
    verdict = "warns" if warned else "failed"
    message = f"Quality control of the batch {verdict} for {listed(names)}; see Quality control."
    return [*others, replace(marks[0], message=message)]
