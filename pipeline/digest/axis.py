"""The columns of a lot's chart: a sample each, their stages named below."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

Spec = dict[str, Any]

# Stand-ins that no reader sees: the page's own colours take their place.
INK, ACCENT, FAINT, PAPER = "#010203", "#040506", "#070809", "#0a0b0c"
FONT = "system-ui, sans-serif"
# Read on a telephone without a glass; an estimate of how wide one letter of it is.
SIZE, LETTER, LINE = 14, 8.2, 17
TEXT: Spec = {
    "type": "text",
    "font": FONT,
    "fontSize": SIZE,
    "lineBreak": "\n",
    "lineHeight": LINE,
}
# A column of the chart: as wide as its words, less where many samples must fit a telephone.
_SLOT_WIDTH, _TELEPHONE = 62, 348
# Wide enough for what stands above a row.
_NARROWEST = 250
_SHORT_STAGES = {
    "vineyard": "vine", "harvest": "harv.", "must": "must", "fermenting": "ferm.",
    "end of AF": "AF", "end of MLF": "MLF", "ageing": "age", "pre-bottling": "pre",
    "bottled": "bott.", "stage unknown": "?",
}  # fmt: skip


def layer(rows: list[Spec], mark: Spec, **channels: Spec) -> Spec:
    """Draw rows with one kind of mark."""
    return {"data": {"values": rows}, "mark": mark, "encoding": channels}


@dataclass(frozen=True)
class Columns:
    """The columns of a chart, one for each sample; `slot` is the width of one, in pixels."""

    slots: tuple[str, ...]
    slot: float

    @property
    def width(self) -> float:
        """Give the width of the chart, in pixels."""
        return self.slot * len(self.slots)

    @property
    def across(self) -> Spec:
        """Place marks by the number of their column: `place`, 0.5 in the middle of the first."""
        scale = {"domain": [0, len(self.slots)], "nice": False, "zero": False, "padding": 0}
        return {"field": "place", "type": "quantitative", "scale": scale, "axis": None}


def columns_for(slots: tuple[str, ...], labels: Iterable[str]) -> Columns:
    """Fit columns to a telephone; a chart is wider where half of its numbers would touch.

    An interval may stand on two lines, and every other number above its neighbours.
    """
    lines = (line for label in labels for line in folded(label).split("\n"))
    needed = max((len(line.replace(">", "00")) * LETTER + 3 for line in lines), default=0.0)
    fitting = min(_TELEPHONE / len(slots), _SLOT_WIDTH)
    if fitting < needed and len(slots) > 1:  # half of a number stands out on either side
        fitting = (_TELEPHONE - needed) / (len(slots) - 1)
    return Columns(slots, max(fitting, min(needed, _SLOT_WIDTH) / 2, _NARROWEST / len(slots)))


def folded(label: str) -> str:
    """Set the number of an interval on two lines."""
    return label.replace("–", "–\n")


def _stages(columns: Columns) -> list[Spec]:
    """Name each stage once, in the middle of its samples; shortly where the words would touch."""
    named = [
        (stage, [place for place, _ in run])
        for stage, run in groupby(enumerate(columns.slots), key=lambda slot: slot[1].split("|")[1])
    ]
    middles = [sum(places) / len(places) + 0.5 for _, places in named]
    lines = [_stage_lines(stage) for stage, _ in named]
    ends = [0.5 * LETTER * max(map(len, text.split("\n"))) for text in lines]
    touching = any(
        (right - left) * columns.slot < before + after + 4
        for left, right, before, after in zip(
            middles, middles[1:], ends, ends[1:], strict=False
        )
    )  # fmt: skip
    if touching:
        lines = [_SHORT_STAGES.get(stage, stage) for stage, _ in named]
    return [{"place": at, "label": text} for at, text in zip(middles, lines, strict=True)]


def _stage_lines(stage: str) -> str:
    return re.sub(r" (?=AF|MLF|unknown)|-", "\n", stage)


def draw_stages(columns: Columns) -> Spec:
    """Draw the names of the stages, and below them the letters of the laboratories."""
    stages = _stages(columns)
    down = 1 + max(row["label"].count("\n") for row in stages)
    letters = [
        {"place": place + 0.5, "label": slot.rsplit("|", 1)[1]}
        for place, slot in enumerate(columns.slots)
    ]
    lettered = any(row["label"] for row in letters)
    words = TEXT | {"color": INK, "baseline": "top"}
    x, said = columns.across, {"field": "label", "type": "nominal"}
    layers = [layer(stages, words, x=x, y={"value": 0}, text=said)]
    if lettered:
        layers.append(layer(letters, words, x=x, y={"value": down * LINE}, text=said))
    return {"width": columns.width, "height": (down + lettered) * LINE, "layer": layers}
