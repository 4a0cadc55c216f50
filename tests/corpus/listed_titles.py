"""Titles that list what they say between signs, and words of headings joined by signs."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_S = "guaiacol syringol"


@case
def form_unit_and_wine_listed_in_a_title() -> Case:
    drawn = """
Bench of the North, free, µg/L, red wine
Sample | Guaiacol | Syringol
W-1 | 3 | 4
"""
    expected = crossing("B3", G_S, "free", {"W-1": "3 4"})
    expected = more(expected, "Results!B3", matrix="red wine")
    return Case(book(("Results", drawn)), expected)


@case
def free_sulfur_dioxide_in_a_title_is_no_form() -> Case:
    drawn = """
Sulfur dioxide, free, mg/L, wine
Sample | Guaiacol (µg/L) | Syringol (µg/L)
W-1 | 3 | 4
"""
    expected = cells("B3 !form_unknown\nC3 !form_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def two_forms_listed_in_a_title_tell_none() -> Case:
    drawn = """
Bench of the North: free, bound, µg/L, wine
Sample | Guaiacol | Syringol
W-1 | 3 | 4
"""
    return Case(book(("Results", drawn)), cells("B3 !form_unknown\nC3 !form_unknown"))


@case
def samples_of_grapes_in_a_title() -> Case:
    drawn = """
Grape samples
Free volatile phenols (ppb)
Sample | Guaiacol | Syringol
G-1 | 3 | 4
"""
    expected = crossing("B4", G_S, "free", {"G-1": "3 4"}, unit="ug/kg")
    return Case(book(("Results", drawn)), expected)


@case
def a_laboratory_called_after_grapes_tells_no_matrix() -> Case:
    drawn = """
Grape Analytics
Free volatile phenols (ppb)
Sample | Guaiacol | Syringol
G-1 | 3 | 4
"""
    return Case(book(("Results", drawn)), cells("B4 !unit_unknown\nC4 !unit_unknown"))


@case
def the_level_of_an_uncertainty_is_no_unit() -> Case:
    drawn = """
Free volatile phenols µg/L, uncertainty k=2, 95 %
Sample | Guaiacol | Syringol
W-1 | 3.4 ± 0.2 | 4
"""
    expected = crossing("B3", G_S, "free", {"W-1": "3.4 4"})
    expected = more(expected, "Results!B3", expanded_uncertainty=0.2, coverage_factor=2.0)
    return Case(book(("Results", drawn)), expected)


@case
def uncertainty_with_its_level_in_the_heading() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | U (k=2, 95 %) | Syringol | U (k=2, 95 %)
W-1 | 30 | 3 | 4 | 0.5
"""
    expected = cells("B3 guaiacol free W-1 30\nD3 syringol free W-1 4")
    expected = more(expected, "Results!B3", expanded_uncertainty=3.0)
    return Case(book(("Results", drawn)), expected)


@case
def headings_of_an_export_joined_by_low_lines() -> Case:
    text = """sample_id,sample_type,guaiacol_free_ug_l,guaiacol_total_ug_l,o_cresol_free_mg_l,ph_value
W-1,red wine,3.5,35,0.002,3.6
W-2,red wine,<0.5,12,0.001,3.5
"""
    expected = cells(
        """
    C2 guaiacol free W-1 3.5
    D2 guaiacol total W-1 35
    E2 o-cresol free W-1 2
    F2 scope
    C3 guaiacol free W-2 [0,0.5]
    D3 guaiacol total W-2 12
    E3 o-cresol free W-2 1
    F3 scope
    """,
        sheet="export",
    )
    return Case(text.encode(), expected, file="export.csv")


@case
def labels_that_share_a_cell() -> Case:
    drawn = """
Report No: BN-44    Date: 5 March 2026
Matrix: Red wine; Units: ug/L; Panel: free volatile phenols
Sample | Guaiacol | Syringol
W-1 | 3 | 4
"""
    expected = crossing("B4", G_S, "free", {"W-1": "3 4"})
    expected = more(expected, "Results!B4", matrix="red wine")
    return Case(book(("Results", drawn)), expected, facts={"report_no": "BN-44"})


@case
def matrix_below_the_table_and_units_for_all() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol | Syringol
W-1 | 3 | 4

Units: µg/L for all results
Matrix | White wine
"""
    expected = crossing("B3", G_S, "free", {"W-1": "3 4"})
    expected = more(expected, "Results!B3", matrix="white wine")
    return Case(book(("Results", drawn)), expected)


@case
def measurands_out_of_scope_with_units_nobody_knows() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | TA (g/L tartaric) | Turbidity (NTU) | YAN (mg N/L) | Phenol (µg/L wine) | TA (guaiacol)
W-1 | 3 | 6.1 | 0.9 | 120 | 5 | 7
"""
    expected = cells("""
    B3 guaiacol free W-1 3
    C3 scope
    D3 scope
    E3 scope
    F3 phenol free W-1 5
    G3 !analyte_unknown
    """)
    return Case(book(("Results", drawn)), expected)
