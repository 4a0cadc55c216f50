"""Read printed names: which analyte, form, unit and limit a heading or a title states."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from rapidfuzz.distance import OSA

from schemas.vocabulary import Vocabulary, fold_unit, squash, squash_words

_SPACE = re.compile(r"\s+")
_CAS = re.compile(r"\(?\s*(?:CAS[^\d(]{0,6})?(\d{2,7}-\d{2}-\d)\s*\)?", re.IGNORECASE)
_LIMIT = re.compile(
    r"[(\[]?\s*\b(LOD|LOQ|LLD|MDL|L\.O\.D\.|L\.O\.Q\.|LOR|RL|NWG|BG|LD|LQ|limit of detection"
    r"|detection limit|limit of quantification|limit of quantitation|quantification limit"
    r"|quantitation limit|reporting limit)\b\s*(?:[:=<≤]|is|was|of)?\s*(\d+(?:[.,]\d+)?)",
    re.IGNORECASE,
)
_LIMIT_KINDS = {"lod": "lod", "lld": "lod", "mdl": "lod", "nwg": "lod", "ld": "lod",
                "limitofdetection": "lod", "detectionlimit": "lod", "loq": "loq", "bg": "loq",
                "lq": "loq", "lor": "limit", "rl": "limit", "reportinglimit": "limit"}  # fmt: skip
_EQUIVALENT = re.compile(
    r"(?:(?:expressed|calculated|reported)\s+)?\bas\s+(.{3,60}?)\s*(?:equivalents?|equiv\.?|eq\.?)?\s*[)\]]*$"
    r"|\bin\s+(.{3,60}?)\s+(?:equivalents?|equiv\.?|eq\.)\s*[)\]]*$"
    r"|[,;(]\s*([^,;(]{3,60}?)\s+(?:equivalents?|equiv\.?|eq\.)\s*[)\]]*$",
    re.IGNORECASE,
)
_K_FACTOR = re.compile(r"[,(]?\s*\bk\s*=\s*(\d(?:[.,]\d+)?)\s*\)?")
_SPREAD = re.compile(
    r"(?:±|\+/-|\+-)\s*\(?(SD|s|StDev|standard deviation|SE|U|u|MU|uncertainty|expanded uncertainty)?"
    r"(?:\s*,?\s*\(?k\s*=\s*\d)?\)?\s*$",
    re.IGNORECASE,
)
_IN_BRACKETS = re.compile(r"[(\[]([^()\[\]]{1,30})[)\]]")
_PATH = re.compile(r"(\d+(?:[.,]\d+)?\s*(?:mm|cm))(?:\s*(?:path|cell|cuvette))?", re.IGNORECASE)
_UNIT_LIKE = re.compile(
    r"(?:[pnuµμmk]?g|[nuµμm]?mol|[µμum]?L)\s*(?:/|per)\s*\w{1,12}", re.IGNORECASE
)
_REPLICATE = re.compile(r"[\s,;(-]*\brep(?:l(?:icate)?)?\.?\s*([0-9]|[a-c])\)?\s*$", re.IGNORECASE)
_BRACKETED = re.compile(r"([^()]{3,})\(([^()]{2,})\)")
_TITLE_SPREAD = re.compile(
    r"(?:±|\+/-)\s*(SD|s\.?d\.?|StDev|standard deviations?|U|MU|expanded uncertainty|uncertainty)\b",
    re.IGNORECASE,
)
_DEVIATIONS = {"sd", "s.d.", "s.d", "s", "stdev", "standard deviation", "standard deviations"}
ATTACHED_FIELDS = {"lod", "loq", "limit", "unit", "uncertainty", "deviation", "qualifier"}
# Anything that could be a name, a unit or a limit; a sample number such as "S-101" is none.
_WORDY = re.compile(r"[^\W\d_]{3}|[/µμ%(]|pp[bmt]\b")
_FILLER = re.compile(
    r"\b(conc(?:entration)?|result|level|content|amount|analyte|compound|teneur|gehalt|fraction"
    r"|form|aglycone|fracción|frazione|fraktion)s?\b\.?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Heading:
    """What a printed heading says; `None` where it says nothing of the kind."""

    text: str
    analyte: str | None = None
    form: str | None = None
    unit: str | None = None
    lod: str | None = None
    loq: str | None = None
    limit: str | None = None
    field: str | None = None
    expressed_as: str | None = None
    coverage_factor: str | None = None
    spread: str | None = None
    path_length: str | None = None
    replicate: str | None = None
    out_of_scope: bool = False
    spelled: str | None = None
    hint: str | None = None

    @property
    def is_measurand(self) -> bool:
        """Tell whether the heading names something measured, in scope or not."""
        return self.analyte is not None or self.out_of_scope

    @property
    def is_form_only(self) -> bool:
        """Tell whether the heading gives a form and names nothing else."""
        return (
            self.form is not None
            and not self.is_measurand
            and self.field is None
            and self.spelled is None
        )

    @property
    def is_unit_only(self) -> bool:
        """Tell whether the heading is nothing but a unit."""
        return self.unit is not None and not (
            self.is_measurand or self.field or self.form or self.spelled
        )


class Names:
    """Read headings and titles with one vocabulary, remembering what was read before."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self._unit = _unit_pattern(vocabulary)
        words = sorted(vocabulary.form_words, key=len, reverse=True)
        spaced = ("[^a-z0-9+]+".join(map(re.escape, w.split())) for w in words)
        self._form = re.compile(r"(?<![a-z0-9])(?:" + "|".join(spaced) + r")(?![a-z0-9])")
        self._matrix_words = _matrix_words(vocabulary)
        self.heading = lru_cache(maxsize=100_000)(self._read_heading)
        self.title = lru_cache(maxsize=20_000)(self._read_title)

    def _read_heading(self, text: str) -> Heading:
        printed = _printed(text)
        if len(printed) > 120 or not printed:
            return Heading(text)
        spread = _SPREAD.search(printed)
        direct = None if spread and spread.start() > 0 else self._look_up(printed)
        if direct:
            return Heading(text, **direct)
        if rep := _REPLICATE.fullmatch(printed):
            return Heading(text, field="replicate", replicate=rep.group(1))
        if not spread and not _WORDY.search(printed):
            return Heading(text)
        rest, stated = self._take_statements(printed)
        if (spread := _SPREAD.search(rest)) and spread.start() > 0:
            stated["spread"] = (
                "deviation" if (spread.group(1) or "").lower() in _DEVIATIONS else "uncertainty"
            )
            rest = rest[: spread.start()].strip(" (,[")
        found = self._look_up(rest) or self._look_up(_FILLER.sub(" ", rest))
        if found:
            return Heading(text, **(stated | found))
        forms, bare = self._take_forms(rest)
        if forms and (named := self._look_up(bare) or self._look_up(_FILLER.sub(" ", bare))):
            return Heading(text, **(stated | named | _one_form(forms)))
        if not squash(bare):
            return Heading(text, **(stated | _one_form(forms)))
        if len(forms) == 1 and self.is_generic(bare):
            return Heading(text, **(stated | _one_form(forms)))
        return self._guess(text, bare, stated | _one_form(forms))

    def _take_statements(self, printed: str) -> tuple[str, dict[str, str]]:
        """Split off CAS number, equivalents, limits, coverage factor and unit."""
        stated: dict[str, str] = {}
        rest = printed
        if (cas := _CAS.search(rest)) and cas.group(0).strip() != rest:
            rest = rest.replace(cas.group(0), " ")
        for kind, number in _LIMIT.findall(rest):
            key = squash(kind)
            stated.setdefault(_LIMIT_KINDS.get(key, "loq"), number)
        if any(key in stated for key in ("lod", "loq", "limit")):
            rest = _LIMIT.sub(" ", rest)
        if factor := _K_FACTOR.search(rest):
            stated["coverage_factor"] = factor.group(1)
            rest = rest.replace(factor.group(0), " ").strip()
        rest = self._take_brackets(rest, stated)
        if (equal := _EQUIVALENT.search(rest)) and (as_what := self._equivalent(equal)):
            stated["expressed_as"] = as_what
            rest = rest[: equal.start()]
        units = self.units_in(rest)
        if units and "unit" not in stated:
            stated["unit"] = units[0]
            rest = self.without_units(rest)
        return re.sub(r"[\[(]\s*[\])]|^[\s,;:/()\[\]-]+|[\s,;:/([-]+$", " ", rest).strip(), stated

    def _take_brackets(self, rest: str, stated: dict[str, str]) -> str:
        """Split off a path length, a replicate's number, and a unit that no vocabulary knows."""
        for content in _IN_BRACKETS.findall(rest):
            unit = self.vocabulary.units.get(fold_unit(content))
            if path := _PATH.fullmatch(content.strip()):
                stated["path_length"] = path.group(1)
            elif (
                unit
                and unit.kind in {"absorbance", "number"}
                or _UNIT_LIKE.fullmatch(content.strip())
            ):
                stated["unit"] = content.strip()
            else:
                continue
            rest = rest.replace(f"({content})", " ").replace(f"[{content}]", " ")
        if match := _REPLICATE.search(rest):
            stated["replicate"] = match.group(1)
            rest = rest[: match.start()]
        if "%" in rest and "unit" not in stated:
            stated["unit"] = "%"
            rest = rest.replace("%", " ")
        return rest.strip()

    def _equivalent(self, match: re.Match[str]) -> str | None:
        words = next(group for group in match.groups() if group)
        named = self.vocabulary.names.get(squash(words))
        if named is None and squash(words).strip("s") in {"aglycone", "aglycon"}:
            return "aglycone"
        return named

    def matrix_in(self, text: str) -> str | None:
        """Name the matrix a title speaks of, when it speaks of one kind only."""
        words = squash_words(text).split()
        phrases = {" ".join(words[i : i + n]) for n in (1, 2, 3) for i in range(len(words))}
        kinds = {m for p in phrases if (m := self._matrix_words.get(p.rstrip("s")))}
        coloured = kinds - {"wine"} if any(k.endswith(" wine") for k in kinds) else kinds
        return next(iter(coloured)) if len(coloured) == 1 else None

    @staticmethod
    def _fold(text: str) -> str:
        return text.replace("μ", "u").replace("µ", "u").replace("−", "-").replace("⁻¹", "-1")

    def units_in(self, text: str) -> list[str]:
        """List the distinct units printed in a text; a ratio beside a true unit is dropped."""
        found = [text[slice(*m.span(1))] for m in self._unit.finditer(self._fold(text))]
        known = {self.vocabulary.units[fold_unit(f)].name: f for f in reversed(found)}
        true = {n: f for n, f in known.items() if self.vocabulary.units[n].kind != "ratio"}
        return list((true or known).values())

    def without_units(self, text: str) -> str:
        """Drop every unit from a text."""
        return self._unit.sub(" ", self._fold(text)).strip()

    @staticmethod
    def without_limits(text: str) -> str:
        """Drop every stated limit ("LOD 0.5") from a text."""
        return _LIMIT.sub(" ", text)

    def _look_up(self, name: str) -> dict[str, Any] | None:
        if name.strip() in {"L*", "a*", "b*"}:
            return {"analyte": name.strip()}
        key = squash(name)
        if not key:
            return None
        if analyte := self.vocabulary.names.get(key):
            return {"analyte": analyte}
        if key in self.vocabulary.out_of_scope:
            return {"out_of_scope": True}
        if (pair := _BRACKETED.fullmatch(name)) and (
            named := self._look_up_synonyms(*pair.groups())
        ):
            return named
        if field := self.vocabulary.fields.get(key) or self.vocabulary.fields.get(key.rstrip("#")):
            return {"field": field}
        return self._look_up_pair(name)

    def _look_up_synonyms(self, name: str, bracketed: str) -> dict[str, Any] | None:
        """Read "2-methoxyphenol (guaiacol)": one name given twice; two different names are neither."""
        inside = self.vocabulary.names.get(squash(bracketed))
        outside = self.vocabulary.names.get(squash(name))
        if inside and outside in {inside, None} and squash(name) not in self.vocabulary.ambiguous:
            return {"analyte": inside} if outside else None
        return None

    def _look_up_pair(self, name: str) -> dict[str, Any] | None:
        """Read "guaiacol LOD" or "LOD guaiacol": what belongs to the analyte's own column."""
        words = name.split()
        for split in {1, len(words) - 1} - {0, len(words)}:
            for field, analyte in ((words[split:], words[:split]), (words[:split], words[split:])):
                column = self.vocabulary.fields.get(squash(" ".join(field)))
                named = self.vocabulary.names.get(squash(" ".join(analyte)))
                if named and column in ATTACHED_FIELDS:
                    return {"analyte": named, "field": column}
        return None

    def _take_forms(self, text: str) -> tuple[set[str], str]:
        """Split the words that tell a form off a text; the spelling of the rest is kept."""
        folded = _fold_letters(text)
        spans = [m.span() for m in self._form.finditer(folded)]
        forms = {self.vocabulary.form_words[squash_words(text[a:b])] for a, b in spans}
        bare = text
        for start, end in reversed(spans):
            bare = f"{bare[:start]} {bare[end:]}"
        return forms, bare.strip(" ,;:-–()[]")

    def is_generic(self, text: str) -> bool:
        """Tell whether a text speaks of phenols, smoke or glycosides at all."""
        words = squash_words(text)
        return any(context in words for context in self.vocabulary.form_context)

    def _read_title(self, text: str) -> Heading:
        """Read a line that stands over, under or beside a table."""
        printed = _printed(text)
        rest, stated = self._take_statements(printed)
        forms, bare = self._take_forms(rest)
        told = _one_form(forms) if forms and (self.is_generic(rest) or not squash(bare)) else {}
        if spread := _TITLE_SPREAD.search(printed):
            word = (spread.group(1) or "").lower()
            told["spread"] = "deviation" if word in _DEVIATIONS else "uncertainty"
        return Heading(text, **(stated | told))

    def _guess(self, text: str, bare: str, stated: dict[str, Any]) -> Heading:
        """Accept a typo only when one name is near and no second name is nearly as near."""
        key = squash(bare)
        if key in self.vocabulary.ambiguous:
            return Heading(text, **stated, hint=self.vocabulary.ambiguous[key], spelled=bare)
        near = self._near(key)
        if not near:
            return Heading(text, **stated, spelled=bare)
        best, second = near[0], near[1] if len(near) > 1 else (99, "")
        allowed = 0 if len(key) < 6 else 1 if len(key) < 10 else 2
        if best[0] <= allowed and second[0] - best[0] >= best[0]:
            found: dict[str, Any] = (
                {"out_of_scope": True} if best[1] == "" else {"analyte": best[1], "spelled": bare}
            )
            return Heading(text, **(stated | found))
        hint = f'did you mean "{best[1]}"?' if best[1] else None
        return Heading(text, **stated, hint=hint, spelled=bare)

    def _near(self, key: str) -> list[tuple[int, str]]:
        """List (distance, analyte) by distance; "" stands for a name out of scope.

        Digits and the first letter are never taken for typos: they are the positions of groups.
        """
        if not 3 <= len(key) <= 40 or not key[0].isalnum():
            return []
        best: dict[str, int] = {}
        for known, name in self._candidates.get((key[0], _digits(key)), ()):
            distance = OSA.distance(key, known, score_cutoff=3)
            if distance <= 3 and distance < best.get(name, 99):
                best[name] = distance
        if not best:
            return []
        blocked = min(OSA.distance(key, squashed) for squashed in self.vocabulary.ambiguous)
        return sorted((d + 2 * (blocked <= d), n) for n, d in best.items())

    @cached_property
    def _candidates(self) -> dict[tuple[str, str], list[tuple[str, str]]]:
        known = [*self.vocabulary.names.items(), *((n, "") for n in self.vocabulary.out_of_scope)]
        grouped: dict[tuple[str, str], list[tuple[str, str]]] = {}
        for key, name in known:
            grouped.setdefault((key[0], _digits(key)), []).append((key, name))
        return grouped


def _digits(key: str) -> str:
    return "".join(c for c in key if c.isdigit())


def _printed(text: str) -> str:
    """Fold widths and spaces, but keep the micro sign that was printed."""
    folded = unicodedata.normalize("NFKC", text.replace("µ", "\ue000"))
    return _SPACE.sub(" ", folded.replace("\ue000", "µ")).strip()


def _one_form(forms: set[str]) -> dict[str, Any]:
    return {"form": next(iter(forms))} if len(forms) == 1 else {}


def _unit_pattern(vocabulary: Vocabulary) -> re.Pattern[str]:
    kinds = {"mass per volume", "mass per mass", "amount per volume", "amount per mass", "ratio"}
    printed = sorted(
        (u for u, unit in vocabulary.units.items() if unit.kind in kinds), key=len, reverse=True
    )
    return re.compile(
        r"(?<![\w/])[\[(]?\s*("
        + "|".join(re.escape(u).replace("/", r"\s*/\s*") for u in printed)
        + r")\s*[\])]?(?![\w/])"
    )


# Words for a matrix that mean something else in a title.
_NOT_IN_TITLES = {"red", "white", "rose", "most", "must", "medium", "jus", "fruit", "tinto"}


def _matrix_words(vocabulary: Vocabulary) -> dict[str, str]:
    words = {squash_words(w): m for m, ws in vocabulary.matrix_words.items() for w in (m, *ws)}
    return {w.rstrip("s"): m for w, m in words.items() if w not in _NOT_IN_TITLES}


def _fold_letters(text: str) -> str:
    """Fold case and accents letter by letter, so that positions stay those of the text."""
    return "".join(unicodedata.normalize("NFD", c)[0] for c in text.lower()) if text else text
