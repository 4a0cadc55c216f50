"""The columns of a lot's chart: a sample each, their stages named below."""

from __future__ import annotations

import re
from itertools import groupby
from typing import Any

Spec = dict[str, Any]

# Stand-ins that no reader sees: the page's own colours take their place.
INK, ACCENT, FAINT, PAPER = "#010203", "#040506", "#070809", "#0a0b0c"
FONT = "system-ui, sans-serif"
# Read on a telephone without a glass; an estimate of how wide one letter of it is.
SIZE, LETTER, LINE = 14, 7.6, 17
TEXT: Spec = {
    "type": "text",
    "font": FONT,
    "fontSize": SIZE,
    "lineBreak": "\n",
    "lineHeight": LINE,
}
# A column of the chart: as wide as its words, less where many samples must fit a telephone.
_SLOT_WIDTH, _NARROW_SLOT, _TELEPHONE = 62, 38, 348
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


def chart_width(slots: tuple[str, ...]) -> float:
    """Give the width of a chart, in pixels; more samples than a telephone holds make it wider."""
    slot = max(_NARROW_SLOT, min(_SLOT_WIDTH, _TELEPHONE / len(slots)))
    return max(slot * len(slots), _NARROWEST)


def slot_width(slots: tuple[str, ...]) -> float:
    """Give the width of one sample's column, in pixels."""
    return chart_width(slots) / len(slots)


def across(slots: tuple[str, ...]) -> Spec:
    """Place marks by the number of their column: `place`, 0.5 in the middle of the first."""
    scale = {"domain": [0, len(slots)], "nice": False, "zero": False, "padding": 0}
    return {"field": "place", "type": "quantitative", "scale": scale, "axis": None}


def _stages(slots: tuple[str, ...]) -> list[Spec]:
    """Name each stage once, in the middle of its samples; shortly where the words would touch."""
    named = [
        (stage, [place for place, _ in run])
        for stage, run in groupby(enumerate(slots), key=lambda slot: slot[1].split("|")[1])
    ]
    middles = [sum(places) / len(places) + 0.5 for _, places in named]
    lines = [_stage_lines(stage) for stage, _ in named]
    ends = [0.5 * LETTER * max(map(len, text.split("\n"))) for text in lines]
    touching = any(
        (right - left) * slot_width(slots) < before + after + 4
        for left, right, before, after in zip(
            middles, middles[1:], ends, ends[1:], strict=False
        )
    )  # fmt: skip
    if touching:
        lines = [_SHORT_STAGES.get(stage, stage) for stage, _ in named]
    return [{"place": at, "label": text} for at, text in zip(middles, lines, strict=True)]


def _stage_lines(stage: str) -> str:
    return re.sub(r" (?=AF|MLF|unknown)|-", "\n", stage)


def draw_stages(slots: tuple[str, ...]) -> Spec:
    """Draw the names of the stages, and below them the letters of the laboratories."""
    stages = _stages(slots)
    down = 1 + max(row["label"].count("\n") for row in stages)
    letters = [
        {"place": place + 0.5, "label": slot.rsplit("|", 1)[1]} for place, slot in enumerate(slots)
    ]
    lettered = any(row["label"] for row in letters)
    words = TEXT | {"color": INK, "baseline": "top"}
    x, said = across(slots), {"field": "label", "type": "nominal"}
    layers = [layer(stages, words, x=x, y={"value": 0}, text=said)]
    if lettered:
        layers.append(layer(letters, words, x=x, y={"value": down * LINE}, text=said))
    return {"width": chart_width(slots), "height": (down + lettered) * LINE, "layer": layers}
