"""Read "o- | m- | p-" below a heading "Cresols" that spans several columns."""

from __future__ import annotations

from pipeline.names import Heading
from pipeline.recognise.grid import Grid
from pipeline.recognise.headers import Run
from schemas.vocabulary import squash

# What stands before the name of an isomer, folded, and what it makes of "cresol".
_ISOMERS = {
    "o": "o-cresol", "ortho": "o-cresol", "m": "m-cresol", "meta": "m-cresol", "p": "p-cresol",
    "para": "p-cresol", "m+p": "m+p-cresol", "p+m": "m+p-cresol",
}  # fmt: skip


def isomers_under(
    grid: Grid, run: Run, under: int, analytes: list[int], right: int
) -> dict[int, Heading]:
    """Map the columns below "Cresols" to their isomers; nothing else stands on that line.

    The letters stand below one heading of all cresols, each once; other letters are marks of
    replicates or of something unknown, and nothing is read then.
    """
    spots = grid.rows.get(under, {})
    below = {c: s for c, s in spots.items() if analytes and analytes[0] <= c <= right}
    sums = [c for c in analytes if run.columns[c].analyte == "cresols"]
    if len(below) < 2 or len(sums) != 1:
        return {}
    end = min((c for c in analytes if c > sums[0]), default=right + 1)
    named = {c: _ISOMERS.get(squash(s.text)) for c, s in below.items()}
    inside = all(
        (sums[0] <= c < end and c not in grid.rows[run.row]) or c == sums[0] for c in below
    )
    isomers = [name for name in named.values() if name]
    if not inside or len(isomers) < len(below) or len(set(isomers)) < len(below):
        return {}
    return {c: Heading(s.text, analyte=named[c]) for c, s in below.items()}
