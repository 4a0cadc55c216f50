"""A sheet that is moved or spoilt gives the same numbers, or holds them: never others."""

from __future__ import annotations

from functools import cache

import pytest
from corpus import MADE
from corpus.reading import Read, read, read_all, rows_of
from corpus.spoilt import (
    STRANGE,
    every_heading,
    every_rearrangement,
    every_way,
    inserted,
    moved,
    spoilt,
    swapped,
    written,
)

from pipeline.errors import FileRefused
from schemas.report import Report

Key = tuple[str, str, str | None, str | None]
Number = tuple[float | None, float | None, float | None, str]
# Sheets in which any single statement may go missing without another one taking its place.
SHEETS = (
    "samples_down",
    "analytes_down",
    "one_result_per_row",
    "side_by_side_blocks",
    "merged_titles_over_two_panels",
    "merged_analytes_over_forms",
    "limits_in_own_rows",
    "limits_in_own_columns",
    "limits_in_the_headings",
    "result_limit_and_uncertainty_under_merged_names",
    "uncertainty_columns",
    "unmerged_titles_over_the_first_column",
    "letters_behind_every_name",
    "marks_in_a_line_below_the_names",
    "numbers_behind_the_names_of_a_list",
    "sample_named_once_for_several_rows",
    "forms_below_each_sample",
    "forms_beside_each_sample",
    "samples_over_forms_over_results",
    "analytes_over_forms_over_results_in_first_cells",
)


# Sheets with columns of signs, letters, units, limits and uncertainties, and the line that heads them.
HEADED = {
    "list_with_every_kind_of_column": 1,
    "every_kind_of_column_beside_one_result": 2,
    "every_kind_of_column_beside_names_down": 2,
    "headed_letters_beside_samples_across": 2,
    "signs_in_a_list_under_an_unknown_heading": 1,
    "samples_down": 3,
    "analytes_down": 3,
    "uncertainty_columns": 2,
    "limits_in_own_columns": 2,
}


@cache
def original(name: str) -> bytes:
    return dict(MADE)[name]().content


def numbers(report: Read) -> dict[Key, set[Number]]:
    """What would be stored: for each sample, analyte, form and kind of control its numbers."""
    if isinstance(report, FileRefused):
        return {}
    kept: dict[Key, set[Number]] = {}
    for row in rows_of(report).values():
        if row["outcome"] in {"result", "qc", "repeated"}:
            key = row["sample_id"], row["analyte"], row["form"], row["qc_kind"]
            number = row["value"], row["lower"], row["upper"], row["unit"]
            kept.setdefault(key, set()).add(number)
    return kept


def read_one(content: bytes) -> dict[Key, set[Number]]:
    return numbers(read(content, "report.xlsx"))


def is_safe(found: Number, known: set[Number]) -> bool:
    """Tell whether a number was there before, or says no more than one that was there before."""
    value, lower, upper, unit = found
    return found in known or any(
        value is None
        and unit == unit_before
        and None not in (lower, upper, low, high)
        and lower <= low
        and high <= upper
        for _, low, high, unit_before in known
    )


def strangers(before: dict[Key, set[Number]], after: dict[Key, set[Number]]) -> list[object]:
    """List the numbers that were not there before; a renamed sample keeps its numbers."""
    every = {key[1:]: set[Number]() for key in before}
    for key, known in before.items():
        every[key[1:]] |= known
    return [
        (key, number)
        for key, found in after.items()
        for number in found
        if not is_safe(
            number, every.get(key[1:], set()) if key[0] == STRANGE else before.get(key, set())
        )
    ]


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize(("rows", "columns"), [(1, 0), (0, 1), (7, 3)])
def test_a_moved_sheet_reads_the_same(name: str, rows: int, columns: int) -> None:
    before = read_one(original(name))
    assert before
    assert read_one(spoilt(original(name), moved(rows, columns))) == before


@pytest.mark.parametrize("name", SHEETS)
def test_no_spoilt_sheet_gives_another_number(name: str) -> None:
    before = read_one(original(name))
    ways = {spoilt(original(name), spoil): way for way, spoil in every_way(original(name))}
    reports = read_all([(content, "report.xlsx") for content in ways])
    found = {
        way: strange
        for way, report in zip(ways.values(), reports, strict=True)
        if (strange := strangers(before, numbers(report)))
    }
    assert found == {}


@pytest.mark.parametrize("name", [*SHEETS, "basic_analysis_above_in_the_same_form"])
def test_no_rearranged_sheet_gives_another_number(name: str) -> None:
    content = original(name)
    before = read_one(content)
    ways = {spoilt(content, spoil): way for way, spoil in every_rearrangement(content)}
    reports = read_all([(each, "report.xlsx") for each in ways])
    found = {
        way: strange
        for way, report in zip(ways.values(), reports, strict=True)
        if (strange := strangers(before, numbers(report)))
    }
    assert found == {}


@pytest.mark.parametrize(
    ("name", "row"),
    [("units_stand_in_the_headings_below_the_names", 2), ("a_raw_and_a_final_result", 2)],
)
def test_an_empty_line_under_the_names_changes_nothing(name: str, row: int) -> None:
    content = original(name)
    one, two = read_all([(content, "a.xlsx"), (spoilt(content, inserted(row=row)), "a.xlsx")])
    assert isinstance(one, Report)
    assert isinstance(two, Report)
    assert numbers(two) == numbers(one)
    assert two.held["reason_code"].to_list() == one.held["reason_code"].to_list()


@pytest.mark.parametrize("name", HEADED)
def test_no_heading_that_is_lost_gives_another_number(name: str) -> None:
    content = original(name)
    before = read_one(content)
    assert before
    ways = {spoilt(content, spoil): way for way, spoil in every_heading(content, HEADED[name])}
    reports = read_all([(each, "report.xlsx") for each in ways])
    found = {
        way: strange
        for way, report in zip(ways.values(), reports, strict=True)
        if (strange := strangers(before, numbers(report)))
    }
    assert found == {}


@pytest.mark.parametrize(
    ("name", "first", "second"),
    [
        ("samples_down", 2, 3),
        ("samples_down", 1, 5),
        ("one_result_per_row", 1, 2),
        ("one_result_per_row", 4, 6),
        ("one_result_per_row", 5, 7),
        ("limits_in_own_columns", 2, 3),
        ("limits_in_own_rows", 2, 3),
    ],
)
def test_the_order_of_columns_tells_nothing(name: str, first: int, second: int) -> None:
    before = read_one(original(name))
    assert read_one(spoilt(original(name), swapped(first, second))) == before


def test_numbers_follow_their_heading_when_two_headings_are_swapped() -> None:
    content = spoilt(original("samples_down"), written("B3", "o-Cresol"))
    content = spoilt(content, written("D3", "Guaiacol"))
    before, after = read_one(original("samples_down")), read_one(content)
    for sample in ("W-101", "W-102"):
        one, two = (sample, "guaiacol", "free", None), (sample, "o-cresol", "free", None)
        assert (after[one], after[two]) == (before[two], before[one])


@pytest.mark.parametrize("name", ["samples_down", "analytes_down", "one_result_per_row"])
def test_one_heading_twice_is_held_or_refused(name: str) -> None:
    cell = {"samples_down": "C3", "analytes_down": "A4", "one_result_per_row": "B4"}[name]
    before = read_one(original(name))
    after = read_one(spoilt(original(name), written(cell, "Guaiacol")))
    assert [key for key in after if key[1] == "guaiacol" and after[key] != before.get(key)] == []
