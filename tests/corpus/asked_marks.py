"""Columns of remarks that ask whether a number was censored or detected."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells


@case
def a_list_that_says_what_was_censored() -> Case:
    text = """sample,analyte,form,value,unit,lod,loq,censored
W-1,guaiacol,free,3.4,ug/L,0.2,0.7,FALSE
W-1,m-cresol,free,0.7,ug/L,0.2,0.7,TRUE
W-1,syringol,free,55,ug/L,0.2,0.7,maybe
W-2,guaiacol,free,,ug/L,0.2,0.7,TRUE
W-2,m-cresol,free,0.9,ug/L,0.2,0.7,
"""
    expected = cells(
        """
    D2 guaiacol free W-1 3.4
    D3 m-cresol free W-1 [0,0.7]
    D4 !number_ambiguous
    D5 guaiacol free W-2 [0,0.2]
    D6 m-cresol free W-2 0.9
    """,
        sheet="list",
    )
    return Case(text.encode(), expected, file="list.csv")


@case
def columns_that_say_what_was_detected() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Detected | Syringol | Detected
W-1 | 3.4 | Y | 0.5 | N
W-2 | 0.5 | no | 4.5 | yes
"""
    expected = cells("""
    B3 guaiacol free W-1 3.4
    D3 syringol free W-1 [0,0.5]
    B4 guaiacol free W-2 [0,0.5]
    D4 syringol free W-2 4.5
    """)
    return Case(book(("Results", drawn)), expected)


@case
def one_column_that_asks_beside_several_results() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol | Censored
W-1 | 3 | 5 | no
W-2 | 4 | 6 | yes
"""
    expected = cells("""
    B3 guaiacol free W-1 3
    C3 syringol free W-1 5
    B4 !number_ambiguous
    C4 !number_ambiguous
    """)
    return Case(book(("Results", drawn)), expected)


@case
def letters_under_a_heading_that_asks() -> Case:
    text = """sample,analyte,form,result,units,detect flag
W-1,guaiacol,free,3.4,ug/L,Y
W-1,syringol,free,2.0,ug/L,U
W-2,guaiacol,free,1.1,ug/L,J
"""
    expected = cells(
        """
    D2 guaiacol free W-1 3.4
    D3 syringol free W-1 [0,2]
    D4 guaiacol free W-2 ~1.1
    """,
        sheet="list",
    )
    return Case(text.encode(), expected, file="list.csv")


@case
def limit_that_is_named_behind_the_number() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
W-1 | <0.5 (LOD) | 4
W-2 | 3 | 0.5 (LOD)
"""
    expected = cells("""
    B3 guaiacol free W-1 [0,0.5]
    C3 syringol free W-1 4
    B4 guaiacol free W-2 3
    C4 !not_a_number
    """)
    return Case(book(("Results", drawn)), expected)


@case
def both_limits_in_one_column() -> Case:
    drawn = """
Free volatile phenols in wine (µg/L)
Compound | W-1 | W-2 | LOD/LOQ (ng/L)
Guaiacol | nd | <LOQ | 100/300
o-Cresol | 3 | nd | 600/200
"""
    expected = cells("""
    B3 guaiacol free W-1 [0,0.1]
    C3 guaiacol free W-2 [0.1,0.3]
    B4 o-cresol free W-1 3
    C4 !limit_unknown
    """)
    return Case(book(("Results", drawn)), expected)


@case
def both_limits_in_one_column_the_other_way_round() -> Case:
    drawn = """
Free volatile phenols in wine (µg/L)
Compound | W-1 | W-2 | LOQ/LOD
Guaiacol | nd | <LOQ | 0.3/0.1
Syringol | 3 | nd | 1.5 / 0.5
"""
    expected = cells("""
    B3 guaiacol free W-1 [0,0.1]
    C3 guaiacol free W-2 [0.1,0.3]
    B4 syringol free W-1 3
    C4 syringol free W-2 [0,0.5]
    """)
    return Case(book(("Results", drawn)), expected)


@case
def a_dash_that_a_sentence_explains() -> Case:
    drawn = """
Free volatile phenols µg/L. A dash (-) means below the detection limit of 0.5 µg/L.
Sample | Guaiacol | Syringol
W-1 | 3 | -
"""
    expected = cells("B3 guaiacol free W-1 3\nC3 syringol free W-1 [0,0.5]")
    return Case(book(("Results", drawn)), expected)


@case
def a_legend_that_says_where_the_range_ends() -> Case:
    drawn = """
Free volatile phenols (mg/L)
Sample | Guaiacol | 4-Ethylphenol
W-1 | 0.003 | OR
OR = over range (calibrated to 0.5 mg/L)
"""
    expected = cells("B3 guaiacol free W-1 3\nC3 4-ethylphenol free W-1 >500")
    return Case(book(("Results", drawn)), expected)


@case
def over_the_range_of_nobody_knows_what() -> Case:
    drawn = """
Free volatile phenols (mg/L)
Sample | Guaiacol | 4-Ethylphenol
W-1 | 0.003 | OR
OR = over range, see method 12
"""
    expected = cells("B3 guaiacol free W-1 3\nC3 !limit_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def limit_of_a_french_legend_and_of_a_cover_sheet() -> Case:
    cover = """
Bericht | N-1
n.n. = nicht nachweisbar (Nachweisgrenze 0.3 µg/l)
"""
    free = """
Probe | Guajakol [µg/l] | Syringol [µg/l]
W-1 | 12 | n.n.
"""
    expected = cells("B2 guaiacol free W-1 12\nC2 syringol free W-1 [0,0.3]", sheet="Freie Phenole")
    return Case(book(("Deckblatt", cover), ("Freie Phenole", free)), expected)
