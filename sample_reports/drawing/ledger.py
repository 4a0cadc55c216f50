"""Keep the author's own account of each value cell and write it as <name>.expected.csv."""

import csv
import io
from dataclasses import dataclass, field
from decimal import Decimal

from openpyxl.utils import get_column_letter

from drawing.facts import Sample
from drawing.printing import Limits, Printed

HEADERS = (
    *("sheet", "cell", "outcome", "reason_code", "sample_id", "lab_sample_id"),
    *("analyte", "form", "matrix", "raw_analyte", "raw_value", "raw_unit"),
    *("value", "unit", "censoring", "lower", "upper", "lod", "loq", "qc_kind"),
)

# printed unit: normalised unit, power of ten into it
UNITS = {
    "µg/L": ("ug/L", 0),
    "ng/mL": ("ug/L", 0),
    "ppb": ("ug/L", 0),
    "mg/L": ("ug/L", 3),
    "µg/kg": ("ug/kg", 0),
    "ng/g": ("ug/kg", 0),
    "mg/kg": ("ug/kg", 3),
    "": ("", 0),
}
OWN_UNITS = {
    **dict.fromkeys(("A420", "A520", "A620"), ("AU", 0)),
    "total phenolics": ("mg/L", 0),
}
FORMS = {"free": "free", "total": "total", "glycosides": "bound", "colour": ""}
KEPT = ("result", "qc", "repeated")


@dataclass(frozen=True)
class Named:
    """What stands around a value cell: sample, analyte and unit, as known and as printed."""

    sample_id: str
    lab_sample_id: str
    matrix: str
    analyte: str
    form: str
    raw_analyte: str
    raw_unit: str
    limits: Limits
    qc_kind: str = ""


@dataclass
class Ledger:
    """Value cells of one report, in any order until written."""

    entries: list[tuple[tuple[int, int, int], dict[str, str]]] = field(default_factory=list)

    def add(self, sheet: str, row: int, column: int, named: Named, printed: Printed) -> None:
        """Note one value cell."""
        line = {
            "sheet": sheet,
            "cell": f"{get_column_letter(column)}{row}",
            "outcome": printed.outcome,
            "reason_code": printed.reason,
            **printed_words(named, printed),
            **meaning(named, printed),
        }
        self.entries.append(((0, row, column), line))

    def to_csv(self) -> bytes:
        """Write the account in sheet, row and column order."""
        stream = io.StringIO()
        writer = csv.DictWriter(stream, HEADERS, lineterminator="\n", restval="")
        writer.writeheader()
        writer.writerows(line for _, line in sorted(self.entries, key=lambda entry: entry[0]))
        return stream.getvalue().encode("utf-8")


def printed_words(named: Named, printed: Printed) -> dict[str, str]:
    """Return what a person reads around and in the cell."""
    return {
        "sample_id": named.sample_id or named.lab_sample_id,
        "lab_sample_id": named.lab_sample_id,
        "analyte": named.analyte,
        "form": FORMS.get(named.form, ""),
        "matrix": named.matrix,
        "raw_analyte": named.raw_analyte,
        "raw_value": printed.text,
        "raw_unit": named.raw_unit,
        "qc_kind": named.qc_kind,
    }


def meaning(named: Named, printed: Printed) -> dict[str, str]:
    """Return the normalised numbers; empty unless the cell is a result, a check or a repeat."""
    if printed.outcome not in KEPT:
        return {}
    unit, power = OWN_UNITS.get(named.analyte) or UNITS[named.raw_unit]
    numbers = {
        "value": printed.value,
        "lower": printed.lower,
        "upper": printed.upper,
        "lod": named.limits.lod,
        "loq": named.limits.loq,
    }
    written = {key: plain(number, power) for key, number in numbers.items()}
    return {"unit": unit, "censoring": printed.censoring, **written}


def plain(number: Decimal | None, power: int = 0) -> str:
    """Write a number without exponent or trailing zeros; empty for None."""
    if number is None:
        return ""
    text = f"{number.scaleb(power):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def named(
    sample: Sample, raw_analyte: str, raw_unit: str, analyte: str, form: str, limits: Limits
) -> Named:
    """Name a value of a sample as most reports do: by the client's reference and matrix."""
    return Named(
        sample_id=sample.printed_reference,
        lab_sample_id=sample.lab_number,
        matrix=sample.matrix,
        analyte=analyte,
        form=form,
        raw_analyte=raw_analyte,
        raw_unit=raw_unit,
        limits=limits,
    )
