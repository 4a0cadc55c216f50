"""What a sheet says of the report itself: laboratory, number, revision, dates, matrix."""

from __future__ import annotations

from datetime import date

from corpus.books import book
from corpus.cases import Case, case, cells, more

TABLE = """
Sample | Free guaiacol (µg/L) | Free syringol (µg/L)
S1     | 1                    | 2
"""


def headed(head: str, **facts: str | None) -> Case:
    """The same small table under some lines of text, and what these say of the report."""
    top = len(head.strip("\n").splitlines()) + 2
    expected = cells(f"B{top} guaiacol free S1 1\nC{top} syringol free S1 2")
    drawn = head.strip("\n") + "\n" + TABLE.strip("\n")
    return Case(book(("Results", drawn)), expected, facts=facts)


@case
def labels_with_values_beside() -> Case:
    return headed(
        """
Laboratory    | Tressock | Client  | Winery Y
Report number | R-1        | Revision | 2
Date of issue | d:2025-10-01
""",
        lab="Tressock",
        report_no="R-1",
        revision="2",
    )


@case
def labels_over_their_values() -> Case:
    return headed(
        """
Report No | Date         | Laboratory
R-9       | d:2025-10-01 | Tressock

""",
        lab="Tressock",
        report_no="R-9",
    )


@case
def report_number_and_revision_in_one_line() -> Case:
    return headed("Report No.: R-1 Rev. 2", report_no="R-1", revision="2")


@case
def report_number_in_a_sentence() -> Case:
    return headed(
        "Analysis report R-77 (revision 3), issued 2025-10-02", report_no="R-77", revision="3"
    )


@case
def certificate_number_in_the_title() -> Case:
    return headed("CERTIFICATE OF ANALYSIS: 5521", report_no="5521")


@case
def a_report_that_replaces_another() -> Case:
    return headed(
        """
AMENDED REPORT
Report number R-1-A1
This report replaces report R-1 dated 2025-09-30
""",
        report_no="R-1-A1",
        replaces="R-1",
    )


@case
def a_french_letterhead() -> Case:
    return headed(
        """
Laboratoire : Analyses du Val
Rapport n° : 2025-118
Date d'émission : 3 octobre 2025
Révision : 1
Annule et remplace le rapport 2025-117
""",
        lab="Analyses du Val",
        report_no="2025-118",
        revision="1",
        replaces="2025-117",
    )


@case
def analyst_is_no_laboratory() -> Case:
    return headed("Report R-5\nAnalysed by: J. Smith", report_no="R-5", lab=None)


@case
def matrix_under_sample_type() -> Case:
    made = headed("Sample type: Red wine")
    return Case(made.content, more(made.expected, "Results!B3", matrix="red wine"))


@case
def german_dates_and_matrix() -> Case:
    made = headed(
        "Prüfbericht Nr. 25/118\nMatrix: Rotwein\nProbenahme: 01.10.2025", report_no="25/118"
    )
    expected = more(made.expected, "Results!B5", matrix="red wine", sampled_on=date(2025, 10, 1))
    return Case(made.content, expected, facts=made.facts)
