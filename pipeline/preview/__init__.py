"""Show what a report was read as: in the terminal, as a coloured copy, as a layout to complete."""

from __future__ import annotations

from pipeline.preview.coloured_copy import refuse_existing, write_copy
from pipeline.preview.draft import draft_layout
from pipeline.preview.draw import draw
from pipeline.preview.sight import Piece, Sight, with_roles

__all__ = [
    "Piece",
    "Sight",
    "draft_layout",
    "draw",
    "refuse_existing",
    "with_roles",
    "write_copy",
]
