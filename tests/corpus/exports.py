"""Long exports, signs and flags in columns of their own, and several numbers for one analyte."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, more


@case
def long_export_with_cas_numbers() -> Case:
    drawn = """
Sample_ID | Lab_ID | Sample_Date  | Matrix   | Sample_Type  | Analyte  | CAS_No   | Fraction | Result | Qualifier | Units | MDL | RL
W1        | 501    | d:2025-09-01 | Red wine | Sample       | Guaiacol | 90-05-1  | Free     | 12     |           | ug/L  | 0.2 | 1
W1        | 501    | d:2025-09-01 | Red wine | Sample       | Syringol | 91-10-1  | Free     | 0.4    | J         | ug/L  | 0.2 | 1
W2        | 504    | d:2025-09-01 | Red wine | Sample       | Guaiacol | 90-05-1  | Free     | ND     | U         | ug/L  | 0.2 | 1
MB-1      | 502    | d:2025-09-01 | Red wine | Method blank | Guaiacol | 90-05-1  | Free     | ND     | U         | ug/L  | 0.2 | 1
W1        | 501    | d:2025-09-01 | Red wine | Duplicate    | Guaiacol | 90-05-1  | Free     | 12.4   |           | ug/L  | 0.2 | 1
W1        | 501    | d:2025-09-01 | Red wine | Matrix spike | Guaiacol | 90-05-1  | Free     | 62     |           | ug/L  | 0.2 | 1
"""
    expected = cells("""
I2 guaiacol free W1 12
I3 syringol free W1 ~0.4
I4 guaiacol free W2 [0,0.2]
I5 guaiacol free MB-1 blank:[0,0.2]
I6 guaiacol free W1 duplicate:12.4
I7 guaiacol free W1 spike:62
""")
    expected = more(expected, "Results!I2", lab_sample_id="501", matrix="red wine", lod=0.2)
    return Case(book(("Results", drawn)), expected)


@case
def recovery_in_percent_in_an_export() -> Case:
    drawn = """
Sample | Sample type | Analyte  | Form | Result | Unit
LCS-1  | LCS         | Guaiacol | free | 98     | %
W1     | Sample      | Guaiacol | free | 12     | ug/L
W1     | Sample      | Syringol | free | 13     | ug/L
"""
    expected = cells("""
E2 guaiacol free LCS-1 control:98 %
E3 guaiacol free W1 12
E4 syringol free W1 13
""")
    return Case(book(("Results", drawn)), expected)


@case
def sign_in_a_column_of_its_own() -> Case:
    drawn = """
Sample | Analyte  | Form | < | Result | Unit
W1     | Guaiacol | free | < | 0.5    | µg/L
W1     | Syringol | free |   | 5      | µg/L
W1     | o-Cresol | free | > | 500    | µg/L
"""
    expected = cells("""
E2 guaiacol free W1 [0,0.5]
E3 syringol free W1 5
E4 o-cresol free W1 >500
""")
    return Case(book(("Results", drawn)), expected)


@case
def operator_column() -> Case:
    drawn = """
Sample | Analyte  | Form | Operator | Result | Unit
W1     | Guaiacol | free | <        | 0.5    | µg/L
W1     | Syringol | free | '=       | 5      | µg/L
"""
    expected = cells("E2 guaiacol free W1 [0,0.5]\nE3 syringol free W1 5")
    return Case(book(("Results", drawn)), expected)


@case
def signs_in_unheaded_columns() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample |   | Guaiacol |   | Syringol
W1     | < | 0.5      |   | 3
W2     |   | 5        | < | 1
"""
    expected = cells("""
C3 guaiacol free W1 [0,0.5]
E3 syringol free W1 3
C4 guaiacol free W2 5
E4 syringol free W2 [0,1]
""")
    return Case(book(("Results", drawn)), expected)


@case
def flags_in_columns_of_their_own() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Flag | Syringol | Flag
W1     | 0.5      | <    | 3        | J
W2     | 5        |      | 1        | U
W3     | 6        | R    | 2        |
"""
    expected = cells("""
B3 guaiacol free W1 [0,0.5]
D3 syringol free W1 ~3
B4 guaiacol free W2 5
D4 syringol free W2 [0,1]
B5 !rejected_by_laboratory
D5 syringol free W3 2
""")
    return Case(book(("Results", drawn)), expected)


@case
def results_of_two_runs_in_a_list() -> Case:
    drawn = """
Sample | Analyte  | Form | Result 1 | Result 2 | Mean | Unit
W1     | Guaiacol | free | 0.5      | 0.7      | 0.6  | µg/L
W1     | Syringol | free | 3        | 5        | 4    | µg/L
"""
    expected = cells("""
D2 guaiacol free W1 0.5
E2 guaiacol free W1 0.7
D3 syringol free W1 3
E3 syringol free W1 5
""")
    return Case(book(("Results", drawn)), expected)


@case
def deviation_columns_named_after_the_analyte() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol mean | Guaiacol SD | Syringol mean | Syringol SD
W1     | 12            | 1           | 3             | 0.3
"""
    expected = cells("B3 guaiacol free W1 12\nD3 syringol free W1 3")
    expected = more(expected, "Results!B3", standard_uncertainty=1.0)
    return Case(book(("Results", drawn)), expected)


@case
def mean_and_deviation_under_merged_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |    | Syringol |
       | Mean     | SD | Mean     | SD
W1     | 12       | 1  | 3        | 0.3
"""
    expected = cells("B4 guaiacol free W1 12\nD4 syringol free W1 3")
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def result_limit_and_uncertainty_under_merged_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |     |   | Syringol |     |
       | Result   | LOQ | U | Result   | LOQ | U
W1     | <LOQ     | 1   |   | 3        | 0.5 | 0.3
"""
    expected = cells("B4 guaiacol free W1 [0,1]\nE4 syringol free W1 3")
    expected = more(expected, "Results!E4", loq=0.5, expanded_uncertainty=0.3)
    return Case(book(("Results", drawn), merge=("B2:D2", "E2:G2")), expected)


@case
def uncertainty_columns_beside_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | W1 | U   | W2 | U
Guaiacol | 12 | 1   | 3  | 0.3
Syringol | 13 | 1.1 | 4  | 0.4
"""
    expected = cells("""
B3 guaiacol free W1 12
B4 syringol free W1 13
D3 guaiacol free W2 3
D4 syringol free W2 4
""")
    expected = more(expected, "Results!B3", expanded_uncertainty=1.0)
    expected = more(expected, "Results!D3", expanded_uncertainty=0.3)
    expected = more(expected, "Results!D4", expanded_uncertainty=0.4)
    return Case(book(("Results", drawn)), expected)


@case
def uncertainty_under_merged_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | W1     |     | W2     |
         | Result | U   | Result | U
Guaiacol | 12     | 1   | 3      | 0.3
Syringol | 13     | 1.1 | 4      | 0.4
"""
    expected = cells("""
B4 guaiacol free W1 12
B5 syringol free W1 13
D4 guaiacol free W2 3
D5 syringol free W2 4
""")
    expected = more(expected, "Results!D5", expanded_uncertainty=0.4)
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def form_in_the_sample_headings() -> Case:
    drawn = """
Volatile phenols (µg/L)
Analyte  | W1 free | W1 total | W2 free | W2 total
Guaiacol | 12      | 20       | 3       | 30
Syringol | 13      | 21       | 4       | 40
"""
    expected = cells("""
        B3 guaiacol free W1 12
        C3 guaiacol total W1 20
        D3 guaiacol free W2 3
        E3 guaiacol total W2 30
        B4 syringol free W1 13
        C4 syringol total W1 21
        D4 syringol free W2 4
        E4 syringol total W2 40
    """)
    return Case(book(("Results", drawn)), expected)


@case
def a_raw_and_a_final_result() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Dilution | Final result | Unit
W-1    | Guaiacol | free | 0.5    | 10       | 5            | µg/L
"""
    return Case(book(("Results", drawn)), cells("D2 !number_ambiguous"))


@case
def a_unit_in_the_heading_against_the_unit_column() -> Case:
    drawn = """
Sample | Analyte  | Form | Result (mg/L) | Unit
W-1    | Guaiacol | free | 0.005         | µg/L
W-1    | Syringol | free | 0.006         | mg/L
"""
    expected = cells("D2 !unit_conflict\nD3 syringol free W-1 6")
    return Case(book(("Results", drawn)), expected)


@case
def replicates_in_columns_of_a_list() -> Case:
    drawn = """
Sample | Analyte  | Form | Rep 1 | Rep 2 | Unit
W-1    | Guaiacol | free | 5     | 6     | µg/L
"""
    expected = cells("D2 guaiacol free W-1 5\nE2 guaiacol free W-1 6")
    return Case(book(("Results", drawn)), expected)
