"""What the columns of a table are."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.names import Heading


@dataclass
class ValueColumn:
    """A column of results: what its headings say and which columns belong to it."""

    column: int
    raw_analyte: str
    heading: Heading
    says: dict[str, str] = field(default_factory=dict)
    attached: dict[str, int] = field(default_factory=dict)


@dataclass
class Columns:
    """The columns of one table.

    While a name spans several columns it is the `group`; `waiting` holds, by form, the columns of
    limits before their result, and `leads` tells that the group begins with one.
    """

    values: list[ValueColumn] = field(default_factory=list)
    fields: dict[str, int] = field(default_factory=dict)
    weak: set[str] = field(default_factory=set)
    report: dict[str, int] = field(default_factory=dict)
    unread: list[int] = field(default_factory=list)
    suffixes: dict[int, str] = field(default_factory=dict)
    head_rows: int = 1
    label_row: int | None = None
    corner: int | None = None
    kinds: int | None = None
    means: str | None = None
    first_value: int = 1
    group: ValueColumn | None = None
    waiting: dict[str | None, dict[str, int]] = field(default_factory=dict)
    leads: bool = False
