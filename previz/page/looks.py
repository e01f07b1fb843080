"""Looks that are kept, with their notes, spots, zones and reference pictures, in a file beside the scene.

All other changes are of the moment and lie with the renders, which may be thrown away. What somebody took the
trouble to name, or to write a note on, goes where the scene goes. Where nothing may be written there it is
kept with the renders, as what differs from the file beside the scene.
"""

from __future__ import annotations

import contextlib
import errno
import json
import math
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from previz.errors import DataError
from previz.frames.layouts import is_newer, marked
from previz.frames.lock import folder_held, only_writer
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.page.change_values import good_changes
from previz.stage.plain_files import FileError, read_plain

BESIDE = ("look|", "spots|", "zones", "reference|")
"""How the keys begin of changes that are kept beside the scene."""

MOST_LOOKS = 48
"""Looks that are kept of one scene."""

MOST_REFERENCES = 8
"""Reference pictures of one scene."""

LONGEST_NAME, LONGEST_NOTE = 60, 1000
"""Letters."""

LARGEST_FILE = 1 << 20
"""Longest text of all that is kept beside a scene, less the pictures. [characters]"""

LARGEST_READ = 4 * LARGEST_FILE
"""Largest file that is read: no letter takes more than four bytes. [bytes]"""

SHUT = (errno.EACCES, errno.EPERM, errno.EROFS)
"""What a folder says that may not be written to."""

FALLBACK = "looks.json"
"""File, with the page's own, that stands in where the scene's folder may not be written to."""


@dataclass(frozen=True)
class KeptLook:
    """A look that is kept.

    Parameters
    ----------
    id, name, note : str
    option, camera : str
        Where it was kept.
    look : dict
        Changes as `change_text.read_changes` and `read_moves` take them, of this option.
    wants : tuple of str
        Lines that were added to what is wanted.
    """

    id: str
    name: str
    note: str
    option: str
    camera: str
    look: dict
    wants: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The look as the page sends it: JSON."""
        return json.dumps(self.look)

    @property
    def stop(self) -> float | None:
        """The stop of its camera, None for that as written."""
        stop = _group(_group(self.look.get("cameras")).get(self.camera)).get("stop")
        return _number(stop)


def _number(value: object) -> float | None:
    """Return a number as one that can be reckoned with, None for anything else."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        return None
    try:
        return float(value) if math.isfinite(value) else None
    except OverflowError:
        return None


def _group(value: object) -> dict:
    return value if isinstance(value, dict) else {}


def is_beside(key: str) -> bool:
    """Return whether a change is kept beside the scene."""
    return key.startswith(BESIDE)


def looks_path(scene: Path) -> Path:
    """Return the file beside a scene that its looks are kept in."""
    # `with_name` refuses a path without a name, which `.` is; that it is no scene is said where it is read.
    return scene.parent / f"{scene.stem}.looks.json"


def kept_looks(changes: Mapping[str, object], most: int = MOST_LOOKS) -> list[KeptLook]:
    """Return the looks among changes, in the order of the strip; what is no look is left out."""
    found = []
    for key, value in changes.items():
        if not key.startswith("look|") or not isinstance(value, dict):
            continue
        words = [value.get(name, "") for name in ("name", "note", "option", "camera")]
        lines = value.get("wants") or []
        if all(isinstance(each, str) for each in words) and isinstance(value.get("look"), dict):
            wants = tuple(each for each in lines if isinstance(each, str)) if isinstance(lines, list) else ()
            look = KeptLook(key.removeprefix("look|"), *words, value["look"], wants)
            found.append((_number(value.get("at")) or 0.0, key, look))
    return [look for *_, look in sorted(found, key=lambda each: each[:2])][:most]


class LooksFile:
    """What is kept beside a scene.

    Parameters
    ----------
    scene : Path
        The scene file.
    folder : Path
        The page's own, for where the scene's may not be written to.
    """

    def __init__(self, scene: Path, folder: Path):
        self.path, self.fallback = looks_path(scene), folder / FALLBACK
        self.notes: list[str] = []
        """What a person has to be told of the file, each said once."""

    def read(self) -> dict[str, Any]:
        """Return what is kept; a file that cannot be read is put aside under another name, and that noted."""
        merged = {**self._taken(self.path), **self._taken(self.fallback)}
        return {key: value for key, value in merged.items() if value is not None}

    def _taken(self, path: Path) -> dict[str, Any]:
        try:
            found = _sealed(path)["changes"]
            if not isinstance(found, dict):
                raise TypeError("they are no group of values")
        except (FramesError, KeyError, TypeError, ValueError) as error:
            if path.exists():
                self._put_aside(path, newer=is_newer(error))
            return {}
        # It comes along with a scene, which may be somebody else's: what no page could have set is left out.
        good = good_changes({key: value for key, value in found.items() if value is not None})
        if wrong := sum(key not in good and value is not None for key, value in found.items()):
            self._note(f"{path.name} holds what no page keeps, {wrong} in number: that is left out.")
        return {key: value for key, value in found.items()
                if is_beside(key) and (value is None or key in good)}

    def _put_aside(self, path: Path, *, newer: bool) -> None:
        what = "was written by a newer previz" if newer else "is damaged"
        stem = f"{path.stem}-{'newer' if newer else 'damaged'}"
        names = (path.with_name(f"{stem}{number or ''}{path.suffix}") for number in range(1000))
        aside = next(name for name in names if not name.exists())
        try:
            os.replace(path, aside)
            self._note(f"{path.name} {what}: it was put aside as {aside.name}, and looks begin anew.")
        except OSError:
            self._note(f"{path.name} {what} and stays as it is; looks are kept with the renders.")

    def _note(self, words: str) -> None:
        if words not in self.notes:
            self.notes.append(words)

    def change(self, changes: Mapping[str, Any]) -> dict[str, Any]:
        """Take changes over and write all down; a value of None takes one back. Return what is kept now.

        Raises
        ------
        DataError
            There are too many, or they are too long.
        OSError
            The disk is full, or otherwise refuses.
        """
        try:
            with folder_held(self.path.parent):
                merged = _with(self.read(), changes)
                if self.path.exists() and not self._is_ours():
                    # It could not be put aside.
                    raise PermissionError(errno.EACCES, "it is not to be written over", str(self.path))
                self._write(self.path, merged)
                with contextlib.suppress(OSError):
                    self.fallback.unlink(missing_ok=True)
                return merged
        except OSError as error:
            if error.errno not in SHUT:
                raise
        self._note(f"The folder of the scene may not be written to: looks, spots and zones are kept in "
                   f"{self.fallback.parent}, and go when the renders go.")
        with only_writer(self.fallback.parent):
            merged = _with(self.read(), changes)
            # What lies beside the scene and was dropped has to stay dropped.
            gone = {key: None for key in self._taken(self.path) if key not in merged}
            self._write(self.fallback, {**merged, **gone})
        return merged

    def _is_ours(self) -> bool:
        try:
            _sealed(self.path)
        except FramesError:
            return False
        return True

    @staticmethod
    def _write(path: Path, changes: dict[str, Any]) -> None:
        write_sealed(path, {**marked("previz_looks"), "changes": changes})


def _sealed(path: Path) -> dict[str, Any]:
    """Return what a file of looks holds.

    Raises
    ------
    FramesError
        It is none, no plain file, or larger than `LARGEST_READ`.
    """
    try:
        read_plain(path, LARGEST_READ)
    except FileError as error:
        raise FramesError(f"{path} cannot be read: {error.message}.", error.advice) from None
    return read_sealed(path, "previz_looks")


def _with(kept: dict[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is kept under changes, checked for how much that is."""
    merged = {key: value for key, value in {**kept, **changes}.items() if value is not None}
    for start, most, what in (("look|", MOST_LOOKS, "looks"),
                              ("reference|", MOST_REFERENCES, "reference pictures")):
        before, now = (sum(key.startswith(start) for key in each) for each in (kept, merged))
        if now > max(most, before):
            raise DataError(f"{most} {what} are the most that are kept of a scene", "Take one out first.")
    for key, value in changes.items():
        for name, most in (("name", LONGEST_NAME), ("note", LONGEST_NOTE)):
            if len(str(_group(value).get(name, ""))) > most:
                raise DataError(f"the {name} of '{key.partition('|')[2]}' has more than {most} letters",
                                "Write it shorter.")
    if len(json.dumps(merged)) > LARGEST_FILE:
        raise DataError("there is too much to keep beside the scene", "Take some of the looks or spots out.")
    return merged


def look_shots(looks: list[KeptLook], most: int) -> Iterator[KeptLook]:
    """Yield the looks that need frames of their own, each picture once, so many at most."""
    seen: set[str] = set()
    for each in looks:
        key = json.dumps([each.option, each.camera, each.stop, each.look.get("moves")], sort_keys=True)
        if key not in seen and len(seen) < most:
            seen.add(key)
            yield each
