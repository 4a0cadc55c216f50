"""Numbers are shown as a spreadsheet shows them."""

import pytest

from pipeline.read.number_formats import (
    adds_meaning,
    is_date_format,
    render,
    render_text,
    shown_wins,
)

# ECMA-376 Part 1, 18.8.31, worked examples of digit placeholders, thousands and dates.
STANDARD = [
    (1234.59, "####.#", "1234.6"),
    (8.9, "#.000", "8.900"),
    (0.631, "0.#", "0.6"),
    (12, "#.0#", "12.0"),
    (1234.568, "#.0#", "1234.57"),
    (44.398, "???.???", " 44.398"),
    (102.65, "???.???", "102.65 "),
    (2.8, "???.???", "  2.8  "),
    (5.25, "# ???/???", "5   1/4"),
    (5.3, "# ???/???", "5   3/10"),
    (12000, "#,###", "12,000"),
    (12000, "#,", "12"),
    (12200000, "0.0,,", "12.2"),
]

# Shown so by an independent spreadsheet program, read off its own copy of the same cells.
SPREADSHEET = [
    (12.345, "0.00", "12.35"),
    (1.005, "0.00", "1.01"),
    (0.125, "0.00", "0.13"),
    (-1.5, "0", "-2"),
    (-0.04, "0.0", "0.0"),
    (99.995, "#,##0.00", "100.00"),
    (1234567.891, "#,##0", "1,234,568"),
    (0.125, "0%", "13%"),
    (0.3, "0.0%", "30.0%"),
    (0.000123456, "0.00E+00", "1.23E-04"),
    (1234567.891, "##0.0E+0", "1.2E+6"),
    (0.3, '[<0.5]"<0.5";0.00', "<0.5"),
    (0.5, '[<0.5]"<0.5";0.00', "0.50"),
    (150, '[>100]">100";[<1]"<1";0.0', ">100"),
    (0.3, '[>100]">100";[<1]"<1";0.0', "<1"),
    (12.345, '[>100]">100";[<1]"<1";0.0', "12.3"),
    (0, '0.0;(0.0);"nd"', "nd"),
    (-1.5, '0.0;(0.0);"nd"', "(1.5)"),
    (0.5, '"<"0.0', "<0.5"),
    (3, '0 "ug/L"', "3 ug/L"),
    (12.345, "0.0\\ \\m\\g", "12.3 mg"),
    (2.5, 'General" u"', "2.5 u"),
    (1234567.891, "000-0000", "123-4568"),
    (12.345, "[$€-407] #,##0.00", "€ 12.35"),
    (46298.586875, "yyyy-mm-dd", "2026-10-03"),
    (46298.586875, "d/m/yyyy h:mm", "3/10/2026 14:05"),
    (46298.586875, "dddd, mmmm d, yyyy", "Saturday, October 3, 2026"),
    (46298.586875, "d-mmm-yy", "3-Oct-26"),
    (46298.586875, "h:mm AM/PM", "2:05 PM"),
    (46298.586875, "mm:ss.0", "05:06.0"),
    (2.5, "[h]:mm", "60:00"),
    (123456789012, "General", "123456789012"),
]

# The format `General` as the documentation of a spreadsheet component describes it: as typed, decimals
# rounded so that 11 characters are not exceeded, longer numbers in scientific notation.
GENERAL = [
    (12.0, "12"),
    (0.1 + 0.2, "0.3"),
    (1 / 3, "0.333333333"),
    (1234567.891234, "1234567.891"),
    (0.00001234, "0.00001234"),
    (-2.5, "-2.5"),
    (20261003001, "20261003001"),
    (1e20, "1E+20"),
]


@pytest.mark.parametrize(("value", "code", "shown"), STANDARD + SPREADSHEET)
def test_numbers_look_as_in_the_sheet(value: float, code: str, shown: str) -> None:
    assert render(float(value), code) == shown


@pytest.mark.parametrize(("value", "shown"), GENERAL)
def test_general_shows_no_needless_digits(value: float, shown: str) -> None:
    assert render(float(value), "General") == shown


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("General", False),
        ("0.00", False),
        ("#,##0.00_);[Red](#,##0.00)", False),
        ("0.00E+00", False),
        ("yyyy-mm-dd", False),
        ("[$-409]d\\-mmm\\-yy;@", False),
        ("@", False),
        ('_-* #,##0.00_-;-* #,##0.00_-;_-* "-"??_-;_-@_-', False),
        ('[<0.5]"<0.5";0.00', True),
        ('"<"0.0', True),
        ("0.0%", True),
        ('0.0 "ug/L"', True),
        ("0.0\\*", True),
    ],
)
def test_a_format_that_says_something_is_known(code: str, expected: bool) -> None:
    assert adds_meaning(code) is expected


def test_only_the_section_that_shows_the_value_counts() -> None:
    assert shown_wins(0.3, '[<0.5]"<0.5";0.00')
    assert not shown_wins(3.2345, '[<0.5]"<0.5";0.00')
    assert shown_wins(12345.0, "0,")


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("m/d/yyyy", True),
        ("[h]:mm:ss", True),
        ("mm:ss.0", True),
        ("[$-F800]dddd\\,\\ mmmm\\ dd\\,\\ yyyy", True),
        ("0.0", False),
        ('0.0 "mg/day"', False),
        ("[Red]0.0", False),
        ("0.0 mg/L", False),
        ("General", False),
    ],
)
def test_dates_are_told_from_numbers(code: str, expected: bool) -> None:
    assert is_date_format(code) is expected


def test_a_format_may_dress_a_text() -> None:
    assert render_text("0.5", '"<"@') == "<0.5"
    assert render_text("0.5", '0.0;-0.0;0.0;"about "@') == "about 0.5"
    assert render_text("0.5", "0.00") == "0.5"


def test_a_date_before_all_calendars_is_not_shown() -> None:
    assert render(-1.0, "yyyy-mm-dd") == "########"


@pytest.mark.parametrize(
    "code", ['"', "[", "\\", "[<x]0", ";;;;;;", "0.0.0", "E+", "?/?", "/", ",", "%%0", "s.000"]
)
def test_malformed_formats_still_show_something(code: str) -> None:
    assert isinstance(render(1.5, code), str)
