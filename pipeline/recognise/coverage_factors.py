"""What the lines of a sheet say of the coverage factor of its uncertainties."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pipeline.names.patterns import K_FACTOR

_OF_UNCERTAINTY = re.compile(
    r"uncertain|coverage|incertitude|élargi|incertidumbre|cobertura|incertezza|copertura|incerteza"
    r"|abrangência|unsicherheit|erweiterungsfaktor",
    re.IGNORECASE,
)
_IN_WORDS = re.compile(
    r"(?:coverage factor|facteur d.élargissement|factor de cobertura|fattore di copertura"
    r"|fator de abrangência|erweiterungsfaktor)\s+(?:k\s+)?(?:(?:of|de|di|von|is)\s+)?(\d(?:[.,]\d+)?)\b",
    re.IGNORECASE,
)


def stated_factor(texts: Iterable[str]) -> dict[str, str]:
    """Read "expanded with a coverage factor k = 2", wherever it stands.

    Two different factors say nothing, for nobody tells which of the results each is of.
    """
    found = set()
    for text in texts:
        said = K_FACTOR.search(text) or _IN_WORDS.search(text)
        if said and _OF_UNCERTAINTY.search(text):
            found.add(said.group(1).replace(",", "."))
    return {"coverage_factor": found.pop()} if len(found) == 1 else {}
