"""Read forms that stand on lines of their own beneath the name of an analyte."""

from __future__ import annotations

from pipeline.names import Heading
from pipeline.recognise.header_line import Header


def forms_beneath(header: Header, named: int) -> dict[int, Heading]:
    """Map the lines "free", "bound" and "total" right beneath a name to what they say.

    The name has no results itself, and another form than the total stands beneath it: "Total" alone
    below the last name is the sum of all. Names run down; these lines are columns of the swapped grid.
    """
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
