"""The declared facts: checked against outside sources and for contradictions."""

from __future__ import annotations

import pytest
from molmass import Formula

from schemas.vocabulary import Analyte, load_vocabulary, squash

VOCABULARY = load_vocabulary()
WITH_FORMULA = [a for a in VOCABULARY.analytes.values() if a.formula]


@pytest.mark.parametrize("analyte", WITH_FORMULA, ids=lambda a: a.name)
def test_molar_masses(analyte: Analyte) -> None:
    # an independent library with isotope averages of its own, against IUPAC/CIAAW 2021
    assert analyte.formula is not None
    assert analyte.molar_mass == pytest.approx(Formula(analyte.formula).mass, abs=0.005)


@pytest.mark.parametrize(
    ("name", "mass"),
    [
        # computed from the abridged atomic weights of IUPAC/CIAAW 2021: H 1.0080, C 12.011, O 15.999
        ("guaiacol", 124.139),
        ("syringol", 154.165),
        ("guaiacol rutinoside", 432.422),
        ("syringol gentiobioside", 478.447),
        ("guaiacol glucoside", 286.280),
        ("guaiacol pentosylglucoside", 418.395),
    ],
)
def test_molar_masses_by_hand(name: str, mass: float) -> None:
    assert VOCABULARY.analytes[name].molar_mass == pytest.approx(mass, abs=0.001)


def test_no_spelling_names_two_analytes() -> None:
    seen: dict[str, str] = {}
    for analyte in VOCABULARY.analytes.values():
        for spelling in (analyte.name, *analyte.spellings):
            assert seen.setdefault(squash(spelling), analyte.name) == analyte.name, spelling


def test_vocabularies_do_not_overlap() -> None:
    names, fields = set(VOCABULARY.names), set(VOCABULARY.fields)
    assert not names & fields
    assert not names & VOCABULARY.out_of_scope
    assert not fields & VOCABULARY.out_of_scope
    assert not names & set(VOCABULARY.ambiguous)


@pytest.mark.parametrize(
    ("printed", "name"),
    [
        ("creosol", "4-methylguaiacol"),
        ("4-MG", "4-methylguaiacol"),
        ("Gaïacol", "guaiacol"),
        ("Guajakol", "guaiacol"),
        ("2,6-Dimethoxyphenol", "syringol"),
        ("m/p-Cresol", "m+p-cresol"),
        ("m- & p-cresol", "m+p-cresol"),
        ("p/m-cresol", "m+p-cresol"),
        ("tricresol", "cresols"),
        ("MSyGG", "4-methylsyringol gentiobioside"),
        ("cresol", None),
        ("phenols", None),
    ],
)
def test_spellings(printed: str, name: str | None) -> None:
    assert VOCABULARY.names.get(squash(printed)) == name


def test_every_threshold_names_its_source() -> None:
    for threshold in VOCABULARY.thresholds:
        assert threshold.analyte in VOCABULARY.analytes
        assert len(threshold.source) > 20
        assert threshold.unit == "ug/L"
