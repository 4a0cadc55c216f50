"""Formulas name their sources, and each has a worked example that says where it was read."""

from __future__ import annotations

import importlib
import inspect
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
REFERENCE = Path(__file__).parent / "reference"
FORMULAS: list[dict[str, Any]] = tomllib.loads((REFERENCE / "formulas.toml").read_text("utf-8"))[
    "formula"
]
# Modules in which every public function computes something of the trade.
WHOLLY = (
    "pipeline.outliers", "pipeline.intervals", "pipeline.statistics.binomials",
    "pipeline.statistics.estimates", "pipeline.statistics.slopes", "pipeline.control_charts",
)  # fmt: skip
# Helpers of polars, no formulas.
PLAIN = {"pipeline.intervals.ordered_sum", "pipeline.intervals.sum_or_null"}
# What a status may begin with: seen on the page named, or worked out from what stands beside it.
STATUSES = ("read", "derived", "counted by hand")


@cache
def worked(name: str) -> dict[str, Any]:
    return tomllib.loads((REFERENCE / f"{name}.toml").read_text("utf-8"))


def _function(path: str) -> Any:
    module, name = path.rsplit(".", 1)
    return getattr(importlib.import_module(module), name)


def _tables(name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give the tables of a file, each with what the file says of all of them."""
    file = worked(name)
    told = {k: v for k, v in file.items() if k in ("status", "citation")}
    for key, value in file.items():
        for entry in value if isinstance(value, list) else [value]:
            if isinstance(entry, dict) and not re.search(r"^(loq_of|matrix|odour_sum|above)$", key):
                yield f"{name}.{key}", told | entry


@pytest.mark.parametrize("path", [f["function"] for f in FORMULAS])
def test_formula_names_its_source(path: str) -> None:
    told = inspect.getdoc(_function(path)) or ""
    assert re.search(r"Sources?:|common practice|own choice", told), f"{path} names no source"


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda f: str(f["function"]))
def test_formula_has_a_worked_example(formula: dict[str, Any]) -> None:
    by_hand = formula.get("by_hand")
    assert by_hand or formula.get("examples")
    if by_hand:
        assert (ROOT / by_hand).is_file()
    for example in formula.get("examples", []):
        name, _, table = example.partition(".")
        assert not table or table in worked(name), example


@pytest.mark.parametrize("module", WHOLLY)
def test_no_formula_is_left_out(module: str) -> None:
    listed = {f["function"] for f in FORMULAS} | PLAIN
    loaded: ModuleType = importlib.import_module(module)
    own = {
        f"{module}.{name}"
        for name, what in inspect.getmembers(loaded, inspect.isfunction)
        if what.__module__ == module and not name.startswith("_")
    }
    assert own <= listed


@pytest.mark.parametrize("name", sorted(p.stem for p in REFERENCE.glob("*.toml")))
def test_examples_say_where_they_were_read(name: str) -> None:
    if name == "formulas":
        return
    for table, told in _tables(name):
        assert str(told.get("status", "read")).startswith(STATUSES), table
        assert told.get("citation") or told.get("status", "").startswith(STATUSES[1:]), table


@pytest.mark.parametrize("folder", ["schemas", "pipeline", "tests/reference"])
def test_nothing_rests_on_memory(folder: str) -> None:
    texts = [p for p in (ROOT / folder).rglob("*") if p.suffix in (".py", ".toml", ".sql")]
    assert texts
    assert not [p.name for p in texts if "from memory" in p.read_text("utf-8").lower()]
