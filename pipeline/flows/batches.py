"""Send files to the workers a few at a time; a file that stops its worker costs only itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from pipeline.errors import FileRefused
from pipeline.find import Source
from pipeline.workers import SECONDS, Workers

Made = TypeVar("Made")
_FILES, _BYTES = 8, 4_000_000
_SECONDS_PER_MEGABYTE = 30


def in_batches(
    workers: Workers,
    prepare: Callable[[tuple[Source, ...]], tuple[Made, ...]],
    sources: Sequence[Source],
) -> Iterator[Made | FileRefused]:
    """Prepare files in batches and give the results in the files' order.

    When a batch is stopped (time, memory, a crash), its files are tried again one by one, so that
    only the one to blame is refused.
    """
    for batch, made in workers.map(prepare, cut(sources), seconds=enough_seconds):
        if not isinstance(made, FileRefused):
            yield from made
        elif len(batch) == 1:
            yield FileRefused(batch[0].file, made.message)
        else:
            yield from (one for source in batch for one in in_batches(workers, prepare, [source]))


def enough_seconds(batch: Sequence[Source]) -> float:
    """Tell how long files may take on a slow or busy machine before they are given up."""
    return SECONDS + _SECONDS_PER_MEGABYTE * sum(s.size for s in batch) // 1_000_000


def cut(sources: Sequence[Source]) -> Iterator[tuple[Source, ...]]:
    """Cut the files into batches of a few files and not too many bytes."""
    batch: list[Source] = []
    for source in sources:
        if batch and (len(batch) == _FILES or sum(s.size for s in batch) + source.size > _BYTES):
            yield tuple(batch)
            batch = []
        batch.append(source)
    if batch:
        yield tuple(batch)
