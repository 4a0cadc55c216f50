"""Where samples, analytes and results stand on a sheet."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

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
def block_per_sheet() -> Case:
    free = """
Sample | Guaiacol (µg/L) | Syringol (µg/L)
S1     | 1.5             | 2.5
"""
    total = """
Sample | Guaiacol (µg/L) | Syringol (µg/L)
S1     | 10.5            | 20.5
"""
    expected = crossing("B2", "guaiacol syringol", "free", {"S1": "1.5 2.5"}, "Free VPs")
    expected |= crossing("B2", "guaiacol syringol", "total", {"S1": "10.5 20.5"}, "Total VPs")
    return Case(book(("Free VPs", free), ("Total VPs", total)), expected)


@case
def metadata_above() -> Case:
    drawn = """
Bellwether Analytical Laboratory
Report no: | R-2025-17
Date of issue: | d:2025-10-24
Matrix: | Red wine
Volatile phenols, free form. All results in µg/L

Sample | Guaiacol | m-Cresol
S1     | 5        | 6
S2     | 7        | 8
"""
    expected = crossing("B8", "guaiacol m-cresol", "free", {"S1": "5 6", "S2": "7 8"})
    facts = {"report_no": "R-2025-17", "lab": "Bellwether Analytical Laboratory"}
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
Laboratory: Bellwether
"""
    expected = crossing("B2", "guaiacol m-cresol", "free", {"S1": "5 6", "S2": "[0,0.25] 8"})
    return Case(
        book(("Results", drawn)), expected, facts={"report_no": "K-77", "lab": "Bellwether"}
    )


@case
def metadata_beside() -> Case:
    drawn = """
Sample | Free guaiacol | Free m-cresol |  | Report number | K-78
S1     | 5             | 6             |  | Unit          | µg/L
S2     | 7             | 8             |  | Laboratory    | Bellwether
S3     | 9             | 10            |  | LOQ           | 1
"""
    expected = crossing("B2", "guaiacol m-cresol", "free", {"S1": "5 6", "S2": "7 8", "S3": "9 10"})
    return Case(
        book(("Results", drawn)), expected, facts={"report_no": "K-78", "lab": "Bellwether"}
    )


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
def certificates_one_sheet_per_sample() -> Case:
    def drawn(sample: str, guaiacol: str, syringol: str) -> str:
        return f"""
Sample: | {sample}
Method: | GC-MS, free volatile phenols
Compound | Concentration (µg/L)
Guaiacol | {guaiacol}
Syringol | {syringol}
"""

    expected = cells("B4 guaiacol free TK-1 3.1\nB5 syringol free TK-1 9", "1")
    expected |= cells("B4 guaiacol free TK-2 4.1\nB5 syringol free TK-2 [0,2]", "2")
    sheets = ("1", drawn("TK-1", "3.1", "9")), ("2", drawn("TK-2", "4.1", "<2"))
    return Case(book(*sheets), expected)


@case
def one_sheet_per_sample_named_by_the_tab() -> Case:
    def drawn(guaiacol: str, syringol: str) -> str:
        return f"""
Free volatile phenols
Compound | Result (µg/L)
Guaiacol | {guaiacol}
Syringol | {syringol}
"""

    expected = cells("B3 !sample_missing\nB4 !sample_missing", "TK-1")
    expected |= cells("B3 !sample_missing\nB4 !sample_missing", "TK-2")
    return Case(book(("TK-1", drawn("3.1", "9")), ("TK-2", drawn("4.1", "8"))), expected)


@case
def quality_control_rows() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
Method blank | <0.5 | <0.5
S1 | 12 | 13
S2 | 14 | 15
S2 duplicate | 14.4 | 15.5
S1 spike | 62 | 63
QC control | 20 | 21
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"S1": "12 13", "S2": "14 15"})
    names = {
        "Method blank": ("B3", "blank:[0,0.5] blank:[0,0.5]"),
        "S2 duplicate": ("B6", "duplicate:14.4 duplicate:15.5"),
        "S1 spike": ("B7", "spike:62 spike:63"),
        "QC control": ("B8", "control:20 control:21"),
    }
    for sample, (first, tokens) in names.items():
        expected |= crossing(first, "guaiacol syringol", "free", {sample: tokens})
    return Case(book(("Results", drawn)), expected)


@case
def averages_totals_and_footers() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1 | 12 | 13
S2 | 14 | 15
Average | 13 | 14
SD | 1.41 | 1.41
Total | 26 | 28
Minimum | 12 | 13

Approved by: A. Analyst
Page 1 of 1
* results relate only to the items tested
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1": "12 13", "S2": "14 15"})
    return Case(book(("Results", drawn)), expected)


@case
def replicate_column() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Replicate | Guaiacol | Syringol
S1     | 1         | 12       | 13
S1     | 2         | 12.4     | 13.6
S2     | 1         | 5        | 6
"""
    expected = crossing("C3", "guaiacol syringol", "free", {"S1": "12 13"})
    expected |= crossing("C4", "guaiacol syringol", "free", {"S1": "12.4 13.6", "S2": "5 6"})
    return Case(book(("Results", drawn)), expected)


@case
def replicates_by_suffix() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1a    | 12       | 13
S1b    | 12.4     | 13.6
"""
    expected = crossing("B3", "guaiacol syringol", "free", {"S1a": "12 13", "S1b": "12.4 13.6"})
    return Case(book(("Results", drawn)), expected)


@case
def same_sample_twice_without_a_mark() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 12       | 13
S1     | 12.4     | 13
"""
    expected = cells("""
B3 !duplicate
B4 !duplicate
C3 syringol free S1 13
C4 syringol free S1 =13
""")
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
def threshold_line_under_the_header() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
Odour threshold | 23 | 62
S1     | 12       | 13
"""
    expected = crossing("B4", "guaiacol o-cresol", "free", {"S1": "12 13"})
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
