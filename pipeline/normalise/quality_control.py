"""Tell rows of quality control from samples, by their names and the company they keep."""

from __future__ import annotations

import re

import polars as pl

from pipeline.normalise.texts import map_texts
from schemas.vocabulary import Vocabulary, squash, squash_words
from schemas.wordings import any_of, words_of

_USUAL = words_of("controls", "words")
_CALLED_SAMPLE = sorted(words_of("controls", "samples"))


def name_quality_control(readings: pl.DataFrame, words: Vocabulary) -> pl.DataFrame:
    """Add kind_qc (by the column of types) and name_qc (by the sample's name), null for samples."""
    return (
        readings.pipe(
            map_texts, "raw_sample_kind", "kind_qc", lambda t: _qc_kind(t, words, alone=True)
        )
        .pipe(map_texts, "raw_sample", "name_qc", lambda t: _qc_kind(t, words, alone=False))
        .pipe(map_texts, "raw_sample", "maybe_qc", lambda t: _maybe_qc(t, words))
        .pipe(map_texts, "raw_sample", "qc_of", lambda t: _qc_of_sample(t, words)[0])
        .pipe(map_texts, "raw_sample", "qc_kind_of", lambda t: _qc_of_sample(t, words)[1])
        .with_columns(called_so=pl.when(pl.col("name_qc").is_not_null()).then("raw_sample"))
        .pipe(map_texts, "called_so", "may_be_wine", lambda t: _may_be_wine(t, words))
        .drop("called_so")
        .pipe(_heed_types)
        .pipe(_settle_doubtful_qc)
        .pipe(_leave_spikes_of_nothing)
        .pipe(_name_by_tab)
    )


def _heed_types(readings: pl.DataFrame) -> pl.DataFrame:
    """Let a column of types say that "Blank Thistle" is a sample."""
    said = pl.col("raw_sample_kind").str.strip_chars().str.to_lowercase().is_in(_CALLED_SAMPLE)
    is_sample = (said & pl.col("may_be_wine").is_not_null()).fill_null(value=False)
    return readings.with_columns(name_qc=pl.when(~is_sample).then("name_qc"))


# What was added, behind the name of a spiked sample: "P1 spike (10 ug/L)", "P1 spiked at 10 ppb".
_CONCENTRATION = r"\d+(?:[.,]\d+)?\s*(?:[nuµμm]?g\s*/\s*(?:m?l|kg|g)|ppb)\b\s*[)\]]?\s*$"
_AMOUNT = re.compile(rf"(?:[\s(\[+@,]|\b(?:at|with|by)\b)*\b{_CONCENTRATION}", re.IGNORECASE)
# So little is added for the analysis only: "P1 + 10 ug/L"; milligrams may be a treatment.
_ADDED = re.compile(
    rf"\w\s*[(\[]?\s*\+\s*(?!\d+(?:[.,]\d+)?\s*m?g\s*/){_CONCENTRATION}", re.IGNORECASE
)
_BRACKETED = re.compile(r"\s*\([^()]*\)$")


def _qc_kind(text: str, words: Vocabulary, *, alone: bool) -> str | None:
    """Read a quality-control word; a bare "control" counts only in a column for the sample's type.

    In a sample's name it may stand first or last: "Blank 1", "S2 dup", "S1 (spike)"; behind it,
    the amount that was added or a remark in brackets.
    """
    if _ADDED.search(text):
        return "spike"
    bare = _AMOUNT.sub("", text)
    kind = _kind_called(bare, words, alone=alone)
    plain = _BRACKETED.sub("", bare)
    return kind or (_kind_called(plain, words, alone=alone) if plain != bare else None)


def _kind_called(text: str, words: Vocabulary, *, alone: bool) -> str | None:
    numbered = squash(re.sub(r"[\s#-]*\d+$", "", text))
    kind = words.row_words.get(squash(text)) or words.row_words.get(numbered)
    if kind == "control_if_alone":
        return "control" if alone else None
    if kind is None:
        parts = [p for p in re.split(r"[\s_()/-]+", text) if p and not p.isdigit()]
        ends = {words.row_ends.get(squash(p)) for p in (parts[:1] + parts[-1:])} - {None}
        if ends and _is_a_place(parts[1:], words):
            ends = {words.row_ends.get(squash(parts[-1]))} - {None}
        kind = ends.pop() if len(ends) == 1 else _phrase_at_an_end(text, words)
    return kind if kind in _KINDS else None


def _is_a_place(rest: list[str], words: Vocabulary) -> bool:
    """Tell "Blank Hill" or "Blank Lucia Shiraz" from "Blank red wine": names behind the word."""
    if any(squash(p) in words.place_words for p in rest):
        return True
    wines = {word for phrase in words.matrices for word in phrase.split()}
    called = [
        p
        for p in rest
        if len(p) > 2 and p[0].isupper() and squash(p) not in wines | words.row_words.keys()
    ]
    return len(called) > 1


_KINDS = {"blank", "spike", "duplicate", "control"}


def _phrase_at_an_end(text: str, words: Vocabulary) -> str | None:
    """Read "Matrix spike (W2 + 10)" or "W2 lab duplicate": two words or more first or last."""
    told = squash_words(text).split()
    ends = {
        squash("".join(part)) for n in (2, 3) for part in (told[:n], told[-n:]) if len(told) > n
    }
    kinds = {words.row_words.get(key) for key in ends} & _KINDS
    return kinds.pop() if len(kinds) == 1 else None


def _maybe_qc(text: str, words: Vocabulary) -> str | None:
    """Read "MB-1" or "Control": quality control where the report has more of it, else a sample."""
    return words.rows_beside_others.get(squash(re.sub(r"[\s#-]*\d+$", "", text)))


def _qc_of_sample(text: str, words: Vocabulary) -> tuple[str | None, str | None]:
    """Split "S2 MSD" into the sample's name and the kind of control; null where it is neither."""
    base, _, last = text.rstrip(" )").replace("_", " ").rpartition(" ")
    kind = words.rows_of_a_sample.get(squash(last)) if base else None
    return (base.strip(" (-"), kind) if kind else (None, None)


def _settle_doubtful_qc(readings: pl.DataFrame) -> pl.DataFrame:
    """Take a name for quality control where the report has other such rows, or its sample."""
    others = pl.coalesce("name_qc", "kind_qc").is_not_null().any().over("report_id")
    others = others | (pl.col("maybe_qc").drop_nulls().n_unique().over("report_id") > 1)
    named = (
        readings.select("report_id", qc_of="sample_id", is_there=pl.lit(True)).drop_nulls().unique()
    )
    return (
        readings.join(named, on=["report_id", "qc_of"], how="left", maintain_order="left")
        .with_columns(
            name_qc=pl.coalesce(
                "name_qc",
                pl.when(others).then("maybe_qc"),
                pl.when(others | pl.col("is_there").fill_null(False)).then("qc_kind_of"),
            )
        )
        .drop("maybe_qc", "qc_of", "qc_kind_of", "is_there")
    )


# "MS-1": a matrix spike, or the first sample of the vineyard M.
_CODED = re.compile(r"\s*msd?[\s#_-]*\d+\s*", re.IGNORECASE)


def _leave_spikes_of_nothing(readings: pl.DataFrame) -> pl.DataFrame:
    """Take "MS-1" for a sample where the report has none that could have been spiked.

    And where it has a lot of its own, that no other sample shares: a spike has none.
    """
    coded = pl.col("raw_sample").str.contains(f"(?i)^{_CODED.pattern}$").fill_null(value=False)
    if not readings.select(coded.any()).item():
        return readings
    plain = pl.coalesce("name_qc", "kind_qc").is_null() & pl.col("raw_sample").is_not_null()
    shared = plain.any().over("report_id", "raw_lot")
    own = pl.col("raw_lot").is_not_null() & ~shared
    alone = coded & pl.col("kind_qc").is_null() & (own | ~plain.any().over("report_id"))
    return readings.with_columns(name_qc=pl.when(~alone).then("name_qc"))


def _name_by_tab(readings: pl.DataFrame) -> pl.DataFrame:
    """Take what stands on a sheet of quality control alone for a control, by the sheet's name.

    Not where the report has such sheets only, nor what is called as samples on other sheets are
    ("W-3" where they are "W-1" and "W-2").
    """
    on_tab = map_texts(readings, "sheet", "on_tab", lambda t: "yes" if squash(t) in _TABS else None)
    if on_tab["on_tab"].null_count() == on_tab.height:
        return readings
    tab = pl.col("on_tab").is_not_null()
    looks = pl.col("raw_sample").str.replace_all(r"\d+", "0").str.replace_all(r"\p{L}+", "a")
    others = (~tab & pl.col("raw_sample").is_not_null()).any().over("report_id")
    alike = (~tab).any().over("report_id", looks)
    named = pl.coalesce("name_qc", "kind_qc").is_not_null() | pl.col("raw_sample").is_null()
    again = pl.col("raw_sample").str.contains(_AGAIN)
    kind = pl.when(again).then(pl.lit("duplicate")).otherwise(pl.lit("control"))
    taken = pl.when(tab & others & ~alike & ~named).then(kind)
    return on_tab.with_columns(kind_qc=pl.coalesce("kind_qc", taken)).drop("on_tab")


_AGAIN = rf"(?i)\b{any_of('replicates', 'words')}"
_TABS = {squash(word) for word in words_of("controls", "tabs")}


def name_doubtful_controls(normalised: pl.DataFrame) -> dict[str, str]:
    """Say, by report_id, which samples only their name makes quality control although it may be a wine's.

    "Blank Thistle" and "Standard Lot 3" have a word that no row of quality control is called by.
    """
    by_name = pl.col("qc_kind").is_not_null() & pl.col("kind_qc").is_null()
    named = normalised.filter(by_name, pl.col("may_be_wine").is_not_null())
    found: dict[str, list[str]] = {}
    for report_id, name in (
        named.select("report_id", "raw_sample").unique(maintain_order=True).rows()
    ):
        found.setdefault(report_id, []).append(name)
    return {report_id: _doubt(names) for report_id, names in found.items()}


def _may_be_wine(name: str, words: Vocabulary) -> str | None:
    """Give the word of a name that no control is called by; before "spike" or "dup" stands its sample."""
    kind = _qc_kind(name, words, alone=False)
    parts = [p for p in re.split(r"[\s_()/-]+", _AMOUNT.sub("", name)) if p]
    first = bool(parts) and squash(parts[0]) in words.row_ends
    if kind and _CODED.fullmatch(name):
        return name
    if kind is None or (kind in {"spike", "duplicate"} and not first):
        return None
    return next((p for p in parts if len(p) > 2 and p[0].isupper() and p.isalpha()
                 and p.lower() not in _USUAL), None)  # fmt: skip


def _doubt(names: list[str]) -> str:
    shown = ", ".join(f'"{name}"' for name in names[:3])
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return (
        f"taken for quality control by the name alone ({len(names)} in all): {shown}{more}; if one is a "
        'sample, a column "Sample type" that says "sample" keeps it one'
    )
