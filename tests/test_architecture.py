"""The shape of the code: which way imports run, and how long a function may be."""

from __future__ import annotations

import ast
import statistics
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted(
    path
    for folder in ("pipeline", "schemas")
    for path in (ROOT / folder).rglob("*.py")
    if path.stat().st_size
)
# Layers from the top down; a module imports from its own layer or from below it.
LAYERS = (
    {"cli"},
    {"flows"},
    {"find", "read", "recognise", "tidy", "normalise", "validate", "derive", "flag", "register"}
    | {"quality", "suspect", "charts"}
    | {
        "store",
        "trends",
        "digest",
        "mail",
        "preview",
        "page",
        "review",
        "workers",
        "servers",
        "neighbours",
        "inboxes",
    },
    {
        "names",
        "units",
        "censoring",
        "date_evidence",
        "dates",
        "languages",
        "doses",
        "intervals",
        "addresses",
        "amounts",
        "analyses",
        "uncertainty",
    }
    | {"repeats", "merges", "summaries", "readers", "statistics", "withheld", "phrases", "outliers"}
    | {"control_charts", "published_amounts", "schedules", "whole_files", "unordered"},
    {"settings", "errors"},
)
STAGES = {"find", "read", "recognise", "tidy", "normalise", "validate", "derive", "flag"} | {
    "quality",
    "suspect",
}
OUTPUTS = {"digest", "mail", "trends", "preview", "charts", "page"}
ONLY_IN = {
    "prefect": {"pipeline/flows"},
    "duckdb": {"pipeline/store", "pipeline/trends"},
    "pandera": {"schemas/frames.py", "pipeline/validate"},
    "openpyxl": {
        "pipeline/read",
        "pipeline/digest",
        "pipeline/register",
        "pipeline/review",
        "pipeline/preview",
    },
    "python_calamine": {"pipeline/read"},
    "xlrd": {"pipeline/read"},
    "typer": {"pipeline/cli"},
    "rich": {"pipeline/cli"},
    "starlette": {"pipeline/page"},
    "uvicorn": {"pipeline/page"},
}
EAGER_IN_CLI = {"typer", "pipeline"} | set(sys.stdlib_module_names)


def _name(path: Path) -> str:
    return path.relative_to(ROOT).with_suffix("").as_posix()


def _imports(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _functions(tree: ast.AST) -> Iterator[ast.FunctionDef]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def _own_modules(tree: ast.AST) -> set[str]:
    parts = (name.split(".") for name in _imports(tree) if name.startswith("pipeline."))
    return {part[1] for part in parts}


def _layer(module: str) -> int:
    return next(depth for depth, names in enumerate(LAYERS) if module in names)


def _length(function: ast.FunctionDef) -> int:
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_imports_run_downwards(path: Path) -> None:
    own = path.relative_to(ROOT).parts[1].removesuffix(".py")
    imported = _own_modules(_tree(path)) - {own}
    if path.parts[-2] == "schemas" or "schemas" in path.relative_to(ROOT).parts[:1]:
        assert not imported, f"schemas must not import pipeline: {imported}"
    elif own != "__init__":
        upwards = {name for name in imported if _layer(name) < _layer(own)}
        assert not upwards, f"{_name(path)} imports from above it: {upwards}"


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_stages_do_not_import_each_other(path: Path) -> None:
    own = path.relative_to(ROOT).parts[1].removesuffix(".py")
    if own in STAGES | {"store"}:
        others = (_own_modules(_tree(path)) & (STAGES | OUTPUTS)) - {own}
        assert not others, f"{_name(path)} imports {others}; only flows.py knows the order"


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_library_stays_in_its_place(path: Path) -> None:
    roots = {name.split(".")[0] for name in _imports(_tree(path))}
    here = path.relative_to(ROOT).as_posix()
    for library, places in ONLY_IN.items():
        if library in roots:
            assert any(here.startswith(place) for place in places), f"{here} imports {library}"


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_functions_and_modules_are_short(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    long = {f.name: n for f in _functions(ast.parse(text)) if (n := _length(f)) > 40}
    assert not long
    assert text.count("\n") <= 260, "a module beyond about 250 lines becomes a package"


def test_median_function_is_short() -> None:
    lengths = [_length(f) for path in MODULES for f in _functions(_tree(path))]
    assert statistics.median(lengths) <= 8


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_what_is_public_is_explained(path: Path) -> None:
    tree = _tree(path)
    public = [
        node
        for node in tree.body
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_")
    ]
    bare = [node.name for node in public if not ast.get_docstring(node)]
    assert not bare
    assert ast.get_docstring(tree), "the module says nothing of itself"


@pytest.mark.parametrize("path", [p for p in MODULES if "cli" in p.parts], ids=_name)
def test_command_line_imports_nothing_heavy_at_the_top(path: Path) -> None:
    top = ast.Module([n for n in _tree(path).body if not isinstance(n, ast.If)], [])
    for node in ast.walk(top):
        if isinstance(node, ast.FunctionDef):
            node.body = []
    assert {name.split(".")[0] for name in _imports(top)} <= EAGER_IN_CLI
