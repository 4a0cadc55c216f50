"""Read forms that stand on lines of their own beneath the name of an analyte."""

from __future__ import annotations

from pipeline.names import Heading
from pipeline.recognise.column_kinds import Columns, ValueColumn
from pipeline.recognise.header_line import Header


def forms_beneath(header: Header, named: int) -> dict[int, Heading]:
    """Map the lines "free", "bound" and "total" right beneath a name to what they say.

    The name has no results itself, and another form than the total stands beneath it. "Total" beneath
    the last name is the sum of all where another name has no total. Names run down; these lines are
    columns of the swapped grid.
    """
    found = _beneath(header, named)
    others = [c for c, h in header.run.columns.items() if h.analyte and c != named]
    told = [{h.form for h in _beneath(header, c).values()} for c in others] if found else []
    totals = all("total" in forms for forms in told)
    return {c: h for c, h in found.items() if totals or h.form != "total"}


def _beneath(header: Header, named: int) -> dict[int, Heading]:
    if not header.grid.swapped or header.run.columns[named].form or header.has_results(named):
        return {}
    found: dict[int, Heading] = {}
    col = named + 1
    while col not in header.run.columns and (spot := header.grid.at(header.run.row, col)):
        read = header.readers.names.heading(spot.text.strip(" :-–·•"))
        if not read.is_form_only or read.form in {known.form for known in found.values()}:
            break
        found[col] = read
        col += 1
    return found if {h.form for h in found.values()} - {"total"} else {}


def doubt_shared_names(header: Header, found: Columns) -> None:
    """Name no analyte where one name spans several columns of results and nothing parts them.

    None of them is known to be its result, and all are to be held.
    """
    taken = {c for v in found.values for c in (v.column, *v.attached.values())}
    taken |= {*found.fields.values(), *header.sub_heads}
    for value in list(found.values):
        spot = header.grid.rows[header.run.row].get(value.column)
        spanned = range(value.column + 1, value.column + (spot.col_span if spot else 1))
        shared = [c for c in spanned if c not in taken and header.has_results(c)]
        if not shared:
            continue
        doubted = [_shared(header, value, c) for c in (value.column, *shared)]
        found.values = [v for v in found.values if v is not value] + doubted
    found.values.sort(key=lambda value: value.column)


def _shared(header: Header, value: ValueColumn, col: int) -> ValueColumn:
    """One column under a name of several, called by the name and what stands below it."""
    spot = header.grid.rows.get(header.run.row + 1, {}).get(col)
    below = spot.text if spot and spot.is_text else ""
    text = f"{value.raw_analyte} {below}".strip()
    return ValueColumn(
        col, text, Heading(text, read_as=f"{text}, one of several columns"), value.says
    )
