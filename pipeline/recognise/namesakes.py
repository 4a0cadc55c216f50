"""Tell replicates whose names differ by a letter or number alone from samples called so.

"W-1a" and "W-1b" may be two analyses of one sample, or two barrels. They are replicates where the
report says so: by one number of the laboratory for both, by a line with their mean or difference, by
a heading or a note that speaks of duplicates. A table of nothing but such pairs says nothing. What is
left open is stored as samples of their own, named in a notice, and settled by the register's samples.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from pipeline.names.marked import Marked
from pipeline.names.series_marks import PLACES, SeriesMark, is_whole_series, part_series_mark
from pipeline.recognise.series import is_explained
from pipeline.recognise.tables import Table
from schemas.frames import SAMPLE_FIELDS
from schemas.layout import Block, Namesake
from schemas.vocabulary import squash_words
from schemas.wordings import any_of, as_whole_words, words_of

_REPLICATES = as_whole_words(any_of("replicates", "words"))
_TIMES = {
    2: as_whole_words(any_of("replicates", "two")),
    3: as_whole_words(any_of("replicates", "three")),
}
_OTHERS = as_whole_words(any_of("replicates", "others"))
_NONE = as_whole_words(any_of("replicates", "none"))
_MEANS = words_of("summaries", "means") | words_of("summaries", "spreads")
_DIFFERENCES = words_of("summaries", "differences")
_SUMMARY = as_whole_words(any_of("summaries", "means", "spreads", "differences"))
_BETWEEN = r"[)\]\"'’]*\s*(?:[,/&+-]|\b(?:and|und|et|y|e|or|ou|oder)\b|\s)\s*[-(\[\"'/_]*"
_LINK = re.compile(r"^(?:of|for|de|du|des|di|da|do|von|del)\s+")
_LISTED = {
    "letter": re.compile(rf"(?<![\w])a{_BETWEEN}b(?!\w)", re.IGNORECASE),
    "number": re.compile(rf"(?<![\w.])1{_BETWEEN}2(?![\w.])"),
}
# Fields that tell two samples apart, where the lines give both of them.
_TELLING = tuple(
    f"raw_{name}"
    for name in SAMPLE_FIELDS
    if name
    not in {"sample", "sample_name", "lab_sample", "replicate", "analysed_on", "parent_sample"}
)
_SHOWN = 3

Key = tuple[str, tuple[str, str]]


@dataclass(frozen=True)
class NamesDown:
    """What stands in a table where samples are named: its heading, and each line's text in order."""

    heading: str
    lines: tuple[tuple[str, bool], ...]


def names_down(table: Table) -> NamesDown:
    """List the names of a table's samples and, marked as such, those of its averages."""
    column = table.columns.fields.get("sample")
    if column is None:
        return NamesDown("", ())
    heading = table.grid.at(table.run.row, column)
    samples = set(table.lines.samples)
    rows = sorted({*samples, *table.lines.aggregates})
    told = ((s.text.strip(), r not in samples) for r in rows if (s := table.grid.at(r, column)))
    return NamesDown(heading.text if heading else "", tuple(told))


def settle_namesakes(
    blocks: Sequence[Block], named: Sequence[NamesDown], texts: Iterable[str]
) -> tuple[dict[str, Namesake], list[str]]:
    """Give what names are replicates of, or may be, for a whole report; and name the latter."""
    groups = _groups(blocks)
    if not groups:
        return {}, []
    loose = [text for text in texts if len(text) <= 300]
    sure = _by_lines(groups, named) | _by_words(groups, named, loose, _all_names(blocks))
    sure |= _by_number(groups, blocks)
    found = {
        name: Namesake(key[0], mark, key in sure)
        for key, members in groups.items()
        for mark, name in members.items()
    }
    open_groups = [key for key in groups if key not in sure]
    return found, _notice([list(groups[key].values()) for key in open_groups])


def _all_names(blocks: Sequence[Block]) -> set[str]:
    return {
        text.strip()
        for block in blocks
        if "raw_sample" in block.lines.columns
        for text in block.lines["raw_sample"].drop_nulls().unique().to_list()
    }


def _groups(blocks: Sequence[Block]) -> dict[Key, dict[str, str]]:
    """Group names that have a whole series of marks: {(base, style): {mark: name}}.

    Not where the lines give different days, stages or blocks for them, or the base has results too.
    """
    names = _all_names(blocks)
    groups: defaultdict[Key, dict[str, str]] = defaultdict(dict)
    for name in sorted(names):
        if parted := part_series_mark(name):
            groups[parted.base, parted.style][parted.mark] = name
    whole = {
        key: members
        for key, members in groups.items()
        if is_whole_series(set(members), key[1][1]) and key[0] not in names
    }
    bare_numbers = [key for key in whole if key[1][1] == "number" and key[1][0] in {" ", "-"}]
    if len(bare_numbers) == 1:
        del whole[bare_numbers[0]]
    facts = _facts(blocks) if whole else {}
    return {key: m for key, m in whole.items() if not _differ([facts[n] for n in m.values()])}


Facts = defaultdict[tuple[int, str], set[str]]


def _facts(blocks: Sequence[Block]) -> dict[str, Facts]:
    """Gather what the lines of each name say, by table and field."""
    found: dict[str, Facts] = defaultdict(lambda: defaultdict(set))
    for number, block in enumerate(blocks):
        columns = [c for c in (*_TELLING, "raw_lab_sample") if c in block.lines.columns]
        if "raw_sample" not in block.lines.columns:
            continue
        for name, *told in block.lines.select("raw_sample", *columns).unique().iter_rows():
            if name:
                for column, text in zip(columns, told, strict=True):
                    found[name.strip()][number, column] |= {text} if text else set()
                found[name.strip()][number, ""] |= {""}
    return found


def _differ(members: Sequence[Facts]) -> bool:
    """Tell whether lines tell the members apart: by another day, or numbers of the laboratory."""
    for key in members[0]:
        texts = [frozenset(facts[key]) for facts in members if facts.get(key)]
        if key[1] == "raw_lab_sample":
            texts = [frozenset(map(_bare, told)) for told in texts]
        if len(set(texts)) > 1:
            return True
    return False


def _bare(number: str) -> str:
    parted = part_series_mark(number)
    return parted.base if parted and parted.style[1] != "number" else number.strip()


def _by_number(groups: Mapping[Key, Mapping[str, str]], blocks: Sequence[Block]) -> set[Key]:
    """Take groups to whose members the laboratory gives one number, and that to no other sample."""
    called: defaultdict[str, set[str]] = defaultdict(set)
    numbers: defaultdict[str, set[str]] = defaultdict(set)
    for block in blocks:
        if not {"raw_sample", "raw_lab_sample"} - set(block.lines.columns):
            for name, number in block.lines.select("raw_sample", "raw_lab_sample").iter_rows():
                if number and name:
                    called[number.strip()].add(name.strip())
                    numbers[name.strip()].add(number.strip())
    sure = set()
    for key, members in groups.items():
        own = set().union(*(numbers[name] for name in members.values()))
        if len(own) == 1 and called[own.pop()] == set(members.values()):
            sure.add(key)
    return sure


def _by_lines(groups: Mapping[Key, Mapping[str, str]], named: Sequence[NamesDown]) -> set[Key]:
    """Take groups with a line of their own mean, or a mean below each of two groups or more."""
    by_base: defaultdict[str, list[Key]] = defaultdict(list)
    for key in groups:
        by_base[squash_words(key[0])].append(key)
    home = {name: key for key, members in groups.items() for name in members.values()}
    sure, below = set[Key](), set[Key]()
    for table in named:
        above: list[str] = []
        for text, summary in table.lines:
            if not summary:
                above.append(text)
                continue
            word = squash_words(text)
            rest = _LINK.sub("", squash_words(_SUMMARY.sub(" ", text)))
            sure |= set(by_base.get(rest, ())) if rest and rest != word else set()
            bare = word in _MEANS | _DIFFERENCES
            pair = _just_above(above, home, groups) if bare else None
            if pair:
                (sure if word in _DIFFERENCES else below).add(pair)
            above = above if bare else []
    return sure | (below if len(below) > 1 else set())


def _just_above(
    above: Sequence[str], home: Mapping[str, Key], groups: Mapping[Key, Mapping[str, str]]
) -> Key | None:
    key = home.get(above[-1]) if above else None
    if key is None:
        return None
    members = set(groups[key].values())
    return key if set(above[-len(members) :]) == members else None


def _by_words(
    groups: Mapping[Key, Mapping[str, str]],
    named: Sequence[NamesDown],
    loose: Sequence[str],
    names: set[str],
) -> set[Key]:
    """Take groups whose marks a note calls replicates, or all of a report done in duplicate."""
    headings = {table.heading for table in named}
    told = [t for t in (*loose, *headings) if _REPLICATES.search(t)]
    told = [t for t in told if not _OTHERS.search(t) and not _NONE.search(t)]
    if not told:
        return set()
    grouped = {name for members in groups.values() for name in members.values()}
    sizes = {len(members) for members in groups.values()}
    whole = grouped == names and len(sizes) == 1
    sure = set()
    for key, members in groups.items():
        kind = "number" if key[1][1] == "number" else "letter"
        explained = any(
            is_explained(Marked("", (key[1][0], "", key[1][1]), mark, ""), loose)
            for mark in members
        )
        listed = any(_LISTED[kind].search(t) for t in told)
        times = _TIMES.get(len(members))
        counted = whole and times is not None and any(times.search(t) for t in told)
        headed = any(h in told and not PLACES.search(h) for h in headings)
        if (listed or counted or headed) and not explained:
            sure.add(key)
    return sure


def _notice(groups: list[list[str]]) -> list[str]:
    if not groups:
        return []
    shown = "; ".join(", ".join(members) for members in groups[:_SHOWN])
    more = f" and {len(groups) - _SHOWN} more such groups" if len(groups) > _SHOWN else ""
    first = part_series_mark(groups[0][0])
    base = first.base if isinstance(first, SeriesMark) else groups[0][0]
    return [
        f"samples that may be replicates, as their names differ by a letter or number alone: {shown}{more}; "
        f'each stands for itself; if they are replicates, enter the sample "{base}" into the register and '
        "not its parts; if not, enter each part"
    ]
