"""How long a page is read: the words that are seen before anything is unfolded."""

from __future__ import annotations

import html
import re
from collections.abc import Callable

# Two minutes at 238 words a minute, which adults read silently in English prose. Source: Brysbaert,
# Journal of Memory and Language 109 (2019) 104047. Figures count as words.
MOST_WORDS = 2 * 238
_FOLDS = re.compile(r"<(/?)(details|summary|style|title|svg)\b[^>]*>")
_WITHIN_A_WORD = re.compile(r"</?(?:a|b|code|i|span|time)\b[^>]*>")
_TAG = re.compile(r"<[^>]*>")


def _is_seen(within: list[str]) -> bool:
    folded = any(
        tag == "details" and inner != "summary"
        for tag, inner in zip(within, [*within[1:], ""], strict=False)
    )
    return not folded and not {"style", "title", "svg"} & set(within)


def seen_words(page: str) -> int:
    """Count the words of a page that are seen while everything that folds is folded.

    Charts are looked at, not read, and do not count.
    """
    within: list[str] = []
    seen: list[str] = []
    start = 0
    for tag in _FOLDS.finditer(page):
        if _is_seen(within):
            seen.append(page[start : tag.start()])
        start = tag.end()
        if tag[1]:
            within.pop()
        else:
            within.append(tag[2])
    seen.append(page[start:])
    text = _TAG.sub(" ", _WITHIN_A_WORD.sub("", " ".join(seen)))
    return len(html.unescape(text).split())


def fitting(seen: Callable[[int], int], most: int) -> int:
    """Give how many of the worst lots, at most `most`, can be told in full within two minutes.

    `seen` counts the words with so many in full. It may be none, and then the text stays as long
    as it is: nothing is left out for the sake of time.
    """
    return next((opened for opened in range(most, 0, -1) if seen(opened) <= MOST_WORDS), 0)
