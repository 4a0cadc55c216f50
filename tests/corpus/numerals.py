"""Numbers as countries and laboratories write them, and what follows them in the cell."""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path

from corpus.cases import Case, case
from corpus.columns import column, column_case, told


@case
def numbers_as_text_with_points() -> Case:
    return column_case(
        """
12.3       => 12.3
1,234.5    => 1234.5
1,234      => 1234
0.25       => 0.25
1.2E1      => 12
1.2e+01    => 12
12.3 µg/L  => 12.3
１２.５    => 12.5
'12.4      => 12.4
+3.5       => 3.5
"""
    )


@case
def numbers_as_text_with_commas() -> Case:
    return column_case(
        """
12,3       => 12.3
1.234,5    => 1234.5
1.234      => 1234
1 234,5    => 1234.5
1\u00a0234,5 => 1234.5
1\u202f234,5 => 1234.5
1\u2009234 => 1234
1'234,5    => 1234.5
0,25       => 0.25
<0,5       => [0,0.5]
"""
    )


@case
def one_lone_mark_is_ambiguous() -> Case:
    return column_case(
        """
1.234  => !number_ambiguous
12     => 12
"""
    )


@case
def trailing_notes() -> Case:
    return column_case(
        """
12*       => 12
12 (1)    => 12
12ᵃ       => 12
12¹       => 12
3.4 a     => 3.4
12 †      => 12
(12)      => !not_a_number
see note  => !not_a_number
1-2       => !number_ambiguous
2–8       => !number_ambiguous
~12       => !not_a_number
1.2.3     => !not_a_number
"""
    )


@case
def letters_that_are_a_unit_or_a_notation() -> Case:
    return column_case(
        """
12 mg     => !not_a_number
12 ng     => !not_a_number
12 nmol   => !not_a_number
12 g      => !not_a_number
12 L      => !not_a_number
12 per    => !not_a_number
12 BLQ    => !not_a_number
12 OR     => !not_a_number
12 NA     => !not_a_number
3.5 a     => 3.5
3.5 ab    => 3.5
3.5 a,b   => 3.5
"""
    )


@case
def letters_that_look_like_digits() -> Case:
    return column_case(
        """
1O     => !not_a_number
2I     => !not_a_number
1l     => !not_a_number
l2     => !not_a_number
O.5    => !not_a_number
12     => 12
"""
    )


@case
def uncertainty_behind_the_number() -> Case:
    return column_case(
        """
12 ± 1        => 12
12±1          => 12
12 +/- 1      => 12
12 ± 10%      => 12
12 ± 1 (k=2)  => 12
12 ± 1 µg/L   => 12
"""
    )


@case
def two_numbers_in_one_cell() -> Case:
    return column_case(
        """
12/13        => !not_a_number
12; 13       => !not_a_number
12 13        => !not_a_number
12 (dup 13)  => !not_a_number
<0.5 (0.3)   => !not_a_number
> 10 < 20    => !not_a_number
12           => 12
"""
    )


@case
def below_zero_and_nothing_below() -> Case:
    return column_case(
        """
< 0   => !number_ambiguous
−3    => !negative
-99   => !negative
12    => 12
"""
    )


def ammonium() -> list[dict[str, str]]:
    """Read the open series `nh4` of lifelines: ammonium in precipitation, as it was reported.

    Its own columns say what each printed text means: the number, and whether that is a limit.
    """
    package = importlib.util.find_spec("lifelines")
    assert package is not None
    assert package.submodule_search_locations is not None
    path = Path(package.submodule_search_locations[0]) / "datasets" / "nh4.csv"
    with path.open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


@case
def numbers_and_limits_of_an_open_series() -> Case:
    # The texts are those of the series; the analyte above them is another one, in its unit.
    series = ammonium()
    texts = [row["NH4.Orig.mg.per.L"] for row in series]
    meant = [float(row["NH4.mg.per.L"]) * 1000 for row in series]
    below = [row["Censored"] == "TRUE" for row in series]
    tokens = [f"[0,{m:.9g}]" if b else f"{m:.9g}" for m, b in zip(meant, below, strict=True)]
    return Case(column(texts, "Free guaiacol (mg/L)"), told(tokens))
