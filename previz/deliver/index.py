"""The index of a scene's renders: `index.json`, what was made, from what, and where it lies.

It is what the local page and a later run go by, so it is checked whole when it is read: nothing in
it is believed until its seal, names, types, paths and file sizes hold.
"""

from __future__ import annotations

import json
import zlib
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path, PurePosixPath
from typing import Any

from previz.deliver.atomic import DeliveryError
from previz.frames.layouts import LayoutError, marked, taken_up
from previz.frames.whole import take_seal, write_sealed

INDEX_NAME = "index.json"

KINDS = ("still", "map", "linear", "rig", "scopes", "sheet")
"""What a listed file may be."""

_AGAIN = "Render the scene again to make a new index."
_AWAY = "Move it away, or give another folder with --out."
_BLOCK = 1 << 24


@dataclass(frozen=True)
class FileEntry:
    """One file.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    path : str
        From the index's folder, with forward slashes.
    bytes : int
        Its size.
    crc32 : int
        Its checksum.
    """

    kind: str
    path: str
    bytes: int
    crc32: int


@dataclass(frozen=True)
class Entry:
    """One camera's picture of one option, in one quality.

    Parameters
    ----------
    option : str
        Name; empty for the scene as written.
    camera : str
        Name; empty where the files belong to no camera (a plan, a sheet).
    settings : dict
        Of the camera and the lamps, plain JSON values.
    transport_hash : str
        Of the frames it was made from.
    samples : int
        Paths a pixel.
    seed : int
        Of the random numbers.
    readings : dict
        What the meters say, plain JSON values.
    faces : dict
        Lit side, shadow side and ratio of each face, plain JSON values.
    files : tuple of FileEntry
        What lies on disk.
    quality : str
        By which its files are called; a key of `rendering.request.QUALITIES`.
    state : str
        Fingerprint of what it is a picture of, size and paths aside; '' where that was not noted.
    scene_hash, version : str
        As in `Index`, when it was made.
    """

    option: str
    camera: str
    settings: dict = field(default_factory=dict)
    transport_hash: str = ""
    samples: int = 0
    seed: int = 0
    readings: dict = field(default_factory=dict)
    faces: dict = field(default_factory=dict)
    files: tuple[FileEntry, ...] = ()
    quality: str = "working"
    state: str = ""
    scene_hash: str = ""
    version: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        """What no two entries of an index have alike: option, camera and quality."""
        return self.option, self.camera, self.quality


@dataclass(frozen=True)
class Index:
    """All renders of one scene.

    Parameters
    ----------
    title : str
        Of the scene.
    scene : str
        Path of its file, from the index's folder, with forward slashes.
    scene_hash : str
        Of its text.
    version : str
        Of the program that wrote the index.
    entries : tuple of Entry
        Different in option, camera or quality.
    """

    title: str
    scene: str
    scene_hash: str
    version: str
    entries: tuple[Entry, ...] = ()

    def with_entry(self, entry: Entry) -> Index:
        """Return the index with one entry in place of that of the same key, or at its end.

        Entries whose files it has written over are left out. Of the one whose place it takes, files of
        other kinds stay listed if they are of the same state.
        """
        old = self.entry(*entry.key)
        if old is not None and entry.state and old.state == entry.state:
            kinds = {each.kind for each in entry.files}
            entry = replace(entry, files=(*entry.files, *(each for each in old.files
                                                          if each.kind not in kinds)))
        written = {each.path for each in entry.files}
        kept = [entry if each.key == entry.key else each for each in self.entries
                if each.key == entry.key or not written & {file.path for file in each.files}]
        return replace(self, entries=tuple(kept if entry in kept else [*kept, entry]))

    def entry(self, option: str, camera: str, quality: str) -> Entry | None:
        """Return the entry of a picture, None where there is none."""
        return next((each for each in self.entries if each.key == (option, camera, quality)), None)


def file_entry(folder: Path, path: Path, kind: str) -> FileEntry:
    """Describe a file that has been written inside an index's folder.

    Raises
    ------
    ValueError
        The kind is not of `KINDS` or the file lies outside the folder.
    OSError
        The file cannot be read.
    """
    if kind not in KINDS:
        raise ValueError(f"kind must be one of {KINDS}, got '{kind}'")
    inside = Path(path).resolve().relative_to(Path(folder).resolve()).as_posix()
    size, total = _measure(Path(path))
    return FileEntry(kind, inside, size, total)


def _measure(path: Path) -> tuple[int, int]:
    size = total = 0
    with open(path, "rb") as file:
        while block := file.read(_BLOCK):
            size += len(block)
            total = zlib.crc32(block, total)
    return size, total


def write_index(folder: Path, index: Index) -> None:
    """Write `index.json` in one step to the folder where the renders lie.

    Raises
    ------
    ValueError
        Settings or readings are not plain finite JSON.
    """
    write_sealed(Path(folder) / INDEX_NAME, {**marked("previz_index"), **asdict(index)})


def read_index(folder: Path) -> Index:
    """Read the `index.json` of a folder of renders, and check it and that every file is there.

    One of an earlier layout is taken up to that of now.

    Raises
    ------
    DeliveryError
        It is missing or not to be trusted; the message lists all that is wrong.
    """
    path, content = Path(folder) / INDEX_NAME, _content(Path(folder))
    faults: list[str] = []
    index = _record(Index, content, "index", faults)
    if index is not None:
        keys = [entry.key for entry in index.entries]
        faults += [
            f"option '{option}' with camera '{camera}' is listed twice"
            for option, camera, _ in sorted({key for key in keys if keys.count(key) > 1})
        ]
        for entry in index.entries:
            for each in entry.files:
                faults += _file_faults(Path(folder), each)
    if faults:
        listed = "\n  ".join(faults)
        raise DeliveryError(f"{path} cannot be trusted:\n  {listed}\n", _AGAIN)
    return index


def kept_index(folder: Path) -> Index | None:
    """Return what of a folder's index can be trusted: the entries that hold, and whose files are there.

    None where there is no index.

    Raises
    ------
    DeliveryError
        There is a file of that name that previz did not write, or cannot read.
    """
    folder = Path(folder)
    if not (folder / INDEX_NAME).exists():
        return None
    content = _content(folder)
    entries = content.pop("entries", None)
    index = _record(Index, {**content, "entries": []}, "index", faults := [])
    if faults or not isinstance(entries, list):
        raise DeliveryError(f"{folder / INDEX_NAME} cannot be trusted.", _AWAY)
    for number, each in enumerate(entries):
        entry = _record(Entry, each, f"index.entries[{number}]", faults := [])
        if not faults and index.entry(*entry.key) is None and not any(
                _file_faults(folder, file) for file in entry.files):
            index = replace(index, entries=(*index.entries, entry))
    return index


def _content(folder: Path) -> dict[str, Any]:
    """Return the plain values of an index as this version has them."""
    path = folder / INDEX_NAME
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        ours = isinstance(content, dict) and "previz_index" in content
        whole = ours and take_seal("previz_index", content)
    except FileNotFoundError:
        raise DeliveryError(f"{folder} has no {INDEX_NAME}.", "Render the scene first.") from None
    except (OSError, ValueError, RecursionError) as error:
        raise DeliveryError(f"{path} cannot be read: {error}.", _AWAY) from error
    if not ours:
        raise DeliveryError(f"{path} was not written by previz.", _AWAY)
    try:
        made = taken_up("previz_index", content, folder)
    except LayoutError as error:
        raise DeliveryError(f"{path} {error}.", _AWAY) from error
    if not whole:
        raise DeliveryError(f"{path} was changed after it was written.", _AWAY)
    del made["previz_index"]
    return made


_TYPES = {"str": str, "int": int, "dict": dict}
_LISTS = {"tuple[Entry, ...]": Entry, "tuple[FileEntry, ...]": FileEntry}


def _record(kind: type, content: object, where: str, faults: list[str]) -> object:
    """Build a record from plain values, or note what is wrong and return None."""
    if not isinstance(content, dict):
        faults.append(f"{where} must be a mapping")
        return None
    known = {each.name: each.type for each in fields(kind)}
    before = len(faults)
    faults += [f"{where} has an unknown part '{name}'" for name in content if name not in known]
    faults += [f"{where} lacks '{name}'" for name in known if name not in content]
    values = {}
    for name, of in known.items():
        value = content.get(name)
        if name not in content:
            continue
        if of in _LISTS:
            if not isinstance(value, list):
                faults.append(f"{where}.{name} must be a list")
                continue
            values[name] = tuple(
                _record(_LISTS[of], each, f"{where}.{name}[{number}]", faults)
                for number, each in enumerate(value)
            )
        elif not isinstance(value, _TYPES[of]) or isinstance(value, bool):
            faults.append(f"{where}.{name} must be of type {of}, got {value!r}")
        else:
            values[name] = value
    return kind(**values) if len(faults) == before else None


def _file_faults(folder: Path, entry: FileEntry) -> list[str]:
    faults = []
    if entry.kind not in KINDS:
        faults.append(f"'{entry.path}' is of unknown kind '{entry.kind}'")
    pure = PurePosixPath(entry.path)
    if not entry.path or pure.is_absolute() or ".." in pure.parts or {*entry.path} & {"\\", ":"}:
        return [*faults, f"'{entry.path}' does not lie in the folder of the renders"]
    path = folder / pure
    if not path.is_file():
        faults.append(f"'{entry.path}' is missing")
    elif path.stat().st_size != entry.bytes:
        faults.append(f"'{entry.path}' has {path.stat().st_size} bytes and should have {entry.bytes}")
    return faults
