"""What stands in a result cell instead of a plain number, and numbers as countries write them."""

from __future__ import annotations

import openpyxl

from corpus.books import book, fill, saved
from corpus.cases import Case, case, cells, crossing


def column(texts: list[str], title: str = "Free guaiacol (µg/L)", *head: str) -> bytes:
    """A sheet with one sample per line: S1, S2 ... and the given texts, kept as text."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "Results"
    fill(sheet, [["Sample", title, "Free syringol (µg/L)"], *[[h] for h in head]])
    top = len(head) + 2
    fill(sheet, [[f"S{n}", text, 1.5] for n, text in enumerate(texts, 1)], top)
    return saved(workbook)


def told(tokens: list[str], first: int = 2) -> dict[str, object]:
    """Expect one short value for each sample of `column`."""
    lines = [
        f"B{row} {token}" if token[0] in "!-" or token == "scope"
        else f"B{row} guaiacol free S{n} {token}"
        for n, (row, token) in enumerate(((first + i, t) for i, t in enumerate(tokens)), 1)
    ]  # fmt: skip
    beside = [f"C{first + i} syringol free S{i + 1} 1.5" for i in range(len(tokens))]
    return cells("\n".join(lines + beside))


def pairs(table: str) -> tuple[list[str], list[str]]:
    """Read "printed => meaning" lines."""
    lines = [line.split("=>") for line in table.strip("\n").splitlines()]
    return [a.strip() for a, _ in lines], [b.strip() for _, b in lines]


def column_case(table: str, title: str = "Free guaiacol (µg/L)") -> Case:
    """A case of one column from "printed => meaning" lines."""
    texts, tokens = pairs(table)
    return Case(column(texts, title), told(tokens))


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
def numbers_as_text_with_points() -> Case:
    return column_case(
        """
12.3       => 12.3
1,234.5    => 1234.5
1,234      => 1234
0.25       => 0.25
1.2E1      => 12
1.2e+01    => 12
12.3 µg/L  => 12.3
１２.５    => 12.5
'12.4      => 12.4
+3.5       => 3.5
"""
    )


@case
def numbers_as_text_with_commas() -> Case:
    return column_case(
        """
12,3       => 12.3
1.234,5    => 1234.5
1.234      => 1234
1 234,5    => 1234.5
1\u00a0234,5 => 1234.5
1\u202f234,5 => 1234.5
1\u2009234 => 1234
1'234,5    => 1234.5
0,25       => 0.25
<0,5       => [0,0.5]
"""
    )


@case
def one_lone_mark_is_ambiguous() -> Case:
    return column_case(
        """
1.234  => !number_ambiguous
12     => 12
"""
    )


@case
def trailing_notes() -> Case:
    return column_case(
        """
12*       => 12
12 (1)    => 12
12ᵃ       => 12
12¹       => 12
3.4 a     => 3.4
12 †      => 12
(12)      => !not_a_number
see note  => !not_a_number
1-2       => !number_ambiguous
2–8       => !number_ambiguous
~12       => !not_a_number
1.2.3     => !not_a_number
"""
    )


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
def letters_that_are_a_unit_or_a_notation() -> Case:
    return column_case(
        """
12 mg     => !not_a_number
12 ng     => !not_a_number
12 nmol   => !not_a_number
12 g      => !not_a_number
12 L      => !not_a_number
12 per    => !not_a_number
12 BLQ    => !not_a_number
12 OR     => !not_a_number
12 NA     => !not_a_number
3.5 a     => 3.5
3.5 ab    => 3.5
3.5 a,b   => 3.5
"""
    )


@case
def letters_that_look_like_digits() -> Case:
    return column_case(
        """
1O     => !not_a_number
2I     => !not_a_number
1l     => !not_a_number
l2     => !not_a_number
O.5    => !not_a_number
12     => 12
"""
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


@case
def uncertainty_behind_the_number() -> Case:
    return column_case(
        """
12 ± 1        => 12
12±1          => 12
12 +/- 1      => 12
12 ± 10%      => 12
12 ± 1 (k=2)  => 12
12 ± 1 µg/L   => 12
"""
    )


@case
def two_numbers_in_one_cell() -> Case:
    return column_case(
        """
12/13        => !not_a_number
12; 13       => !not_a_number
12 13        => !not_a_number
12 (dup 13)  => !not_a_number
<0.5 (0.3)   => !not_a_number
> 10 < 20    => !not_a_number
12           => 12
"""
    )


@case
def below_zero_and_nothing_below() -> Case:
    return column_case(
        """
< 0   => !number_ambiguous
−3    => !negative
-99   => !negative
12    => 12
"""
    )
