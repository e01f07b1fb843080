"""Array files of a folder: their names carry a checksum, so a torn or foreign one is found out.

A lamp's slices may lie in several folders at once; then they are one file under several names, so
that what two pictures share takes its place on the disk once.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import uuid
import zlib
from collections.abc import Container, Iterable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from previz.frames.whole import AGAIN, FramesError, take_name, whole_file

META_NAME = "meta.json"
"""The note in a folder that names its array files."""

Entry = dict[str, Any]
"""An array file in a note: its name, its bytes and its checksum."""

_BLOCK = 1 << 20
"""Bytes read at once: they stay in cache until they are summed up."""

_WRITTEN = re.compile(r"[^.]+\.[0-9a-f]{8}\.npy|\..+\.[0-9a-f]{12}\.part")
"""Names that arrays here are given, whole and while they are written."""


def file_sum(path: str | os.PathLike[str]) -> int:
    """Return the checksum of a file."""
    total, block = 0, memoryview(bytearray(_BLOCK))
    with open(path, "rb", buffering=0) as file:
        while count := file.readinto(block):
            total = zlib.crc32(block[:count], total)
    return total


def write_array(folder: Path, label: str, values: ArrayLike, kind: np.dtype[Any]) -> Entry:
    """Write an array to a folder.

    Parameters
    ----------
    folder : Path
        Is there.
    label : str
        What the file's name begins with; the rest is its checksum.
    values : array
    kind : dtype
        Type it is stored in.

    Returns
    -------
    dict
        For `read_array`: the file's name, its bytes and its checksum.
    """
    # The name holds the checksum, so a new array never lands on one that a reader still trusts.
    array = np.ascontiguousarray(values, dtype=kind)
    head = io.BytesIO()
    np.lib.format.write_array_header_1_0(head, np.lib.format.header_data_from_array_1_0(array))
    total = zlib.crc32(array.data, zlib.crc32(head.getvalue()))
    size = head.tell() + array.nbytes
    path = folder / f"{label}.{total:08x}.npy"
    # A reader may have the same content mapped under this name; then it is left in place.
    if not (path.is_file() and path.stat().st_size == size and file_sum(path) == total):
        with whole_file(path) as part, open(part, "wb") as file:
            file.write(head.getvalue())
            file.write(array.data)
    return {"file": path.name, "bytes": size, "crc32": total}


def read_array(folder: Path, entry: Entry, shape: tuple[int, ...], kind: np.dtype[Any],
               verify: bool = True) -> np.ndarray:
    """Return an array mapped from disk.

    Parameters
    ----------
    folder : Path
    entry : dict
        What `write_array` gave back.
    shape : tuple of int
    kind : dtype
    verify : bool
        Check every byte against the checksum; else only size and shape are checked.

    Raises
    ------
    FramesError
        The file is missing, torn, or of another kind.
    """
    path = folder / entry["file"]
    if path.parent != folder:
        raise FramesError(f"{folder / META_NAME} names a file outside its folder.", AGAIN)
    try:
        size = path.stat().st_size
        if size != entry["bytes"]:
            raise FramesError(
                f"{path} has {size} bytes and should have {entry['bytes']}: it is torn.", AGAIN
            )
        if verify and file_sum(path) != entry["crc32"]:
            raise FramesError(f"{path} does not match its checksum.", AGAIN)
        array = _mapped(path)
    except FileNotFoundError:
        raise FramesError(f"{path} is missing.", AGAIN) from None
    except OSError as error:
        raise FramesError(f"{path} cannot be read: {error}.", AGAIN) from error
    if array.shape != shape or array.dtype != kind:
        raise FramesError(
            f"{path} holds {array.dtype} {array.shape} and should hold {kind} {shape}.", AGAIN
        )
    return array


def _mapped(path: Path) -> np.ndarray:
    try:
        return np.load(path, mmap_mode="r", allow_pickle=False)
    except OSError:
        raise
    except Exception as error:
        # The head is read as a program's text: a damaged one brings about nearly anything.
        raise FramesError(f"{path} cannot be read: {error}.", AGAIN) from error


def link_array(folder: Path, label: str, source: Path, entry: Entry) -> Entry:
    """Give an array file of the folder `source`, known by its entry, a name in a folder too.

    Returns what `write_array` would for it.
    """
    path = folder / f"{label}.{entry['crc32']:08x}.npy"
    named = {**entry, "file": path.name}
    # One of the same name and size may be torn all the same; another name of the source is not.
    if path.is_file() and path.stat().st_size == entry["bytes"] and (
            os.path.samefile(path, source / entry["file"]) or file_sum(path) == entry["crc32"]):
        return named
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}.part")
    try:
        try:
            os.link(source / entry["file"], part)
        except OSError:
            # Some file systems allow one name a file.
            shutil.copyfile(source / entry["file"], part)
        take_name(part, path)
    finally:
        # Replacing a name by another of the same file leaves both.
        with contextlib.suppress(OSError):
            part.unlink()
    return named


def sweep(folder: Path, labels: Iterable[str], kept: Container[str]) -> None:
    """Remove arrays of earlier writes that are not kept by name, and leavings of interrupted ones."""
    for label in labels:
        for path in (*folder.glob(f"{label}.????????.npy"), *folder.glob(f".{label}.*.part")):
            if path.name not in kept and _WRITTEN.fullmatch(path.name) and not path.is_symlink():
                # A reader elsewhere than on POSIX may hold it; the next write tries again.
                with contextlib.suppress(OSError):
                    path.unlink()
