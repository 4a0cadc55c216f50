"""Lines beside the samples that are none: limits of one matrix, statistics, values to compare with."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, Value, case, cells, crossing, more

G_S = "guaiacol syringol"
TITLE = "Free volatile phenols (µg/L)\n"


def drawn(text: str) -> bytes:
    return book(("Results", TITLE + text.lstrip()))


@case
def limits_of_one_matrix() -> Case:
    text = """
Sample | Matrix     | Guaiacol | Syringol
LOD    | Red wine   | 0.1      | 0.2
S1     | Red wine   | nd       | 5
S2     | White wine | nd       | 5
"""
    expected = crossing("C4", G_S, "free", {"S1": "[0,0.1] 5", "S2": "!limit_unknown 5"})
    return Case(drawn(text), more(expected, "Results!D5", matrix="white wine", lod=None))


@case
def limits_of_each_matrix() -> Case:
    text = """
Sample | Matrix     | Guaiacol | Syringol
S1     | Red wine   | nd       | 5
S2     | White wine | nd       | 5
LOD    | Red wine   | 0.1      | 0.2
LOD    | White wine | 0.3      | 0.4
"""
    return Case(drawn(text), crossing("C3", G_S, "free", {"S1": "[0,0.1] 5", "S2": "[0,0.3] 5"}))


@case
def limits_of_one_method() -> Case:
    text = """
Sample | Method | Guaiacol | Syringol
S1     | M1     | nd       | 5
S2     | M2     | nd       | 5
LOD    | M1     | 0.1      | 0.2
"""
    expected = crossing("C3", G_S, "free", {"S1": "[0,0.1] 5", "S2": "!limit_unknown 5"})
    return Case(drawn(text), expected)


@case
def labels_of_limits_with_more_words() -> Case:
    text = """
Sample         | Guaiacol | Syringol
LOD (red wine) | 0.1      | 0.2
LOQ in 2025    | 0.3      | 0.4
S1             | nd       | 6
"""
    # Which of them holds for S1 nothing tells.
    expected = cells("B5 !limit_unknown\nC5 syringol free S1 6")
    return Case(drawn(text), expected, notices=("LOD (red wine)", "LOQ in 2025"))


@case
def statistics_and_reference_values_beside_the_samples() -> Case:
    text = """
Sample                      | Guaiacol | Syringol
S1                          | 5        | 6
S2 SD                       | 0.1      | 0.2
S2 RPD                      | 3        | 4
Expected (µg/L)             | 5        | 6
Certified value             | 5        | 6
Assigned value              | 5        | 6
Target                      | 5        | 6
Guideline                   | 50       | 60
Odour detection threshold   | 23       | 570
Typical range               | 1        | 2
Ion m/z                     | 124      | 154
Retention time (min)        | 12.1     | 14.5
"""
    notices = ("S2 SD", "S2 RPD", "Expected", "Certified", "Assigned", "Target", "Guideline",
               "Odour", "Typical", "Ion m/z", "Retention")  # fmt: skip
    return Case(drawn(text), crossing("B3", G_S, "free", {"S1": "5 6"}), notices=notices)


@case
def reference_values_in_other_languages() -> Case:
    text = """
Échantillon         | Gaïacol | Syringol
E1                  | 5       | 6
Seuil de perception | 23      | 570
Valeur cible        | 4       | 5
Umbral de olfacción | 23      | 570
Soglia olfattiva    | 23      | 570
Geruchsschwelle     | 23      | 570
Limiar de perceção  | 23      | 570
"""
    notices = ("Seuil", "Valeur cible", "Umbral", "Soglia", "Geruchsschwelle", "Limiar")
    return Case(drawn(text), crossing("B3", G_S, "free", {"E1": "5 6"}), notices=notices)


@case
def numbers_of_the_method_below_the_samples() -> Case:
    text = """
Sample    | Guaiacol | Syringol
S1        | 5        | 6
CAS       | 90-05-1  | 91-10-1
Slope     | 1.1      | 1.3
"""
    return Case(drawn(text), crossing("B3", G_S, "free", {"S1": "5 6"}))


@case
def quality_control_by_the_company_it_keeps() -> Case:
    text = """
Sample  | Guaiacol | Syringol
MB-1    | 0.1      | 0.2
LCS     | 10       | 11
Control | 5        | 6
S2      | 4        | 7
S2 MS   | 14       | 17
S2 MSD  | 15       | 18
S2 dup  | 4.1      | 7.1
"""
    expected = crossing(
        "B3", G_S, "free",
        {
            "MB-1": "blank:0.1 blank:0.2", "LCS": "control:10 control:11",
            "Control": "control:5 control:6", "S2": "4 7", "S2 MS": "spike:14 spike:17",
            "S2 MSD": "spike:15 spike:18", "S2 dup": "duplicate:4.1 duplicate:7.1",
        },
    )  # fmt: skip
    return Case(drawn(text), expected)


@case
def names_that_are_control_only_in_company() -> Case:
    text = """
Sample  | Guaiacol | Syringol
MB-1    | 1        | 2
MB-2    | 3        | 4
"""
    return Case(drawn(text), crossing("B3", G_S, "free", {"MB-1": "1 2", "MB-2": "3 4"}))


@case
def numbers_below_a_title_nobody_explains() -> Case:
    text = """
Sample | Guaiacol | Syringol
S1     | 4        | 5

Zork values
1      | 33       | 44
2      | 55       | 66
"""
    held = cells("\n".join(f"{c}{r} !number_ambiguous" for c in "BC" for r in (6, 7)))
    return Case(drawn(text), crossing("B3", G_S, "free", {"S1": "4 5"}) | held)


@case
def samples_in_groups_with_titles() -> Case:
    text = """
Sample | Guaiacol | Syringol
North slope
S1     | 4        | 5

River flat
S2     | 33       | 44
"""
    expected = crossing("B4", G_S, "free", {"S1": "4 5"})
    return Case(drawn(text), expected | crossing("B7", G_S, "free", {"S2": "33 44"}))


@case
def lots_that_name_the_samples() -> Case:
    text = """
Lot | Guaiacol | Syringol
L-1 | 4        | 5
"""
    expected = crossing("B3", G_S, "free", {"L-1": "4 5"})
    return Case(drawn(text), more(expected, "Results!B3", lot="L-1"), notices=("lots",))


@case
def uncertainties_in_percent_beside_each_result() -> Case:
    text = """
Sample | Guaiacol | U (%) | Syringol | U (%)
S1     | 5        | 10    | 6        | 20
"""
    expected = cells("B3 guaiacol free S1 5\nD3 syringol free S1 6")
    expected = more(expected, "Results!B3", expanded_uncertainty=0.5)
    return Case(drawn(text), more(expected, "Results!D3", expanded_uncertainty=1.2))


@case
def uncertainty_in_percent_in_a_row() -> Case:
    text = """
Sample          | Guaiacol | Syringol
S1              | 5        | 6
Uncertainty (%) | 10       | 20
"""
    expected = more(
        crossing("B3", G_S, "free", {"S1": "5 6"}), "Results!C3", expanded_uncertainty=1.2
    )
    return Case(drawn(text), expected)


@case
def limits_in_another_unit_beside_each_result() -> Case:
    text = """
Sample | Guaiacol | LOD (ng/L) | Syringol | LOD (ng/L)
S1     | nd       | 100        | nd       | 200
"""
    return Case(drawn(text), cells("B3 guaiacol free S1 [0,0.1]\nD3 syringol free S1 [0,0.2]"))


@case
def limits_and_uncertainties_with_their_own_units() -> Case:
    text = """
Sample | Analyte  | Form | Result | Unit   | LOD        | Uncertainty (mg/L)
S1     | Guaiacol | free | nd     | µg/L   | 0.5 nmol/L |
S1     | Syringol | free | nd     | nmol/L | 0.5 nmol/L |
S1     | o-Cresol | free | nd     | µg/L   | 500 ng/L   |
S1     | p-Cresol | free | 5      | µg/L   |            | 0.001
"""
    # Syringol is 154.165 g/mol, so that 0.5 nmol/L are 0.0770825 µg/L.
    expected = cells("""
        D2 !limit_unknown
        D3 syringol free S1 [0,0.0770825]
        D4 o-cresol free S1 [0,0.5]
        D5 p-cresol free S1 5
    """)
    return Case(book(("Results", text)), more(expected, "Results!D5", expanded_uncertainty=1.0))


@case
def a_lot_beside_a_batch_of_the_laboratory() -> Case:
    drawn = """
Sample | Batch | Lot | Free guaiacol (µg/L)
S1     | Q-17  | L-1 | 5
S2     | Q-17  | L-2 | 6
"""
    expected = cells("D2 guaiacol free S1 5\nD3 guaiacol free S2 6")
    expected = more(more(expected, "Results!D2", lot="L-1"), "Results!D3", lot="L-2")
    return Case(book(("Results", drawn)), expected)


@case
def a_lot_before_a_batch_of_the_laboratory() -> Case:
    drawn = """
Sample | Lot | Batch no | Free guaiacol (µg/L)
S1     | L-1 | Q-17     | 5
"""
    return Case(
        book(("Results", drawn)),
        more(cells("D2 guaiacol free S1 5"), "Results!D2", lot="L-1"),
    )


def _with_batches(drawn: str, expected: dict[str, Value], lots: str, notice: str = "") -> Case:
    for cell, lot in (pair.split("=") for pair in lots.split()):
        expected = more(expected, f"Results!{cell}", lot=lot if lot != "none" else None)
    return Case(book(("Results", drawn)), expected, notices=(notice,) if notice else ())


@case
def a_batch_that_two_samples_share() -> Case:
    drawn = """
Sample | Batch | Free guaiacol (µg/L)
W-1    | B17   | 3
W-2    | B17   | 4
"""
    expected = crossing("C2", "guaiacol", "free", {"W-1": "3", "W-2": "4"})
    return _with_batches(drawn, expected, "C2=none C3=none", "not taken for the lot")


@case
def a_batch_of_each_sample() -> Case:
    drawn = """
Sample | Batch | Free guaiacol (µg/L)
W-1    | B17   | 3
W-2    | B18   | 4
"""
    expected = crossing("C2", "guaiacol", "free", {"W-1": "3", "W-2": "4"})
    return _with_batches(drawn, expected, "C2=B17 C3=B18")


@case
def a_batch_sampled_at_two_stages() -> Case:
    drawn = """
Sample | Batch | Stage     | Free guaiacol (µg/L)
W-1    | B17   | end of AF | 3
W-2    | B17   | bottled   | 4
"""
    expected = crossing("D2", "guaiacol", "free", {"W-1": "3", "W-2": "4"})
    return _with_batches(drawn, expected, "D2=B17 D3=B17")


@case
def a_batch_that_a_control_bears_too() -> Case:
    drawn = """
Sample | Batch | Free guaiacol (µg/L)
QC     | B17   | 5
W-1    | B17   | 3
W-2    | B18   | 4
"""
    expected = cells(
        "C2 guaiacol free QC control:5\nC3 guaiacol free W-1 3\nC4 guaiacol free W-2 4"
    )
    return _with_batches(drawn, expected, "C3=none C4=none", "not taken for the lot")


@case
def a_batch_above_several_samples() -> Case:
    drawn = """
Batch: B17
Sample | Free guaiacol (µg/L)
W-1    | 3
W-2    | 4
"""
    expected = crossing("B3", "guaiacol", "free", {"W-1": "3", "W-2": "4"})
    return _with_batches(drawn, expected, "B3=none B4=none", "not taken for the lot")
