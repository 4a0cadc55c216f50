"""Write a layout to complete: what was recognised of a sheet, and a question for the rest."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from schemas.layout import Clue, Clues

_AXES = """\
# Where each field lies. axis: "column" = a cell on every line, under its heading; "row" = a cell in
# every column, beside its label; "sheet" = one cell for the whole table; "value" = a cell beside each
# value. The cell is the one that prints `heading` (else the table's start), moved by right, left, up
# or down. For a sheet's cell, after and before cut a part out of its text."""


def draft_layout(file: str, clues: Clues) -> str:
    """Draft a layout as TOML with a comment on each line; what is not known is "?"."""
    return "\n".join(_lines(file, clues)) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(" ".join(text.split()), ensure_ascii=False).replace("\x7f", "\\u007f")


def _named(file: str) -> str:
    stem = re.sub(r"\.[^.]*$", "", re.split(r"[/!]", file)[-1])
    return re.sub(r"\W+", "_", stem.casefold()).strip("_") or "layout"


def _lines(file: str, clues: Clues) -> Iterator[str]:
    what = " ".join(f"{file}, sheet {clues.sheet}".split())
    yield f"# A layout for {what}: how its tables lie, for this and later reports."
    yield '# Answer every "?" (or take its line away where it is not needed), put the file into the'
    yield "# folder that `layouts` in the settings names, and look: cinderlot preview FILE"
    yield f"name = {_quoted(_named(file))}"
    yield "# Headings of columns, and words that begin lines, which are not to be read."
    yield '# ignore = ["Mean", "Remarks"]'
    yield ""
    yield "# The layout is used for a sheet in which all these texts stand, each alone in its cell."
    yield "# * stands for any text: put it where a number or a date changes from report to report."
    yield "[when]"
    cells = ", ".join(a.cell for a in clues.anchors)
    texts = ", ".join(_quoted(a.text) for a in clues.anchors) or '"?"'
    yield f"texts = [{texts}]  # {cells or 'which text does every such sheet have?'}"
    yield f"# sheet = {_quoted(clues.sheet)}"
    yield ""
    yield from _fixed(clues)
    yield from _names(clues)
    yield from _table(clues)


def _fixed(clues: Clues) -> Iterator[str]:
    columns = {field.name for field in clues.fields}
    yield "# What holds for the whole sheet and no cell of a table says. Another statement of the"
    yield "# sheet itself against it refuses the file."
    yield "[fixed]"
    lab = clues.stated.get("lab")
    yield '# laboratory = "Name"' + (f"  # {lab.cell} names it: {_plain(lab)}" if lab else "")
    questions = {
        "form": "free, bound or total: which are these results?",
        "unit": "in which unit, such as ug/L?",
        "matrix": "red wine, white wine, rose wine, wine, must or grape?",
    }
    for name, question in questions.items():
        said = clues.stated.get(name)
        if name in columns:
            yield f"# {name}: see [table.fields]"
        elif said:
            yield f"{name} = {_quoted(said.text)}  # as {said.cell} says"
        else:
            yield f'{name} = "?"  # {question}'
    yield "# lod = 0.5"
    yield "# loq = 1.5"
    yield ""


def _names(clues: Clues) -> Iterator[str]:
    yield "# What printed names mean, as the analytes are stored (guaiacol, 4-methylguaiacol, o-cresol)."
    yield "# Take a line away and its values are held; write the name under ignore to leave them out."
    yield "[meanings.analyte]"
    for clue in clues.names:
        known = "which analyte is it?" if clues.analyte else "which analyte is it, if it is one?"
        yield f'{_quoted(clue.text)} = "?"  # {clue.cell}: {known}'
    yield "# What words of a column mean: also [meanings.matrix], [meanings.stage]."
    yield "# [meanings.form]"
    yield '# "A" = "free"'
    yield ""


def _table(clues: Clues) -> Iterator[str]:
    yield "[[table]]"
    first = clues.starts[0] if clues.starts else None
    yield "# The cell where the header begins."
    yield f"start = {_quoted(first.text)}  # {first.cell}" if first else 'start = "?"'
    again = ", ".join(clue.cell for clue in clues.starts)
    if len(clues.starts) > 1:
        yield f"repeats = true  # it stands in {again}; each begins a table"
    yield '# "crossing": a result where a sample and an analyte cross; "column": results in a column'
    yield '# of their own, one per line; "row": the same, lying on its side.'
    known = f'results = "{clues.results}"' if clues.results else 'results = "?"'
    yield f"{known}  # crossing, column or row?" if not clues.results else known
    yield "# The data end at the first line without a result, else where this text stands."
    yield '# end = "Notes"'
    yield "# skip = 1  # lines between the header and the first result"
    yield ""
    yield _AXES
    yield "[table.fields]"
    yield from _fields(clues)


def _fields(clues: Clues) -> Iterator[str]:
    first: dict[str, Clue] = {}
    for clue in clues.fields:
        if not clue.name:
            yield f"# FIELD = {_place(clue)}  # {clue.cell}: is it lot, form, unit, stage, method?"
        elif clue.name in first:
            yield f"# {clue.name} also stands under {clue.cell} ({_plain(clue)})"
        else:
            first[clue.name] = clue
    for name, clue in first.items():
        yield f"{name} = {_place(clue)}  # {clue.cell}: {_plain(clue)}"
    if clues.analyte is None:
        yield 'analyte = { axis = "?" }  # row: names side by side; column: one under the other?'
    if "sample" not in first:
        yield 'sample = { axis = "?" }  # column, row or sheet: where is the sample named?'


def _place(clue: Clue) -> str:
    """Place a field by its heading where it has one of its own, else by steps from the start."""
    parts = [f'axis = "{clue.axis}"']
    moved = clue.right or clue.down or clue.name in {"analyte", "sample"}
    if (clue.text and not moved) or (clue.axis == "column" and not (clue.right or clue.down)):
        parts.append(f"heading = {_quoted(clue.text)}")
    else:
        for steps, more, less in ((clue.right, "right", "left"), (clue.down, "down", "up")):
            if steps:
                parts.append(f"{more if steps > 0 else less} = {abs(steps)}")
    return "{ " + ", ".join(parts) + " }"


def _plain(clue: Clue) -> str:
    text = "".join(c if c.isprintable() else " " for c in clue.text)
    return " ".join(f'"{text}"'.split()) if text.strip() else "no heading"
