"""Read printed names: which analyte, form, unit and limit a heading or a title states."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from pipeline.names.brackets import bring_out_equivalent, split_last, take_brackets, take_factor
from pipeline.names.heading import ATTACHED_FIELDS, Heading, label_unit
from pipeline.names.listed import lists_form
from pipeline.names.pairs import (
    agree,
    doubt_sum,
    is_out_of_scope,
    look_up_equivalent,
    look_up_field,
    look_up_pair,
    look_up_synonyms,
    sum_or_form,
    unless_denied,
)
from pipeline.names.patterns import (
    BEFORE_UNIT,
    BRACKETED,
    CAS,
    DENIED,
    EMPTY,
    EQUIVALENT,
    FILLER,
    K_FACTOR,
    LIMIT,
    LIMIT_KINDS,
    MULTIPLE,
    NO_FORM,
    REPLICATE,
    SPREAD,
    TITLE_SPREAD,
    TWOFOLD,
    WORDY,
    as_printed,
    fold_letters,
    fold_signs,
    matrix_words,
    one_form,
    rest_of_limits,
    spread_kind,
    unit_pattern,
    word_pattern,
)
from pipeline.names.typos import Typos
from schemas.vocabulary import Vocabulary, fold_unit, squash, squash_words

__all__ = ["ATTACHED_FIELDS", "Heading", "Names", "label_unit"]


class Names:
    """Read headings and titles with one vocabulary, remembering what was read before."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.typos = Typos(vocabulary)
        self._unit = unit_pattern(vocabulary)
        self._form = word_pattern(vocabulary.form_words)
        self._version = word_pattern(vocabulary.versions)
        self._matrix_words = matrix_words(vocabulary)
        self.heading = lru_cache(maxsize=100_000)(self._read_twofold)
        self.title = lru_cache(maxsize=20_000)(self._read_title)

    def heeding(self, marked: Mapping[str, Heading]) -> Names:
        """Give the same names with some headings read as their own sheet has them read."""
        plain, own = self.heading, copy.copy(self)
        own.heading = lambda text: marked.get(text) or plain(text)  # type: ignore[assignment]
        return own

    def _read_twofold(self, text: str) -> Heading:
        """Read a heading; one that says the same in two languages is read as either of them."""
        read = self._read_heading(text)
        parts = [part for part in TWOFOLD.split(text.strip()) if part.strip()]
        if len(parts) != 2 or read.is_measurand or read.field:
            return read
        return agree(text, *map(self._read_heading, parts)) or read

    def _read_heading(self, text: str) -> Heading:
        printed = as_printed(text)
        if len(printed) > 120 or not printed:
            return Heading(text)
        spread = SPREAD.search(printed)
        direct = None if spread and spread.start() > 0 else self._look_up(printed)
        if direct:
            word = self._version.search(fold_letters(printed)) if "field" in direct else None
            version = self.vocabulary.versions[squash_words(word.group())] if word else None
            return Heading(text, **direct, version=version)
        if rep := REPLICATE.fullmatch(printed):
            return Heading(text, field="replicate", replicate=rep.group(1))
        if not spread and not WORDY.search(printed):
            return Heading(text)
        rest, stated = self._take_statements(printed)
        if (spread := SPREAD.search(rest)) and spread.start() > 0:
            stated["spread"] = spread_kind(spread)
            rest = rest[: spread.start()].strip(" (,[")
        if hint := self.vocabulary.ambiguous.get(squash(rest)):
            return Heading(text, **stated, spelled=rest, hint=hint)
        found = self._look_up(rest) or self._look_up(FILLER.sub(" ", rest))
        if found:
            return Heading(text, **(stated | found))
        forms, bare = self._take_forms(rest)
        named = self._look_up(bare) or self._look_up(FILLER.sub(" ", bare)) if forms else None
        if named and named.get("field") not in {"ignored", "form"}:
            form = sum_or_form(named, forms, self.vocabulary) or one_form(forms)
            return Heading(text, **(stated | named | form))
        if not squash(bare):
            return Heading(text, **(stated | one_form(forms)))
        if versioned := self._take_version(text, rest, stated):
            return versioned
        if strange := self._strange_unit(text, rest, stated):
            return strange
        forms = set() if DENIED.search(rest) else self._take_forms(NO_FORM.sub(" ", rest))[0]
        if len(forms) == 1 and self.is_generic(bare):
            return Heading(text, **(stated | one_form(forms)))
        guessed = self.typos.guess(text, bare, stated | one_form(forms))
        return doubt_sum(guessed, self.vocabulary)

    def _take_version(self, text: str, rest: str, stated: dict[str, Any]) -> Heading | None:
        """Read "Corrected free guaiacol": a known name and which of its numbers stands there."""
        forms, bare = self._take_forms(rest)
        found = [m.span() for m in self._version.finditer(fold_letters(bare))]
        if len(found) != 1:
            return None
        start, end = found[0]
        version = self.vocabulary.versions[squash_words(bare[start:end])]
        plain = EMPTY.sub(" ", f"{bare[:start]} {bare[end:]}").strip(" ,;:-–()[]")
        named: dict[str, Any] | None = self._look_up(plain) if plain else {}
        if named is None or (named.keys() - {"analyte"} and named != {"field": "result"}):
            return None
        return Heading(text, **(stated | named | one_form(forms)), version=version)

    def _strange_unit(self, text: str, rest: str, stated: dict[str, Any]) -> Heading | None:
        """Read "Guaiacol (furlong)": a known name and, in brackets, what can only be its unit."""
        name, bracketed = split_last(rest)
        if bracketed is None or "unit" in stated or squash(name) in self.vocabulary.ambiguous:
            return None
        if self._look_up(bracketed) or "CAS" in bracketed:
            return None
        forms, plain = self._take_forms(name)
        named = self._look_up(plain)
        if named is None or "analyte" not in named or "field" in named:
            return None
        return Heading(text, **({"unit": bracketed} | stated | named | one_form(forms)))

    def _take_statements(self, printed: str) -> tuple[str, dict[str, Any]]:
        """Split off CAS number, equivalents, limits, coverage factor and unit."""
        stated: dict[str, Any] = {}
        rest = bring_out_equivalent(printed, self.vocabulary)
        if (cas := CAS.search(rest)) and cas.group(0).strip() != rest:
            rest = rest.replace(cas.group(0), " ")
            named = self._look_up(rest)
            rest = unless_denied(rest, cas.group(1), named, self.vocabulary)
        for kind, number in LIMIT.findall(rest):
            key = squash(kind)
            stated.setdefault(LIMIT_KINDS.get(key, "loq"), number)
        if any(key in stated for key in ("lod", "loq", "limit")):
            rest = LIMIT.sub(" ", rest)
        if factor := K_FACTOR.search(rest):
            stated["coverage_factor"] = factor.group(1)
            rest = rest.replace(factor.group(0), " ").strip()
        rest = take_factor(rest, stated, self._unit)
        rest = take_brackets(rest, stated, self.vocabulary)
        units = self.units_in(rest)
        equal = EQUIVALENT.search(rest)
        words = self.without_units(next(filter(None, equal.groups()))) if equal else ""
        if equal and (as_what := look_up_equivalent(words, self.vocabulary)):
            stated["expressed_as"] = as_what
            rest = rest[: equal.start()]
        if units and "unit" not in stated:
            multiple = MULTIPLE.search(self.without_units(rest))
            stated["unit"] = rest if multiple else units[0]
            rest = self.without_units(rest)
            rest = BEFORE_UNIT.sub(" ", rest) if len(units) == 1 else rest
        rest = re.sub(r"[\[(]\s*[\])]|^[\s,;:/()\[\]-]+|[\s,;:/([-]+$", " ", rest).strip()
        if cas and not squash(self._take_forms(rest)[1]):
            rest = f"{cas.group(1)} {rest}".strip()
        return rest, stated

    def matrix_in(self, text: str) -> str | None:
        """Name the matrix a title speaks of, when it speaks of one kind only."""
        words = squash_words(text).split()
        phrases = {" ".join(words[i : i + n]) for n in (1, 2, 3) for i in range(len(words))}
        kinds = {m for p in phrases if (m := self._matrix_words.get(p.rstrip("s")))}
        coloured = kinds - {"wine"} if any(k.endswith(" wine") for k in kinds) else kinds
        return next(iter(coloured)) if len(coloured) == 1 else None

    def units_in(self, text: str) -> list[str]:
        """List the distinct units printed in a text; a ratio beside a true unit is dropped."""
        found = [text[slice(*m.span(1))] for m in self._unit.finditer(fold_signs(text))]
        known = {self.vocabulary.units[fold_unit(f)].name: f for f in reversed(found)}
        true = {n: f for n, f in known.items() if self.vocabulary.units[n].kind != "ratio"}
        return list((true or known).values())

    def without_units(self, text: str) -> str:
        """Drop every unit from a text."""
        return self._unit.sub(" ", fold_signs(text)).strip()

    def _look_up(self, name: str) -> dict[str, Any] | None:
        if name.strip() in {"L*", "a*", "b*"}:
            return {"analyte": name.strip()}
        if name.strip() in {"<", ">", "</>", "< / >", "<>", "</=/>"}:
            return {"field": "qualifier"}
        key = squash(CAS.sub(r"\1", name))
        if not key:
            return None
        if analyte := self.vocabulary.names.get(key):
            return {"analyte": analyte}
        if is_out_of_scope(name, self.vocabulary):
            return {"out_of_scope": True}
        if (pair := BRACKETED.fullmatch(name)) and (
            named := look_up_synonyms(pair.group(1), pair.group(2), self.vocabulary)
        ):
            return named
        if field := look_up_field(name, self.vocabulary):
            return {"field": field}
        if key[-1].isdigit() and self.vocabulary.fields.get(key[:-1]) == "result":
            return {"field": "result", "replicate": key[-1]}
        return look_up_pair(name, self.vocabulary)

    def _take_forms(self, text: str) -> tuple[set[str], str]:
        """Split the words that tell a form off a text; the spelling of the rest is kept."""
        folded = fold_letters(text)
        spans = [m.span() for m in self._form.finditer(folded)]
        forms = {self.vocabulary.form_words[squash_words(text[a:b])] for a, b in spans}
        bare = text
        for start, end in reversed(spans):
            bare = f"{bare[:start]} {bare[end:]}"
        plain = bare.strip(" ,;:-–()[]")
        return forms, f"{plain})" if plain.count("(") > plain.count(")") else plain

    def is_generic(self, text: str) -> bool:
        """Tell whether a text speaks of phenols, smoke or glycosides; "Analytics" is a laboratory's."""
        words = squash_words(text).replace("analytic", "")
        return any(context in words for context in self.vocabulary.form_context)

    def _read_title(self, text: str) -> Heading:
        """Read a line that stands over, under or beside a table."""
        printed = as_printed(text)
        rest, stated = self._take_statements(printed)
        forms, bare = self._take_forms(NO_FORM.sub(" ", rest))
        if DENIED.search(rest):
            forms = set()
        known = self.is_generic(rest) or not squash(bare) or lists_form(printed, self)
        told = one_form(forms) if forms and known else {}
        if spread := TITLE_SPREAD.search(printed):
            told["spread"] = spread_kind(spread)
        elif "coverage_factor" in stated:
            told["spread"] = "uncertainty"
        if len(units := self.units_in(rest_of_limits(printed))) > 1:
            told["unit"] = " / ".join(units)
        return Heading(text, **(stated | told))
