"""Words that tell a form, and the same words in another sense."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing

G_S = "guaiacol syringol"


@case
def form_by_titles_in_five_languages() -> Case:
    titles = {
        "Phénols volatils libres (µg/L)": "free",
        "Fenoles volátiles totales tras hidrólisis (µg/L)": "total",
        "Fenoli volatili liberi (µg/L)": "free",
        "Flüchtige Phenole, gebunden (µg/L)": "bound",
        "Flüchtige Phenole, gesamt (µg/L)": "total",
    }
    drawings, expected = [], {}
    for n, (title, form) in enumerate(titles.items()):
        drawings.append(
            (f"P{n}", f"{title}\nSample | Guaiacol | Syringol\nS{n} | {n + 1} | {n + 11}")
        )
        expected |= crossing("B3", G_S, form, {f"S{n}": f"{n + 1} {n + 11}"}, f"P{n}")
    return Case(book(*drawings), expected)


@case
def total_that_means_how_many() -> Case:
    drawn = """
Total number of samples: 2
Volatile phenols in wine (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
S2     | 3        | 4
"""
    expected = crossing("B4", G_S, None, {"S1": "!form_unknown !form_unknown"})
    expected |= crossing("B5", G_S, None, {"S2": "!form_unknown !form_unknown"})
    return Case(book(("Results", drawn)), expected)


@case
def title_that_names_both_forms() -> Case:
    drawn = """
Free and total volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
"""
    return Case(book(("Results", drawn)), cells("B3 !form_unknown\nC3 !form_unknown"))


@case
def free_sulphur_is_no_form_of_phenols() -> Case:
    drawn = """
Volatile phenols (µg/L)
Sample | Free SO2 (mg/L) | Total SO2 (mg/L) | Guaiacol | Syringol
S1     | 28              | 90               | 1        | 2
"""
    expected = cells("""
B3 scope
C3 scope
D3 !form_unknown
E3 !form_unknown
""")
    return Case(book(("Results", drawn)), expected)


@case
def titles_whose_free_is_no_form() -> Case:
    titles = (
        "Results for alcohol-free wine, volatile phenols (µg/L)",
        "Volatile phenols (µg/L). Please feel free to call us",
        "Volatile phenols (µg/L), total of 2 samples",
        "Volatile phenols (µg/L). Note: free forms were not measured",
        "Smoke-free vineyard, volatile phenols (µg/L)",
    )
    drawings, expected = [], {}
    for n, title in enumerate(titles):
        drawings.append((f"P{n}", f"{title}\nSample | Guaiacol | Syringol\nS{n} | 1 | 2"))
        expected |= cells("B3 !form_unknown\nC3 !form_unknown", f"P{n}")
    return Case(book(*drawings), expected)


@case
def note_below_about_another_form() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | Syringol
S1     | 1        | 2
Total volatile phenols (free + bound, after acid hydrolysis) are available on request.
"""
    return Case(book(("Results", drawn)), crossing("B3", G_S, "free", {"S1": "1 2"}))


@case
def free_run_is_no_form() -> Case:
    drawn = """
Total volatile phenols (µg/L)
Sample         | Guaiacol | Syringol
Free run juice | 1        | 2
Press wine     | 3        | 4
"""
    expected = crossing("B3", G_S, "total", {"Free run juice": "1 2", "Press wine": "3 4"})
    return Case(book(("Results", drawn)), expected)


@case
def total_cresols_in_a_free_panel() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | o-Cresol | m-Cresol | p-Cresol | Total cresols
S1     | 2        | 3        | 4        | 9
"""
    # The panel is free, and 2 + 3 + 4 is 9: the sum of the isomers.
    names = "o-cresol m-cresol p-cresol cresols"
    expected = crossing("B3", names, "free", {"S1": "2 3 4 9"})
    return Case(book(("Results", drawn)), expected)


@case
def title_that_could_be_a_measurand() -> Case:
    drawn = """
Free phenols (µg/L)
Sample | Guaiacol | Phenol
S1     | 1        | 2

Total phenols (µg/L)
Sample | Guaiacol | Phenol
S2     | 10       | 20
"""
    # The total form, or the measurand "total phenols"? At any rate no longer the free form.
    expected = crossing("B3", "guaiacol phenol", "free", {"S1": "1 2"})
    expected |= cells("B7 !form_unknown\nC7 !form_unknown")
    return Case(book(("Results", drawn)), expected)


@case
def sums_below_analytes() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Analyte  | W-1 | W-2
Guaiacol | 1   | 2
Syringol | 3   | 4
Total    | 4   | 6
"""
    expected = crossing("B3", G_S, "free", {"W-1": "1 3", "W-2": "2 4"}, down=True)
    return Case(book(("Results", drawn)), expected, notices=("not read",))


@case
def forms_in_a_column_beside_analytes() -> Case:
    drawn = """
Results in µg/L
Analyte  | Form  | W-1 | W-2
Guaiacol | Free  | 1   | 2
         | Total | 10  | 20
Syringol | Free  | 3   | 4
         | Total | 30  | 40
"""
    expected = cells("""
C3 guaiacol free W-1 1
D3 guaiacol free W-2 2
C4 guaiacol total W-1 10
D4 guaiacol total W-2 20
C5 syringol free W-1 3
D5 syringol free W-2 4
C6 syringol total W-1 30
D6 syringol total W-2 40
""")
    return Case(book(("Results", drawn), merge=("A3:A4", "A5:A6")), expected)
