"""What each view and column means: for the README and for whoever asks the store."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

VIEWS = (
    "reports", "results", "held", "qc_results", "fractions", "panels", "flags", "lots", "samples",
    "movements", "interventions", "tastings", "decisions", "exposures", "unused", "unassigned",
    "contradictions", "withdrawn", "amendments", "corrections", "suspects", "quality",
)  # fmt: skip


@cache
def meanings() -> tuple[dict[str, str], dict[str, str], dict[str, dict[str, str]]]:
    """Give what the views mean, what the columns mean, and which columns each view has in order.

    The last one maps view -> column -> meaning; one name means the same wherever it stands.
    """
    text = files("schemas").joinpath("columns.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    columns: dict[str, str] = table["column"]
    views: dict[str, dict[str, str]] = table["view"]
    return (
        {name: view["means"] for name, view in views.items()},
        columns,
        {n: {c: v.get(c, columns[c]) for c in v["columns"].split()} for n, v in views.items()},
    )


def documented_columns() -> dict[str, dict[str, str]]:
    """Give view -> column -> meaning, in the order of the views and of their columns."""
    return meanings()[2]


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def comments() -> list[str]:
    """Write the statements that hang each meaning on its view and column."""
    views, _, columns = meanings()
    lines = [f"COMMENT ON VIEW {name} IS {_quoted(text)};" for name, text in views.items()]
    lines += [
        f'COMMENT ON COLUMN {view}."{column}" IS {_quoted(text)};'
        for view, described in columns.items()
        for column, text in described.items()
    ]
    return lines
