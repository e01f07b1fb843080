"""Files that are written whole or not at all, and notes that cannot be changed unseen."""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
import time
import uuid
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from previz.errors import DataError
from previz.frames.layouts import LAYOUTS, LayoutError, taken_up

AGAIN = "Render it again; nothing else is lost."
"""Advice for files that cannot be trusted."""

NEWER = "Use that previz, or render into another folder."
"""Advice for files of a newer previz."""


class FramesError(DataError):
    """Frames on disk cannot be used.

    Parameters
    ----------
    message : str
        What is wrong, naming the file.
    advice : str
        What to do about it.
    """


@contextlib.contextmanager
def whole_file(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Write a file so that it appears whole or not at all.

    The block writes to the path it is given; on success that file is flushed to the disk and
    takes its name in one step, on any error or interruption it is removed and the file
    that was there before stays.

    Parameters
    ----------
    path : path-like
        The file; its folder is made if missing.

    Yields
    ------
    pathlib.Path
        A new name in the same folder to write to.

    Raises
    ------
    OSError
        The disk refused; it names the file itself.
    """
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}.part")
    try:
        yield part
        with open(part, "rb+") as file:
            os.fsync(file.fileno())
        take_name(part, path)
    except BaseException as error:
        # A place that has gone, or is broken, must not hide what went wrong there.
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        if isinstance(error, OSError) and error.errno and error.filename in (None, part, str(part)):
            error.filename, error.filename2 = str(path), None
        raise
    sync_folder(path.parent)


PATIENCE = 2.0
"""How long a file that somebody reads is waited for on Windows, where it cannot be replaced meanwhile. [s]"""


def take_name(part: str | os.PathLike[str], path: str | os.PathLike[str]) -> None:
    """Give a file the name of another, in one step; where another is open there, as soon as it is not.

    Source: Microsoft, CreateFile: without FILE_SHARE_DELETE, which Python's open() does not ask for, nobody
    may rename or remove a file that is open. Virus scanners and searches open them for a moment too.
    """
    until = time.monotonic() + (PATIENCE if sys.platform == "win32" else 0.0)
    while True:
        try:
            os.replace(part, path)
            return
        except PermissionError:
            if time.monotonic() >= until:
                raise
        time.sleep(0.01)


WholeFile = Callable[[Path], contextlib.AbstractContextManager[Path]]
"""Writes a file as `whole_file` does, which may be given its name later."""


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on the disk."""
    # Only POSIX lets a folder be opened; elsewhere the rename itself has to be enough.
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def plain(value: Any) -> Any:
    """Reduce a value to what JSON can hold, as it will come back when read.

    Parameters
    ----------
    value : dict, list, str, number, bool or None
        Numpy numbers and arrays are taken too.

    Returns
    -------
    dict, list, str, number, bool or None

    Raises
    ------
    ValueError
        A number is nan or infinite, or something has no plain form.
    """

    def reduce(other: Any) -> Any:
        if isinstance(other, np.generic | np.ndarray):
            return other.tolist()
        raise ValueError(f"{type(other).__name__} has no plain form: {other!r}")

    return json.loads(json.dumps(value, allow_nan=False, default=reduce))


def _no_number(word: str) -> Any:
    raise ValueError(f"{word} is no number")


def seal_of(head: dict[str, Any]) -> int:
    """Return the checksum of a note, less its seal; ValueError where it has none."""
    return zlib.crc32(json.dumps(head, sort_keys=True, allow_nan=False).encode())


def write_sealed(path: str | os.PathLike[str], head: dict[str, Any], of: str = "",
                 whole: WholeFile | None = None) -> None:
    """Write a note with a checksum over its own content.

    Parameters
    ----------
    path : path-like
        File to replace.
    head : dict
        Content, as `plain` takes it.
    of : str
        What it is of, where its name says so: then it is found out in another's place.
    whole : function, optional
        Writes it and gives it its name, as `whole_file`.
    """
    head = plain({**head, "of": of} if of else head)
    text = json.dumps({**head, "seal": seal_of(head)}, ensure_ascii=False, indent=1)
    with (whole or whole_file)(path) as part:
        part.write_text(text + "\n", encoding="utf-8")


def take_seal(kind: str, head: dict[str, Any]) -> bool:
    """Take the seal off a note as it was read, and return whether it holds.

    One of a layout that had none yet holds without.

    Parameters
    ----------
    kind : str
        Key of `layouts.LAYOUTS`.
    head : dict
        Changed in place.

    Raises
    ------
    ValueError
        It holds what JSON cannot, as a number that is too large.
    """
    seal, layout = head.pop("seal", None), head.get(kind)
    if isinstance(layout, int) and layout < LAYOUTS[kind].sealed:
        return seal is None
    return bool(seal == seal_of(head))


_NOTE = re.compile(rb'\{\s*"previz_\w+":')


def is_note(path: Path) -> bool:
    """Return whether a file begins as what `write_sealed` writes; it may be torn or changed after that."""
    try:
        with open(path, "rb") as file:
            return _NOTE.match(file.read(256)) is not None
    except OSError:
        return False


def refuse_foreign(path: Path) -> None:
    """Raise FramesError where a file has the name of a note and is none, so that it is not written over."""
    if path.exists() and not is_note(path):
        raise FramesError(f"{path} was not written by previz.", "Move it away.")


def read_sealed(path: Path, kind: str, of: str = "") -> dict[str, Any]:
    """Read what `write_sealed` wrote.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    kind : str
        Key of `layouts.LAYOUTS` that says what it is and holds the number of its layout.
    of : str
        What it has to be of, as in `write_sealed`; a note that does not say is taken as it is.

    Returns
    -------
    dict
        In the layout that is written now.

    Raises
    ------
    FramesError
        It is missing, unreadable, foreign, of a layout that cannot be taken up, another's, or was changed.
    """
    try:
        head = json.loads(path.read_text(encoding="utf-8"), parse_constant=_no_number)
        whole = isinstance(head, dict) and kind in head and take_seal(kind, head)
    except FileNotFoundError:
        raise FramesError(
            f"{path.parent} holds no finished frames ({path.name} is missing).",
            "Render the scene first.",
        ) from None
    except (OSError, ValueError, RecursionError) as error:
        raise FramesError(f"{path} cannot be read: {error}.", AGAIN) from error
    if not isinstance(head, dict) or kind not in head:
        raise FramesError(f"{path} was not written by previz.", "Give the folder of a render.")
    try:
        made = taken_up(kind, head, path.parent)
    except LayoutError as error:
        raise FramesError(f"{path} {error}.", NEWER if error.newer else AGAIN) from error
    if not whole:
        raise FramesError(f"{path} was changed after it was written.", AGAIN)
    if made.pop("of", of) != of and of:
        raise FramesError(f"{path} lies in another's place.", AGAIN)
    return made
