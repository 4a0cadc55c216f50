"""Read names that stand in pairs: one name twice, or an analyte and what belongs to its column."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from pipeline.names.abbreviations import abbreviates
from pipeline.names.heading import ATTACHED_FIELDS, Heading
from pipeline.names.patterns import SUM_OR_FORM, one_form
from schemas.vocabulary import Vocabulary, squash


def look_up_synonyms(name: str, bracketed: str, vocabulary: Vocabulary) -> dict[str, Any] | None:
    """Read "2-methoxyphenol (guaiacol)": one name given twice; two different names are neither.

    An abbreviation beside its name is the same name: "guaiacol rutinoside (GRG)".
    """
    inside = vocabulary.names.get(squash(bracketed))
    outside = vocabulary.names.get(squash(name))
    short, named = (name, inside) if inside else (bracketed, outside)
    if named and None in {inside, outside} and abbreviates(short, named, vocabulary):
        return {"analyte": named}
    if inside and outside in {inside, None} and squash(name) not in vocabulary.ambiguous:
        return {"analyte": inside} if outside else None
    return None


def agree(text: str, one: Heading, other: Heading) -> Heading | None:
    """Join two halves of a heading that name the same, such as "Gaïacol libre / Free guaiacol"."""
    if one.analyte != other.analyte or one.field != other.field:
        return None
    if one.out_of_scope != other.out_of_scope or one.version != other.version:
        return None
    stated = ("form", "unit", "lod", "loq", "limit", "expressed_as")
    if any(len({getattr(one, k), getattr(other, k)} - {None}) > 1 for k in stated):
        return None
    named = one.is_measurand or one.field or (one.is_form_only and other.is_form_only)
    joined = {k: getattr(one, k) or getattr(other, k) for k in stated}
    return replace(other, text=text, **joined) if named else None


def unless_denied(name: str, cas: str, named: dict[str, Any] | None, vocabulary: Vocabulary) -> str:
    """Spoil a name whose CAS number is another substance's, so that it is held."""
    numbered = vocabulary.names.get(squash(cas))
    same = numbered is None or named is None or named.get("analyte") == numbered
    return name if same else f"{name} (but CAS {cas} is {numbered})"


def is_out_of_scope(name: str, vocabulary: Vocabulary) -> bool:
    """Tell a measurand that is counted and not kept; "Ph" is none, for it may be phenol or pH.

    What stands in brackets behind it is a unit or remark ("Turbidity (NTU)"), unless it names an
    analyte.
    """
    if name.strip() == "Ph":
        return is_derived(name, vocabulary)
    behind = _BEHIND.fullmatch(name)
    bare = behind[1] if behind and len(squash(behind[1])) > 1 else name
    named = behind and squash(behind[2]) in {*vocabulary.names, *vocabulary.ambiguous}
    known = squash(name) in vocabulary.out_of_scope
    known = known or (not named and squash(bare) in vocabulary.out_of_scope)
    return known or is_derived(name, vocabulary)


def is_derived(name: str, vocabulary: Vocabulary) -> bool:
    """Tell "OAV", "Guaiacol OAV" or "Peak area (guaiacol)": no concentration, but made of one."""
    if squash(name) in vocabulary.derived or _is_labelled(name, vocabulary):
        return True
    words = re.split(r"[\s()\[\],:/]+", name.strip(" ()[]"))
    return any(
        squash(" ".join(one)) in vocabulary.derived and squash(" ".join(two)) in vocabulary.names
        for at in range(1, len(words))
        for one, two in ((words[:at], words[at:]), (words[at:], words[:at]))
    )


def sum_or_form(
    named: dict[str, Any], forms: set[str], vocabulary: Vocabulary
) -> dict[str, Any] | None:
    """Read "total free cresols" as free; of "total cresols" only the sheet can tell the form.

    Null where the name is no sum of all isomers or "total" is not among the forms.
    """
    facts = vocabulary.analytes.get(named.get("analyte", ""))
    if "total" not in forms or facts is None or len(facts.members) < 3:
        return None
    others = forms - {"total"}
    return one_form(others) if others else {"sum_or_form": True, "hint": SUM_OR_FORM}


def doubt_sum(read: Heading, vocabulary: Vocabulary) -> Heading:
    """Take the form from "cresóis totais" that was read as a misspelled name."""
    told = sum_or_form({"analyte": read.analyte or ""}, {read.form or ""}, vocabulary)
    return replace(read, form=None, **told) if told else read


def _is_labelled(name: str, vocabulary: Vocabulary) -> bool:
    """Tell "d3-Guaiacol" or "Guaiacol-d3 recovery": a standard that was added, not a result."""
    bare = _DEUTERIUM.sub(" ", name)
    if bare == name:
        return False
    return squash(bare) in vocabulary.names or is_derived(bare.strip(), vocabulary)


_BEHIND = re.compile(r"([^()\[\]]+?)\s*[(\[]([^()\[\]]+)[)\]]\s*")
_DEUTERIUM = re.compile(
    r"(?:^|(?<=\s))[\[(]?(?:2H|d)\d{1,2}[\])]?[-\s]+(?=\w)|[-\s]+[\[(]?(?:2H|d)\d{1,2}[\])]?(?=\s|$)",
    re.IGNORECASE,
)
_DATE_PATTERN = re.compile(
    r"\s*[(\[]?(?<![^\W\d_])[dmyjtga]{1,4}(?:[./ -][dmyjtga]{1,4}){2}[)\]]?\s*$", re.IGNORECASE
)
_MEASURE = re.compile(r"\s*[(\[](?:[mµμuhk]?[lLg]|°?C|min|m/z)[)\]]$")


def look_up_field(name: str, vocabulary: Vocabulary) -> str | None:
    """Find the field a heading calls; "Volume (L)" is passed over like "Volume".

    "Sampled (dd/mm/yyyy)" is "Sampled".
    """
    if field := vocabulary.field_called(name):
        return field
    undated = _DATE_PATTERN.sub("", name)
    if undated != name and (field := vocabulary.field_called(undated)) in vocabulary.date_fields:
        return field
    bare = _MEASURE.sub("", name)
    return "ignored" if bare != name and vocabulary.field_called(bare) == "ignored" else None


def look_up_pair(name: str, vocabulary: Vocabulary) -> dict[str, Any] | None:
    """Read "guaiacol LOD" or "LOD guaiacol": what belongs to the analyte's own column."""
    words = name.split()
    for split in {1, len(words) - 1} - {0, len(words)}:
        for field, analyte in ((words[split:], words[:split]), (words[:split], words[split:])):
            column = vocabulary.fields.get(squash(" ".join(field)))
            named = vocabulary.names.get(squash(" ".join(analyte)))
            if named and column in ATTACHED_FIELDS:
                return {"analyte": named, "field": column}
            if named and column == "result":
                return {"analyte": named}
    return None


def look_up_equivalent(words: str, vocabulary: Vocabulary) -> str | None:
    """Read "as guaiacol" or "aglycone" for the substance whose mass a number is."""
    bare = re.sub(r"^(?:as|in)\s+", "", words)
    named = vocabulary.names.get(squash(bare))
    if named is None and squash(bare).strip("s") in {"aglycone", "aglycon"}:
        return "aglycone"
    return named
