"""The form of filters: what can be chosen, what is chosen, and how to take it away again."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.page.asked import NONE, SHOWN, WORDS, Asked
from pipeline.page.site import Site
from pipeline.store import Store
from schemas.vocabulary import FORMS, SAMPLE_KINDS, STAGES, load_vocabulary

MOST_CHOICES = 400


@dataclass(frozen=True)
class Choice:
    """One value of a filter, as the form sends it and as it is read."""

    value: str
    text: str
    is_chosen: bool


@dataclass(frozen=True)
class Facet:
    """One filter of the form; `more` counts the values there is no room for."""

    name: str
    title: str
    choices: tuple[Choice, ...]
    chosen: int
    more: int


@dataclass(frozen=True)
class Chip:
    """A chosen value, and the address of the view without it."""

    text: str
    away: str


def _ranks(name: str) -> dict[str | None, int]:
    """Give the trade's own order where a filter has one."""
    orders = {
        "stage": STAGES, "form": FORMS, "sample_kind": SAMPLE_KINDS,
        "analyte": tuple(load_vocabulary().analytes),
    }  # fmt: skip
    return {value: place for place, value in enumerate(orders.get(name, ()))}


def known_values(site: Site, store: Store) -> dict[str, list[str | None]]:
    """Give the values of every filter of the form, in the trade's order, else by alphabet."""

    def look() -> dict[str, list[str | None]]:
        found = site.browse(store).facets(tuple(SHOWN))
        for name, values in found.items():
            ranks = _ranks(name)
            values.sort(key=lambda v: (v is None, ranks.get(v, len(ranks)), v or ""))
        return found

    facets: dict[str, list[str | None]] = site.remember("facets", look)
    return facets


def facets(site: Site, store: Store, asked: Asked) -> list[Facet]:
    """Lay out the form; a chosen value stands in it even where the store has none such."""
    return [
        _facet(name, values, asked.selection().get(name, ()))
        for name, values in known_values(site, store).items()
    ]


def _facet(name: str, values: list[str | None], wanted: tuple[str | None, ...]) -> Facet:
    absent = [value for value in wanted if value not in values]
    first = [value for value in values if value in wanted] if len(values) > MOST_CHOICES else []
    shown = list(dict.fromkeys([*absent, *first, *values]))[:MOST_CHOICES]
    choices = tuple(
        Choice(NONE if v is None else v, "not given" if v is None else v, v in wanted)
        for v in shown
    )
    more = len(values) + len(absent) - len(shown)
    return Facet(name, SHOWN[name], choices, len(wanted), more)


def chips(asked: Asked, path: str) -> list[Chip]:
    """List what is chosen, each with the address of the same view without it."""
    return [
        Chip(
            f"{WORDS[name].lower()}: {'not given' if value is None else value}",
            asked.without(name, value).link(path, by=asked.by, order=asked.order),
        )
        for name, values in asked.chosen.items()
        for value in values
    ]


def form(site: Site, store: Store, asked: Asked, path: str) -> dict[str, object]:
    """Give what the template of the form needs."""
    hidden = [
        (name, NONE if value is None else value)
        for name, values in asked.chosen.items()
        if name not in SHOWN
        for value in values
    ]
    return {
        "facets": facets(site, store, asked),
        "chips": chips(asked, path),
        "hidden": hidden,
        "asked": asked,
        "path": path,
    }
