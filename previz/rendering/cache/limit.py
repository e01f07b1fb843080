"""How much the cache of a scene may take on the disk; what was not used for longest goes first."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, refuse_foreign, write_sealed
from previz.rendering.cache.meters import sweep_marks
from previz.rendering.cache.owned import (
    CLEANED,
    FORMS,
    Found,
    files_in,
    followed,
    foreign_in,
    remove_empty,
    remove_files,
)

LIMIT_NAME = "limit.json"

USUAL_LIMIT = 20 * 10**9
"""Most that a scene's cache takes, unless a limit is set. [byte]"""

IN_USE = 600.0
"""What was used so recently is never removed: another process may be at it. [s]"""

PAGE = "page"
"""Folder beside the cache in which the page keeps what it cleaned of pictures, and what was changed."""


@dataclass(frozen=True)
class Kept:
    """One thing in the cache.

    Parameters
    ----------
    kind : str
        As in `owned.FORMS`, or 'cleaned' for what the page keeps of a picture.
    path : Path
        Folder or file.
    note : Path or None
        The file that makes it count; it is removed first. None where a torn write has left none.
    used : float
        When it was last used, seconds since 1970. [s]
    files : dict of (int, int) to int
        Device and number of each file -> its bytes; things may share files.
    found : tuple of Found
        The files.
    """

    kind: str
    path: Path
    note: Path | None
    used: float
    files: dict[tuple[int, int], int]
    found: tuple[Found, ...] = ()


def kept_in(cache: Path) -> list[Kept]:
    """Return everything that a scene's cache holds; other processes may write there meanwhile."""
    cache = Path(cache)
    things: dict[tuple[str, Path], list[Found]] = {}
    for root, forms in ((cache, FORMS), (cache.parent / PAGE, CLEANED)):
        for found in files_in(root, forms) if followed(root) else ():
            things.setdefault((found.form.kind, found.thing), []).append(found)
    return [_kept(kind, path, found) for (kind, path), found in things.items()]


def _kept(kind: str, path: Path, found: list[Found]) -> Kept:
    notes = [each for each in found if each.form.note and not each.part]
    return Kept(kind, path, notes[0].path if notes else None,
                max(each.about.st_mtime for each in notes or found),
                {(each.about.st_dev, each.about.st_ino): each.about.st_size for each in found},
                tuple(found))


def left_in(cache: Path) -> list[Path]:
    """Return what lies in the folders of a scene's cache and is not previz's: it is never removed."""
    cache = Path(cache)
    return [*foreign_in(cache), *foreign_in(cache.parent / PAGE, CLEANED)]


def size_of(things: Iterable[Kept]) -> int:
    """Return the bytes that things take together, shared files counted once."""
    every: dict[tuple[int, int], int] = {}
    for thing in things:
        every.update(thing.files)
    return sum(every.values())


def limit_of(cache: Path) -> int:
    """Return the most bytes that a scene's cache may take."""
    try:
        return int(read_sealed(Path(cache) / LIMIT_NAME, "previz_limit")["bytes"])
    except (FramesError, KeyError, TypeError, ValueError):
        return USUAL_LIMIT


def limit_set(cache: Path) -> bool:
    """Return whether a limit was set."""
    with contextlib.suppress(FramesError):
        return "bytes" in read_sealed(Path(cache) / LIMIT_NAME, "previz_limit")
    return False


def set_limit(cache: Path, most: int) -> None:
    """Set the most bytes that a scene's cache may take."""
    refuse_foreign(Path(cache) / LIMIT_NAME)
    write_sealed(Path(cache) / LIMIT_NAME, {**marked("previz_limit"), "bytes": int(most)})


def make_room(cache: Path, most: int | None = None, in_use: float = IN_USE) -> list[Kept]:
    """Remove what was not used for longest until the cache is within its limit; return what was removed.

    Parameters
    ----------
    most : int, optional
        Bytes; the cache's own limit by default.
    in_use : float
        What was used within this time stays, whatever it takes. [s]
    """
    most = limit_of(cache) if most is None else most
    things = kept_in(cache)
    holders: dict[tuple[int, int], int] = {}
    for thing in things:
        for file in thing.files:
            holders[file] = holders.get(file, 0) + 1
    total, removed = size_of(things), []
    for thing in sorted(things, key=lambda each: each.used):
        if total <= most or time.time() - thing.used < in_use:
            break
        gone = remove(thing)
        if not gone:
            continue
        removed.append(thing)
        for each in gone:
            file = each.about.st_dev, each.about.st_ino
            holders[file] -= 1
            total -= each.about.st_size if not holders[file] else 0
    if any(thing.kind == "meter" for thing in removed):
        sweep_marks(Path(cache))
    return removed


def remove(thing: Kept) -> list[Found]:
    """Remove what is previz's of one thing; return the files that were."""
    alone = all(each.path == thing.path for each in thing.found)
    gone = remove_files(list(thing.found), None if alone else thing.path)
    if thing.kind == "lamp":
        # The folder of the lamp goes with its last light.
        remove_empty(thing.path.parent)
    return gone
