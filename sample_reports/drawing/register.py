"""Draw the cellar's register workbook: lots, samples and what was done to them."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from openpyxl import Workbook

from drawing.book import new_book, put_boxed, put_heading, to_bytes, widen
from drawing.facts import Report, Sample, Season

SHEETS = {
    "lots": "lot region grower vineyard block variety colour vintage volume_l expected_picking_on",
    "samples": "sample_id lab lot sample_kind matrix stage sampled_on bunches brix treatment "
    "dose dose_unit trial",
    "movements": "from_lot to_lot kind volume_l moved_on",
    "interventions": "lot kind agent dose dose_unit done_on permission_note",
    "tastings": "lot attribute score scale_max panel_size tasted_on",
    "decisions": "lot decision decided_on who note retest_due_on",
    "exposures": "block from to growth_stage index source",
}
OPENED = date(2026, 3, 16)
WIDE = {"permission_note", "note", "source", "lab", "agent", "treatment", "trial"}

Row = Sequence[Any]


def draw_register(season: Season) -> bytes:
    """Draw the register as the cellar keeps it at the end of the season."""
    book, page = new_book("lots", OPENED)
    rows: dict[str, Iterable[Row]] = {
        **season.register,
        "lots": lot_rows(season),
        "samples": sample_rows(season),
    }
    for name, headers in SHEETS.items():
        put_table(book, name, headers.split(), rows[name])
    page.freeze_panes = "B2"
    return to_bytes(book)


def put_table(book: Workbook, name: str, headers: list[str], rows: Iterable[Row]) -> None:
    """Write one sheet of the register under its headers."""
    page = book[name] if name in book.sheetnames else book.create_sheet(name)
    for column, header in enumerate(headers, start=1):
        put_heading(page, 1, column, header)
    for row, contents in enumerate(rows, start=2):
        for column, content in enumerate(contents, start=1):
            cell = put_boxed(page, row, column, None if content == "" else content)
            if isinstance(content, date):
                cell.number_format = "yyyy-mm-dd"
    widen(page, {at: 34 if h in WIDE else 20 for at, h in enumerate(headers, start=1)})
    page.freeze_panes = "A2"


def lot_rows(season: Season) -> list[Row]:
    """List the lots with their vineyards."""
    vineyards = season.facts["vineyards"]
    return [
        (
            lot.name,
            vineyards[lot.vineyard][0],
            vineyards[lot.vineyard][1],
            lot.vineyard,
            lot.block,
            lot.variety,
            lot.colour.replace("é", "e"),
            season.facts["season"]["vintage"],
            lot.volume_l,
            lot.picking_on,
        )
        for lot in season.lots.values()
    ]


def sample_rows(season: Season) -> list[Row]:
    """List each sample once per laboratory, under the identifier that laboratory prints.

    A misprinted reference is listed as the cellar wrote it, so the report does not find it.
    """
    rows = {
        row[:2]: row
        for report in season.reports
        for sample in report.samples
        for row in [sample_row(season, report, sample)]
    }
    return list(rows.values())


def sample_row(season: Season, report: Report, sample: Sample) -> tuple[Any, ...]:
    """Describe one sample as the register does."""
    by_number = report.lab["geometry"] == "stacked_panels"
    grapes = sample.stage == "harvest"
    bench = sample.kind != "lot"
    return (
        sample.lab_number if by_number else sample.reference,
        report.lab["name"],
        sample.lot.name,
        sample.kind,
        sample.matrix,
        sample.stage,
        sample.sampled_on,
        30 if grapes else "",
        round(21.5 + sample.lot.number % 8 * 0.4, 1) if grapes else "",
        sample.treatment,
        sample.dose if bench else "",
        "g/hL" if bench else "",
        season.facts["trial"]["name"] if bench else "",
    )
