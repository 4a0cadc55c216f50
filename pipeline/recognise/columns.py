"""Sort the columns of a table: which hold results, which describe the sample, which belong to a result."""

from __future__ import annotations

from dataclasses import replace

from pipeline.names import ATTACHED_FIELDS, Heading, label_unit
from pipeline.readers import Readers
from pipeline.recognise.column_kinds import Columns, ValueColumn
from pipeline.recognise.grid import Grid, Spot
from pipeline.recognise.header_line import Header, holds_labels, holds_signs
from pipeline.recognise.headers import Run
from pipeline.recognise.kinds import find_kinds
from pipeline.recognise.means import drop_means
from pipeline.recognise.sample_columns import below, find_matrices, name_samples
from pipeline.recognise.statements import said_by
from pipeline.recognise.summaries import is_sum_with_unit, sums_phenols
from pipeline.recognise.under_names import doubt_shared_names, forms_beneath
from pipeline.recognise.unheaded import attach_units, find_unheaded, keep_to_neighbours
from schemas.vocabulary import squash

# What a column called "Total volatile phenols" is read as: a sum that is counted and not kept.
_SUM = "sum of volatile phenols"


def sort_columns(
    grid: Grid, run: Run, left: int, right: int, last: int, readers: Readers
) -> Columns:
    """Sort the columns between `left` and `right` by the headings on and above the run's row."""
    header = Header(grid, run, left, right, last, readers)
    found = Columns(head_rows=header.rows, label_row=header.label_row)
    group: ValueColumn | None = None
    panel: dict[str, str] = {}
    for col in range(left, right + 1):
        heading = run.columns.get(col)
        if heading and col in header.analytes:
            group = _open_group(found, col, heading, header.sub_heads, panel) or group
        elif group and (sub := header.sub_heads.get(col)) and _within(grid, run.row, group, col):
            _add_sub(found, group, col, sub)
        elif group and (form := forms_beneath(header, group.column).get(col)):
            _add_beneath(found, group, col, form)
        else:
            panel = _sort_other(header, found, col, group) or panel
    if grid.swapped and found.corner and _units_below(header, found.corner):
        found.fields.setdefault("unit", found.corner)
    drop_means(header, found)
    doubt_shared_names(header, found)
    found.first_value = min((v.column for v in found.values), default=1)
    find_kinds(header, found)
    if not grid.swapped:
        attach_units(header, found)
        keep_to_neighbours(header, found)
    for name in ("form", "unit", "stage"):
        find_unheaded(header, found, name)
    find_matrices(grid, run, found, readers, left)
    name_samples(grid, run, found, readers, left)
    return found


def _sort_other(
    header: Header, found: Columns, col: int, group: ValueColumn | None
) -> dict[str, str]:
    """Sort a column that names no measurand; returns what a panel's label says for those after it."""
    spot, above = header.spot(col)
    names = header.readers.names
    read = names.heading(spot.text.rstrip(" :")) if spot and spot.kind == "text" else None
    if not header.grid.swapped and holds_signs(header, col, spot, read):
        return {}
    if read and group and _is_attached(header, read, col, group):
        group.attached.setdefault(str(read.field), col)
        note_suffix(found, col, read)
    elif (
        read
        and read.field
        and not (above and read.field in {"result", "analyte"})
        and not (header.grid.swapped and read.unit and _level(header, read.field) == "sample")
    ):
        if _level(header, read.field) == "report":
            found.report.setdefault(read.field, col)
        else:
            _add_field(found, read.field, col, squash(read.text) in names.vocabulary.or_laboratorys)
            note_suffix(found, col, read)
    elif _says_nothing(header, found, col, spot, read):
        corner = header.grid.swapped and spot and not above and col < header.analytes[0]
        return said_by(spot, header.readers) if corner and spot and spot.is_text else {}
    elif header.has_results(col):
        if spot and read and not above and sums_phenols(spot.text, header.readers):
            read = replace(read, form=None, read_as=_SUM)
        _add_unknown(found, col, spot, read, header.analytes)
    elif spot and header.grid.swapped and not above and spot.kind == "text":
        return said_by(spot, header.readers)
    return {}


def _level(header: Header, field: str) -> str:
    return header.readers.names.vocabulary.field_levels[field]


def _units_below(header: Header, col: int) -> bool:
    """Tell whether labels such as "Result (ug/L)" below the samples' names give the unit."""
    read = [header.readers.names.heading(s.text) for s in below(header.grid, header.run, col)]
    return bool(read) and all(h.unit and h.field == "result" for h in read)


def _says_nothing(
    header: Header, found: Columns, col: int, spot: Spot | None, read: Heading | None
) -> bool:
    """Tell a column of averages, of labels, or without its own heading under a merged name."""
    words = header.readers.names.vocabulary.row_words
    if spot and words.get(squash(spot.text)) == "aggregate":
        return True
    if spot and read and is_sum_with_unit(spot.text, read, header.readers):
        return True
    if header.sub_heads and read and read.is_measurand:
        return True
    if header.grid.swapped and _units_below(header, col):
        found.fields.setdefault("unit", col)
    return header.grid.swapped and holds_labels(header, col)


def _is_attached(header: Header, read: Heading, col: int, group: ValueColumn) -> bool:
    """Tell whether a limit, unit or uncertainty column belongs to the analyte left of it."""
    if read.field not in ATTACHED_FIELDS | {"coverage_factor"}:
        return False
    between = group.column < col and any(a > col for a in header.analytes)
    return read.field in header.repeated or between


def note_suffix(found: Columns, col: int, heading: Heading) -> None:
    """Keep the unit of a heading such as "LOD (mg/L)" or "Uncertainty (%)" for its cells."""
    if unit := label_unit(heading):
        found.suffixes[col] = unit


def _within(grid: Grid, row: int, group: ValueColumn, col: int) -> bool:
    return grid.rows[row].get(col) is None and col > group.column


def _open_group(
    found: Columns,
    col: int,
    heading: Heading,
    sub_heads: dict[int, Heading],
    panel: dict[str, str],
) -> ValueColumn | None:
    """Start a column of results, or attach "guaiacol LOD" and "guaiacol ±" to the analyte's column."""
    owner = next((v for v in reversed(found.values) if v.heading.analyte == heading.analyte), None)
    if heading.field:
        if owner:
            owner.attached.setdefault(heading.field, col)
            note_suffix(found, col, heading)
        return owner
    if (
        heading.spread
        and owner
        and owner.column == col - 1
        and owner.heading.form in {heading.form, None}
    ):
        owner.attached.setdefault(heading.spread, col)
        note_suffix(found, col, replace(heading, field=heading.spread))
        return owner
    column = ValueColumn(col, heading.text, heading, dict(panel))
    if (sub := sub_heads.get(col)) is None:
        found.values.append(column)
        return column
    again = found.group if found.group and found.group.raw_analyte == heading.text else None
    if again is None or any(c not in sub_heads for c in range(again.column, col)):
        found.group, found.waiting, found.leads = column, {}, False
    _add_sub(found, found.group or column, col, sub)
    return found.group


def _add_sub(found: Columns, group: ValueColumn, col: int, sub: Heading) -> None:
    """Add "Total" or "Result" below a name, or attach "U" to the result it stands behind.

    What stands before the first result of its name or form belongs to the result that follows.
    """
    if sub.field == "ignored":
        return
    own = [v for v in found.values if v.column >= group.column]
    own = [v for v in own if v.says.get("form") == sub.form] if sub.form else own
    if sub.field not in ATTACHED_FIELDS:
        says = group.says | _sub_says(sub)
        waiting = found.waiting.pop(sub.form, {})
        named, heading = group.raw_analyte, group.heading
        if sub.analyte:
            named = f"{named} {sub.text}"
            heading = replace(heading, text=named, analyte=sub.analyte, read_as=sub.analyte)
        found.values.append(ValueColumn(col, named, heading, says, waiting))
        return
    found.leads = found.leads or not any(v.column >= group.column for v in found.values)
    waits = not own or (found.leads and sub.form is None)
    attached = found.waiting.setdefault(sub.form, {}) if waits else own[-1].attached
    attached.setdefault(str(sub.field), col)
    note_suffix(found, col, sub)


def _add_beneath(found: Columns, group: ValueColumn, col: int, form: Heading) -> None:
    """Add "Free" on a line of its own beneath a name that has no results itself."""
    found.values = [value for value in found.values if value is not group]
    says = group.says | _sub_says(form)
    found.values.append(ValueColumn(col, group.raw_analyte, group.heading, says))


def _sub_says(sub: Heading) -> dict[str, str]:
    """What a heading below a name says of its column; its unit may speak against the name's own."""
    said = {k: v for k in ("form", "replicate", "version", "state") if (v := getattr(sub, k))}
    return said | ({"sub_unit": sub.unit} if sub.unit else {})


def _add_field(found: Columns, name: str, col: int, or_laboratorys: bool) -> None:
    """Take a column for a field, the first of two; "Batch" may be the laboratory's and gives way."""
    if name == "analyte":
        found.corner = found.corner or col
    elif name in found.fields and name in found.weak and not or_laboratorys:
        found.fields[name] = col
        found.weak.remove(name)
    elif name not in found.fields and or_laboratorys:
        found.fields[name] = col
        found.weak.add(name)
    elif name != "ignored":
        found.fields.setdefault(name, col)


def _add_unknown(
    found: Columns, col: int, spot: Spot | None, read: Heading | None, analytes: list[int]
) -> None:
    """Keep a column of numbers under an unknown heading, so that its values are held, not lost."""
    if spot is None and not analytes[0] < col < analytes[-1]:
        found.unread.append(col)
        return
    if spot is not None and spot.kind != "text":
        found.unread.append(col)
        return
    alone = read and (read.is_form_only or read.is_unit_only) and len(read.text.split()) <= 3
    if alone and col < analytes[0]:
        found.unread.append(col)
        return
    text = spot.text if spot else ""
    found.values.append(ValueColumn(col, text, read or Heading(text)))
