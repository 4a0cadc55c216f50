"""Samples called nearly like quality control or a statistic, and what sums up replicates by name."""

from __future__ import annotations

from corpus.analytes import listed
from corpus.books import book
from corpus.cases import Case, case, cells, crossing
from corpus.columns import column_case

G_S = "guaiacol syringol"


@case
def means_that_bear_a_samples_name() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1 a | 12 | 13
S1 b | 14 | 15
S1 mean | 13 | 14
Average S1 | 13 | 14
S1 (mean) | 13 | 14
S2 mean | 5 | 6
"""
    expected = crossing("B3", G_S, "free", {"S1": "12 13"})
    expected |= crossing("B4", G_S, "free", {"S1": "14 15"})
    expected |= crossing("B8", G_S, "free", {"S2 mean": "5 6"})
    return Case(book(("Results", drawn)), expected, notices=('"S1 mean"', '"Average S1"'))


@case
def means_beside_replicates_across() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | S1 rep 1 | S1 rep 2 | S1 mean | S2 rep 1 | S2 rep 2 | S2 mean
Guaiacol | 12 | 14 | 13 | 5 | 6 | 5.5
Syringol | 22 | 24 | 23 | 7 | 8 | 7.5
"""
    expected = cells("""
B3 guaiacol free S1 12
C3 guaiacol free S1 14
E3 guaiacol free S2 5
F3 guaiacol free S2 6
B4 syringol free S1 22
C4 syringol free S1 24
E4 syringol free S2 7
F4 syringol free S2 8
""")
    return Case(book(("Results", drawn)), expected)


@case
def vineyards_called_like_quality_control() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
Spike Ridge 4 | 12 | 13
Control Block 3 | 14 | 15
Blank Hill | 16 | 17
Duplicate Ridge | 18 | 19
Standard Creek 2 | 20 | 21
"""
    samples = {
        "Spike Ridge 4": "12 13",
        "Control Block 3": "14 15",
        "Blank Hill": "16 17",
        "Duplicate Ridge": "18 19",
        "Standard Creek 2": "20 21",
    }
    return Case(book(("Results", drawn)), crossing("B3", G_S, "free", samples))


@case
def backgrounds_to_compare_with() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | S1 | S2 | Odour threshold | Background
Guaiacol | 12 | 13 | 23 | 2
Syringol | 14 | 15 | 570 | 5
"""
    expected = cells("""
B3 guaiacol free S1 12
C3 guaiacol free S2 13
B4 syringol free S1 14
C4 syringol free S2 15
""")
    return Case(book(("Results", drawn)), expected)


@case
def a_typical_background_below_the_headings() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
Typical background | 2 | 5
S1 | 12 | 13
S2 | 14 | 15
"""
    samples = {"S1": "12 13", "S2": "14 15"}
    return Case(book(("Results", drawn)), crossing("B4", G_S, "free", samples))


@case
def sums_with_their_unit() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol (µg/L) | Syringol (µg/L) | Sum (µg/L) | Mean [µg/L]
S1 | 12 | 13 | 25 | 12.5
S2 | 14 | 15 | 29 | 14.5
"""
    samples = {"S1": "12 13", "S2": "14 15"}
    return Case(book(("Results", drawn)), crossing("B3", G_S, "free", samples))


@case
def names_by_position_behind_and_inverted() -> Case:
    return listed(
        {
            "éthyl-4-phénol": "4-ethylphenol",
            "éthyl-4-gaïacol": "4-ethylguaiacol",
            "vinyl-4-phénol": "4-vinylphenol",
            "vinyl-4-gaïacol": "4-vinylguaiacol",
            "méthyl-4-gaïacol": "4-methylguaiacol",
            "Phenol, 2-methoxy-": "guaiacol",
            "Phenol, 2,6-dimethoxy-": "syringol",
            "Phenol, 2-methyl-": "o-cresol",
            "2-methoxy-4-(prop-2-en-1-yl)phenol": "eugenol",
            "Syringal": "!analyte_unknown",
            "Sum of free VPs": "scope",
        }
    )


@case
def powers_of_ten_with_their_sign() -> Case:
    return column_case(
        """
1.2×10^2        => 120
1.5 x 10^1      => 15
3.4 * 10^-1     => 0.34
10^2            => !number_ambiguous
"""
    )


@case
def powers_of_ten_by_a_raised_figure() -> Case:
    # A footnote behind "10" is of a plain number; "10¹²" may be a power with a footnote.
    return column_case(
        """
1.5 x 10²       => 150
2,5·10¹         => 25
3.4 × 10⁻¹      => 0.34
12²             => 12
10²             => !number_ambiguous
1.5 x 10¹²      => !number_ambiguous
1.5 x 10²ᵃ      => !not_a_number
1.5 x 20²       => !not_a_number
"""
    )
