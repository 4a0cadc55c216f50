"""Read what a result cell says: a number, "below a limit", not analysed, or nothing known."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import asdict, dataclass, replace
from functools import lru_cache

import polars as pl

from pipeline.censoring.patterns import (
    BRACKET_KINDS,
    BRACKETED_SPREAD,
    DECIMALS,
    ERROR,
    FLAG,
    FOOTNOTE,
    IN_BRACKETS,
    K_FACTOR,
    LESS,
    LEVEL,
    MARKED,
    MORE,
    NUMBER,
    PLAIN,
    POWER,
    RAISED,
    RAISED_POWER,
    RANGE,
    REMARK,
    SIGNIFICANCE,
    SPREAD,
    TIMES_TEN,
)
from pipeline.names import Names
from schemas.vocabulary import fold_notation

# What a notation says; "number", "less" and "greater" carry a printed number.
KINDS = (
    "number", "less", "greater", "not_detected", "below_detection", "below_quantification",
    "below_reporting", "above_range", "not_analysed", "rejected", "blank_mark", "blank", "range",
    "ambiguous", "error", "unknown",
)  # fmt: skip


@dataclass(frozen=True)
class Notation:
    """What one printed result says; numbers in the unit printed with it."""

    kind: str
    number: float | None = None
    limit: float | None = None
    limit_kind: str | None = None
    uncertainty: float | None = None
    cell_unit: str | None = None
    qualifier: str | None = None
    estimated: bool = False
    why: str | None = None


def decimal_mark(texts: list[str]) -> str | None:
    """Find the decimal mark a file uses from numbers that can be read in one way only.

    Returns "." or ",", or None when the file shows neither or both.
    """
    seen = {mark for mark, pattern in DECIMALS.items() if any(map(pattern.search, texts))}
    return next(iter(seen)) if len(seen) == 1 else None


def read_number(text: str, mark: str | None) -> tuple[float | None, bool]:
    """Read a printed number; the second value tells that it can be read in two ways.

    `mark` is the file's decimal mark, None where nothing in the file tells it.
    """
    bare = re.sub(r"(?<=\d)[ \u00a0\u2009\u202f'’](?=\d{3}(?!\d))", "", text.strip())
    if re.search(r"\d[ \u00a0\u2009\u202f'’]+\d", bare):
        return None, False
    points, commas = bare.count("."), bare.count(",")
    if points and commas:
        return _two_marks(bare), False
    sign = "." if points else ","
    if points + commas == 0:
        return _float(bare), False
    if points + commas > 1:
        grouped = re.fullmatch(r"[-+]?\d{1,3}(?:[.,]\d{3})+", bare)
        return (_float(bare.replace(sign, "")) if grouped else None), False
    if re.fullmatch(r"[-+]?[1-9]\d{0,2}[.,]\d{3}", bare):
        if mark is None:
            return None, True
        return _float(bare.replace(sign, "." if sign == mark else "")), False
    return _float(bare.replace(sign, ".")), False


def _two_marks(bare: str) -> float | None:
    last, other = (".", ",") if bare.rfind(".") > bare.rfind(",") else (",", ".")
    if bare.count(last) != 1 or not re.fullmatch(
        rf"[-+]?\d{{1,3}}(?:{re.escape(other)}\d{{3}})+{re.escape(last)}\d+(?:[eE][-+]?\d+)?", bare
    ):
        return None
    return _float(bare.replace(other, "").replace(last, "."))


def _float(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


class Notations:
    """Read result cells with one vocabulary, remembering what was read before."""

    def __init__(self, names: Names) -> None:
        self.names = names
        self.words = names.vocabulary.notations
        self.letters = names.vocabulary.letters
        self.read = lru_cache(maxsize=200_000)(self._read)

    def _read(self, text: str, mark: str | None) -> Notation:
        text = RAISED_POWER.sub(lambda m: f"{m[1]}^{m[2].translate(LEVEL)}", text)
        if POWER.fullmatch(text.strip()):
            return Notation("ambiguous", why="it may be a power of ten or have a footnote")
        raised = RAISED.search(text)
        body = text[: raised.start()] if raised and raised.start() else text
        printed = (
            unicodedata.normalize("NFKC", body.replace("µ", "u"))
            .replace("−", "-")
            .strip()
            .lstrip("'’")
        )
        if not printed:
            return Notation("blank")
        if ERROR.fullmatch(printed):
            return Notation("error")
        printed = TIMES_TEN.sub(r"\1e\2", printed)
        if printed in _BLANK_MARKS:
            return Notation("blank_mark")
        if word := self._word(printed):
            return word
        if RANGE.match(printed) and not re.fullmatch(NUMBER, printed):
            return Notation("range", why="it is a range of two numbers")
        for kind, pattern in (("less", LESS), ("greater", MORE), ("number", PLAIN)):
            if match := pattern.match(printed):
                return self._numeric(kind, match.group(1), match.group(2).strip(), mark)
        return self._word_with_limit(printed, mark)

    def _word(self, printed: str) -> Notation | None:
        marked = MARKED.search(printed)
        bare = printed[: marked.start()] if marked else printed
        kind = self.words.get(fold_notation(bare)) or self.words.get(
            fold_notation(bare.strip("()[]"))
        )
        return (
            Notation(kind, qualifier=marked.group(0).strip() if marked else None) if kind else None
        )

    def _word_with_limit(self, printed: str, mark: str | None) -> Notation:
        """Read "nd (LOD 1)", "ND (<0.5 ug/L)", "<LOQ (1.5)": a word and the limit that goes with it."""
        units = self.names.units_in(printed)
        printed = self.names.without_units(printed) if units else printed
        match = IN_BRACKETS.search(printed)
        if match is None or not printed[: match.start()].strip():
            return Notation("unknown")
        word = self._word(printed[: match.start()].rstrip(" (:;,="))
        number, doubtful = read_number(match.group(2), mark)
        if word is None or number is None:
            return Notation(
                "ambiguous" if doubtful else "unknown", why=_WHY_MARK if doubtful else None
            )
        kind = BRACKET_KINDS.get((match.group(1) or "").lower())
        unit = units[0] if units else None
        return Notation(word.kind, limit=number, limit_kind=kind, cell_unit=unit)

    def _numeric(self, kind: str, digits: str, rest: str, mark: str | None) -> Notation:
        number, doubtful = read_number(digits, mark)
        if number is None:
            return Notation(
                "ambiguous" if doubtful else "unknown", why=_WHY_MARK if doubtful else None
            )
        spread = None
        if match := BRACKETED_SPREAD.match(rest):
            rest = f"{match.group(1)} {match.group(2)}".strip()
        if match := SPREAD.match(rest):
            spread, _ = read_number(match.group(1), mark)
            rest = match.group(2).strip()
            if spread is not None and rest.startswith("%"):
                spread, rest = spread * number / 100, rest[1:].strip()
            rest = K_FACTOR.sub("", rest).strip()
        units = self.names.units_in(rest) if rest else []
        if units:
            rest = self.names.without_units(rest)
        rest = rest.strip(" ;,")
        if rest == "." and digits.isdecimal():
            rest = ""
        return self._trailing(
            Notation(kind, number, uncertainty=spread, cell_unit=units[0] if units else None), rest
        )

    def _trailing(self, base: Notation, rest: str) -> Notation:
        """Judge what stands behind the number: a footnote mark, a laboratory's letter, or neither."""
        if not rest:
            return base
        if base.number == 10 and re.match(r"\^\d", rest):
            return Notation(
                "ambiguous", base.number, why="it may be a power of ten or have a footnote"
            )
        limit_kind = BRACKET_KINDS.get(rest.strip("()[]").lower())
        if limit_kind and base.kind == "less":
            return replace(base, limit=base.number, limit_kind=limit_kind, qualifier=rest)
        letter = self.letters.get(fold_notation(rest.strip("()[]")))
        if letter:
            return self.lettered(replace(base, qualifier=rest), letter)
        if (
            REMARK.match(rest)
            or FOOTNOTE.match(rest)
            or SIGNIFICANCE.match(rest)
            or FLAG.match(rest)
        ):
            return replace(base, qualifier=rest)
        return Notation("unknown", why=f'"{rest}" behind the number is not understood')

    @staticmethod
    def lettered(base: Notation, letter: str) -> Notation:
        """Judge a number by the laboratory's letter or sign beside it."""
        if {letter, base.kind} == {"less", "greater"}:
            return Notation("unknown", why="it is said to be below and above the number")
        if letter == "estimated":
            return replace(base, estimated=True)
        if letter == "ambiguous":
            why = f'"{base.qualifier}" can mean estimated or above the calibrated range'
            return replace(base, kind="ambiguous", why=why)
        return replace(base, kind=letter)


_WHY_MARK = "nothing else in the file tells whether the mark is decimal or for thousands"
_BLANK_MARKS = {"-", "–", "—", "--", "---", ".", "..", "...", "…", "/"}
NOTATION_SCHEMA: dict[str, pl.DataType] = {
    "raw_value": pl.String(),
    "decimal_mark": pl.String(),
    "notation": pl.String(),
    "printed_number": pl.Float64(),
    "printed_limit": pl.Float64(),
    "printed_limit_kind": pl.String(),
    "printed_uncertainty": pl.Float64(),
    "cell_unit": pl.String(),
    "cell_qualifier": pl.String(),
    "printed_estimate": pl.Boolean(),
    "why": pl.String(),
}


def notation_table(values: pl.DataFrame, notations: Notations) -> pl.DataFrame:
    """Tabulate each distinct (raw_value, decimal_mark) with what it says."""
    rows = []
    for text, mark in values.select("raw_value", "decimal_mark").unique().iter_rows():
        said = notations.read(text or "", mark)
        rows.append((text, mark, *asdict(said).values()))
    return pl.DataFrame(rows, schema=NOTATION_SCHEMA, orient="row")
