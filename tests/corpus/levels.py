"""Two and three levels of headings: analytes or samples over forms over results and what is beside."""

from __future__ import annotations

from dataclasses import replace

from corpus.books import book
from corpus.cases import Case, Value, case, cells, crossing, more

_DEEP = ("B2:E2", "F2:I2", "B3:C3", "D3:E3", "F3:G3", "H3:I3")
_SAMPLES = """
Volatile phenols (µg/L)
Compound | W-1  |     |        |     | W-2    |     |        |
         | Free |     | Total  |     | Free   |     | Total  |
         | Result | U | Result | U   | Result | U   | Result | U
Guaiacol | 12   | 1   | 40     | 4   | 13     | 1.5 | 44     | 5
o-Cresol | 3    | 0.3 | 8      | 0.8 | nd     |     | 7      | 0.7
LOD: 0.5 µg/L
"""
_FOUND = """
B5 guaiacol free  W-1 12
D5 guaiacol total W-1 40
F5 guaiacol free  W-2 13
H5 guaiacol total W-2 44
B6 o-cresol free  W-1 3
D6 o-cresol total W-1 8
F6 o-cresol free  W-2 [0,0.5]
H6 o-cresol total W-2 7
"""


def _spread(expected: dict[str, Value], spreads: str) -> dict[str, Value]:
    """Expect expanded uncertainties: "B5=1 D5=4"."""
    for cell, number in (pair.split("=") for pair in spreads.split()):
        expected = more(expected, f"Results!{cell}", expanded_uncertainty=float(number))
    return expected


def _three_levels(drawn: str, merge: tuple[str, ...] = ()) -> Case:
    spreads = "B5=1 D5=4 F5=1.5 H5=5 B6=0.3 D6=0.8 H6=0.7"
    return Case(book(("Results", drawn), merge=merge), _spread(cells(_FOUND), spreads))


@case
def samples_over_forms_over_results() -> Case:
    return _three_levels(_SAMPLES, _DEEP)


@case
def samples_over_forms_over_results_all_merged() -> Case:
    return _three_levels(_SAMPLES, (*_DEEP, "A2:A4"))


@case
def samples_over_forms_over_results_in_first_cells() -> Case:
    return _three_levels(_SAMPLES)


@case
def samples_over_forms_over_results_repeated() -> Case:
    names = "W-1 | W-1 | W-1 | W-1 | W-2 | W-2 | W-2 | W-2"
    forms = "Free | Free | Total | Total | Free | Free | Total | Total"
    lines = _SAMPLES.strip("\n").split("\n")
    return _three_levels("\n".join([lines[0], f"Compound | {names}", f" | {forms}", *lines[3:]]))


_FORMS_OVER_SAMPLES = """
Volatile phenols (µg/L)
Compound | Free |     |        |     | Total  |     |        |
         | W-1  |     | W-2    |     | W-1    |     | W-2    |
         | Result | U | Result | U   | Result | U   | Result | U
Guaiacol | 12   | 1   | 13     | 1.5 | 40     | 4   | 44     | 5
"""


def _forms_over_samples(merge: tuple[str, ...] = ()) -> Case:
    expected = cells("""
    B5 guaiacol free  W-1 12
    D5 guaiacol free  W-2 13
    F5 guaiacol total W-1 40
    H5 guaiacol total W-2 44
    """)
    return Case(
        book(("Results", _FORMS_OVER_SAMPLES), merge=merge),
        _spread(expected, "B5=1 D5=1.5 F5=4 H5=5"),
    )


@case
def forms_over_samples_over_results() -> Case:
    return _forms_over_samples(_DEEP)


@case
def forms_over_samples_over_results_in_first_cells() -> Case:
    return _forms_over_samples()


@case
def forms_over_other_samples_in_first_cells() -> Case:
    # W-3 has a total only: which form a second, empty cell goes on with is not sure.
    drawn = _FORMS_OVER_SAMPLES.replace(
        "W-1    |     | W-2    |\n         | Result", "W-1 | | W-3 |\n | Result"
    )
    expected = cells("""
    B5 guaiacol free W-1 12
    D5 !form_unknown
    F5 guaiacol total W-1 40
    H5 !form_unknown
    """)
    return Case(book(("Results", drawn)), expected)


_ANALYTES = """
Volatile phenols (µg/L)
Sample | Guaiacol |  |        |     | o-Cresol |     |        |
       | Free   |     | Total  |     | Free   |     | Total  |
       | Result | U   | Result | U   | Result | U   | Result | U
W-1    | 12     | 1   | 40     | 4   | 3      | 0.3 | 8      | 0.8
W-2    | 13     | 1.5 | 44     | 5   | 2      | 0.2 | 7      | 0.7
"""


def _analytes_over_forms(drawn: str, merge: tuple[str, ...] = ()) -> Case:
    expected = cells("""
    B5 guaiacol free  W-1 12
    D5 guaiacol total W-1 40
    F5 o-cresol free  W-1 3
    H5 o-cresol total W-1 8
    B6 guaiacol free  W-2 13
    D6 guaiacol total W-2 44
    F6 o-cresol free  W-2 2
    H6 o-cresol total W-2 7
    """)
    spreads = "B5=1 D5=4 F5=0.3 H5=0.8 B6=1.5 D6=5 F6=0.2 H6=0.7"
    return Case(book(("Results", drawn), merge=merge), _spread(expected, spreads))


@case
def analytes_over_forms_over_results() -> Case:
    return _analytes_over_forms(_ANALYTES, _DEEP)


@case
def analytes_over_forms_over_results_in_first_cells() -> Case:
    return _analytes_over_forms(_ANALYTES)


@case
def a_form_lost_among_three_levels() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Guaiacol |  |        |     | o-Cresol |     |        |
       | Free   |     | Total  |     |        |     | Total  |
       | Result | U   | Result | U   | Result | U   | Result | U
W-1    | 12     | 1   | 40     | 4   | 3      | 0.3 | 8      | 0.8
"""
    expected = cells("""
    B5 guaiacol free  W-1 12
    D5 guaiacol total W-1 40
    F5 !form_unknown
    H5 o-cresol total W-1 8
    """)
    merge = tuple(area for area in _DEEP if area != "F3:G3")
    return Case(book(("Results", drawn), merge=merge), expected)


@case
def results_and_uncertainties_over_forms() -> Case:
    drawn = """
Volatile phenols
Sample | Guaiacol |     |      |       | o-Cresol |    |      |
       | Result (µg/L) | | U (%) |     | Result (µg/L) | | U (%) |
       | Free   | Total | Free | Total | Free   | Total | Free | Total
W-1    | 12     | 40    | 10   | 20    | 3      | 8     | 10   | 50
"""
    expected = cells("""
    B5 guaiacol free  W-1 12
    C5 guaiacol total W-1 40
    F5 o-cresol free  W-1 3
    G5 o-cresol total W-1 8
    """)
    spreads = "B5=1.2 C5=8 F5=0.3 G5=4"
    return Case(book(("Results", drawn), merge=_DEEP), _spread(expected, spreads))


def _kinds_over_forms(merge: tuple[str, ...]) -> Case:
    drawn = """
Volatile phenols
Compound | W-1    |       |      |       | W-2    |       |      |
         | Result (mg/L) | | U (%) |     | Result (mg/L) | | U (%) |
         | Free   | Total | Free | Total | Free   | Total | Free | Total
Guaiacol | 0.012  | 0.040 | 10   | 20    | 0.013  | 0.048 | 20   | 50
"""
    expected = cells("""
    B5 guaiacol free  W-1 12
    C5 guaiacol total W-1 40
    F5 guaiacol free  W-2 13
    G5 guaiacol total W-2 48
    """)
    spreads = "B5=1.2 C5=8 F5=2.6 G5=24"
    return Case(book(("Results", drawn), merge=merge), _spread(expected, spreads))


@case
def samples_over_results_and_uncertainties_over_forms() -> Case:
    return _kinds_over_forms(_DEEP)


@case
def samples_over_results_and_uncertainties_in_first_cells() -> Case:
    return _kinds_over_forms(())


def _units_below_samples(title: str, result: str, numbers: str) -> Case:
    first, second = numbers.split()
    drawn = f"""
{title}
Compound | W-1      |       | W-2      |
         | {result} | U (%) | {result} | U (%)
Guaiacol | {first}  | 10    | {second} | 20
Syringol | {first}  | 10    | {second} | 20
"""
    expected = cells("""
    B4 guaiacol free W-1 12
    D4 guaiacol free W-2 40
    B5 syringol free W-1 12
    D5 syringol free W-2 40
    """)
    expected = _spread(expected, "B4=1.2 D4=8 B5=1.2 D5=8")
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def percent_of_uncertainty_below_samples() -> Case:
    return _units_below_samples("Free volatile phenols (µg/L)", "Result", "12 40")


@case
def milligrams_below_samples() -> Case:
    return _units_below_samples("Free volatile phenols", "Result (mg/L)", "0.012 0.04")


@case
def milligrams_below_samples_under_a_title_of_micrograms() -> Case:
    case = _units_below_samples("Free volatile phenols (µg/L)", "Result (mg/L)", "0.012 0.04")
    held = Value("held", reason_code="number_ambiguous")
    return replace(case, expected=dict.fromkeys(case.expected, held))


@case
def units_as_headings_of_results_below_samples() -> Case:
    return _units_below_samples("Free volatile phenols", "µg/L", "12 40")


@case
def units_as_headings_of_results_below_analytes() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol |       | Syringol |
       | µg/L     | U (%) | mg/L     | U (%)
W-1    | 12       | 10    | 0.04     | 20
"""
    expected = cells("B4 guaiacol free W-1 12\nD4 syringol free W-1 40")
    return Case(book(("Results", drawn)), _spread(expected, "B4=1.2 D4=8"))


@case
def limits_of_another_unit_below_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1    |            | W-2    |
         | Result | LOD (ng/L) | Result | LOD (ng/L)
Guaiacol | nd     | 10         | 40     | 20
Syringol | nd     | 30         | nd     | 40
"""
    expected = cells("""
    B4 guaiacol free W-1 [0,0.01]
    D4 guaiacol free W-2 40
    B5 syringol free W-1 [0,0.03]
    D5 syringol free W-2 [0,0.04]
    """)
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def limits_before_their_results_below_analytes() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |      | Syringol |
       | LOD      | Result | LOD    | Result
W-1    | 1        | 10     | 4      | nd
W-2    | 1        | nd     | 4      |
"""
    expected = cells("""
    C4 guaiacol free W-1 10
    E4 syringol free W-1 [0,4]
    C5 guaiacol free W-2 [0,1]
    E5 -
    """)
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def limits_before_their_results_below_samples() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1 |        | W-2 |
         | LOD | Result | LOD | Result
Guaiacol | 1   | 10     | 4   | nd
Syringol | 2   | nd     | 3   | 10
"""
    expected = cells("""
    C4 guaiacol free W-1 10
    E4 guaiacol free W-2 [0,4]
    C5 syringol free W-1 [0,2]
    E5 syringol free W-2 10
    """)
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def uncertainty_below_names_that_are_repeated() -> Case:
    # Without its result, a number below "U" is nobody's.
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Guaiacol | Syringol | Syringol
       | Result   | U        | Result   | U
W-1    | 12       | 1        | 3        | 0.3
W-2    | 12       | 1        |          | 0.3
"""
    expected = cells("""
    B4 guaiacol free W-1 12
    D4 syringol free W-1 3
    B5 guaiacol free W-2 12
    D5 -
    """)
    return Case(book(("Results", drawn)), _spread(expected, "B4=1 D4=0.3 B5=1"))


@case
def uncertainty_below_samples_that_are_repeated() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1    | W-1 | W-2    | W-2
         | Result | U   | Result | U
Guaiacol | 12     | 12  | 40     | 4
Syringol | 3      | 0.3 | 8      | 0.8
"""
    expected = cells("""
    B4 guaiacol free W-1 12
    D4 guaiacol free W-2 40
    B5 syringol free W-1 3
    D5 syringol free W-2 8
    """)
    return Case(book(("Results", drawn)), _spread(expected, "B4=12 D4=4 B5=0.3 D5=0.8"))


@case
def limits_of_the_method_under_a_name_of_their_own() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1    |   | W-2    |   | Method |
         | Result | U | Result | U | LOD    | LOQ
Guaiacol | 11     | 1 | 40     | 4 | 2      | 5
Syringol | nd     |   | nd     |   | 3      | 6
"""
    expected = cells("""
    B4 guaiacol free W-1 11
    D4 guaiacol free W-2 40
    B5 syringol free W-1 [0,3]
    D5 syringol free W-2 [0,3]
    """)
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2", "F2:G2")), expected)


@case
def limit_of_one_sample_under_its_merged_name() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1    | W-2    |
         | Result | Result | LOD
Guaiacol | nd     | nd     | 2
Syringol | 4      | 5      | 3
"""
    expected = cells("""
    B4 !limit_unknown
    C4 guaiacol free W-2 [0,2]
    B5 syringol free W-1 4
    C5 syringol free W-2 5
    """)
    return Case(book(("Results", drawn), merge=("C2:D2",)), expected)


@case
def heading_of_the_names_merged_over_the_lines_of_forms() -> Case:
    drawn = """
Volatile phenols
Compound | Unit | W-1  |       | W-2  |
         |      | Free | Total | Free | Total
Guaiacol | µg/L | 12   | 40    | 13   | 44
Syringol | µg/L | 3    | 8     | 2    | 7
"""
    expected = cells("""
    C4 guaiacol free  W-1 12
    D4 guaiacol total W-1 40
    E4 guaiacol free  W-2 13
    F4 guaiacol total W-2 44
    C5 syringol free  W-1 3
    D5 syringol total W-1 8
    E5 syringol free  W-2 2
    F5 syringol total W-2 7
    """)
    merge = ("A2:A3", "B2:B3", "C2:D2", "E2:F2")
    return Case(book(("Results", drawn), merge=merge), expected)


@case
def values_and_their_mean_below_samples_in_german() -> Case:
    drawn = """
Freie flüchtige Phenole [µg/l]
Parameter | W-1    |        |            | W-2    |        |            | NWG
          | Wert 1 | Wert 2 | Mittelwert | Wert 1 | Wert 2 | Mittelwert |
Guajakol  | 12     | 14     | 13         | 3      | n.n.   | 3          | 1
"""
    expected = cells("""
    B4 guaiacol free W-1 12
    C4 guaiacol free W-1 14
    E4 guaiacol free W-2 3
    F4 guaiacol free W-2 [0,1]
    """)
    content = book(("Results", drawn), merge=("B2:D2", "E2:G2"))
    return Case(content, expected, notices=("column D", "column G"))


@case
def replicates_and_their_uncertainty_below_samples() -> Case:
    # The uncertainty is the mean's.
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1   |       |   | W-2   |       |
         | Rep 1 | Rep 2 | U | Rep 1 | Rep 2 | U
Guaiacol | 12    | 14    | 1 | 3     | 5     | 0.5
"""
    expected = cells("""
    B4 guaiacol free W-1 12
    C4 guaiacol free W-1 14
    E4 guaiacol free W-2 3
    F4 guaiacol free W-2 5
    """)
    for cell in ("B4", "C4", "E4", "F4"):
        expected = more(expected, f"Results!{cell}", expanded_uncertainty=None)
    return Case(book(("Results", drawn), merge=("B2:D2", "E2:G2")), expected)


@case
def units_and_letters_below_merged_samples() -> Case:
    drawn = """
Free volatile phenols
Compound | W-1    |      |           | W-2    |      |
         | Result | Unit | Qualifier | Result | Unit | Qualifier
Guaiacol | 12     | µg/L |           | 0.003  | mg/L | J
Syringol | 2      | µg/L | U         | 9      | µg/L |
LOD: 1 µg/L; LOQ: 5 µg/L
"""
    expected = cells("""
    B4 guaiacol free W-1 12
    E4 guaiacol free W-2 ~3
    B5 syringol free W-1 [0,2]
    E5 syringol free W-2 9
    """)
    return Case(book(("Results", drawn), merge=("B2:D2", "E2:G2")), expected)


@case
def spread_in_percent_beside_a_mean_that_is_missing() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Compound | W-1  |         | W-2  |
         | Mean | RSD (%) | Mean | RSD (%)
Guaiacol | 12   | 5       |      | 4
Syringol | 3    | 3       | 7    | 4
"""
    expected = crossing("B4", "guaiacol syringol", "free", {"W-1": "12 3"}, down=True)
    expected |= crossing("D4", "guaiacol syringol", "free", {"W-2": "- 7"}, down=True)
    return Case(book(("Results", drawn), merge=("B2:C2", "D2:E2")), expected)


@case
def forms_in_first_cells_over_a_limit_and_samples() -> Case:
    drawn = """
Volatile phenols (µg/L)
Compound | Free |     |     | Total |     |
         | LOD  | W-1 | W-2 | LOD   | W-1 | W-2
Guaiacol | 0.5  | nd  | 3   | 1     | 7   | 8
"""
    expected = cells("""
    C4 !limit_unknown
    D4 guaiacol free W-2 3
    F4 guaiacol total W-1 7
    G4 guaiacol total W-2 8
    """)
    return Case(book(("Results", drawn)), expected)


def _list_of_forms(headings: str, first: str, second: str) -> bytes:
    drawn = f"""
Sample: W-1
Analyte  | {headings}
Guaiacol | {first}
Syringol | {second}
"""
    return book(("Results", drawn))


@case
def a_limit_behind_each_form_of_a_list() -> Case:
    content = _list_of_forms(
        "Free (µg/L) | LOD (ng/L) | U (%) | Total (mg/L) | LOD (µg/L) | U (%)",
        "nd | 10 | | 0.04 | 3 | 10",
        "3 | 10 | 20 | nd | 3 |",
    )
    expected = cells("""
    B3 guaiacol free  W-1 [0,0.01]
    E3 guaiacol total W-1 40
    B4 syringol free  W-1 3
    E4 syringol total W-1 [0,3]
    """)
    return Case(content, _spread(expected, "E3=4 B4=0.6"))


@case
def a_limit_before_each_form_of_a_list() -> Case:
    content = _list_of_forms(
        "LOD | Free | LOD | Total | Unit", "1 | nd | 2 | 40 | µg/L", "1 | 3 | 2 | nd | µg/L"
    )
    expected = cells("""
    C3 guaiacol free  W-1 [0,1]
    E3 guaiacol total W-1 40
    C4 syringol free  W-1 3
    E4 syringol total W-1 [0,2]
    """)
    return Case(content, expected)


@case
def one_limit_behind_all_forms_of_a_list() -> Case:
    content = _list_of_forms("Free | Total | LOD | Unit", "nd | 40 | 1 | µg/L", "3 | nd | 2 | µg/L")
    expected = cells("""
    B3 guaiacol free  W-1 [0,1]
    C3 guaiacol total W-1 40
    B4 syringol free  W-1 3
    C4 syringol total W-1 [0,2]
    """)
    return Case(content, expected)


@case
def an_uncertainty_between_two_forms_of_a_list() -> Case:
    content = _list_of_forms("Free | U | Total | Unit", "9 | 1 | 40 | µg/L", "3 | 2 | 8 | µg/L")
    expected = cells("""
    B3 guaiacol free  W-1 9
    D3 guaiacol total W-1 40
    B4 syringol free  W-1 3
    D4 syringol total W-1 8
    """)
    expected = more(expected, "Results!D3", expanded_uncertainty=None)
    return Case(content, _spread(expected, "B3=1 B4=2"))


@case
def replicates_their_mean_and_its_uncertainty_below_names() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |       |      |   | Syringol |      |      |
       | Rep 1    | Rep 2 | Mean | U | Rep 1    | Rep 2| Mean | U
W-1    | 12       | 14    | 13   | 1 | 3        | 5    | 4    | 0.4
"""
    expected = cells("""
    B4 guaiacol free W-1 12
    C4 guaiacol free W-1 14
    F4 syringol free W-1 3
    G4 syringol free W-1 5
    """)
    content = book(("Results", drawn), merge=("B2:E2", "F2:I2"))
    return Case(content, expected, notices=("not read",))


@case
def spread_in_percent_below_analytes() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol |         | Syringol |
       | Mean     | RSD (%) | Mean     | RSD (%)
W-1    | 12       | 5       |          | 4
"""
    expected = cells("B4 guaiacol free W-1 12\nD4 -")
    return Case(book(("Results", drawn)), expected, notices=("not read",))


@case
def labels_with_units_beside_each_sample() -> Case:
    drawn = """
Free volatile phenols
Sample |               | Guaiacol | Syringol
W-1    | Result (mg/L) | 0.012    | nd
       | U (%)         | 10       |
       | LOD (µg/L)    | 0.5      | 0.4
W-2    | Result (mg/L) | nd       | 0.003
       | U (%)         |          | 10
       | LOD (µg/L)    | 1.5      | 1.4
"""
    expected = cells("""
    C3 guaiacol free W-1 12
    D3 syringol free W-1 [0,0.4]
    C6 guaiacol free W-2 [0,1.5]
    D6 syringol free W-2 3
    """)
    return Case(book(("Results", drawn)), _spread(expected, "C3=1.2 D6=0.3"))


@case
def percent_beside_each_sample_under_a_title_with_a_unit() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample |            | Guaiacol | Syringol
W-1    | Result     | 12       | nd
       | U (%)      | 10       |
       | LOD (ng/L) | 500      | 400
W-2    | Result     | nd       | 3
       | U (%)      |          | 10
       | LOD (ng/L) | 1500     | 1400
"""
    expected = cells("""
    C3 guaiacol free W-1 12
    D3 syringol free W-1 [0,0.4]
    C6 guaiacol free W-2 [0,1.5]
    D6 syringol free W-2 3
    """)
    merge = ("A3:A5", "A6:A8")
    return Case(book(("Results", drawn), merge=merge), _spread(expected, "C3=1.2 D6=0.3"))


@case
def forms_between_names_down_in_italian() -> Case:
    drawn = """
Composto            | C1    | C2
Forme libere (µg/L) |       |
Guaiacolo           | '1,5  | '2,5
Fenolo              | '3,5  | '4,5
Forme legate (µg/L) |       |
Guaiacolo           | '10,5 | '20,5
Fenolo              | '11,5 | '21,5
"""
    names = "guaiacol phenol"
    expected = crossing("B3", names, "free", {"C1": "1.5 3.5", "C2": "2.5 4.5"}, down=True)
    expected |= crossing("B6", names, "bound", {"C1": "10.5 11.5", "C2": "20.5 21.5"}, down=True)
    return Case(book(("Results", drawn)), expected)
