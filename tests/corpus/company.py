"""Names that tell quality control and means only by the company they keep."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"


@case
def samples_coded_like_spikes_and_nothing_that_was_spiked() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
Method blank | <0.5 | <0.5
MS-1 | 3 | 4
MS-2 | 5 | 6
"""
    expected = cells("""
    B3 guaiacol free "Method blank" blank:[0,0.5]
    C3 syringol free "Method blank" blank:[0,0.5]
    """) | crossing("B4", G_S, "free", {"MS-1": "3 4", "MS-2": "5 6"})
    return Case(book(("Results", drawn)), expected)


@case
def a_coded_spike_beside_a_sample() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
W-1 | 3 | 4
MS-1 | 13 | 14
"""
    expected = crossing("B3", G_S, "free", {"W-1": "3 4"})
    expected |= crossing("B4", G_S, "free", {"MS-1": "spike:13 spike:14"})
    return Case(book(("Results", drawn)), expected, notices=('"MS-1"',))


@case
def a_sheet_of_quality_control() -> Case:
    samples = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
W-1 | 3 | 4
W-2 | 5 | 6
"""
    control = """
Free volatile phenols (µg/L)
QC sample | Guaiacol | Syringol
Procedural blank | <0.2 | <0.2
House red | 7 | 8
W-1 (replicate analysis) | 3.1 | 4.1
W-3 | 9 | 10
"""
    expected = crossing("B3", G_S, "free", {"W-1": "3 4", "W-2": "5 6"}, "Samples")
    sheet = "Quality control"
    expected |= crossing(
        "B3", G_S, "free", {"Procedural blank": "blank:[0,0.2] blank:[0,0.2]"}, sheet
    )
    expected |= crossing("B4", G_S, "free", {"House red": "control:7 control:8"}, sheet)
    expected |= crossing(
        "B5", G_S, "free", {"W-1 (replicate analysis)": "duplicate:3.1 duplicate:4.1"}, sheet
    )
    expected |= crossing("B6", G_S, "free", {"W-3": "9 10"}, sheet)
    return Case(book(("Samples", samples), (sheet, control)), expected)


@case
def a_mean_that_bears_the_name_of_a_sample_beside_it() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1 | W-2 | Mean W-2 | Mean Creek
Guaiacol | 3 | 5 | 5.5 | 7
Syringol | 4 | 6 | 6.5 | 8
"""
    expected = crossing("B3", G_S, "free", {"W-1": "3 4", "W-2": "5 6"}, down=True) | crossing(
        "E3", G_S, "free", {"Mean Creek": "7 8"}, down=True
    )
    return Case(book(("Results", drawn)), expected)
