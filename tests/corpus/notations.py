"""What stands in a result cell instead of a plain number."""

from __future__ import annotations

from corpus.books import book
from corpus.cases import Case, case, cells, crossing
from corpus.columns import column_case


@case
def below_a_limit() -> Case:
    return column_case(
        """
<0.5            => [0,0.5]
< 0.5           => [0,0.5]
≤1              => [0,1]
<=1             => [0,1]
＜0.5           => [0,0.5]
ND              => [0,0.2]
n.d.            => [0,0.2]
n.d             => [0,0.2]
nd              => [0,0.2]
N.D.            => [0,0.2]
not detected    => [0,0.2]
Not Detected    => [0,0.2]
BDL             => [0,0.2]
<LOD            => [0,0.2]
< LOD           => [0,0.2]
LOD             => [0,0.2]
U               => [0,0.2]
<LOQ            => [0.2,0.7]
<LoQ            => [0.2,0.7]
BLQ             => [0.2,0.7]
trace           => [0.2,0.7]
tr.             => [0.2,0.7]
0.3 J           => ~0.3
0.5 U           => [0,0.5]
<0.5*           => [0,0.5]
<1 µg/L         => [0,1]
""",
        "Free guaiacol (µg/L) LOD 0.2 LOQ 0.7",
    )


@case
def below_in_other_languages() -> Case:
    return column_case(
        """
n.n.             => [0,0.2]
nicht nachweisbar => [0,0.2]
non détecté      => [0,0.2]
no detectado     => [0,0.2]
non rilevato     => [0,0.2]
não detectado    => [0,0.2]
< LD             => [0,0.2]
<NWG             => [0,0.2]
< LQ             => [0.2,0.7]
traces           => [0.2,0.7]
Spuren           => [0.2,0.7]
trazas           => [0.2,0.7]
""",
        "Free guaiacol (µg/L) LOD 0.2 LOQ 0.7",
    )


@case
def not_analysed_and_above() -> Case:
    return column_case(
        """
N/A   => -
NT    => -
n.a.  => -
>500  => >500
> 500 => >500
≥ 200 => >200
OR    => !limit_unknown
12    => 12
"""
    )


@case
def blank_cells() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     |          | 3
S2     | 4        |
"""
    return Case(
        book(("Results", drawn)),
        crossing("B3", "guaiacol o-cresol", "free", {"S1": "- 3", "S2": "4 -"}),
    )


@case
def dash_with_a_legend() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | -        | 3
S2     | 4        | –

- = not tested
"""
    return Case(
        book(("Results", drawn)),
        crossing("B3", "guaiacol o-cresol", "free", {"S1": "- 3", "S2": "4 -"}),
    )


@case
def dash_with_a_legend_for_not_detected() -> Case:
    drawn = """
Free volatile phenols (µg/L), LOD 0.3
Sample | Guaiacol | o-Cresol
S1     | -        | 3

"-" means not detected
"""
    return Case(
        book(("Results", drawn)),
        crossing("B3", "guaiacol o-cresol", "free", {"S1": "[0,0.3] 3"}),
    )


@case
def dash_without_a_legend() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | -        | 3
S2     | 4        | --
"""
    expected = cells("""
B3 !number_ambiguous
C3 o-cresol free S1 3
B4 guaiacol free S2 4
C4 !number_ambiguous
""")
    return Case(book(("Results", drawn)), expected)


@case
def zero_is_no_result() -> Case:
    drawn = """
Free volatile phenols (µg/L)
Sample | Guaiacol | o-Cresol
S1     | 0        | 3
S2     | 0.0      | -0.4
"""
    expected = cells("""
B3 !number_ambiguous
C3 o-cresol free S1 3
B4 !number_ambiguous
C4 !negative
""")
    return Case(book(("Results", drawn)), expected)


@case
def rejected_by_the_laboratory() -> Case:
    drawn = """
Sample | Analyte  | Form | Result | Unit | Qualifier
A1     | Guaiacol | free | 20 R   | µg/L |
A1     | Syringol | free | 0.4    | µg/L | J
A1     | o-Cresol | free | 0.5    | µg/L | U
A1     | p-Cresol | free | 7      | µg/L | R
"""
    expected = cells("""
D2 !rejected_by_laboratory
D3 syringol free A1 ~0.4
D4 o-cresol free A1 [0,0.5]
D5 !rejected_by_laboratory
""")
    return Case(book(("Results", drawn)), expected)


@case
def units_in_the_cells() -> Case:
    drawn = """
Free volatile phenols
Sample | Guaiacol   | o-Cresol
S1     | 12.3 ug/L  | 0.004 mg/L
S2     | <0.5 µg/L  | 800 ng/L
"""
    return Case(
        book(("Results", drawn)),
        crossing("B3", "guaiacol o-cresol", "free", {"S1": "12.3 4", "S2": "[0,0.5] 0.8"}),
    )


@case
def below_with_a_footnote_mark() -> Case:
    return column_case(
        """
ND*      => [0,0.2]
n.d.*    => [0,0.2]
<LOQ*    => [0.2,0.7]
<0.5*    => [0,0.5]
⩽5       => [0,5]
≦5       => [0,5]
<LOD*    => [0,0.2]
0.5 <    => [0,0.5]
""",
        "Free guaiacol (µg/L) LOD 0.2 LOQ 0.7",
    )
