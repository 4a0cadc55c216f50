"""Draw the digest as one self-contained page."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable, Sequence
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup, escape

from pipeline.digest.changes import KINDS
from pipeline.digest.chart import as_svg, draw
from pipeline.digest.lots import ASSUMED_MARK
from pipeline.digest.model import MOST_DETAILED, Change, Counts, Digest, Reserve, Subject
from pipeline.digest.pace import fitting, seen_words
from pipeline.digest.words import day, listed, plural
from schemas.judgement import NextStep

Groups = tuple[tuple[str, tuple[Subject, ...]], ...]
LONG_LIST = LONG_NAMES = 8
LONG_TABLE = 300
LONG_FRUIT = 4
# Of long lists of changes, those that are told one by one.
LONG_CHANGES = 3
# The worst lots that stand open, at most; of a longer list none does, its lines are read instead.
MOST_OPEN, LONG_FLAGGED = 6, 25
_HYPHENED = re.compile(r"re-tests?|[mop]-\w+|\w*\d\w*(?:-\w+)+|\w+-(?:\w+-)*\d\w*(?:-\w+)*")


def main_parts(counts: Counts) -> tuple[tuple[str, str], ...]:
    """Split what was looked at and found into numbers and their words."""
    said = (
        plural(counts.lots, "lot") + " looked at",
        f"{counts.flagged:,} flagged",
        f"{counts.undecided:,} undecided",
        plural(counts.held, "value") + " held back",
        *([plural(counts.suspected, "number") + " suspected"] if counts.suspected else ()),
    )
    return _parted(said)


def gap_parts(counts: Counts) -> tuple[tuple[str, str], ...]:
    """Split what was not looked at into numbers and words; zeros but the first are left out."""
    flagged = f" ({counts.without_lot_flagged} flagged)" if counts.without_lot_flagged else ""
    more = (
        (counts.free_only, "lot", " with free results only"),
        (counts.changed_since, "lot", " last tested before a treatment or blend"),
        (counts.retests_due, "re-test", " due"),
        (counts.lots_waiting, "lot", " with values held back"),
        (counts.lots_doubted, "lot", " with suspected numbers"),
        (counts.without_lot, "sample", f" without a lot{flagged}"),
    )
    none = plural(counts.without_panel, "register lot") + " with no current panel"
    return _parted((none, *(plural(n, noun) + words for n, noun, words in more if n)))


def _parted(said: Iterable[str]) -> tuple[tuple[str, str], ...]:
    return tuple((n, words) for n, _, words in (part.partition(" ") for part in said))


def first_parts(counts: Counts) -> tuple[tuple[str, str], ...]:
    """Split the first line into numbers and their words."""
    return main_parts(counts) + gap_parts(counts)


def first_line(digest: Digest) -> str:
    """Say the digest's first line as plain text, for a terminal or the subject of a message."""
    return ", ".join(f"{n} {words}" for n, words in first_parts(digest.counts))


def with_chart(lot: Subject) -> Subject:
    """Draw the path of a lot that has one."""
    if lot.course is None:
        return lot
    return dataclasses.replace(lot, chart=Markup(as_svg(draw(lot.course))))


def environment(*, autoescape: bool = True) -> Environment:
    """Give what draws the templates; a text is not escaped, a page always."""
    pages = Environment(
        autoescape=autoescape, trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined
    )
    pages.filters["day"] = day
    pages.filters["plural"] = plural
    pages.filters["whole"] = _whole
    pages.filters["listed"] = lambda names: listed(list(names))
    return pages


def _whole(text: str) -> Markup:
    """Keep names of lots and days on one line, which a browser would break behind a hyphen."""
    return Markup(_HYPHENED.sub(r'<span class="whole">\g<0></span>', str(escape(text))))


def template(name: str) -> str:
    """Read one of the digest's templates."""
    return files("pipeline.digest").joinpath(name).read_text(encoding="utf-8")


def by_why(subjects: Iterable[Subject]) -> Groups:
    """Bring subjects together that are undecided for the same reason, in their order."""
    return _alike(subjects, lambda lot: lot.why)


def by_matter(flagged: Iterable[Subject]) -> Groups:
    """Bring flagged lots together that are above in the same matters, the worst matter first."""
    return _alike(flagged, lambda lot: "; ".join(found[0].what for found in lot.matters))


def _alike(subjects: Iterable[Subject], told: Callable[[Subject], str]) -> Groups:
    groups: dict[str, list[Subject]] = {}
    for subject in subjects:
        groups.setdefault(told(subject), []).append(subject)
    return tuple((what, tuple(lots)) for what, lots in groups.items())


def names_of_sources(lots: Iterable[Subject]) -> tuple[str, ...]:
    """Name each source other than smoke that may be behind what is above in some lot, once."""
    return tuple(dict.fromkeys(name for lot in lots for name in lot.perhaps))


def _largest(reserves: Iterable[Reserve]) -> list[Reserve]:
    """Keep the first, largest reserve of each lot; other laboratories' stand beneath."""
    by_lot: dict[str, Reserve] = {}
    for reserve in reserves:
        by_lot.setdefault(reserve.subject, reserve)
    return list(by_lot.values())


def _loose(digest: Digest) -> str:
    """Count the samples without a lot that are below; empty when there are none."""
    count = sum(not lot.is_lot for lot in digest.below)
    return f"{plural(count, 'sample')} without a lot" if count else ""


def letters_of(flagged: Iterable[Subject]) -> list[str]:
    """Say once for all charts which letter stands for which laboratory."""
    return sorted({note for lot in flagged if lot.course for note in lot.course.notes})


def brief_names(digest: Digest) -> Callable[[str], str]:
    """Shorten the summed odour activity, to two words where all lots are judged by one set."""
    lots = (*digest.flagged, *digest.undecided, *digest.below)
    told = (lot.above + lot.undecided + lot.below for lot in lots)
    sums = {f.what for found in told for f in found if f.kind == "odour_activity"}
    if len(sums) != 1:
        return lambda said: said.replace("summed odour activity", "odour activity")
    (whole,) = sums
    return lambda said: said.replace(whole, "odour activity")


def whose_thresholds(lots: Iterable[Subject], brief: Callable[[str], str] = str) -> tuple[str, ...]:
    """Say once for all lots whose the thresholds are that something is above."""
    by_owner: dict[str, dict[str, None]] = {}
    for found in (found for lot in lots for found in lot.above if found.limit):
        limit = f"{brief(found.what)}\u00a0{found.limit}"
        by_owner.setdefault(found.whose or found.source, {})[limit] = None
    return tuple(f"{', '.join(limits)} ({owner})" for owner, limits in by_owner.items())


def is_assumed(lots: Iterable[Subject]) -> bool:
    """Tell whether some probability that is shown rests on an assumed uncertainty."""
    return any(ASSUMED_MARK in found.told for lot in lots for found in lot.above)


def common_steps(lots: Sequence[Subject]) -> tuple[NextStep, ...]:
    """Give the next steps that all lots call for, in their order."""
    steps = [lot.next_steps for lot in lots]
    return tuple(step for step in steps[0] if all(step in own for own in steps[1:]))


def beside_gaps(digest: Digest) -> tuple[str, ...]:
    """Say what the list of gaps does not: that it is empty, or that no register was there to ask."""
    counts = digest.counts
    unasked = counts.lots and not counts.registered
    said = ["The register names no lots: which have no results is not known."] if unasked else []
    if not digest.gaps and not digest.held:
        said.append(
            f"Nothing {'else ' if unasked else ''}is missing: every lot has a current panel with its "
            "bound part, every sample has a lot, and no value is held back."
            if counts.lots
            else "Everything: no lot has results, and the register names none."
        )
    return tuple(said)


def describe(digest: Digest) -> Callable[[Subject], str]:
    """Give what says variety and place of a lot, and its vintage where the lots differ in it."""
    lots = (*digest.flagged, *digest.undecided, *digest.below)
    vintages = {lot.known["vintage"] for lot in lots if lot.known["vintage"]}
    one = len(vintages) < 2
    return lambda lot: lot.facts_of_one_vintage if one else lot.facts


def told_apart(changes: Iterable[Change]) -> tuple[tuple[str, tuple[Change, ...]], ...]:
    """Bring changes that one report made together, in their order."""
    by_report: dict[str, list[Change]] = {}
    for change in changes:
        by_report.setdefault(change.by, []).append(change)
    return tuple((by, tuple(found)) for by, found in by_report.items())


def opened_at_most(flagged: Sequence[Subject]) -> int:
    """Give how many of the flagged lots may stand open, before their words are counted."""
    return 0 if len(flagged) > LONG_FLAGGED else min(MOST_OPEN, len(flagged))


def render_html(digest: Digest) -> str:
    """Draw the digest as one HTML page without script or outside reference.

    It is read in two minutes where that can be: as many of the worst lots stand open as it allows,
    and all others with a line each, which unfolds.
    """
    pages, brief = environment(), brief_names(digest)
    pages.filters["brief"] = brief
    told = digest.flagged[:MOST_DETAILED]
    drawn = [with_chart(lot) for lot in told]
    page = pages.from_string(template("digest.html.j2"))
    said = _said(digest, told, brief)

    def write(opened: int) -> str:
        return page.render(
            **said,
            opened=drawn[:opened],
            closed=by_matter(drawn[opened:]),
            common=common_steps(told) if opened < len(told) else (),
            perhaps=names_of_sources(told[opened:]),
            long_changes=LONG_LIST if opened == len(told) else LONG_CHANGES,
        )

    return write(fitting(lambda opened: seen_words(write(opened)), opened_at_most(told)))


def _said(
    digest: Digest, told: Sequence[Subject], brief: Callable[[str], str]
) -> dict[str, object]:
    moved = [(kind, [c for c in digest.changes if c.kind == kind]) for kind in KINDS]
    return {
        "d": digest,
        "first": main_parts(digest.counts),
        "facts": describe(digest),
        "thresholds": whose_thresholds(told, brief),
        "assumed": is_assumed(told),
        "reserves": _largest(digest.reserves),
        "flagged": told,
        "rest": digest.flagged[MOST_DETAILED:],
        "labs": letters_of(told),
        "beside": beside_gaps(digest),
        "moved": [(kind, by, part) for kind, found in moved for by, part in told_apart(found)],
        "undecided": by_why(digest.undecided),
        "below": [lot for lot in digest.below if lot.is_lot],
        "loose": _loose(digest),
        "style": Markup(template("digest.css")),
        "long": LONG_LIST,
        "long_names": LONG_NAMES,
        "long_table": LONG_TABLE,
        "long_fruit": LONG_FRUIT,
    }
