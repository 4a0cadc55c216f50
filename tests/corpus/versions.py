"""Two numbers of one result: corrected and uncorrected, raw and reported."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, Value, case, cells

BOTH = "!number_ambiguous"


@case
def corrected_beside_plain() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) | Corrected free guaiacol (ug/L) | Free phenol (ug/L)
S1     | 46                   | 47                             | 5
S2     | nd                   | 3                              | 6
S3     | 12                   | 12                             | 7
"""
    expected = cells(f"""
        B2 {BOTH}
        C2 {BOTH}
        D2 phenol free S1 5
        B3 {BOTH}
        C3 {BOTH}
        D3 phenol free S2 6
        B4 guaiacol free S3 12
        C4 guaiacol free S3 =12
        D4 phenol free S3 7
    """)
    return Case(book(("Results", drawn)), expected)


@case
def corrected_for_recovery_down() -> Case:
    drawn = """
Free forms, ug/L
Analyte                       | S1 | S2
Guaiacol                      | 46 | 47
Guaiacol (recovery-corrected) | 48 | 49
Phenol                        | 1  | 2
"""
    expected = cells(f"""
        B3 {BOTH}
        C3 {BOTH}
        B4 {BOTH}
        C4 {BOTH}
        B5 phenol free S1 1
        C5 phenol free S2 2
    """)
    return Case(book(("Results", drawn)), expected)


@case
def reported_beside_raw() -> Case:
    drawn = """
Sample | Raw free guaiacol (ug/L) | Reported free guaiacol (ug/L)
S1     | 46                       | 47
S2     | 40                       | <1
"""
    expected = cells("""
        B2 scope
        C2 guaiacol free S1 47
        B3 scope
        C3 guaiacol free S2 [0,1]
    """)
    return Case(book(("Results", drawn)), expected)


@case
def reported_under_the_name() -> Case:
    drawn = """
Sample | Free guaiacol (ug/L) |          | Free phenol (ug/L) |
       | Raw                  | Reported | Raw                | Reported
S1     | 46                   | 47       | 5                  | 6
"""
    expected = cells("""
        B3 scope
        C3 guaiacol free S1 47
        D3 scope
        E3 phenol free S1 6
    """)
    return Case(book(("Results", drawn)), expected)


@case
def raw_and_reported_result_of_a_list() -> Case:
    drawn = """
Sample | Compound | Raw result | Reported result | Unit | Form
S1     | Guaiacol | 46         | 47              | ug/L | free
S1     | Phenol   | 5          | 6               | ug/L | free
"""
    expected = cells("""
        C2 scope
        D2 guaiacol free S1 47
        C3 scope
        D3 phenol free S1 6
    """)
    return Case(book(("Results", drawn)), expected)


@case
def corrected_and_uncorrected_result_of_a_list() -> Case:
    drawn = """
Sample | Compound | Uncorrected result | Corrected result | Unit | Form
S1     | Guaiacol | 46                 | 47               | ug/L | free
"""
    return Case(book(("Results", drawn)), cells(f"C2 {BOTH}\nD2 {BOTH}"))


@case
def corrected_in_other_languages() -> Case:
    sheets = {
        "FR": "Échantillon | Gaïacol libre (µg/L) | Gaïacol libre corrigé (µg/L)",
        "DE": "Probe | Guajakol frei korrigiert (µg/L) | Guajakol frei unkorrigiert (µg/L)",
        "ES": "Muestra | Guayacol libre corregido (µg/L) | Guayacol libre (µg/L)",
        "IT": "Campione | Guaiacolo libero (µg/L) | Guaiacolo libero corretto (µg/L)",
    }
    drawn = [(name, f"{head}\n{name}-1 | 46 | 47") for name, head in sheets.items()]
    expected = {f"{name}!{c}": v for name in sheets for c, v in _held().items()}
    return Case(book(*drawn), expected)


def _held() -> dict[str, Value]:
    return {c.partition("!")[2]: v for c, v in cells(f"B2 {BOTH}\nC2 {BOTH}").items()}


@case
def one_version_alone() -> Case:
    drawn = """
Sample | Free guaiacol, recovery corrected (ug/L) | Uncorrected free phenol (ug/L)
S1     | 46                                       | 5
"""
    return Case(book(("Results", drawn)), cells(f"B2 guaiacol free S1 46\nC2 {BOTH}"))
