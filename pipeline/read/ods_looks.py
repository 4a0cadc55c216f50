"""What the styles of an .ods spreadsheet strike out, raise or hide.

Source: Open Document Format 1.3, part 3, chapters 16 and 20.
"""

import re
from dataclasses import dataclass, field
from xml.etree import ElementTree

NS = "urn:oasis:names:tc:opendocument:xmlns:"
TABLE, OFFICE, TEXT, STYLE = (
    f"{{{NS}{name}:1.0}}" for name in ("table", "office", "text", "style")
)


@dataclass
class Looks:
    """Which styles strike out, raise, or hide, parents included."""

    parents: dict[str, str] = field(default_factory=dict)
    struck: dict[str, bool] = field(default_factory=dict)
    positions: dict[str, str] = field(default_factory=dict)
    shown: dict[str, bool] = field(default_factory=dict)

    def is_struck(self, style: str | None) -> bool:
        """Tell whether a cell or text style strikes out, itself or through its parents."""
        for _ in range(20):
            if style is None:
                return False
            if style in self.struck:
                return self.struck[style]
            style = self.parents.get(style)
        return False


def learn(looks: Looks, root: ElementTree.Element) -> None:
    """Add the styles of one part of the document to what is known."""
    for style in root.iter(f"{STYLE}style"):
        name = style.get(f"{STYLE}name", "")
        if parent := style.get(f"{STYLE}parent-style-name"):
            looks.parents[name] = parent
        text = style.find(f"{STYLE}text-properties")
        if text is not None:
            line = text.get(f"{STYLE}text-line-through-style") or text.get(
                f"{STYLE}text-line-through-type"
            )
            if line:
                looks.struck[name] = line != "none"
            looks.positions[name] = _position(text.get(f"{STYLE}text-position", ""))
        table = style.find(f"{STYLE}table-properties")
        if table is not None:
            looks.shown[name] = table.get(f"{TABLE}display", "true") != "false"


def _position(printed: str) -> str:
    first = printed.split(" ")[0]
    if first == "super" or re.fullmatch(r"[1-9]\d*%", first):
        return "high"
    return "low" if first == "sub" or re.fullmatch(r"-[1-9]\d*%", first) else ""
