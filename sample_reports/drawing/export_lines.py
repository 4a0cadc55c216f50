"""Say what each row of a one-result-per-row export holds: samples, wine analysis, checks."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from drawing.chemistry import measured
from drawing.facts import Facts, Odd, Report, Sample
from drawing.ledger import Named, named
from drawing.printing import Limits, Printed, Style, apply_odd, hold, print_measured, print_number

FREE = (
    "guaiacol",
    "4-methylguaiacol",
    "phenol",
    "o-cresol",
    "m-cresol",
    "p-cresol",
    "syringol",
    "4-methylsyringol",
)
TOTAL = ("guaiacol", "4-methylguaiacol", "syringol")
# Wine analysis that has nothing to do with smoke: parameter, unit, places, base, step per lot.
WINE = (
    ("pH", "", 2, "3.41", "0.02"),
    ("Alcohol", "% vol", 1, "12.9", "0.1"),
    ("Total SO2", "mg/L", 0, "24", "3"),
)


@dataclass(frozen=True)
class Line:
    """One row of the export and what it means."""

    sample_no: str
    sample_type: str
    reference: str
    matrix: str
    fraction: str
    printed: Printed
    known: Named
    expanded: Decimal | None = None
    remark: str = ""


def all_lines(facts: Facts, report: Report, style: Style) -> Iterator[Line]:
    """Yield the rows in the order of the export: checks, then sample after sample."""
    extras = report.declared.get("extras", [])
    if "quality" in extras:
        yield from quality_lines(facts, report, style)
    for sample in report.samples:
        yield from sample_lines(facts, report, sample, style)
        if "wine" in extras:
            yield from wine_lines(sample, report, style)
    if "unknown" in extras:
        yield unknown_line(report.samples[0], style)


def sample_lines(facts: Facts, report: Report, sample: Sample, style: Style) -> Iterator[Line]:
    """Yield the smoke phenols of one sample, free and then total."""
    free_only = sample.lot.name in facts["season"]["free_only"]
    ordered = [(analyte, "free") for analyte in FREE]
    ordered += [] if free_only else [(analyte, "total") for analyte in TOTAL]
    for analyte, form in ordered:
        line = phenol_line(facts, report, sample, analyte, form, style)
        yield from odd_lines(line, report.odd(sample, analyte, form), style)


def phenol_line(
    facts: Facts, report: Report, sample: Sample, analyte: str, form: str, style: Style
) -> Line:
    """Print one phenol of one sample with its uncertainty."""
    limits = limits_of(report.lab, form)
    number = Decimal(repr(measured(facts, report.lab, sample, analyte, form)))
    printed = apply_odd(
        print_measured(number, limits, style), report.odd(sample, analyte, form), style
    )
    return Line(
        sample_no=sample.lab_number,
        sample_type="Sample",
        reference=sample.printed_reference,
        matrix=sample.matrix.replace("rose", "rosé"),
        fraction=form,
        printed=printed,
        known=named(sample, print_name(analyte), "µg/L", analyte, form, limits),
        expanded=expanded(report.lab, printed),
    )


def odd_lines(line: Line, odd: Odd | None, style: Style) -> Iterator[Line]:
    """Yield a row as its declared oddity changes, repeats or contradicts it."""
    what = odd.what if odd else ""
    known = line.known
    if odd and what == "again":
        yield replace(line, printed=hold(line.printed, "duplicate"))
        other = hold(print_number(Decimal(odd.text), style), "duplicate")
        yield replace(line, printed=other)
    elif what == "twice":
        yield line
        yield replace(line, printed=replace(line.printed, outcome="repeated"))
    elif what == "without_number":
        bare = replace(known, sample_id="", lab_sample_id="")
        held = hold(line.printed, "sample_missing")
        yield replace(line, sample_no="", reference="", printed=held, known=bare)
    elif odd and what in ("without_unit", "unit"):
        reason = "unit_basis" if odd.text else "unit_missing"
        other_unit = replace(known, raw_unit=odd.text)
        yield replace(line, printed=hold(line.printed, reason), known=other_unit)
    else:
        yield line


def wine_lines(sample: Sample, report: Report, style: Style) -> Iterator[Line]:
    """Yield the basic analysis of a sample; none of it belongs to smoke."""
    for name, unit, places, base, step in WINE:
        if name == "Alcohol" and report.stage == "must":
            continue
        number = Decimal(base) + Decimal(step) * (sample.lot.number % 7)
        look = replace(style, stored=places, shown=places)
        printed = replace(print_number(number, look), outcome="out_of_scope")
        known = named(sample, name, unit, "", "", Limits(None, None))
        matrix = sample.matrix.replace("rose", "rosé")
        yield Line(
            sample.lab_number, "Sample", sample.printed_reference, matrix, "", printed, known
        )


def quality_lines(facts: Facts, report: Report, style: Style) -> Iterator[Line]:
    """Yield the checks of the batch: blank, control, duplicate and spike of the first sample."""
    first = report.samples[0]
    for analyte in ("guaiacol", "o-cresol", "syringol"):
        own = Decimal(repr(measured(facts, report.lab, first, analyte, "free")))
        found = own + Decimal(str(report.declared.get("recovered", {}).get(analyte, 19.2)))
        checks = (
            ("BL", "Method blank", "blank", "model wine", Decimal("0.04"), ""),
            ("QC", "Control", "control", "model wine", Decimal("9.8"), "target 10.0"),
            ("D", "Duplicate", "duplicate", first.matrix, own * Decimal("1.04"), "of {first}"),
            ("SP", "Matrix spike", "spike", first.matrix, found, "{first} + 20.0"),
        )
        for mark, kind, qc_kind, matrix, number, remark in checks:
            limits = limits_of(report.lab, "free")
            printed = print_measured(number, limits, style)
            sample_no = f"{report.number}-{mark}"
            known = Named(
                "", sample_no, matrix, analyte, "free", print_name(analyte), "µg/L", limits, qc_kind
            )
            yield Line(
                sample_no,
                kind,
                "",
                matrix,
                "free",
                replace(printed, outcome="qc"),
                known,
                remark=remark.format(first=first.lab_number),
            )


def unknown_line(sample: Sample, style: Style) -> Line:
    """Return a row whose parameter nobody knows."""
    printed = hold(print_number(Decimal("3.4"), style), "analyte_unknown")
    known = named(sample, "Ash marker M7", "µg/L", "", "free", Limits(None, None))
    return Line(
        sample.lab_number,
        "Sample",
        sample.printed_reference,
        sample.matrix,
        "free",
        printed,
        known,
        remark="trial method",
    )


def limits_of(lab: Facts, form: str) -> Limits:
    """Return a laboratory's limits for a fraction."""
    return Limits(Decimal(str(lab[form]["lod"])), Decimal(str(lab[form]["loq"])))


def expanded(lab: Facts, printed: Printed) -> Decimal | None:
    """Return the expanded uncertainty (k = 2) to one place; none for censored values."""
    if printed.value is None or printed.outcome != "result":
        return None
    share = printed.value * Decimal(str(lab["uncertainty"]))
    return max(share.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP), Decimal("0.2"))


def print_name(analyte: str) -> str:
    """Write an analyte's name as this export does."""
    return analyte if analyte[:2] in ("o-", "m-", "p-") else analyte.capitalize()
