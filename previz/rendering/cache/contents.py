"""What the cache of a scene holds, in groups that a crew has names for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from previz.frames.lamp_files import read_note
from previz.frames.whole import FramesError
from previz.rendering.cache.limit import Kept, kept_in, limit_of, limit_set, size_of
from previz.rendering.cache.owned import files_in, is_marked

LABELS = {"picture": "pictures put together of these", "planes": "what cameras see", "meter": "meters",
          "bodies": "bodies of lamps", "verdict": "what bodies do", "haze": "densities of haze",
          "cleaned": "cleaned for the page", "unit": "done of shared work",
          "lease": "who is at which unit", "plan": "plans and costs of shared work",
          "pending": "left by an interrupted write"}
"""Kind of thing -> what a group of such things is; lamps' light is in a group a picture."""


@dataclass(frozen=True)
class Group:
    """Things of one kind.

    Parameters
    ----------
    label : str
        What they are.
    count : int
        How many; of lamps' light, how many lamps.
    size : int
        What they take on the disk, shared files once. [byte]
    used : float
        When one of them was last used, seconds since 1970. [s]
    """

    label: str
    count: int
    size: int
    used: float


@dataclass(frozen=True)
class Contents:
    """What one cache holds.

    Parameters
    ----------
    folder : Path
    size, limit : int
        What it takes on the disk, and at most. [byte]
    groups : tuple of Group
        In the order of their labels.
    """

    folder: Path
    size: int
    limit: int
    groups: tuple[Group, ...]


def cache_folders(renders: Path = Path("renders")) -> list[Path]:
    """Return the caches of all scenes that were rendered into a folder."""
    return sorted(path for path in renders.glob("*/frames") if is_cache(path))


def is_cache(folder: Path) -> bool:
    """Return whether previz keeps anything in a folder, which may be named as a cache by chance."""
    return folder.is_dir() and (
        is_marked(folder) or limit_set(folder) or next(files_in(folder), None) is not None)


def contents_of(cache: Path) -> Contents:
    """Return what a cache holds."""
    things = kept_in(cache)
    groups: dict[str, list[Kept]] = {}
    for thing in things:
        groups.setdefault(_label(thing), []).append(thing)
    return Contents(cache, size_of(things), limit_of(cache), tuple(
        Group(label, _count(group), size_of(group), max(thing.used for thing in group))
        for label, group in sorted(groups.items())))


def _label(thing: Kept) -> str:
    if thing.note is None:
        return "left by an interrupted write"
    if thing.kind != "lamp":
        return LABELS[thing.kind]
    try:
        note = read_note(thing.path)["note"]
        return "camera {}, {}x{}, lamp by lamp".format(note["camera"], *note["settings"]["size"])
    except (FramesError, KeyError, TypeError, IndexError):
        return "left by an interrupted write"


def _count(group: list[Kept]) -> int:
    if group[0].kind == "lamp":
        return len({thing.path.parent.name for thing in group})
    return len(group)
