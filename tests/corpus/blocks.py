"""Several tables in one file: stacked, side by side, on sheets of their own."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"

FREE3 = "guaiacol o-cresol p-cresol"


@case
def stacked_blocks() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol | p-Cresol
S1     | 1.1      | 2.2      | 3.3
S2     | 4.4      | 5.5      | 6.6

Total volatile phenols after acid hydrolysis (µg/L)
Sample | Guaiacol | o-Cresol | p-Cresol
S1     | 11       | 12       | 13
S2     | 14       | 15       | 16
"""
    expected = crossing("B3", FREE3, "free", {"S1": "1.1 2.2 3.3", "S2": "4.4 5.5 6.6"}) | crossing(
        "B8", FREE3, "total", {"S1": "11 12 13", "S2": "14 15 16"}
    )
    return Case(book(("Results", drawn)), expected)


@case
def stacked_blocks_other_cresol_order() -> Case:
    drawn = """
Free phenols, µg/L
Sample | o-Cresol | m-Cresol | p-Cresol | Guaiacol
S1     | 1        | 2        | 3        | 4

Total phenols after hydrolysis, µg/L
Sample | Guaiacol | o-Cresol | p-Cresol | m-Cresol
S1     | 40       | 10       | 30       | 20
"""
    expected = cells("""
B3 o-cresol free S1 1
C3 m-cresol free S1 2
D3 p-cresol free S1 3
E3 guaiacol free S1 4
B7 guaiacol total S1 40
C7 o-cresol total S1 10
D7 p-cresol total S1 30
E7 m-cresol total S1 20
""")
    return Case(book(("Results", drawn)), expected)


@case
def side_by_side_blocks() -> Case:
    drawn = """
Free (µg/L) |  |  |  | Total (µg/L) |  |
Sample | Guaiacol | Syringol |  | Sample | Guaiacol | Syringol
S1     | 1.5      | 2.5      |  | S1     | 10.5     | 20.5
S2     | 3.5      | nd       |  | S2     | 30.5     | 40.5
LOD 0.3 µg/L
"""
    expected = crossing(
        "B3", "guaiacol syringol", "free", {"S1": "1.5 2.5", "S2": "3.5 [0,0.3]"}
    ) | crossing("F3", "guaiacol syringol", "total", {"S1": "10.5 20.5", "S2": "30.5 40.5"})
    return Case(book(("Results", drawn)), expected)


@case
def thresholds_below_the_results() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol | p-Cresol
S1     | 12       | 13       | 14
S2     | 15       | 16       | 17

Sensory thresholds in red wine (µg/L)
Compound | Threshold
Guaiacol | 23
o-Cresol | 62
p-Cresol | 64
"""
    expected = crossing("B3", FREE3, "free", {"S1": "12 13 14", "S2": "15 16 17"})
    return Case(book(("Results", drawn)), expected)


@case
def unrelated_table_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | 12       | 13

Instrument log
Vial | Area | Height
1    | 10233 | 881
2    | 20991 | 902
"""
    expected = crossing("B3", "guaiacol o-cresol", "free", {"S1": "12 13"})
    return Case(book(("Results", drawn)), expected)


@case
def panel_label_rows_down() -> Case:
    drawn = """
Results in µg/L
Analyte | T-1 | T-2
Free volatile phenols
Guaiacol | 1 | 2
Syringol | 3 | 4
Total volatile phenols
Guaiacol | 10 | 20
Syringol | 30 | 40
"""
    expected = crossing(
        "B4", "guaiacol syringol", "free", {"T-1": "1 3", "T-2": "2 4"}, down=True
    ) | crossing("B7", "guaiacol syringol", "total", {"T-1": "10 30", "T-2": "20 40"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def nothing_but_nd_in_a_block_beside() -> Case:
    drawn = """
Free volatile phenols (ug/L) |          |   |        | Total volatile phenols (ug/L)
Sample                       | Guaiacol |   | Sample | Guaiacol | Phenol
LOD                          | 0.5      |   | LOD    | 0.5      | 0.5
W-1                          | 1.5      |   | W-1    | 4        | nd
W-2                          | 2.5      |   |        |          |
"""
    # The column of "nd" belongs to the second block and is no remark on the first.
    expected = crossing("B4", "guaiacol", "free", {"W-1": "1.5", "W-2": "2.5"})
    expected |= crossing("E4", "guaiacol phenol", "total", {"W-1": "4 [0,0.5]"})
    return Case(book(("Results", drawn)), expected)


@case
def side_by_side_blocks_of_other_samples() -> Case:
    drawn = """
Free (µg/L) |  |  |  | Total (µg/L) |  |
Sample | Guaiacol | Syringol |  | Sample | Guaiacol | Syringol
S1     | 1.5      | 2.5      |  | S7     | 10.5     | 20.5
S2     | 3.5      | 4.5      |  | S8     | 30.5     | 40.5
"""
    expected = crossing("B3", G_S, "free", {"S1": "1.5 2.5", "S2": "3.5 4.5"})
    expected |= crossing("F3", G_S, "total", {"S7": "10.5 20.5", "S8": "30.5 40.5"})
    return Case(book(("Results", drawn)), expected)


@case
def table_of_recoveries_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 4        | 2

Analyte  | Expected (µg/L) | Recovery (%)
Guaiacol | 10              | 98
Syringol | 10              | 102
"""
    expected = crossing("B3", G_S, "free", {"S1": "4 2"})
    return Case(book(("Results", drawn)), expected, notices=("not read",))


@case
def unrelated_table_right_below() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | 12       | 13
Instrument log
Vial | Area  | Height
1    | 10233 | 881
2    | 20991 | 902
"""
    return Case(
        book(("Results", drawn)), crossing("B3", "guaiacol o-cresol", "free", {"S1": "12 13"})
    )


@case
def units_of_another_table_above() -> Case:
    drawn = """
Parameter        | Unit  | Value
Alcohol          | % v/v | 13.5
Volatile acidity | g/L   | 0.4

Free volatile phenols
Sample | Guaiacol | Syringol
S1     | 5        | 2
"""
    expected = cells("B7 !unit_missing\nC7 !unit_missing")
    return Case(book(("Results", drawn)), expected)


@case
def units_of_a_list_of_methods_above() -> Case:
    drawn = """
Method         | Unit | LOD
Total VP GC-MS | mg/L | 0.5
Free VP GC-MS  | µg/L | 0.1

Total volatile phenols
Sample | Guaiacol | Syringol
S1     | 0.005    | 2
"""
    expected = cells("B7 !unit_missing\nC7 !unit_missing")
    return Case(book(("Results", drawn)), expected)


@case
def basic_analysis_above_in_the_same_form() -> Case:
    drawn = """
Sample: S1
Parameter        | Result | Unit
Alcohol          | 13.5   | % v/v
Volatile acidity | 0.4    | g/L

Free volatile phenols
Parameter | Result | Unit
Guaiacol  | 5      | µg/L
Syringol  | 2      | µg/L
"""
    expected = cells("B8 guaiacol free S1 5\nB9 syringol free S1 2")
    return Case(book(("Results", drawn)), expected)


@case
def stacked_tables_of_analytes_down() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | LOD | W-1 | W-2
Guaiacol | 0.2 | nd  | 2
Syringol | 0.3 | 3   | 4

Total volatile phenols (µg/L)
Analyte  | LOD | W-2 | W-1
Guaiacol | 0.4 | 20  | nd
Syringol | 0.5 | 40  | 30
"""
    expected = crossing("C3", G_S, "free", {"W-1": "[0,0.2] 3", "W-2": "2 4"}, down=True)
    expected |= crossing("C8", G_S, "total", {"W-2": "20 40", "W-1": "[0,0.4] 30"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def stacked_lists_of_other_column_order() -> Case:
    drawn = """
Sample | Analyte  | Form | Unit | Result | LOD
W-1    | Guaiacol | free | µg/L | 5      | 0.2
W-1    | Syringol | free | µg/L | 6      | 0.3

Sample | Form  | Analyte  | LOD | Result | Unit
W-1    | total | Guaiacol | 0.4 | 50     | µg/L
W-1    | total | Syringol | 0.5 | 60     | µg/L
"""
    expected = cells("""
E2 guaiacol free W-1 5
E3 syringol free W-1 6
E6 guaiacol total W-1 50
E7 syringol total W-1 60
""")
    return Case(book(("Results", drawn)), expected)


@case
def units_of_metals_above() -> Case:
    drawn = """
Parameter | Unit | Value
Copper    | mg/L | 0.2

Free volatile phenols
Sample | Guaiacol | Syringol
S1     | 5        | 2
"""
    return Case(book(("Results", drawn)), cells("B6 !unit_missing\nC6 !unit_missing"))


@case
def units_of_a_table_out_of_scope_above() -> Case:
    drawn = """
Sample | Copper (mg/L) | Iron (mg/L)
S1     | 0.2           | 1

Free volatile phenols
Sample | Guaiacol | Syringol
S1     | 5        | 2
"""
    return Case(book(("Results", drawn)), cells("B6 !unit_missing\nC6 !unit_missing"))


@case
def second_header_with_an_empty_corner() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | W-1 | W-2
Guaiacol | 1   | 2
Syringol | 3   | 4

Total volatile phenols (µg/L)
         | W-2 | W-1
Guaiacol | 20  | 10
Syringol | 40  | 30
"""
    expected = crossing("B3", G_S, "free", {"W-1": "1 3", "W-2": "2 4"}, down=True)
    expected |= crossing("B8", G_S, "total", {"W-2": "20 40", "W-1": "10 30"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def second_header_with_an_unknown_corner() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | LOD | W-1 | W-2
Guaiacol | 0.2 | 1   | 2
Syringol | 0.3 | 3   | 4

Total volatile phenols (µg/L)
Quux-7   | LOD | W-2 | W-1
Guaiacol | 0.4 | 20  | 10
Syringol | 0.5 | 40  | 30
"""
    # The numbers of the second table go under its own samples, never under the first one's.
    expected = crossing("C3", G_S, "free", {"W-1": "1 3", "W-2": "2 4"}, down=True)
    expected |= crossing("C8", G_S, "total", {"W-2": "20 40", "W-1": "10 30"}, down=True)
    return Case(book(("Results", drawn)), expected)


@case
def a_summary_beside_the_results() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol | | Summary  | Value
S1     | 1        | 2        | | Phenol   | 2
S2     | 3        | 4        | | o-Cresol | 3
"""
    # The values on the right are no sample's, and never those of the line they stand in.
    expected = crossing("B3", G_S, "free", {"S1": "1 2", "S2": "3 4"})
    return Case(
        book(("Results", drawn)), expected | cells("F3 !sample_missing\nF4 !sample_missing")
    )


def _under_one_title(right: str, merge: tuple[str, ...] = ()) -> bytes:
    head, *lines = (line.split(" / ") for line in right.strip().splitlines())
    rest = "\n".join(" | | ".join(line) for line in lines)
    drawn = f"Free volatile phenols (µg/L)\n{' | | '.join(head)}\n{rest}"
    return book(("Results", drawn), merge=merge)


@case
def one_title_at_the_left_over_tables_of_other_samples() -> Case:
    drawn = """
Sample | Guaiacol | Syringol / Sample | Guaiacol | Syringol
S1     | 1.5      | 2.5      / S7     | 10.5     | 20.5
S2     | 3.5      | 4.5      / S8     | 30.5     | 40.5
"""
    expected = crossing("B3", G_S, "free", {"S1": "1.5 2.5", "S2": "3.5 4.5"})
    expected |= crossing("F3", G_S, "free", {"S7": "10.5 20.5", "S8": "30.5 40.5"})
    return Case(_under_one_title(drawn), expected)


@case
def one_title_at_the_left_over_tables_of_other_analytes() -> Case:
    drawn = """
Sample | Guaiacol | Syringol / Sample | Eugenol | Phenol
S1     | 1.5      | 2.5      / S1     | 10.5    | 20.5
"""
    expected = crossing("B3", G_S, "free", {"S1": "1.5 2.5"})
    expected |= crossing("F3", "eugenol phenol", "free", {"S1": "10.5 20.5"})
    return Case(_under_one_title(drawn), expected)


_SAME = """
Sample | Guaiacol | Syringol / Sample | Guaiacol | Syringol
S1     | 1.5      | 2.5      / S1     | 10.5     | 20.5
"""


@case
def one_title_at_the_left_over_tables_of_the_same_results() -> Case:
    # The second table may be another form.
    expected = crossing("B3", G_S, "free", {"S1": "1.5 2.5"})
    expected |= cells("F3 !form_unknown\nG3 !form_unknown")
    return Case(_under_one_title(_SAME), expected)


@case
def one_title_merged_over_tables_of_the_same_results() -> Case:
    held = "B3 !duplicate\nC3 !duplicate\nF3 !duplicate\nG3 !duplicate"
    return Case(_under_one_title(_SAME, ("A1:G1",)), cells(held))


@case
def one_title_at_the_left_over_a_table_of_another_form() -> Case:
    drawn = """
Sample | Guaiacol | Syringol / Sample | Total guaiacol | Total syringol
S1     | 1.5      | 2.5      / S7     | 10.5           | 20.5
"""
    expected = crossing("B3", G_S, "free", {"S1": "1.5 2.5"})
    expected |= cells("F3 !unit_missing\nG3 !unit_missing")
    return Case(_under_one_title(drawn), expected)


def _lists_of(first: str, second: str) -> bytes:
    drawn = f"""
Sample: {first} | | / Sample: {second} | |
Analyte  | Result | LOQ / Analyte  | Result | LOQ
Guaiacol | 12     | 1   / Guaiacol | 40     | 1
Syringol | 3      | 1   / Syringol | 8      | 1
"""
    return _under_one_title(drawn)


@case
def one_title_at_the_left_over_lists_of_two_samples() -> Case:
    expected = cells("""
    B4 guaiacol free S1 12
    F4 guaiacol free S2 40
    B5 syringol free S1 3
    F5 syringol free S2 8
    """)
    return Case(_lists_of("S1", "S2"), expected)


@case
def one_title_at_the_left_over_two_lists_of_one_sample() -> Case:
    expected = cells("""
    B4 guaiacol free S1 12
    F4 !form_unknown
    B5 syringol free S1 3
    F5 !form_unknown
    """)
    return Case(_lists_of("S1", "S1"), expected)


@case
def units_in_the_cells_of_names_down_side_by_side() -> Case:
    # A cell of the left table is no title over the right one.
    drawn = """
Free volatile phenols |     |             |  | Total volatile phenols |     |
Analyte               | LOD | W-1         |  | Analyte                | LOD | W-1
Guaiacol              | 2   | 4 ng/L      |  | Guaiacol               | 0.2 | 0.3 mg/L
Syringol              | 2   | < 2 ng/L    |  | Syringol               | 0.2 | 0.4 mg/L
"""
    expected = cells("""
    C3 guaiacol free  W-1 0.004
    G3 guaiacol total W-1 300
    C4 syringol free  W-1 [0,0.002]
    G4 syringol total W-1 400
    """)
    return Case(book(("Results", drawn)), expected)


def _second_without_headings(title: str, *lines: str) -> bytes:
    below = "\n".join(lines)
    drawn = f"""
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1.5      | 2.5
S2     | 3.5      | 4.5

{title}
{below}
"""
    return book(("Results", drawn))


_FIRST = crossing("B3", G_S, "free", {"S1": "1.5 2.5", "S2": "3.5 4.5"})


@case
def second_table_without_headings_that_fits() -> Case:
    content = _second_without_headings("Bound volatile phenols (µg/L)", "S1 | 10 | 20")
    return Case(content, _FIRST | crossing("B7", G_S, "bound", {"S1": "10 20"}))


@case
def second_table_without_headings_that_is_wider() -> Case:
    content = _second_without_headings("Bound volatile phenols (µg/L)", "S1 | 10 | 20 | 30")
    held = cells("B7 !number_ambiguous\nC7 !number_ambiguous")
    return Case(
        content, _FIRST | held, hints={"Results!B7": "more numbers than there are headings"}
    )


@case
def second_table_without_headings_that_is_narrower() -> Case:
    content = _second_without_headings("Bound volatile phenols (µg/L)", "S1 | 10", "S2 | 20")
    held = cells("B7 !number_ambiguous\nC7 -\nB8 !number_ambiguous\nC8 -")
    return Case(content, _FIRST | held)


@case
def second_table_without_headings_of_something_else() -> Case:
    content = _second_without_headings("SO2 and pH", "S3 | 10 | 3.4", "S4 | 20 | 3.5")
    held = cells(
        "B7 !number_ambiguous\nC7 !number_ambiguous\nB8 !number_ambiguous\nC8 !number_ambiguous"
    )
    return Case(content, _FIRST | held, hints={"Results!B7": 'below "SO2 and pH"'})
