"""Where the files of a scene go, found out before any work: whether they can be written there."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

from previz.errors import RequestError, resource_error

INSIDE = 220
"""Longest path of a file within the folder of a scene, those that are being written included. [bytes]"""

USUAL_LONGEST = {"PC_NAME_MAX": 255, "PC_PATH_MAX": 4096}
"""Longest name and path where the system does not say. [bytes]"""

SHORT_PATH = 259
"""Longest path on Windows, unless long ones are turned on. [1]

Source: Microsoft, Maximum Path Length Limitation (MAX_PATH, 260 with the zero at its end).
"""


def out_folder(out: Path | None, scene: Path, *, write: bool = True, full: bool = False,
               files: Iterable[str] = ()) -> Path:
    """Return the folder that a scene's files go to.

    Parameters
    ----------
    out : Path or None
        As requested; renders/<scene> without.
    write : bool
        Whether anything is to be written there.
    full : bool
        Whether a disk that is full will do, as where files are only removed.
    files : iterable of str
        Names of files that will be.

    Raises
    ------
    RequestError
        It is no folder, its name is too long, or with `write` nothing can be written there, or not those
        files; said before any work.
    """
    folder = out if out is not None else Path("renders") / scene.stem
    return usable(folder, write=write, full=full, files=files)


def usable(folder: Path, *, write: bool = True, full: bool = False, files: Iterable[str] = ()) -> Path:
    """Return a folder that files can be written to; see `out_folder`."""
    there = _nearest(folder)
    if not there.is_dir():
        raise RequestError(f"'{there}' is a file, and the files go to a folder of that name; "
                               "give another with --out.")
    if not write:
        return folder
    for each in dict.fromkeys((there, *filter(Path.exists, (folder / "frames",)))):
        if not each.is_dir():
            raise RequestError(f"'{each}' is a file, and a folder of that name is needed; move it away, or "
                               "give another folder with --out.")
        _try(each, full)
    for name in files:
        _free(folder / name)
    return folder


def out_file(path: Path) -> Path:
    """Return a file that can be written.

    Raises
    ------
    RequestError
        It is a folder, its name is too long, or nothing can be written where it is to lie.
    """
    usable(path.parent)
    _free(path)
    return path


def _nearest(folder: Path) -> Path:
    """Return the innermost part of a path that is there; refuse a path that is too long."""
    whole = Path(os.path.abspath(folder))
    there = whole
    while not os.path.lexists(there) and there != there.parent:
        there = there.parent
    longest = {what: _longest(there, what) for what in USUAL_LONGEST}
    for part in whole.parts:
        if len(os.fsencode(part)) > longest["PC_NAME_MAX"]:
            raise RequestError(f"The folder's name '{part[:40]}...' is too long: a name may have "
                               f"{longest['PC_NAME_MAX']} bytes there; give a shorter one with --out.")
    if len(os.fsencode(whole)) + INSIDE > longest["PC_PATH_MAX"]:
        else_ = f", or turn long paths on: {LONG_PATHS}" if longest["PC_PATH_MAX"] == SHORT_PATH else ""
        raise RequestError(f"The folder '...{str(whole)[-60:]}' lies too deep: a path may have "
                           f"{longest['PC_PATH_MAX']} bytes there; give another with --out{else_}.")
    return there


LONG_PATHS = ("as an administrator, `reg add HKLM\\SYSTEM\\CurrentControlSet\\Control\\FileSystem /v "
              "LongPathsEnabled /t REG_DWORD /d 1`")
"""How Windows is told to take paths of more than `SHORT_PATH`; Python's own program does so then."""


def has_long_paths() -> bool:
    """Return whether Windows takes paths longer than `SHORT_PATH`.

    Source: Microsoft, Maximum Path Length Limitation, LongPathsEnabled.
    """
    import winreg

    where = r"SYSTEM\CurrentControlSet\Control\FileSystem"
    try:
        with winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, where) as key:  # type: ignore[attr-defined]
            return bool(winreg.QueryValueEx(key, "LongPathsEnabled")[0])  # type: ignore[attr-defined]
    except OSError:
        return False


def _longest(there: Path, what: str) -> int:
    if sys.platform == "win32" and what == "PC_PATH_MAX" and not has_long_paths():
        return SHORT_PATH
    with contextlib.suppress(OSError, ValueError, AttributeError):
        return os.pathconf(there, what)
    return USUAL_LONGEST[what]


def _try(folder: Path, full: bool) -> None:
    """Write a little to a folder, and remove it: rights alone do not say that a disk takes anything."""
    refusal = f"Nothing can be written to the folder '{folder}'"
    if not os.access(folder, os.W_OK | os.X_OK):
        raise RequestError(f"{refusal}; give another with --out.")
    if full:
        return
    try:
        handle, name = tempfile.mkstemp(prefix=".previz-", suffix=".part", dir=folder)
        try:
            os.write(handle, b"previz")
        finally:
            os.close(handle)
            os.unlink(name)
    except OSError as error:
        told = resource_error(error)
        why = error.strerror or os.strerror(error.errno or 0)
        raise RequestError(f"{refusal}: {why[:1].lower()}{why[1:]}",
                           told.advice if told else "Give another with --out.") from error


def _free(path: Path) -> None:
    """Refuse a file where a folder lies, or whose name is too long."""
    longest = _longest(_nearest(path.parent), "PC_NAME_MAX")
    if len(os.fsencode(path.name)) > longest:
        raise RequestError(f"The name '{path.name[:40]}...' is too long: a file's may have {longest} bytes "
                           "there.")
    if path.is_dir():
        raise RequestError(f"'{path}' is a folder, and a file of that name is to be written; move it away, "
                           "or give another place with --out.")
