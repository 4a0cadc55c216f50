"""Molar amounts: isomers once, sugars summed, nothing mixed."""

import pytest

from pipeline.amounts import cover_members, isomer_spans
from schemas.vocabulary import load_vocabulary

VOCABULARY = load_vocabulary()
NAMES = ("o", "m", "p", "m+p", "cresols")
SPANS = dict(zip(NAMES, (0b001, 0b010, 0b100, 0b110, 0b111), strict=True))


def chosen(measured: set[str], wanted: int = 0b111) -> set[str]:
    bits = sum(1 << NAMES.index(name) for name in measured)
    cover = cover_members(bits, wanted, SPANS)
    return {name for k, name in enumerate(NAMES) if cover >> k & 1}


# By enumeration on paper: every isomer once, as many as can be, the finest split first.
@pytest.mark.parametrize(
    ("measured", "expected"),
    [
        ({"o", "m", "p"}, {"o", "m", "p"}),
        ({"o", "m", "p", "m+p", "cresols"}, {"o", "m", "p"}),
        ({"o", "m+p"}, {"o", "m+p"}),
        ({"o", "m", "m+p"}, {"o", "m+p"}),
        ({"cresols"}, {"cresols"}),
        ({"o", "cresols"}, {"cresols"}),
        ({"o", "m+p", "cresols"}, {"o", "m+p"}),
        ({"o", "m"}, {"o", "m"}),
        ({"m", "m+p"}, {"m+p"}),
        (set(), set()),
    ],
    ids=lambda names: "+".join(sorted(names)) or "none",
)
def test_isomers_are_counted_once(measured: set[str], expected: set[str]) -> None:
    assert chosen(measured) == expected


def test_a_sum_reaching_outside_the_wanted_isomers_is_not_used() -> None:
    assert chosen({"m", "m+p", "cresols"}, wanted=0b011) == {"m"}


def test_the_vocabulary_spans_three_cresols() -> None:
    spans = isomer_spans(VOCABULARY, "cresols")
    assert {name: span.bit_count() for name, span in spans.items()} == {
        "o-cresol": 1, "m-cresol": 1, "p-cresol": 1, "m+p-cresol": 2, "cresols": 3,
    }  # fmt: skip
