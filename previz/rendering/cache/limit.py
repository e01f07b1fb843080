"""How much the cache of a scene may take on the disk; what was not used for longest goes first."""

from __future__ import annotations

import contextlib
import glob
import os
import shutil
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from previz.frames.arrays import META_NAME
from previz.frames.lamp_files import LAMP_NAME
from previz.frames.layouts import marked
from previz.frames.lock import LOCK_NAME
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.cache.meters import sweep_marks
from previz.rendering.cache.store import PLANES_NAME

LIMIT_NAME = "limit.json"

USUAL_LIMIT = 20 * 10**9
"""Most that a scene's cache takes, unless a limit is set. [byte]"""

IN_USE = 600.0
"""What was used so recently is never removed: another process may be at it. [s]"""

KINDS = {"lamp": ("lamps/*/*", LAMP_NAME), "picture": ("*", META_NAME),
         "planes": ("planes/*", PLANES_NAME), "meter": ("meters/*", ""),
         "bodies": ("bodies/*", ""), "verdict": ("verdicts/*", "")}
"""Kind of thing -> where such things lie in the cache, and the note in a folder of it."""


@dataclass(frozen=True)
class Kept:
    """One thing in the cache.

    Parameters
    ----------
    kind : str
        A key of `KINDS`, or 'cleaned' for what the page keeps of a picture.
    path : Path
        Folder or file.
    note : Path
        The file that makes it count; it is removed first.
    used : float
        When it was last used, seconds since 1970. [s]
    files : dict of (int, int) to int
        Device and number of each file -> its bytes; things may share files.
    """

    kind: str
    path: Path
    note: Path
    used: float
    files: dict[tuple[int, int], int]


def kept_in(cache: Path) -> list[Kept]:
    """Return everything that a scene's cache holds; other processes may write there meanwhile."""
    cache = Path(cache)
    found: list[Kept] = []
    for kind, (pattern, note) in KINDS.items():
        for path in _there(cache, pattern):
            marker = path / note if note else path
            if marker.is_file() and path.name not in (LIMIT_NAME, LOCK_NAME):
                found += _kept(kind, path, marker)
    # What a torn write has left has no note; it counts, and may go at once.
    for folder in (*_there(cache, "lamps/*/*"), *_there(cache, "planes/*")):
        if folder.is_dir() and not any((folder / n).is_file() for n in (LAMP_NAME, PLANES_NAME)):
            found += _kept("lamp", folder, folder)
    for folder in _there(cache.parent / "page", "*"):
        if folder.is_dir():
            found += _kept("cleaned", folder, folder)
    return found


def _there(folder: Path, pattern: str) -> Iterator[Path]:
    """Yield what is there; unlike `Path.glob`, a folder that goes meanwhile is no fault."""
    for name in glob.iglob(pattern, root_dir=folder, include_hidden=True):
        yield folder / name


def _kept(kind: str, path: Path, note: Path) -> Iterator[Kept]:
    """Yield one thing, unless it has gone meanwhile."""
    files = {}
    inside = (Path(root, name) for root, _, names in os.walk(path) for name in names)
    for each in (inside if path.is_dir() else (path,)):
        with contextlib.suppress(OSError):
            about = each.stat()
            files[about.st_dev, about.st_ino] = about.st_size
    with contextlib.suppress(FileNotFoundError):
        yield Kept(kind, path, note, note.stat().st_mtime, files)


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


def set_limit(cache: Path, most: int) -> None:
    """Set the most bytes that a scene's cache may take."""
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
        remove(thing)
        removed.append(thing)
        for file, size in thing.files.items():
            holders[file] -= 1
            total -= size if not holders[file] else 0
    if any(thing.kind == "meter" for thing in removed):
        sweep_marks(Path(cache) / "meters")
    return removed


def remove(thing: Kept) -> None:
    """Remove one thing; its note goes first, so that nobody reads the rest."""
    if thing.note != thing.path:
        thing.note.unlink(missing_ok=True)
    if thing.path.is_dir():
        shutil.rmtree(thing.path, ignore_errors=True)
    else:
        thing.path.unlink(missing_ok=True)
    if thing.kind == "lamp":
        # The folder of the lamp goes with its last light.
        with contextlib.suppress(OSError):
            thing.path.parent.rmdir()
