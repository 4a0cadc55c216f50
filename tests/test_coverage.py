"""What laboratories do has a case each, and the list of it names no case that is not there."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from corpus import MADE

HERE = Path(__file__).parent
LISTED: dict[str, dict[str, list[str]]] = tomllib.loads(
    (HERE / "corpus" / "coverage.toml").read_text(encoding="utf-8")
)
CASES = {name for name, _ in MADE}


def exists(name: str) -> bool:
    """Tell whether a case of the corpus, or a test of a module ("test_find::test_x"), is there."""
    module, parted, test = name.partition("::")
    if not parted:
        return name in CASES
    path = HERE / f"{module}.py"
    return path.is_file() and bool(re.search(rf"^def {test}\(", path.read_text("utf-8"), re.M))


@pytest.mark.parametrize(
    ("group", "phrase"), [(group, phrase) for group, lines in LISTED.items() for phrase in lines]
)
def test_each_line_has_its_cases(group: str, phrase: str) -> None:
    names = LISTED[group][phrase]
    assert names
    assert [name for name in names if not exists(name)] == []


def test_a_name_that_is_not_there_is_noticed() -> None:
    assert not exists("samples_sideways")
    assert not exists("test_find::test_samples_sideways")
    assert not exists("test_nothing::test_samples_sideways")


def test_every_case_has_a_name_of_its_own() -> None:
    assert len(CASES) == len(MADE) >= 60
