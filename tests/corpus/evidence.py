"""What the rest of a file tells of one number: its unit, its limit, what it is at all."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_C_P = "guaiacol o-cresol phenol"


@case
def one_column_per_mass_among_columns_per_litre() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) | Free o-cresol (ug/g) | Free phenol (ug/L)
S1     | 46                   | 47                   | 5
S2     | 40                   | <1                   | 6
"""
    samples = {"S1": "46 !unit_basis 5", "S2": "40 !unit_basis 6"}
    return Case(book(("Results", drawn)), crossing("B2", G_C_P, "free", samples))


@case
def one_line_per_litre_among_lines_per_kilogram() -> Case:
    drawn = """
Compound      | Unit  | G-1 | G-2
Free guaiacol | µg/kg | 4   | 5
Free o-cresol | µg/L  | 6   | 7
Free phenol   | µg/kg | 8   | 9
"""
    expected = cells("""
        C2 guaiacol free G-1 4 ug/kg
        D2 guaiacol free G-2 5 ug/kg
        C3 !unit_basis
        D3 !unit_basis
        C4 phenol free G-1 8 ug/kg
        D4 phenol free G-2 9 ug/kg
    """)
    return Case(book(("Results", drawn)), expected)


@case
def as_many_per_mass_as_per_litre() -> Case:
    drawn = """
Muestra | Guayacol libre (µg/kg) | Fenol libre (µg/L)
S1      | 46                     | 47
"""
    return Case(book(("Results", drawn)), cells("B2 !unit_basis\nC2 !unit_basis"))


@case
def grapes_and_wine_of_one_sample() -> Case:
    drawn = """
Sample | Free guaiacol (ug/kg) | Free guaiacol (ug/L)
S1     | 46                    | 12
"""
    expected = cells("B2 guaiacol free S1 46 ug/kg\nC2 guaiacol free S1 12 ug/L")
    return Case(book(("Results", drawn)), expected)


def limited(lod: str, first: str, second: str, sheet: str = "Results") -> Case:
    drawn = f"""
Sample | Free guaiacol (ug/L) | LOD
S1     | {first}              | {lod}
S2     | nd                   | {lod}
"""
    number = first.strip("'").replace(",", ".")
    expected = cells(f"B2 guaiacol free S1 {number}\nB3 guaiacol free S2 {second}", sheet)
    if second.startswith("!"):
        expected = cells(f"B2 guaiacol free S1 {number}\nB3 {second}", sheet)
    return Case(book((sheet, drawn)), expected)


@case
def limit_in_points_beside_a_decimal_comma() -> Case:
    # As 1 the limit speaks against the comma of 12,5, as 1000 against the number itself.
    return limited("'1.000", "'12,5", "!limit_unknown")


@case
def limit_with_a_comma_beside_a_typed_number() -> Case:
    return limited("'1,000", "12.5", "[0,1]")


@case
def typed_limit_of_three_decimals_beside_a_decimal_comma() -> Case:
    return limited("1.234", "'12,5", "[0,1.234]")


@case
def limit_in_points_where_every_number_is_great() -> Case:
    drawn = """
Probe | Guajakol frei (ng/L) | NWG
S1    | '12.500,5            | '1.000
S2    | n.n.                 | '1.000
"""
    expected = cells("B2 guaiacol free S1 12.5005\nB3 guaiacol free S2 [0,1]")
    return Case(book(("Results", drawn)), expected)


@case
def limits_that_nothing_settles() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) | Free phenol (ug/L)
LOD    | '1,000               | '1.500
S1     | nd                   | nd
"""
    return Case(book(("Results", drawn)), cells("B3 !limit_unknown\nC3 !limit_unknown"))


@case
def unit_of_the_cell_beside_that_of_the_heading() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) | Free phenol (µg/L)
S1     | 12 ppb               | 0.012 mg/L
S2     | 3                    | <1200 ng/L
S3     | 3 ppm                | 4 ug/kg
"""
    expected = cells("""
        B2 guaiacol free S1 12
        C2 phenol free S1 12
        B3 guaiacol free S2 3
        C3 phenol free S2 [0,1.2]
        B4 !unit_conflict
        C4 !unit_conflict
    """)
    told = "mg/L in the cell, µg/L in its heading; matrix assumed: wine"
    return Case(book(("Results", drawn)), more(expected, "Results!C2", qualifier=told))


@case
def days_written_as_one_number() -> Case:
    drawn = """
Sample | Sampled   | Analysed | Free guaiacol (ug/L)
S1     | '20251003 | 20251105 | 1
S2     | 20251004  | 20251305 | 2
"""
    expected = cells("D2 guaiacol free S1 1\nD3 !date_invalid")
    return Case(book(("Results", drawn)), expected)


@case
def made_of_results_or_measured_on_the_way() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) | OAV | Guaiacol OAV | Odour activity | % change | Peak area | Response ratio | Retention time
S1     | 3                    | 0.5 | 0.1          | 0.6            | 10       | 12345     | 0.34           | 7.8
"""
    expected = cells("\n".join(f"{c}2 scope" for c in "CDEFGHI") + "\nB2 guaiacol free S1 3")
    return Case(book(("Results", drawn)), expected)


@case
def made_of_results_down_and_in_other_languages() -> Case:
    drawn = """
Freie Phenole, µg/L
Substanz        | P-1  | P-2
Guajakol        | 1    | 2
Aromawert       | 0.1  | 0.2
Retentionszeit  | 7.1  | 7.2
Phenol          | 3    | 4
"""
    expected = crossing(
        "B3", ["guaiacol", "", "", "phenol"], "free", {"P-1": "1 scope scope 3", "P-2": "2 scope scope 4"},
        down=True,
    )  # fmt: skip
    return Case(book(("Results", drawn)), expected)
