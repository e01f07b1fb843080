"""Pieces of work side by side, on as many threads as there are cores.

For what lets other threads run while it works: checksums, packing, transforms and sums over arrays.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Made = TypeVar("Made")

LEAST_PIXELS = 1 << 15
"""Pixels under which a picture is not cut: to start a thread takes as long as they do."""


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def abreast(work: Callable[[Item], Made], items: Iterable[Item]) -> list[Made]:
    """Return what the work makes of each item, in their order; the first error of that order is raised.

    Threads are made for it and end with it, so that it may be called within itself and after a fork.
    """
    items = list(items)
    threads = min(cores(), len(items))
    if threads < 2:
        return [work(item) for item in items]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work, items))


def parts_of(count: int, block: int = 1, least: int = LEAST_PIXELS) -> list[slice]:
    """Return so many pixels, or rows, in parts to be worked on side by side.

    Each is a whole number of blocks, but for the last; there is one where there are fewer than twice the
    least.
    """
    blocks = -(-count // block)
    parts = max(1, min(cores(), count // least, blocks))
    ends = [min(blocks * part // parts * block, count) for part in range(parts + 1)]
    return [slice(start, end) for start, end in zip(ends[:-1], ends[1:], strict=True)]


def row_parts(rows: int, columns: int) -> list[slice]:
    """Return the rows of a picture in parts that are worked on side by side; one where it is small."""
    return parts_of(rows, least=-(-LEAST_PIXELS // max(columns, 1)))
