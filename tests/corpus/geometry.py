"""Where samples, analytes and results stand on a sheet."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

FREE3 = "guaiacol o-cresol p-cresol"


@case
def samples_down() -> Case:
    drawn = """
Free volatile phenols (µg/L)

Sample | Guaiacol | 4-Methylguaiacol | o-Cresol | Syringol
W-101  | 12.3     | 2.1              | <0.5     | 8.4
W-102  | 7.0      | <0.5             | 1.25     | 15
"""
    expected = crossing(
        "B4", "guaiacol 4-methylguaiacol o-cresol syringol", "free",
        {"W-101": "12.3 2.1 [0,0.5] 8.4", "W-102": "7 [0,0.5] 1.25 15"},
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def analytes_down() -> Case:
    drawn = """
Free volatile phenols
Analyte          | Unit | T-1  | T-2  | T-3
Guaiacol         | µg/L | 12.3 | 7    | nd
4-Methylguaiacol | µg/L | 2.1  | <0.5 | 3
o-Cresol         | µg/L | 0.9  | 1.25 | 4
LOD 0.2 µg/L, LOQ 0.5 µg/L
"""
    expected = crossing(
        "C3", "guaiacol 4-methylguaiacol o-cresol", "free",
        {"T-1": "12.3 2.1 0.9", "T-2": "7 [0,0.5] 1.25", "T-3": "[0,0.2] 3 4"},
        down=True,
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)


@case
def one_result_per_row() -> Case:
    drawn = """
Sample ID | Analyte  | Form  | Result | Unit | LOD | LOQ
A1        | Guaiacol | free  | 12.3   | µg/L | 0.3 | 1
A1        | Guaiacol | total | 40.5   | µg/L | 0.6 | 2
A1        | Syringol | free  | ND     | µg/L | 0.4 | 1.2
A2        | Guaiacol | free  | <LOQ   | µg/L | 0.3 | 1
A2        | Guaiacol | total | 0.8    | µg/L | 0.6 | 2
"""
    expected = cells("""
D2 guaiacol free  A1 12.3
D3 guaiacol total A1 40.5
D4 syringol free  A1 [0,0.4]
D5 guaiacol free  A2 [0.3,1]
D6 guaiacol total A2 ~0.8
""")
    return Case(book(("Results", drawn)), expected)


@case
def metadata_above() -> Case:
    drawn = """
Tressock Analytical Laboratory
Report no: | R-2025-17
Date of issue: | d:2025-10-24
Matrix: | Red wine
Volatile phenols, free form. All results in µg/L

Sample | Guaiacol | m-Cresol
S1     | 5        | 6
S2     | 7        | 8
"""
    expected = crossing("B8", "guaiacol m-cresol", "free", {"S1": "5 6", "S2": "7 8"})
    facts = {"report_no": "R-2025-17", "lab": "Tressock Analytical Laboratory"}
    return Case(book(("Results", drawn)), expected, facts=facts)


@case
def metadata_below() -> Case:
    drawn = """
Sample | Guaiacol | m-Cresol
S1     | 5        | 6
S2     | nd       | 8

All results are free forms of volatile phenols in µg/L.
LOD: 0.25 µg/L
Report number: K-77
Laboratory: Tressock
"""
    expected = crossing("B2", "guaiacol m-cresol", "free", {"S1": "5 6", "S2": "[0,0.25] 8"})
    return Case(book(("Results", drawn)), expected, facts={"report_no": "K-77", "lab": "Tressock"})


@case
def metadata_beside() -> Case:
    drawn = """
Sample | Free guaiacol | Free m-cresol |  | Report number | K-78
S1     | 5             | 6             |  | Unit          | µg/L
S2     | 7             | 8             |  | Laboratory    | Tressock
S3     | 9             | 10            |  | LOQ           | 1
"""
    expected = crossing("B2", "guaiacol m-cresol", "free", {"S1": "5 6", "S2": "7 8", "S3": "9 10"})
    return Case(book(("Results", drawn)), expected, facts={"report_no": "K-78", "lab": "Tressock"})


@case
def merged_titles_over_two_panels() -> Case:
    drawn = """
 | Free (µg/L) |  | Bound (µg/L) |
Sample | Guaiacol | Syringol | Guaiacol | Syringol
S1     | 1        | 2        | 30       | 40
S2     | 5        | 6        | 70       | 80
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1": "1 2", "S2": "5 6"})
    expected |= crossing("D3", "guaiacol syringol", "bound", {"S1": "30 40", "S2": "70 80"})
    return Case(book(("Results", drawn), merge=("B1:C1", "D1:E1")), expected)


@case
def merged_analytes_over_forms() -> Case:
    drawn = """
Volatile phenols in µg/L
Sample | Guaiacol |       | Syringol |
       | Free     | Total | Free     | Total
S1     | 1        | 10    | 2        | 20
S2     | 3        | 30    | 4        | 40
"""
    expected = cells("""
B4 guaiacol free  S1 1
C4 guaiacol total S1 10
D4 syringol free  S1 2
E4 syringol total S1 20
B5 guaiacol free  S2 3
C5 guaiacol total S2 30
D5 syringol free  S2 4
E5 syringol total S2 40
""")
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2", "A2:A3")), expected)


@case
def three_header_rows() -> Case:
    drawn = """
 | Smoke markers in wine |  |  |
 | Free |  | Total |
Sample | Guaiacol | o-Cresol | Guaiacol | o-Cresol
       | µg/L     | µg/L     | µg/L     | µg/L
S1     | 1        | 2        | 30       | 40
"""
    expected = crossing("B5", "guaiacol o-cresol", "free", {"S1": "1 2"})
    expected |= crossing("D5", "guaiacol o-cresol", "total", {"S1": "30 40"})
    return Case(book(("Results", drawn), merge=("B1:E1", "B2:C2", "D2:E2")), expected)


@case
def certificate_of_one_sample() -> Case:
    drawn = """
CERTIFICATE OF ANALYSIS
Certificate no. | C-3391
Client sample ID | SHZ-24-07
Laboratory no. | 558812
Matrix | Red wine
Date received | d:2025-09-30

Analyte | Result | Unit | LOQ
Guaiacol, free | 14.2 | µg/L | 1
4-Methylguaiacol, free | <1 | µg/L | 1
Guaiacol, total | 55 | µg/L | 2
"""
    expected = cells("""
B9  guaiacol free SHZ-24-07 14.2
B10 4-methylguaiacol free SHZ-24-07 [0,1]
B11 guaiacol total SHZ-24-07 55
""")
    return Case(book(("Results", drawn)), expected, facts={"report_no": "C-3391"})


@case
def notes_between_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | 12       | 13
Sample S2 was received warm.
S2     | 15       | 16

S3     | 17       | 18
"""
    expected = crossing("B3", "guaiacol o-cresol", "free", {"S1": "12 13"})
    expected |= crossing("B5", "guaiacol o-cresol", "free", {"S2": "15 16"})
    expected |= crossing("B7", "guaiacol o-cresol", "free", {"S3": "17 18"})
    return Case(book(("Results", drawn)), expected)


@case
def group_label_rows() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
North block
S1     | 12       | 13
S2     | 15       | 16
South block
S3     | 17       | 18
"""
    expected = crossing(
        "B4", "guaiacol o-cresol", "free", {"S1": "12 13", "S2": "15 16"}
    ) | crossing("B7", "guaiacol o-cresol", "free", {"S3": "17 18"})
    return Case(book(("Results", drawn)), expected)


@case
def cas_numbers_under_the_names() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol | Syringol
CAS    | 90-05-1  | 91-10-1
Unit   | µg/L     | µg/L
LOD    | 0.1      | 0.2
LOQ    | 0.3      | 0.6
S1     | 1        | <LOQ
Method | GC-MS    | GC-MS
"""
    expected = crossing("B7", "guaiacol syringol", "free", {"S1": "1 [0.2,0.6]"})
    return Case(book(("Results", drawn)), expected)


@case
def sample_heading_beside_the_units() -> Case:
    drawn = """
Free volatile phenols
       | Guaiacol | Syringol
Sample | µg/L     | µg/L
S1     | 1        | 2
S2     | 3        | 4
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"S1": "1 2", "S2": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def sample_heading_above_the_names() -> Case:
    drawn = """
Free volatile phenols
Sample |          |
       | Guaiacol | Syringol
       | µg/L     | µg/L
S1     | 1        | 2
S2     | 3        | 4
"""
    expected = crossing("B5", "guaiacol syringol", "free", {"S1": "1 2", "S2": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def out_of_scope_rows_and_a_method_column() -> Case:
    drawn = """
Free volatile phenols
Analyte  | Method    | S1   | S2  | Unit
Guaiacol | GC-MS     | 1    | 2   | µg/L
Syringol | GC-MS     | 3    | 4   | µg/L
pH       | electrode | 3.5  | 3.6 |
Alcohol  | NIR       | 13.5 | 14  | % v/v
"""
    expected = crossing("C3", "guaiacol syringol", "free", {"S1": "1 3", "S2": "2 4"}, down=True)
    expected |= cells("C5 scope\nC6 scope\nD5 scope\nD6 scope")
    return Case(book(("Results", drawn)), expected)


@case
def lines_without_a_label_under_the_names_of_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1           | W-2
         | Shiraz tank 4 | Merlot tank 5
         | d:2025-10-01  | d:2025-10-02
         | end of AF     | bottled
Guaiacol | 5             | 6
"""
    # Words of a stage say what they are; a day may be that of sampling, of receipt or of analysis.
    expected = cells("B6 guaiacol free W-1 5\nC6 guaiacol free W-2 6")
    expected = more(expected, "Results!B6", stage="end of AF", sampled_on=None)
    expected = more(expected, "Results!C6", stage="bottled", sampled_on=None)
    notices = ('row 3 has no label and was not read (first: "Shiraz tank 4")', "row 4 has no label")
    return Case(book(("Results", drawn)), expected, notices=notices)


@case
def list_behind_an_empty_column() -> Case:
    drawn = """
 | Free volatile phenols (µg/L), LOD 0.3
 | Analyte  | Sample | Result
 | Guaiacol | S1     | 5
 | Syringol | S1     | nd
"""
    expected = cells("D3 guaiacol free S1 5\nD4 syringol free S1 [0,0.3]")
    return Case(book(("Results", drawn)), expected)
