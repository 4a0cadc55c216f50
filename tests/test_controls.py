"""Quality control from the printed row to the mark beside a lot, the digest's line and the chart.

Invented data: these are tests of the way, not of the rules.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.charts import control_points, write_controls
from pipeline.digest.controls import failed_batches
from pipeline.errors import WrongUse
from pipeline.find import find
from pipeline.flows import Workplace, prepare, refresh
from pipeline.normalise.controls import read_control
from pipeline.settings import Settings
from pipeline.store import Store
from schemas.report import Report
from schemas.vocabulary import load_vocabulary

EMPTY = dict.fromkeys(
    ("raw_parent_sample", "raw_expected", "raw_added", "raw_assigned_deviation",
     "raw_assigned_uncertainty", "raw_qualifier", "raw_sample_name", "raw_sample")
)  # fmt: skip
TEXT = """Laboratory,Bench of the Test
Report number,TB-1
,
Sample,Client ref,Lot,Matrix,Stage,Type,Parameter,Fraction,Result,Unit,LOD,LOQ,Method,Analysed,Remark
101,S-1,L-1,Red wine,end of AF,Sample,Guaiacol,free,12.3,ug/L,0.2,0.6,GC1,2026-01-05,
102,S-2,L-2,Red wine,end of AF,Sample,Guaiacol,free,3.1,ug/L,0.2,0.6,GC1,2026-01-06,
101,S-1,L-1,Red wine,end of AF,Sample,o-Cresol,free,4.3,ug/L,0.2,0.6,GC1,2026-01-05,
B1,,,Model wine,,Method blank,Guaiacol,free,0.9,ug/L,0.2,0.6,GC1,2026-01-05,
Q1,,,Model wine,,Control,Guaiacol,free,16.0,ug/L,0.2,0.6,GC1,2026-01-05,expected 15.0
Q1,,,Model wine,,Control,o-Cresol,free,16.0,ug/L,0.2,0.6,GC1,2026-01-05,expected 15.0
"""


@pytest.mark.parametrize(
    ("printed", "expected"),
    [
        ({"raw_qualifier": "target 10.0"}, {"expected": 10.0}),
        ({"raw_qualifier": "expected 15,0 µg/L"}, {"expected": 15.0, "expected_unit": "µg/L"}),
        ({"raw_expected": "12"}, {"expected": 12.0}),
        ({"raw_qualifier": "of 61204"}, {"parent_sample": "61204"}),
        ({"raw_qualifier": "TMH-63910 + 20.0"}, {"parent_sample": "TMH-63910", "added": 20.0}),
        (
            {"raw_qualifier": "spike +20 ug/L of HK25-0406"},
            {"parent_sample": "HK25-0406", "added": 20.0, "added_unit": "ug/L"},
        ),
        ({"raw_sample": "S2 dup"}, {"parent_sample": "S2"}),
        ({"raw_sample": "S1 (spike)"}, {"parent_sample": "S1"}),
        ({"raw_sample": "Method blank 2"}, {}),
        ({"raw_added": "1,000"}, {}),  # may be a thousand
        (
            {"raw_qualifier": "assigned value 10; sigma pt 2.2"},
            {"expected": 10.0, "assigned_deviation": 2.2},
        ),
        (
            {"raw_qualifier": "assigned value 10; sigma pt 2.2; u(xpt) 0.8 ug/L"},
            {
                "expected": 10.0,
                "assigned_deviation": 2.2,
                "assigned_uncertainty": 0.8,
                "assigned_uncertainty_unit": "ug/L",
            },
        ),
    ],
)
def test_what_a_control_says_of_itself(printed: dict[str, str], expected: dict[str, Any]) -> None:
    found = read_control({**EMPTY, **printed}, load_vocabulary())
    assert {name: value for name, value in found.items() if value is not None} == expected


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("controls")
    (folder / "a.csv").write_text(TEXT, encoding="utf-8")
    work = Workplace(folder / "store.duckdb", Settings())
    (made,) = prepare(find([folder / "a.csv"]).sources, work)
    assert isinstance(made, Report)
    with Store(work.store) as opened:
        opened.add_report(made)
    refresh(work)
    return work.store


def test_failure_marks_the_results_of_its_batch_and_no_others(store: Path) -> None:
    # L-2 was analysed on another day, o-cresol has no blank.
    with Store(store, read_only=True) as opened:
        flags = opened.flags().filter(pl.col("kind") == "quality_control")
    (row,) = flags.to_dicts()
    assert (row["lot"], row["analyte"], row["decision"]) == ("L-1", "guaiacol", "undecided")
    assert (row["severity"], row["status"]) == ("warn", "current")
    assert "blank B1: free guaiacol 0.9 ug/L" in row["message"]
    assert row["cells"] == "a.csv|a!I5; a.csv|a!I8"


def test_other_decisions_stand_as_they_would(store: Path) -> None:
    with Store(store, read_only=True) as opened:
        flags = opened.flags().filter(pl.col("kind") == "over_threshold")
    decisions = dict(flags.filter(pl.col("analyte") == "guaiacol").select("lot", "decision").rows())
    assert decisions == {"L-1": "below", "L-2": "below"}


def test_digest_has_one_line_for_the_batch(store: Path) -> None:
    with Store(store, read_only=True) as opened:
        (batch,) = failed_batches(opened.view("quality"), opened.results())
    assert batch.name == "Bench of the Test, report TB-1, GC1, analysed 2026-01-05"
    assert (batch.failed, batch.lots) == (1, ("L-1",))
    assert batch.findings == (
        "failed: blank B1: free guaiacol 0.9 µg/L, limit of quantification 0.6",
    )
    assert batch.sources == ("a.csv, sheet a, I8",)


@pytest.mark.parametrize("ending", [".svg", ".png", ".csv", ".xlsx", ".parquet"])
def test_control_charts_are_written_by_the_ending(store: Path, tmp_path: Path, ending: str) -> None:
    with Store(store, read_only=True) as opened:
        points = control_points(opened, lab="bench of the test")
    assert points.select("analyte", "value", "before").rows() == [
        ("guaiacol", 16.0, 0), ("o-cresol", 16.0, 0),
    ]  # fmt: skip
    out = tmp_path / f"controls{ending}"
    write_controls(points, out)
    assert out.stat().st_size > 200
    if ending == ".svg":
        assert "free guaiacol" in out.read_text(encoding="utf-8")


def test_chart_of_nothing_and_an_unknown_ending_are_refused(store: Path, tmp_path: Path) -> None:
    with Store(store, read_only=True) as opened:
        points = control_points(opened, analyte="syringol")
    with pytest.raises(WrongUse, match="nothing to draw"):
        write_controls(points, tmp_path / "a.svg")
    with pytest.raises(WrongUse, match="written as"):
        write_controls(points, tmp_path / "a.doc")
    assert not list(tmp_path.iterdir())
