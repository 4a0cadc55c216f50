"""Draw reports at random: geometry, notation, unit and language put together, with what they mean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import chain, zip_longest
from typing import Any

from hypothesis import strategies as st
from molmass import Formula

LANGUAGES = ("en", "fr", "es", "it", "de", "pt")
# Each analyte in the six languages, in that order, and under names that any laboratory may use.
NAMES = {
    "guaiacol": ("Guaiacol", "Gaïacol", "Guayacol", "Guaiacolo", "Guajakol", "Guaiacol"),
    "4-methylguaiacol": (
        "4-Methylguaiacol", "4-Méthylgaïacol", "4-Metilguayacol", "4-Metilguaiacolo",
        "4-Methylguajakol", "4-Metilguaiacol",
    ),
    "o-cresol": ("o-Cresol", "o-Crésol", "o-Cresol", "o-Cresolo", "o-Kresol", "o-Cresol"),
    "m-cresol": ("m-Cresol", "m-Crésol", "m-Cresol", "m-Cresolo", "m-Kresol", "m-Cresol"),
    "p-cresol": ("p-Cresol", "p-Crésol", "p-Cresol", "p-Cresolo", "p-Kresol", "p-Cresol"),
    "m+p-cresol": ("m+p-Cresol", "m+p-Crésol", "m/p-Cresol", "m+p-Cresolo", "m/p-Kresol", "m+p-Cresol"),
    "syringol": ("Syringol", "Syringol", "Siringol", "Siringolo", "Syringol", "Siringol"),
    "4-methylsyringol": (
        "4-Methylsyringol", "4-Méthylsyringol", "4-Metilsiringol", "4-Metilsiringolo",
        "4-Methylsyringol", "4-Metilsiringol",
    ),
    "4-ethylphenol": (
        "4-Ethylphenol", "4-Éthylphénol", "4-Etilfenol", "4-Etilfenolo", "4-Ethylphenol", "4-Etilfenol",
    ),
}  # fmt: skip
ANYWHERE = {
    "guaiacol": ("2-Methoxyphenol", "90-05-1"),
    "4-methylguaiacol": ("4-MG", "Creosol"),
    "o-cresol": ("ortho-Cresol", "2-Methylphenol"),
    "m-cresol": ("3-Methylphenol",),
    "p-cresol": ("4-Methylphenol",),
    "m+p-cresol": ("p/m-Cresol",),
    "syringol": ("2,6-Dimethoxyphenol",),
    "4-methylsyringol": ("2,6-Dimethoxy-4-methylphenol",),
    "4-ethylphenol": ("4-EP",),
}
FORMULAS = {
    "guaiacol": "C7H8O2", "4-methylguaiacol": "C8H10O2", "o-cresol": "C7H8O", "m-cresol": "C7H8O",
    "p-cresol": "C7H8O", "m+p-cresol": "C7H8O", "syringol": "C8H10O3",
    "4-methylsyringol": "C9H12O3", "4-ethylphenol": "C8H10O",
}  # fmt: skip
FORMS = ("free", "total", "bound")
# For each language: titles by form, words by form, headings, words for "not detected", matrices.
TITLES = {
    "en": ("Free volatile phenols", "Total volatile phenols", "Bound volatile phenols"),
    "fr": ("Phénols volatils libres", "Phénols volatils totaux", "Phénols volatils liés"),
    "es": ("Fenoles volátiles libres", "Fenoles volátiles totales", "Fenoles volátiles ligados"),
    "it": ("Fenoli volatili liberi", "Fenoli volatili totali", "Fenoli volatili legati"),
    "de": ("Flüchtige Phenole, frei", "Flüchtige Phenole, gesamt", "Flüchtige Phenole, gebunden"),
    "pt": ("Fenóis voláteis livres", "Fenóis voláteis totais", "Fenóis voláteis ligados"),
}
FORM_WORDS = {
    "en": ("free", "total", "bound"),
    "fr": ("libre", "total", "lié"),
    "es": ("libre", "total", "ligado"),
    "it": ("libero", "totale", "legato"),
    "de": ("frei", "gesamt", "gebunden"),
    "pt": ("livre", "total", "ligado"),
}
HEADINGS = {
    "en": ("Sample", "Analyte", "Form", "Result", "Unit", "LOD"),
    "fr": ("Échantillon", "Paramètre", "Forme", "Résultat", "Unité", "LD"),
    "es": ("Muestra", "Analito", "Forma", "Resultado", "Unidad", "LD"),
    "it": ("Campione", "Analita", "Forma", "Risultato", "Unità", "LOD"),
    "de": ("Probe", "Analyt", "Form", "Ergebnis", "Einheit", "NWG"),
    "pt": ("Amostra", "Analito", "Forma", "Resultado", "Unidade", "LD"),
}
NOT_DETECTED = {
    "en": "not detected", "fr": "non détecté", "es": "no detectado", "it": "non rilevato",
    "de": "nicht nachweisbar", "pt": "não detetado",
}  # fmt: skip
MATRICES = {
    "en": ("Matrix: Red wine", "Matrix: Grapes"),
    "fr": ("Matrice : vin rouge", "Matrice : raisins"),
    "es": ("Matriz: vino tinto", "Matriz: uvas"),
    "it": ("Matrice: vino rosso", "Matrice: uva"),
    "de": ("Matrix: Rotwein", "Matrix: Trauben"),
    "pt": ("Matriz: vinho tinto", "Matriz: uvas"),
}
# Each unit: its spellings, how it stands in the name of a sheet, how many of the stored unit it is.
LIQUID = {
    "ug/L": (("µg/L", "μg/l", "ug/L", "µg L-1", "ng/mL"), "ug per L", 1),
    "mg/L": (("mg/L", "mg/l"), "mg per L", 1000),
    "ng/L": (("ng/L", "ng l-1"), "ng per L", 0.001),
    "nmol/L": (("nmol/L", "nmol L-1"), "nmol per L", None),
    "umol/L": (("µmol/L", "umol/l"), "umol per L", None),
}
GRAPES = {
    "ug/kg": (("µg/kg", "ug/kg", "ng/g", "µg kg-1"), "ug per kg", 1),
    "mg/kg": (("mg/kg",), "mg per kg", 1000),
    "ng/kg": (("ng/kg",), "ng per kg", 0.001),
}
MOLES = {"nmol/L": 0.001, "umol/L": 1.0}
LIMIT = 0.25
Reading = tuple[float | None, float, float]
Meant = dict[tuple[str, str, str], Reading]
Rows = list[list[Any]]


@dataclass(frozen=True)
class Sheet:
    """One sheet: its name, its rows, its merged cells as (row, column, columns) of the rows."""

    name: str
    rows: Rows
    merged: tuple[tuple[int, int, int], ...] = ()


@dataclass(frozen=True)
class World:
    """What a whole report keeps to: language, decimal mark, matrix, places of units and limits."""

    language: str
    mark: str
    grapes: bool
    unit_place: str
    limit_place: str
    form_place: str

    @property
    def words(self) -> tuple[str, ...]:
        """The headings for sample, analyte, form, result, unit and limit of detection."""
        return HEADINGS[self.language]


@dataclass(frozen=True)
class Table:
    """What one table says: a printed cell for each sample and analyte, in one form and unit."""

    world: World
    form: str
    unit: str
    unit_on_tab: str
    limit: Any
    printed: dict[str, str]
    samples: list[str]
    cells: dict[tuple[str, str], Any]

    @property
    def told_limit(self) -> str:
        """The limit in a sentence or a heading, with the country's mark."""
        return f", LOD {number(LIMIT, self.world.mark, False)}"

    @property
    def form_word(self) -> str:
        """The form as the language has it."""
        return FORM_WORDS[self.world.language][FORMS.index(self.form)]


@dataclass(frozen=True)
class Written:
    """A report as sheets, and what each sample's analytes were meant to be, in the stored unit."""

    sheets: list[Sheet]
    meant: Meant
    world: World

    @property
    def unit(self) -> str:
        """The stored unit."""
        return "ug/kg" if self.world.grapes else "ug/L"


def number(value: float, mark: str, typed: bool) -> Any:
    """Write a number as one, or as text with a decimal mark."""
    return value if typed else f"{value:.2f}".replace(".", mark)


def factor(unit: str, analyte: str, grapes: bool) -> float:
    """Tell how many of the stored unit one of a unit is; moles by the molar mass of the formula."""
    known = (GRAPES if grapes else LIQUID)[unit][2]
    return known if known is not None else MOLES[unit] * Formula(FORMULAS[analyte]).mass


@st.composite
def results(draw: st.DrawFn, world: World, unit: str, scale: float) -> tuple[Any, Reading]:
    """Draw one printed result and its meaning: value, lower and upper end."""
    value = draw(st.integers(min_value=26, max_value=99_999)) / 100
    in_cell = world.unit_place == "cell"
    kinds = ["typed", "text", "spread", "below"]
    kinds += [] if in_cell else ["own limit"]
    kinds += [] if in_cell or world.limit_place == "cell" else ["not detected"]
    kind = draw(st.sampled_from(kinds))
    scaled, text = value * scale, number(value, world.mark, False)
    behind = f" {unit}" if in_cell else ""
    if kind in {"typed", "text"}:
        return number(value, world.mark, kind == "typed" and not in_cell) if not in_cell else (
            text + behind
        ), (scaled, scaled, scaled)  # fmt: skip
    if kind == "spread":
        return f"{text} ± {number(0.25, world.mark, False)}{behind}", (scaled, scaled, scaled)
    if kind == "own limit":
        word = draw(st.sampled_from(["nd (LOD {})", "ND (<{})", "n.d. (LOD {})"]))
        return word.format(text), (None, 0.0, scaled)
    if kind == "below":
        return draw(st.sampled_from(["<{}", "< {}", "≤{}"])).format(text) + behind, (
            None,
            0.0,
            scaled,
        )
    words = ["nd", "n.d.", "ND", "<LOD", NOT_DETECTED[world.language]]
    return draw(st.sampled_from(words)), (None, 0.0, LIMIT * scale)


@st.composite
def tables(
    draw: st.DrawFn, world: World, form: str, like: Table | None = None
) -> tuple[Table, Meant]:
    """Draw one table; `like` another one it has its samples, analytes and unit from."""
    units = GRAPES if world.grapes else LIQUID
    unit = draw(st.sampled_from(sorted(units)))
    analytes = draw(st.lists(st.sampled_from(sorted(NAMES)), min_size=2, max_size=4, unique=True))
    language = LANGUAGES.index(world.language)
    table = like or Table(
        world, form, draw(st.sampled_from(units[unit][0])), units[unit][1],
        number(LIMIT, world.mark, draw(st.booleans())),
        {a: draw(st.sampled_from([NAMES[a][language]] * 3 + list(ANYWHERE[a]))) for a in analytes},
        [f"W-{n}" for n in range(1, draw(st.integers(2, 4)))], {},
    )  # fmt: skip
    unit = unit if like is None else next(u for u in units if table.unit in units[u][0])
    drawn = {
        (s, a): draw(results(world, table.unit, factor(unit, a, world.grapes)))
        for s in table.samples
        for a in table.printed
    }
    table = replace(table, form=form, cells={at: printed for at, (printed, _) in drawn.items()})
    return table, {(s, a, form): meant for (s, a), (_, meant) in drawn.items()}


def title(table: Table) -> str:
    """Write the title of a table: its form, and its unit and limit where they stand there."""
    world = table.world
    said = (
        TITLES[world.language][FORMS.index(table.form)] if world.form_place == "title" else "GC-MS"
    )
    unit = f" ({table.unit})" if world.unit_place == "title" else ""
    limit = table.told_limit if world.limit_place == "title" else ""
    return f"{said}{unit}{limit}"


def heading(table: Table, analyte: str) -> str:
    """Write the name of an analyte, with its form, unit and limit where they stand there."""
    world = table.world
    form = f", {table.form_word}" if world.form_place == "heading" else ""
    unit = f" ({table.unit})" if world.unit_place == "heading" else ""
    limit = table.told_limit if world.limit_place == "heading" else ""
    return f"{table.printed[analyte]}{form}{unit}{limit}"


def lines_above(table: Table) -> Rows:
    """Write the unit where it stands in a line of its own above the table."""
    own = table.world.unit_place == "sentence"
    return [[f"All results in {table.unit}"]] if own else []


def columns_of(table: Table) -> tuple[Rows, Rows]:
    """Write the header lines and the lines below of the analytes, without the samples' names."""
    world, names = table.world, list(table.printed)
    head = [[heading(table, a) for a in names]]
    if world.unit_place == "own":
        head.append([table.unit] * len(names))
    if world.limit_place == "own":
        head.append([table.limit] * len(names))
    return head, [[table.cells[s, a] for a in names] for s in table.samples]


def first_column(table: Table) -> list[Any]:
    """Write what stands before the lines of `columns_of`."""
    world = table.world
    unit = [None] if world.unit_place == "own" else []
    limit = [world.words[5]] if world.limit_place == "own" else []
    return [world.words[0], *unit, *limit, *table.samples]


def samples_down(table: Table) -> Rows:
    """Samples down, names across."""
    head, below = columns_of(table)
    lines = [[f, *line] for f, line in zip(first_column(table), head + below, strict=True)]
    return [*lines_above(table), [title(table)], *lines]


def analytes_down(table: Table) -> Rows:
    """Names down, samples across; unit and limit in columns of their own where they are so."""
    world = table.world
    unit, limit = world.unit_place == "own", world.limit_place == "own"
    words = [*[world.words[4]][: int(unit)], *[world.words[5]][: int(limit)]]
    beside = [*[table.unit][: int(unit)], *[table.limit][: int(limit)]]
    lines = [
        [heading(table, a), *beside, *(table.cells[s, a] for s in table.samples)]
        for a in table.printed
    ]
    return [
        *lines_above(table), [title(table)], [world.words[1], *words, *table.samples], *lines,
    ]  # fmt: skip


def one_per_row(order: list[int]) -> Callable[[Table], Rows]:
    """One result per row, the columns in an order."""

    def drawn(table: Table) -> Rows:
        world = table.world
        asked = {2: world.form_place != "title", 4: world.unit_place == "own",
                 5: world.limit_place == "own"}  # fmt: skip
        kept = [n for n in order if asked.get(n, True)]
        unit = f" ({table.unit})" if world.unit_place == "heading" else ""
        words = [world.words[n] + (unit if n == 3 else "") for n in kept]
        lines = [
            [
                (s, table.printed[a], table.form_word, table.cells[s, a], table.unit, table.limit)[
                    n
                ]
                for n in kept
            ]
            for s in table.samples
            for a in table.printed
        ]
        return [*lines_above(table), [title(table)], words, *lines]

    return drawn


def panels_across(parts: list[Table], over: str | None) -> Sheet:
    """Put tables of the same samples side by side under merged titles; `over` heads them all."""
    titles: list[Any] = [None]
    merged, at = [], 1
    for part in parts:
        merged.append((int(over is not None), at, len(part.printed)))
        titles += [title(part), *[None] * (len(part.printed) - 1)]
        at += len(part.printed)
    blocks = [[*head, *below] for head, below in map(columns_of, parts)]
    lines = [
        [f, *chain.from_iterable(cells)]
        for f, *cells in zip(first_column(parts[0]), *blocks, strict=True)
    ]
    top: Rows = [[None, over]] if over else []
    if over:
        merged.append((0, 1, at - 1))
    return Sheet("Results", [*top, titles, *lines], tuple(merged))


def forms_under_names(parts: list[Table]) -> Sheet:
    """Put the forms of each analyte under its merged name."""
    first = parts[0]
    names, forms = list(first.printed), [p.form_word for p in parts]
    wide = len(parts)
    head: list[Any] = [first.world.words[0]]
    for a in names:
        head += [heading(first, a), *[None] * (wide - 1)]
    below: Rows = [[None, *forms * len(names)]]
    if first.world.unit_place == "own":
        below.append([None, *[first.unit] * (wide * len(names))])
    if first.world.limit_place == "own":
        below.append([first.world.words[5], *[first.limit] * (wide * len(names))])
    lines = [[s, *(p.cells[s, a] for a in names for p in parts)] for s in first.samples]
    merged = tuple((1, 1 + n * wide, wide) for n in range(len(names)))
    top = [f"({first.unit})" if first.world.unit_place == "title" else None]
    return Sheet("Results", [top, head, *below, *lines], merged)


def side_by_side(parts: list[Rows]) -> Rows:
    """Put tables beside each other, an empty column between."""
    wide = [max(map(len, rows)) for rows in parts]
    return [
        [cell for row, w in zip(line, wide, strict=True)
         for cell in [*(row or []), *[None] * (w + 1 - len(row or []))]]
        for line in zip_longest(*parts)
    ]  # fmt: skip


def stacked(parts: list[Rows]) -> Rows:
    """Put tables below each other, an empty line between."""
    return [row for rows in parts for row in [*rows, []]]


GEOMETRIES = (
    "samples down", "analytes down", "list", "stacked samples down", "stacked analytes down",
    "side by side", "side by side analytes down", "a sheet each", "merged panels",
    "merged panels under one title", "forms under merged names",
)  # fmt: skip
# Where a geometry has no place for a statement, it stands in another.
_PLACES = {
    "units": ("title", "heading", "own", "sheet", "cell", "sentence"),
    "limits": ("own", "title", "heading", "cell"),
    "forms": ("title", "heading", "sheet"),
}


def places_of(geometry: str) -> tuple[tuple[str, ...], ...]:
    """List where units, limits and forms may stand in a geometry."""
    units, limits, forms = _PLACES.values()
    several = geometry not in {"samples down", "analytes down", "list"}
    if several:
        units = tuple(u for u in units if u != "sentence")
        forms = ("title", "sheet") if geometry == "a sheet each" else ("title",)
    if several and geometry != "a sheet each":
        units = tuple(u for u in units if u != "sheet")
    if geometry == "list":
        limits, forms = ("own", "title", "cell"), ("title", "own")
    if geometry == "forms under merged names":
        limits, forms = ("own", "heading", "cell"), ("own",)
    return units, limits, forms


@st.composite
def reports(draw: st.DrawFn) -> Written:
    """Draw a report of one or two tables in any geometry."""
    geometry = draw(st.sampled_from(GEOMETRIES))
    units, limits, forms = map(draw, map(st.sampled_from, places_of(geometry)))
    world = World(
        draw(st.sampled_from(LANGUAGES)), draw(st.sampled_from(".,")), draw(st.booleans()),
        units, limits, forms,
    )  # fmt: skip
    single = geometry in {"samples down", "analytes down", "list"}
    told = draw(st.permutations(FORMS))[: 1 if single else 2]
    parts, meant = [], {}
    for form in told:
        shared = geometry.startswith(("merged", "forms")) and bool(parts)
        table, said = draw(tables(world, form, parts[0] if shared else None))
        parts.append(table)
        meant |= said
    sheets = laid_out(geometry, parts, draw(st.permutations(range(6))))
    if world.grapes or draw(st.booleans()):
        told_matrix = MATRICES[world.language][int(world.grapes)]
        sheets = [below_line(sheet, told_matrix) for sheet in sheets]
    return Written(sheets, meant, world)


def laid_out(geometry: str, parts: list[Table], order: list[int]) -> list[Sheet]:
    """Write tables onto sheets in a geometry."""
    down = analytes_down if "analytes down" in geometry else samples_down
    down = one_per_row(order) if geometry == "list" else down
    if geometry.startswith("merged"):
        return [panels_across(parts, "Smoke markers" if "under" in geometry else None)]
    if geometry.startswith("forms"):
        return [forms_under_names(parts)]
    drawn = [down(part) for part in parts]
    if geometry == "a sheet each" or len(parts) == 1:
        names = [tab(p, n, len(parts) > 1) for n, p in enumerate(parts, 1)]
        return [Sheet(name, rows) for name, rows in zip(names, drawn, strict=True)]
    join = side_by_side if geometry.startswith("side") else stacked
    return [Sheet("Results", join(drawn))]


def tab(table: Table, place: int, several: bool) -> str:
    """Name a sheet, by its form and its unit where they stand there; no two may be called alike."""
    world = table.world
    unit = table.unit_on_tab if world.unit_place == "sheet" else ""
    form = table.form_word if world.form_place == "sheet" or (unit and several) else ""
    return " ".join(filter(None, [form, unit])) or f"Results {place}"


def below_line(sheet: Sheet, line: str) -> Sheet:
    """Put a line above everything else of a sheet."""
    return Sheet(
        sheet.name, [[line], [], *sheet.rows], tuple((r + 2, c, w) for r, c, w in sheet.merged)
    )
