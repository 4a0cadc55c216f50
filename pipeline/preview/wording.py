"""Say in words what a cell was read as, or why it is held and what to do."""

from __future__ import annotations

from typing import Any

from pipeline.preview.sight import ROLES


def describe(cell: dict[str, Any]) -> str:
    """Describe a cell: its letter and role, then what it was read as, a line each."""
    role = ROLES[cell["role"]]
    lines = [f"{role.letter} {cell['role']}: {role.meaning}"]
    if cell["role"] == "held":
        lines += [f"{cell['reason_code']}: {cell['reason']}", f"What to do: {cell['hint']}"]
    names = (("sample", "sample"), ("analyte", "analyte"), ("form", "form"), ("qc_kind", "control"))
    lines += [f"{label}: {cell[name]}" for name, label in names if cell[name] is not None]
    if cell["role"] in {"value", "qc"}:
        lines += _number(cell)
    if cell["outcome"] == "repeated":
        lines.append("the same value stands in the report twice and counts once")
    if cell["hidden"]:
        lines.append("this cell is hidden in the original")
    return "\n".join(lines)


def _number(cell: dict[str, Any]) -> list[str]:
    unit = f" {cell['unit']}" if cell["unit"] else ""
    lower, upper = (_plain(cell[end], "open") for end in ("lower", "upper"))
    lines = [f"value: {_plain(cell['value'], '')}{unit}"] if cell["value"] is not None else []
    return [*lines, f"interval: {lower} to {upper}{unit}"]


def _plain(number: float | None, absent: str) -> str:
    return absent if number is None else f"{number:.10g}"
