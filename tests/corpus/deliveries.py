"""Reports as laboratories deliver them: letterheads, chains of custody, pages, notes, two languages."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing, more

G_P = "guaiacol phenol"


@case
def certificate_under_a_letterhead() -> Case:
    drawn = """
Northern Analytical Bench
12 Example Road | | | Accredited to ISO/IEC 17025:2017
CERTIFICATE OF ANALYSIS
Certificate No. | COA-25-0817 | Page          | 1 of 1
Client          | Example Winery | Date received | d:2025-10-03
Order           | PO 4471     | Matrix        | Red wine

Test     | Method    | Unit | LOR | 25-0817-1 | 25-0817-2
Free volatile phenols
Guaiacol | GC-MS 014 | µg/L | 0.5 | 3.2       | 14.7
o-Cresol | GC-MS 014 | µg/L | 0.5 | <0.5      | 4.4
Total volatile phenols (after acid hydrolysis)
Guaiacol | GC-MS 015 | µg/L | 1   | 22.0      | 61.3

Results apply to the samples as received.
Authorised signatory: | B. Person
"""
    expected = cells("""
        E10 guaiacol free 25-0817-1 3.2
        F10 guaiacol free 25-0817-2 14.7
        E11 o-cresol free 25-0817-1 [0,0.5]
        F11 o-cresol free 25-0817-2 4.4
        E13 guaiacol total 25-0817-1 22
        F13 guaiacol total 25-0817-2 61.3
    """)
    facts = {"lab": "Northern Analytical Bench", "report_no": "COA-25-0817"}
    return Case(book(("Results", drawn)), expected, facts=facts)


@case
def chain_of_custody_on_its_own_sheet() -> Case:
    custody = """
Chain of custody no. | COC-881
Bottle | Sample ID | Date sampled | Temp C
1      | W-11      | d:2025-11-02 | 4
2      | W-12      | d:2025-11-02 | 4
"""
    drawn = """
Lab no. | Sample ID    | Free guaiacol µg/L | Surrogate recovery %
L001    | W-11         | 5.5                | 98
L002    | W-12         | <1                 | 101
L003    | Method blank | <1                 | 95
"""
    expected = cells("""
        C2 guaiacol free W-11 5.5
        D2 scope
        C3 guaiacol free W-12 [0,1]
        D3 scope
        C4 guaiacol free "Method blank" blank:[0,1]
        D4 scope
    """)
    return Case(book(("Custody", custody.lstrip()), ("Results", drawn.lstrip())), expected)


@case
def two_samples_beside_each_other() -> Case:
    drawn = """
Sample 1:     | CS-101        | | Sample 2:     | CS-102
Parameter     | Result (µg/L) | | Parameter     | Result (µg/L)
Free guaiacol | 3.3           | | Free guaiacol | 5.1
Free phenol   | 1.1           | | Free phenol   | 1.9
"""
    expected = cells("""
        B3 guaiacol free CS-101 3.3
        E3 guaiacol free CS-102 5.1
        B4 phenol free CS-101 1.1
        E4 phenol free CS-102 1.9
    """)
    return Case(book(("Results", drawn)), expected)


@case
def two_samples_named_above_one_list() -> Case:
    drawn = """
Sample 1: CS-101
Sample 2: CS-102
Compound      | Result (µg/L)
Free guaiacol | 1
"""
    return Case(book(("Results", drawn)), cells("B4 !sample_missing"))


@case
def headings_in_two_languages() -> Case:
    drawn = """
Échantillon / Sample | Gaïacol libre / Free guaiacol (µg/L) | Phénol libre / Free o-cresol (µg/L) | Phénol libre / Free phenol (µg/L)
A-1                  | '3,3                                 | 1                                    | '1,1
"""
    expected = cells("B2 guaiacol free A-1 3.3\nC2 !analyte_unknown\nD2 phenol free A-1 1.1")
    return Case(book(("Results", drawn)), expected)


@case
def spikes_and_duplicates_named_in_words() -> Case:
    drawn = """
Sample                 | Free guaiacol (ug/L) | Free phenol (ug/L)
W1                     | 3                    | 8
W1 lab duplicate       | 3.1                  | 8.2
RPD %                  | 3.3                  | 2.5
W2                     | 4                    | 9
Matrix spike (W2 + 10) | 14                   | 19
Spike recovery %       | 100                  | 100
"""
    expected = crossing(
        "B2", G_P, "free", {"W1": "3 8", "W1 lab duplicate": "duplicate:3.1 duplicate:8.2"}
    )
    expected |= crossing(
        "B5", G_P, "free", {"W2": "4 9", "Matrix spike (W2 + 10)": "spike:14 spike:19"}
    )
    return Case(book(("Results", drawn)), expected)


@case
def sample_named_below_its_list() -> Case:
    drawn = """
Analyte         | Result | Unit | Accredited
Guaiacol (free) | 3.2    | µg/L | ✓
Phenol (free)   | <0.5   | µg/L | *
Sample: W-77    |        |      |
Sampled         | d:2025-10-10
* not within the scope of accreditation
"""
    expected = cells("B2 guaiacol free W-77 3.2\nB3 phenol free W-77 [0,0.5]")
    return Case(book(("Results", drawn)), expected)


@case
def italian_results_headed_by_sample_and_unit() -> Case:
    drawn = """
Rapporto di prova n. 44/2025
Campione          | Vino A           | Vino B
Parametro         | Risultato (µg/L) | Risultato (µg/L)
Guaiacolo libero  | '3,1             | '4,2
Guaiacolo totale  | '30,1            | < 0,5
Firma             | Dott. Esempio    |
"""
    expected = cells("""
        B4 guaiacol free "Vino A" 3.1
        C4 guaiacol free "Vino B" 4.2
        B5 guaiacol total "Vino A" 30.1
        C5 guaiacol total "Vino B" [0,0.5]
    """)
    return Case(book(("Results", drawn)), expected, facts={"report_no": "44/2025"})


@case
def mean_beside_its_replicates() -> Case:
    drawn = """
Free phenols, ug/L
Sample | Guaiacol rep 1 | Guaiacol rep 2 | Guaiacol mean | Guaiacol RSD %
K1     | 3.0            | 3.2            | 3.1           | 4.6
"""
    expected = cells("B3 guaiacol free K1 3\nC3 guaiacol free K1 3.2\nE3 scope")
    return Case(book(("Results", drawn)), expected, notices=("D3",))


@case
def names_with_a_synonym_and_the_form_behind() -> Case:
    drawn = """
Client sample ID | Guaiacol (2-methoxyphenol), free, µg/L | Guaiacol (2-methoxyphenol), total after acid hydrolysis, µg/L
BB-1             | 1.2                                    | 14
"""
    expected = cells("B2 guaiacol free BB-1 1.2\nC2 guaiacol total BB-1 14")
    return Case(book(("Results", drawn)), expected)


@case
def pages_with_the_number_of_the_report_between() -> Case:
    head = "Sample | Free guaiacol (ug/L) | Free phenol (ug/L)"
    drawn = f"""
Report no. 2025-9 | | Page 1 of 2
{head}
K1 | 3 | 4
Continued on next page
Report no. 2025-9 | | Page 2 of 2
{head}
K2 | 1 | 2
End of report
"""
    expected = crossing("B3", G_P, "free", {"K1": "3 4"}) | crossing(
        "B7", G_P, "free", {"K2": "1 2"}
    )
    return Case(book(("Results", drawn)), expected, facts={"report_no": "2025-9"})


@case
def remarks_that_change_nothing() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L)* | Free phenol (ug/L)
K1     | 3.0                   | 4 (re-run)
K2     | 2                     | 5 (diluted 1:10)
* not corrected for recovery (mean recovery 92 %)
"""
    expected = cells("""
        B2 guaiacol free K1 3
        C2 phenol free K1 4
        B3 guaiacol free K2 2
        C3 !not_a_number
    """)
    return Case(
        book(("Results", drawn)),
        more(expected, "Results!C2", qualifier="(re-run); matrix assumed: wine"),
    )


@case
def reported_column_left_empty() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) | Free guaiacol reported (ug/L)
S1     | 46                   |
S2     | 40                   | 41
"""
    expected = cells("B2 !number_ambiguous\nC2 -\nB3 scope\nC3 guaiacol free S2 41")
    return Case(book(("Results", drawn)), expected)
