"""What a colleague would do next, by the rules of schemas/judgement.toml; nothing is decided."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from schemas.judgement import Advice, NextStep, load_judgement

CHANGED = {"kind": "changed", "decision": None, "reason": None}
FREE_ONLY = {"kind": "free only", "decision": None, "reason": None}


def _holds(rule: Advice, row: Mapping[str, Any]) -> bool:
    return (
        rule.kind in (None, row["kind"])
        and rule.decision in (None, row["decision"])
        and (not rule.reasons or row["reason"] in rule.reasons)
    )


def next_steps(rows: Iterable[Mapping[str, Any]]) -> tuple[NextStep, ...]:
    """Collect the steps that flags (kind, decision, reason) call for, in their declared order."""
    judged = load_judgement()
    told = list(rows)
    named = {name for a in judged.advice if any(_holds(a, row) for row in told) for name in a.steps}
    return tuple(step for step in judged.next_steps if step.name in named)
