"""What a sheet says of the report itself: laboratory, number, revision, dates, matrix."""

from __future__ import annotations

from datetime import date

from corpus.books import book
from corpus.cases import Case, case, cells, more

TABLE = """
Sample | Free guaiacol (µg/L) | Free syringol (µg/L)
S1     | 1                    | 2
"""


def headed(head: str, **facts: str | date | None) -> Case:
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


# The model of these sentences is ISO/IEC 17025:2017, 7.8.8: an amended report is identified by
# itself and refers to the one that it replaces.
REPLACED = {
    "en": "Amended report R-7 rev. 2 replaces report R-7 rev. 1 of 2026-01-05",
    "fr": "Rapport d'essai modifié n° R-7 rév. 2, annule et remplace le rapport R-7 rév. 1 du 05/01/2026",
    "de": "Geänderter Prüfbericht R-7 Rev. 2 ersetzt Prüfbericht R-7 Rev. 1 vom 05.01.2026",
    "es": "Informe modificado R-7 rev. 2 sustituye al informe R-7 rev. 1 de 05/01/2026",
    "it": "Rapporto di prova R-7 rev. 2 sostituisce il rapporto di prova R-7 rev. 1 del 05/01/2026",
    "pt": "Relatório de ensaio R-7 rev. 2 substitui o relatório R-7 rev. 1 de 05/01/2026",
}


def replaced(language: str) -> Case:
    return headed(REPLACED[language], report_no="R-7", revision="2", replaces="R-7")


@case
def what_it_replaces_in_one_english_sentence() -> Case:
    return replaced("en")


@case
def what_it_replaces_in_one_french_sentence() -> Case:
    return replaced("fr")


@case
def what_it_replaces_in_one_german_sentence() -> Case:
    return replaced("de")


@case
def what_it_replaces_in_one_spanish_sentence() -> Case:
    return replaced("es")


@case
def what_it_replaces_in_one_italian_sentence() -> Case:
    return replaced("it")


@case
def what_it_replaces_in_one_portuguese_sentence() -> Case:
    return replaced("pt")


@case
def what_it_replaces_in_the_last_line() -> Case:
    drawn = (
        f"{TABLE.strip()}\n\nReport R-7/2, amended; it supersedes report R-7/1 of 5 January 2026."
    )
    found = cells("B2 guaiacol free S1 1\nC2 syringol free S1 2")
    facts = {"report_no": "R-7/2", "replaces": "R-7/1"}
    return Case(book(("Results", drawn)), found, facts=facts)


@case
def amendment_to_a_report() -> Case:
    return headed("Amendment to Report, serial number R-7", report_no=None, replaces="R-7")


@case
def numbered_amendment_to_a_report() -> Case:
    return headed("Amendment 2 to report R-7", report_no="R-7", revision="2")


@case
def what_it_replaces_beside_its_own_labels() -> Case:
    head = "Report number | R-8\nThis amended report replaces report R-7 of 2026-01-05"
    return headed(head, report_no="R-8", replaces="R-7")


@case
def what_replaces_something_else_than_a_report() -> Case:
    head = (
        "Report R-7\nMethod M-12 replaces method M-11 since 2026\nThis bottle replaces sample S-3"
    )
    return headed(head, report_no="R-7", revision=None, replaces=None)


@case
def a_report_that_replaces_one_without_a_number() -> Case:
    head = "Report number | R-7\nThis report replaces the report of 2026-01-05"
    return headed(head, report_no="R-7", replaces=None)


@case
def replaced_number_that_begins_with_n() -> Case:
    # "N" is not the sign for "number" here.
    return headed(
        """
Report number NC-77-A1
This report replaces report NC-77
""",
        report_no="NC-77-A1",
        replaces="NC-77",
    )


@case
def replaced_number_with_letters_apart() -> Case:
    return headed(
        """
Rapporto di prova n. | CV 9/26
Sostituisce il rapporto di prova n. CV 3/26
""",
        report_no="CV 9/26",
        replaces="CV 3/26",
    )


@case
def replaced_number_behind_a_title_of_amendment() -> Case:
    return headed(
        """
Report number R-2
Amended report: replaces R-1
""",
        report_no="R-2",
        replaces="R-1",
    )


@case
def day_behind_the_number_in_german() -> Case:
    return headed(
        "Bericht Nr. HS-77 vom 5. März 2026", report_no="HS-77", reported_on=date(2026, 3, 5)
    )


@case
def day_behind_the_number_in_italian() -> Case:
    return headed(
        "Rapporto di prova n. 45/2026 del 18/03/2026",
        report_no="45/2026",
        reported_on=date(2026, 3, 18),
    )


@case
def number_that_looks_like_a_day() -> Case:
    return headed("Report no. 26-03-12", report_no="26-03-12", reported_on=None)
